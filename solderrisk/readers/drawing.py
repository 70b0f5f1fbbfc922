"""One footprint as drawn in a board or footprint file: its pads, its body, its texts."""

from __future__ import annotations

import math
import re

from solderrisk.model.kit import Side
from solderrisk.packages.pads import Drawing, Pad, PadType
from solderrisk.readers.sexpr import Node

MAX_PADS = 4000

_NUMBER = re.compile(r"[-+]?\d{0,6}\.?\d{1,9}")
_TYPES: dict[str, PadType] = {
    "smd": "smd",
    "thru_hole": "hole",
    "np_thru_hole": "bare_hole",
    "connect": "edge",
}


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


def read_pad(node: Node, turned: float = 0.0) -> Pad | None:
    """One pad; ``turned`` is the footprint's own angle, which pad angles include."""
    type_ = _TYPES.get(node.text(2))
    parts = {
        item[0]: item
        for item in node[4:]
        if item.__class__ is Node and item and item[0].__class__ is str
    }
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
