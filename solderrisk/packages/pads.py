"""Pads and footprints as drawings show them: values alone, whoever read them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from solderrisk.model.kit import Side

PadType = Literal["smd", "hole", "bare_hole", "edge"]


@dataclass(frozen=True, slots=True)
class Pad:
    """One pad, its place relative to the footprint (y as drawn: down), mm."""

    number: str
    type: PadType
    x: float
    y: float
    w: float
    h: float
    drill: float = 0.0
    slot: float = 0.0
    round: bool = False
    copper: bool = True
    front: bool = True
    net: str = ""
    connect: int | None = None  # 0 none, 1 spokes, 2 solid, 3 spokes on holes only
    spoke_w: float | None = None
    spoke_gap: float | None = None
    heatsink: bool = False

    @property
    def area(self) -> float:
        return self.w * self.h


@dataclass(frozen=True)
class Drawing:
    """A drawn footprint; its place on the board in the file's own coordinates (y down)."""

    name: str
    ref: str
    value: str
    line: int
    x: float
    y: float
    angle: float
    side: Side
    pads: tuple[Pad, ...]
    body: tuple[float, float] | None
    centre: tuple[float, float]
    flags: frozenset[str]
    connect: int | None
    description: str

    @property
    def bare_name(self) -> str:
        """The name without its library."""
        return self.name.rpartition(":")[2]
