"""One footprint as drawn in a board or footprint file."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from solderrisk.files.pads import Pad, read_pad
from solderrisk.files.sexpr import Node, plain
from solderrisk.model.kit import Side

MAX_PADS = 4000


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


def read_drawing(node: Node) -> Drawing:
    """A ``footprint`` or ``module`` list."""
    at, layer = node.first("at"), node.first("layer")
    angle = at.number(3) if at is not None else 0.0
    pads = [p for item in node.each("pad") if (p := read_pad(item, angle)) is not None]
    side: Side = "bottom" if layer is not None and layer.text(1).startswith("B.") else "top"
    if side == "bottom":
        pads = [_turned_over(p) for p in pads]
    body, centre = _body(node)
    attributes = node.first("attr")
    connect, description = node.first("zone_connect"), node.first("descr")
    return Drawing(
        name=node.text(1),
        ref=_text_of(node, "reference"),
        value=_text_of(node, "value"),
        line=node.line,
        x=at.number(1) if at is not None else 0.0,
        y=at.number(2) if at is not None else 0.0,
        angle=angle % 360.0,
        side=side,
        pads=tuple(pads[:MAX_PADS]),
        body=body,
        centre=centre,
        flags=frozenset(attributes.atoms() if attributes is not None else ()),
        connect=int(connect.number(1)) if connect is not None else None,
        description=description.text(1) if description is not None else "",
    )


def _turned_over(pad: Pad) -> Pad:
    """Footprints on the far side are drawn mirrored; give them as they are made."""
    return Pad(
        pad.number,
        pad.type,
        pad.x,
        -pad.y,
        pad.w,
        pad.h,
        pad.drill,
        pad.slot,
        pad.round,
        pad.copper,
        not pad.front or pad.type == "hole",
        pad.net,
        pad.connect,
        pad.spoke_w,
        pad.spoke_gap,
        pad.heatsink,
    )


def _text_of(node: Node, kind: str) -> str:
    """Reference and value: ``fp_text`` in older files, ``property`` in newer ones."""
    for item in node.each("fp_text"):
        if item.text(1) == kind:
            return item.text(2)
    for item in node.each("property"):
        if item.text(1).casefold() == kind:
            return item.text(2)
    return ""


def _body(node: Node) -> tuple[tuple[float, float] | None, tuple[float, float]]:
    """Size and centre of the body: its drawing on the fabrication layer, else courtyard."""
    for wanted, margin in ((".Fab", 0.0), (".CrtYd", 0.5)):
        xs: list[float] = []
        ys: list[float] = []
        for item in node:
            if item.__class__ is Node and item and item[0] in _SHAPES and _on(item, wanted):
                _extend(item, xs, ys)
        if len(xs) >= 2:
            w, h = max(xs) - min(xs) - margin, max(ys) - min(ys) - margin
            if w > 0.1 and h > 0.1:
                return (w, h), ((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2)
    return None, (0.0, 0.0)


_SHAPES = frozenset({"fp_line", "fp_rect", "fp_circle", "fp_poly", "fp_arc"})


def _on(item: Node, layer: str) -> bool:
    where = item.first("layer")
    return where is not None and where.text(1).endswith(layer)


def _extend(item: Node, xs: list[float], ys: list[float]) -> None:
    if item[0] == "fp_circle":
        centre, end = item.first("center"), item.first("end")
        if centre is not None and end is not None:
            r = math.hypot(end.number(1) - centre.number(1), end.number(2) - centre.number(2))
            xs += [centre.number(1) - r, centre.number(1) + r]
            ys += [centre.number(2) - r, centre.number(2) + r]
        return
    points = item.first("pts")
    found = list(points.each("xy")) if points is not None else []
    found += [p for word in ("start", "mid", "end") if (p := item.first(word)) is not None]
    xs += [p.number(1) for p in found]
    ys += [p.number(2) for p in found]


def plain_name(text: str) -> str:
    return re.sub(r"[^\w.+ ()~-]+", "-", plain(text))[:120].strip("- ") or "unnamed"
