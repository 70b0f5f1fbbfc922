"""What the physics layer reads: parameters, alloys, materials, heat tables, acceptance limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, Parameters, Share, Source, Text
from solderrisk.model.footprint import PadKind
from solderrisk.model.kit import Board, BoardMaterial, Coating, Finish

Percent = Annotated[float, Field(gt=0, le=100)]
Celsius = Annotated[float, Field(ge=-50, le=1500)]


class Element(Frozen):
    """A pure metal, as a part of an alloy."""

    melts_c: Celsius
    fusion_j_mol: float = Field(gt=0)
    molar_g: float = Field(gt=0)
    source: Source


class Pair(Frozen):
    """How two metals in one melt act on each other (regular solution), J/mol."""

    metals: Annotated[tuple[str, str], Field(strict=False)]
    interaction_j_mol: float
    source: Source


class SolidShare(Frozen):
    """How much a primary crystal of one metal dissolves: the log of its activity falls by
    ``per_share`` times the mole share of the other metals in the melt."""

    metal: str
    per_share: Annotated[float, Field(ge=0, le=1)]
    source: Source


class Alloy(Frozen):
    """One alloy; ``parts`` in percent by mass."""

    name: Text
    aliases: Many[Text] = ()
    parts: dict[str, Percent] = Field(min_length=1)
    solidus_c: Celsius
    liquidus_c: Celsius
    density_g_cm3: float = Field(gt=0)
    latent_j_g: float = Field(gt=0)
    heat_j_gk: float = Field(gt=0)
    conductivity_w_mk: float = Field(gt=0)
    removal: bool = Field(False, description="sold for taking parts off, not for joints")
    caution: str = ""
    source: Source
    thermal_source: Source

    @model_validator(mode="after")
    def _whole(self) -> Self:
        total = sum(self.parts.values())
        if abs(total - 100) > 0.5:
            raise ValueError(f"{self.name}: parts add up to {total:g} %")
        if self.solidus_c > self.liquidus_c:
            raise ValueError(f"{self.name}: solidus above liquidus")
        return self

    @property
    def leaded(self) -> bool:
        return self.parts.get("Pb", 0.0) > 0.1


def _key(name: str) -> str:
    return name.casefold().replace(" ", "").replace("-", "")


class Alloys(Frozen):
    """``alloys.yaml``."""

    alloys: Many[Alloy] = Field(min_length=1)
    elements: dict[str, Element]
    pairs: Many[Pair] = ()
    solids: Many[SolidShare] = ()

    @model_validator(mode="after")
    def _known_metals(self) -> Self:
        for alloy in self.alloys:
            for metal in alloy.parts:
                if metal not in self.elements:
                    raise ValueError(f"{alloy.name}: no element {metal!r} in the file")
        return self

    def get(self, name: str) -> Alloy | None:
        """The alloy of a name or alias, without regard to case, spaces and hyphens."""
        key = _key(name)
        for alloy in self.alloys:
            if key == _key(alloy.name) or any(key == _key(alias) for alias in alloy.aliases):
                return alloy
        return None

    def __getitem__(self, name: str) -> Alloy:
        """Like ``get``.

        Raises:
            KeyError: no such alloy; the message names those there are.
        """
        found = self.get(name)
        if found is None:
            raise KeyError(f"no alloy {name!r}; there are {[alloy.name for alloy in self.alloys]}")
        return found


class BodyMaterial(Frozen):
    """``fill`` is the solid share of the body's outline (a relay is mostly air)."""

    heat_j_mm3_k: float = Field(gt=0, le=0.01)
    conductivity_w_mk: float = Field(gt=0, le=500)
    fill: Share = 1.0
    softens_c: float | None = Field(None, ge=60, le=1500)
    wall_share: float = Field(
        0.0, ge=0, le=3, description="of a wire: its wall against the usual PVC wall"
    )
    source: Source


