"""Pads of footprints drawn in board and footprint files."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from solderrisk.files.sexpr import Node

PadType = Literal["smd", "hole", "bare_hole", "edge"]

_NUMBER = re.compile(r"[-+]?\d{0,6}\.?\d{1,9}")
_TYPES: dict[str, PadType] = {
    "smd": "smd",
    "thru_hole": "hole",
    "np_thru_hole": "bare_hole",
    "connect": "edge",
}


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


def read_pad(node: Node, turned: float = 0.0) -> Pad | None:
    """One pad; ``turned`` is the footprint's own angle, which pad angles include."""
    type_ = _TYPES.get(node.text(2))
    parts = {item[0]: item for item in node[4:] if item.__class__ is Node and item}
    at, size = parts.get("at"), parts.get("size")
    if type_ is None or at is None or size is None:
        return None
    w, h = abs(size.number(1)), abs(size.number(2)) or abs(size.number(1))
    shape = node.text(3)
    if shape == "custom":
        w, h = _custom_size(parts.get("primitives"), w, h)
    turn = (at.number(3) - turned) % 180.0
    if turn:
        c, s = abs(math.cos(math.radians(turn))), abs(math.sin(math.radians(turn)))
        w, h = (w * c + h * s, w * s + h * c) if 0.01 < s < 0.99 else (h, w) if s > 0.5 else (w, h)
    drill, slot = _drill(parts["drill"]) if "drill" in parts else (0.0, 0.0)
    layers = parts["layers"].atoms() if "layers" in parts else []
    connect = parts.get("zone_connect")
    net = parts.get("net")
    return Pad(
        number=node.text(1),
        type=type_,
        x=at.number(1),
        y=at.number(2),
        w=w,
        h=h,
        drill=drill,
        slot=slot,
        round=shape in ("circle", "oval"),
        copper=not layers or any(layer.endswith(".Cu") for layer in layers),
        front=not layers or any(layer[0] in "*F" for layer in layers if layer.endswith(".Cu")),
        net=(net.text(2) or net.text(1)) if net is not None else "",
        connect=int(connect.number(1)) if connect is not None else None,
        spoke_w=_value(parts, "thermal_bridge_width") or _value(parts, "thermal_width"),
        spoke_gap=_value(parts, "thermal_gap"),
        heatsink="property" in parts and parts["property"].text(1) == "pad_prop_heatsink",
    )


def _custom_size(shapes: Node | None, w: float, h: float) -> tuple[float, float]:
    """A custom pad is its anchor and the box round its shapes."""
    xs, ys = [-w / 2, w / 2], [-h / 2, h / 2]
    for shape in shapes or ():
        if not isinstance(shape, Node):
            continue
        points = shape.first("pts")
        found = list(points.each("xy")) if points is not None else []
        found += [p for word in ("start", "end") if (p := shape.first(word)) is not None]
        xs += [p.number(1) for p in found]
        ys += [p.number(2) for p in found]
    return max(xs) - min(xs), max(ys) - min(ys)


def _drill(drill: Node) -> tuple[float, float]:
    """Hole and, for a slot, its narrow side; the hole is the longer side."""
    atoms = drill.atoms()
    sizes = [abs(float(a)) for a in atoms if _NUMBER.fullmatch(a)]
    if not sizes:
        return 0.0, 0.0
    if "oval" in atoms and len(sizes) > 1 and abs(sizes[0] - sizes[1]) > 1e-6:
        return max(sizes[:2]), min(sizes[:2])
    return sizes[0], 0.0


def _value(parts: dict[str, Node], word: str) -> float | None:
    value = parts[word].number(1) if word in parts else 0.0
    return value if value > 0 else None
