"""What a family usually has, read once from ``data/families.yaml``."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from pydantic import Field

from solderrisk.files.yaml_source import read_model
from solderrisk.model.base import Frozen, Source
from solderrisk.model.footprint import Family, HeatLimit, Material, PadKind

DATA = Path(__file__).resolve().parent.parent / "data" / "families.yaml"


class Sourced(Frozen):
    value: float
    source: Source


class FamilyUsual(Frozen):
    """Usual joints, body and heat limits of one family, lengths in mm."""

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
    body_c: float = 260.0
    body_s: float = 10.0
    iron_c: float = 350.0
    iron_s: float = 3.0
    softens_c: float | None = None
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


class FamiliesFile(Frozen):
    defaults: dict[str, Sourced]
    families: dict[Family, FamilyUsual]


@lru_cache(maxsize=1)
def _file() -> FamiliesFile:
    return read_model(DATA, FamiliesFile)


def usual(family: Family) -> FamilyUsual:
    return _file().families[family]


def default(name: str) -> float:
    return _file().defaults[name].value