class LeadMetal(Frozen):
    """``wetting`` multiplies the hazard of joints that do not take."""

    heat_j_mm3_k: float = Field(gt=0, le=0.01)
    conductivity_w_mk: float = Field(gt=0, le=500)
    wetting: float = Field(1.0, ge=1, le=10)
    source: Source


class BoardStuff(Frozen):
    """What a board is made of. ``land_c`` for ``land_s`` is what the bond of a land bears,
    ``highest_c`` what the board itself bears for a moment. With ``film_mm`` the copper lies on
    a thin film over a metal core, whose figures the others then are."""

    title: Text
    along_w_mk: float = Field(gt=0, le=500)
    through_w_mk: float = Field(gt=0, le=500)
    heat_j_m3k: float = Field(gt=0, le=1e7)
    film_mm: float = Field(0.0, ge=0, le=1)
    film_w_mk: float = Field(1.0, gt=0, le=20)
    glass_c: Celsius | None = Field(None, description="glass transition; soft above it")
    highest_c: Celsius
    land_c: Celsius
    land_s: float = Field(gt=0)
    source: Source
    land_source: Source


class Surface(Frozen):
    """A finish or a coating: ``factor`` multiplies the hazard of joints that do not take,
    ``lands`` that of lands and parts that come off badly."""

    factor: float = Field(1.0, ge=0.5, le=10)
    lands: float = Field(1.0, ge=0.5, le=10)
    source: Source


class Materials(Frozen):
    """``materials.yaml``: by the names that footprints and boards use."""

    bodies: dict[str, BodyMaterial]
    leads: dict[str, LeadMetal]
    boards: dict[BoardMaterial, BoardStuff]
    finishes: dict[Finish, Surface]
    coatings: dict[Coating, Surface]

    def of(self, board: Board) -> BoardStuff:
        return self.boards[board.material]


class PeakRow(Frozen):
    """Peak temperatures by volume class; the last row has no upper thickness."""

    thickness_below_mm: float | None = None
    peak_c: Many[float] = Field(min_length=1, max_length=3)


class Moisture(Frozen):
    """Floor life; None without a limit, 0 where every use asks for baking."""

    floor_life_h: float | None = None
    ambient: str
    source: Source


class Bake(Frozen):
    """Hours by moisture level, in the order of the table's ovens."""

    thickness_to_mm: float
    hours: dict[str, Many[float]]
    source: Source


class Shock(Frozen):
    """What ceramic capacitors up to a size bear of an iron; the last row has no size."""

    long_to_mm: float | None = None
    wide_to_mm: float | None = None
    step_k: float = Field(gt=0)
    tip_most_c: float
    by_iron: bool = True
    source: Source

    def holds(self, long_mm: float, wide_mm: float) -> bool:
        """Whether a body falls into this row; rows hold nominal sizes and a little more."""
        if self.long_to_mm is None or self.wide_to_mm is None:
            return True
        return long_mm <= self.long_to_mm * 1.1 and wide_mm <= self.wide_to_mm * 1.1


class HeatTables(Frozen):
    """``heat_tables.yaml``."""

    lead_free: Many[PeakRow]
    lead_free_volume_mm3: Many[float]
    lead_free_source: Source
    leaded: Many[PeakRow]
    leaded_volume_mm3: Many[float]
    leaded_source: Source
    moisture: dict[str, Moisture]
    shock: Many[Shock] = Field(min_length=1)
    shock_told_mm2: float = Field(gt=0, description="body's outline from which a card tells it")
    bake_ovens_c: Many[float]
    bake: Many[Bake]

    def volume_mm3(self, leaded: bool) -> tuple[float, ...]:
        """Upper volumes of all classes but the last."""
        return self.leaded_volume_mm3 if leaded else self.lead_free_volume_mm3


AcceptanceClass = Literal[1, 2, 3]
ByClass = Annotated[Many[float], Field(min_length=3, max_length=3)]
MaybeByClass = Annotated[Many[float | None], Field(min_length=3, max_length=3)]


