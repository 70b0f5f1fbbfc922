"""Acceptance limits of solder joints by product class, as IPC-A-610 tables them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from solderrisk.model.base import Frozen, Many, Source
from solderrisk.model.footprint import PadKind

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
