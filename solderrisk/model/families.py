"""What a family of parts usually is: joints, body, heat limits, and how it stands in the way."""

from __future__ import annotations

from typing import Literal, Self, get_args

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, Source
from solderrisk.model.footprint import Family, Footprint, HeatLimit, Material, PadKind


class Sourced(Frozen):
    value: float
    source: Source


class FamilyUsual(Frozen):
    """Usual joints, body and heat limits of one family, lengths in mm. ``heavy``: it stands
    in the way like a tall part. ``spare_air``: hot air beside it would hurt it."""

    smd: PadKind | None = None
    hole: PadKind | None = None
    hole_mm: float = Field(1.0, gt=0)
    height_mm: float = Field(gt=0)
    material: Material = "epoxy"
    lead_mm: float = Field(0.2, gt=0, description="thickness")
    lead_w_mm: float | None = None
    lead_share: float = 0.4
    land_share: float = Field(0.55, gt=0, lt=1)
    land_mm: float = Field(1.5, gt=0, description="land along the lead")
    round: bool = False
    polarity: bool | None = False
    pin_one: bool = False
    hand_iron: bool = True
    heavy: bool
    spare_air: bool
    body_c: float = 260.0
    body_s: float = 10.0
    iron_c: float = 350.0
    iron_s: float = 3.0
    softens_c: float | None = None
    two: Literal["ends", "holes"] | None = Field(None, description="where two pins are")
    lands: Literal["gull_rows", "four_sides", "balls", "rows_under", "row", "one"] | None = None
    two_rows: bool = Field(False, description="of holes, for an even number of pins")
    bends: bool = Field(False, description="leads that go into any holes")
    needs_pitch: bool = Field(False, description="to be drawn from its name")
    source: Source

    def heat(self) -> HeatLimit:
        return HeatLimit(
            body_c=self.body_c,
            body_s=self.body_s,
            iron_c=self.iron_c,
            iron_s=self.iron_s,
            softens_c=self.softens_c,
            source="assumed: estimated from the family of the part",
        )


class ByLetters(Frozen):
    """What a part of unknown name is, by the letters of its reference."""

    lands: dict[str, Family]
    holes: dict[str, Family]
    source: Source


class Families(Frozen):
    """``families.yaml``."""

    defaults: dict[str, Sourced]
    spare_air_materials: Many[Material] = Field(description="of bodies, whatever the family")
    families: dict[Family, FamilyUsual]
    letters: ByLetters

    @model_validator(mode="after")
    def _all(self) -> Self:
        missing = [name for name in get_args(Family) if name not in self.families]
        if missing:
            raise ValueError(f"families are missing: {', '.join(missing)}; add them")
        return self

    def spares_air(self, footprint: Footprint) -> bool:
        """Plastics, cans and modules: what hot air next to it would hurt."""
        return (
            footprint.heat.softens_c is not None
            or self[footprint.family].spare_air
            or footprint.body.material in self.spare_air_materials
        )

    def __getitem__(self, family: Family) -> FamilyUsual:
        return self.families[family]