class SideLimit(Frozen):
    """Side overhang at most, end joint width at least: shares per class of the lesser of
    lead and land width, or of the lead's width alone; ``cap_mm`` bounds the overhang."""

    kinds: Many[PadKind] = Field(min_length=1)
    overhang_share: ByClass
    end_joint_share: MaybeByClass
    of: Literal["lesser", "lead"] = "lesser"
    cap_mm: float | None = Field(None, gt=0)
    end_overhang: bool = Field(False, description="the end or toe may pass the land")
    source: Source


class BarrelFill(Frozen):
    """Vertical fill of a plated hole at least; a share or a depth, whichever is less."""

    leads_from: int = Field(ge=1)
    share: MaybeByClass
    depth_mm: MaybeByClass
    source: Source


class Wetting(Frozen):
    """Wetting round lead and barrel at least, degrees; None where not specified."""

    side: Literal["destination", "source"]
    degrees: MaybeByClass
    source: Source


class FootJoint(Frozen):
    """Side joint length of a flat gull-wing foot and its heel fillet.

    A foot of at least ``long_from_widths`` lead widths is long. Class 1: the lesser of
    the lead's width and ``class_1_cap_mm``. Classes 2 and 3: long feet the longer of
    ``long_widths`` lead widths and ``long_share`` of the foot, short feet ``short_share``.
    """

    long_from_widths: float = Field(gt=0)
    class_1_cap_mm: float = Field(gt=0)
    long_widths: float = Field(gt=0)
    long_share: float = Field(gt=0, le=1)
    short_share: float = Field(gt=0, le=1)
    heel_share: ByClass = Field(description="heel fillet above solder, share of thickness")
    source: Source


class ChipFillet(Frozen):
    """Class 3 fillet height of a chip end above the solder under it, the lesser of both."""

    height_share: float = Field(gt=0, le=1)
    height_mm: float = Field(gt=0)
    source: Source


class Magnification(Frozen):
    """Power to inspect and to settle a dispute with, for lands wider than ``over_mm``."""

    over_mm: float = Field(ge=0)
    inclusive: bool = Field(False, description="a land of exactly over_mm belongs here")
    low_x: float = Field(ge=1)
    high_x: float = Field(ge=1)
    referee_x: float = Field(ge=1)
    source: Source


class Acceptance(Frozen):
    """``acceptance.yaml``."""

    sides: Many[SideLimit] = Field(min_length=1)
    barrels: Many[BarrelFill] = Field(min_length=1)
    wetting: Many[Wetting] = Field(min_length=1)
    foot: FootJoint
    chip_fillet: ChipFillet
    magnification: Many[Magnification] = Field(min_length=1)

    def side(self, kind: PadKind) -> SideLimit | None:
        """The limits for a kind of joint; None where the standard sets none of this sort."""
        return next((limit for limit in self.sides if kind in limit.kinds), None)


Offer = Literal["tip_mm", "iron_w", "preheat_c", "hotter_air_k"]


class Steps(Frozen):
    """Sizes on offer, smallest first."""

    values: Many[float] = Field(min_length=1)
    unit: str
    source: Source

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if list(self.values) != sorted(set(self.values)):
            raise ValueError("values must rise")
        return self


class RemedyData(Parameters):
    """``remedies.yaml``: what is tried, and the effort that orders it."""

    offers: dict[Offer, Steps]


MOST_KEPT = 50_000  # answers of one part of the heat model


@dataclass(frozen=True, eq=False)  # read once and told apart by identity: a key of caches
class PhysicsData:
    """``physics.yaml`` (heat), ``handwork.yaml`` (sight, volume, alignment, fumes),
    ``alloys.yaml``, ``materials.yaml``, ``heat_tables.yaml``, ``acceptance.yaml`` and
    ``remedies.yaml``."""

    parameters: Parameters
    handwork: Parameters
    alloys: Alloys
    materials: Materials
    heat_tables: HeatTables
    acceptance: Acceptance
    remedies: RemedyData
