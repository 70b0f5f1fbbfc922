"""A bench and the builder who works at it."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, PositiveMm, Share, Text

TipShape = Literal["conical", "chisel", "bevel", "blade", "tweezer"]
FluxKind = Literal["rosin", "no_clean", "water_soluble", "acid"]
Drive = Literal["plain", "station", "cartridge"]
TipC = Annotated[float, Field(ge=100, le=500)]


class Tip(Frozen):
    width_mm: PositiveMm
    shape: TipShape = "chisel"


class Iron(Frozen):
    """An iron. ``drive`` says where the heat comes from: a plain mains iron without
    control, a regulated station, or a cartridge with the heater in the tip."""

    name: Text
    drive: Drive
    power_w: float = Field(gt=0, le=500)
    lowest_c: TipC = 200.0
    highest_c: TipC = 450.0
    tips: Many[Tip] = Field(min_length=1)

    @model_validator(mode="after")
    def _range(self) -> Self:
        if self.lowest_c > self.highest_c:
            raise ValueError(f"lowest_c {self.lowest_c:g} exceeds highest_c {self.highest_c:g}")
        return self


class HotAir(Frozen):
    name: Text
    power_w: float = Field(500.0, gt=0, le=3000)
    highest_c: float = Field(450.0, ge=100, le=650)
    flow_l_min_low: float = Field(15.0, gt=0, le=500)
    flow_l_min_high: float = Field(100.0, gt=0, le=500)
    nozzles_mm: Many[PositiveMm] = Field(min_length=1, description="outlet diameters")


class Preheater(Frozen):
    name: Text
    board_c: float = Field(100.0, ge=40, le=200, description="board temperature it holds")


class HotPlate(Frozen):
    """A plate that heats boards from below, regulated; unset sizes are those of a small one."""

    name: Text
    power_w: float = Field(300.0, gt=0, le=3000)
    highest_c: float = Field(300.0, ge=100, le=400)
    length_mm: PositiveMm = 100.0
    width_mm: PositiveMm = 100.0
    thickness_mm: PositiveMm = Field(10.0, description="of aluminium")


class VacuumNozzle(Frozen):
    bore_mm: PositiveMm
    outer_mm: PositiveMm


class VacuumDesolderer(Frozen):
    name: Text
    power_w: float = Field(80.0, gt=0, le=500)
    highest_c: TipC = 450.0
    nozzles: Many[VacuumNozzle] = Field(min_length=1)


class Solder(Frozen):
    alloy: Text
    wire_mm: PositiveMm | None = Field(0.5, description="None for paste")
    flux_percent: float = Field(2.2, ge=0, le=20)
    paste: bool = False


class Flux(Frozen):
    kind: FluxKind
    form: Literal["gel", "liquid", "pen", "solid"] = "gel"


class Magnifier(Frozen):
    name: Text
    power_x: float = Field(ge=1, le=200)
    distance_mm: PositiveMm = 100.0
    stereo: bool = True


class Room(Frozen):
    volume_m3: float = Field(30.0, gt=1, le=10000)
    air_changes_h: float = Field(0.5, ge=0.05, le=60)
    ambient_c: float = Field(22.0, ge=0, le=45)


class Bench(Frozen):
    """The tools, consumables and the room."""

    name: Text
    title: str = ""
    invented: bool = False
    irons: Many[Iron] = ()
    hot_air: Many[HotAir] = ()
    preheaters: Many[Preheater] = ()
    hot_plates: Many[HotPlate] = Field((), description="one of usual size if only the aid is named")
    desolderers: Many[VacuumDesolderer] = ()
    solders: Many[Solder] = ()
    removal_alloys: Many[Text] = Field((), description="low-melt alloys by composition name")
    fluxes: Many[Flux] = ()
    magnifiers: Many[Magnifier] = ()
    extraction: Literal["none", "open_window", "fan", "filter_box", "arm", "tip"] = "none"
    extraction_capture: Share | None = Field(None, description="by kind if unset")
    aids: Many[Text] = Field((), description="names that the list of tools knows")
    room: Room = Room()

    @property
    def plates(self) -> tuple[HotPlate, ...]:
        """The plates at hand; the aid alone stands for a small one."""
        if self.hot_plates or not self.has("hot_plate"):
            return self.hot_plates
        return (HotPlate(name="hot plate"),)

    def has(self, aid: str) -> bool:
        return aid in self.aids


# Self-description by what a person has done, not by a title.
Level = Literal["never", "few", "several", "regular", "trained"]
LEVELS: tuple[Level, ...] = ("never", "few", "several", "regular", "trained")


class SkillLevel(Frozen):
    """A level that differs from the builder's usual one for one skill."""

    skill: Text
    level: Level


class ModeCount(Frozen):
    """Faults of one kind in a record."""

    mode: Text = Field(description="as in faults.yaml: bridge, open, cold and so on")
    faults: int = Field(ge=1, le=1_000_000)


class Record(Frozen):
    """Practice or bench results: joints tried, faults seen in them, and at what work they
    were made. Without ``technique`` it is the skill's usual work."""

    skill: Text
    joints: int = Field(ge=1, le=1_000_000)
    faults: int = Field(ge=0, le=1_000_000, description="joints that needed mending")
    date: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")] | None = None
    technique: Text | None = Field(None, description="as in techniques.yaml")
    pitch_mm: PositiveMm | None = Field(None, description="from joint to joint")
    parts: int | None = Field(None, ge=1, le=1_000_000)
    modes: Many[ModeCount] = Field((), description="faults by kind, as far as known")

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if sum(each.faults for each in self.modes) > self.faults:
            raise ValueError(f"modes name more than {self.faults} faults")
        if self.date is not None:
            try:
                date.fromisoformat(self.date)
            except ValueError:
                raise ValueError(f"{self.date} is no date") from None
        return self


class Builder(Frozen):
    name: Text
    title: str = ""
    invented: bool = False
    level: Level = "few"
    guided: bool = Field(False, description="somebody who knows stands by: a course, a parent")
    skills: Many[SkillLevel] = ()
    records: Many[Record] = ()
    hand: Literal["steady", "braced", "novice", "unbraced"] | None = Field(
        None, description="by level if unset"
    )
    acuity_arcmin: float = Field(1.0, ge=0.4, le=20, description="smallest detail, corrected")
    near_point_mm: PositiveMm = 250.0
    acknowledged: Many[Text] = Field((), description="safety notes read and acknowledged")
    currency: str = Field(
        "", pattern=r"^([A-Z]{3})?$", description="of this builder, three letters (ISO 4217)"
    )

    def level_of(self, skill: str) -> Level:
        """The self-described level for a skill."""
        return next((s.level for s in self.skills if s.skill == skill), self.level)
