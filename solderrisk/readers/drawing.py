"""Board files: nested lists and what is drawn in them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

from solderrisk.model.kit import Side
from solderrisk.packages.pads import Drawing, Pad, PadType

MAX_DEPTH = 120
MAX_TOKENS = 12_000_000

_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[()\n]|[^\s()"]+', re.DOTALL)
_BARE_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[()]|[^\s()"]+', re.DOTALL)
_STAMPS = re.compile(r"\((?:tstamp|uuid|tedit) [^()\"\n]*\)")
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)


class Malformed(ValueError):  # noqa: N818 - a fact about a text
    """The text is no complete s-expression; ``line`` says where."""

    def __init__(self, message: str, line: int) -> None:
        super().__init__(message)
        self.line = line


class Node(list[Any]):
    """A list; its first item is its word."""

    __slots__ = ("line",)

    def __init__(self, line: int) -> None:
        super().__init__()
        self.line = line

    def each(self, word: str) -> Iterator[Node]:
        """Child lists that begin with this word."""
        for item in self:
            if item.__class__ is Node and item and item[0] == word:
                yield item

    def first(self, word: str) -> Node | None:
        for item in self:
            if item.__class__ is Node and item and item[0] == word:
                return item
        return None

    def text(self, index: int, default: str = "") -> str:
        """The atom at an index, unquoted."""
        if index < len(self) and self[index].__class__ is str:
            return plain(self[index])
        return default

    def number(self, index: int, default: float = 0.0) -> float:
        if index < len(self) and self[index].__class__ is str:
            try:
                value = float(self[index])
            except ValueError:
                return default
            if -1e6 < value < 1e6:
                return value
        return default

    def atoms(self) -> list[str]:
        return [plain(item) for item in self[1:] if item.__class__ is str]


def plain(atom: str) -> str:
    """An atom without its quotes."""
    if len(atom) >= 2 and atom[0] == '"':
        inner = atom[1:-1]
        return _ESCAPE.sub(r"\1", inner) if "\\" in inner else inner
    return atom


def parse_quick(text: str) -> Node:
    """The first list of a short text, without lines; three times as fast as ``parse``.

    Raises:
        Malformed: unbalanced, too deep, or no list at all.
    """
    root = Node(1)
    here, stack = root, []
    for token in _BARE_TOKEN.findall(_STAMPS.sub("", text)):
        if token == "(":
            node = Node(1)
            here.append(node)
            stack.append(here)
            here = node
        elif token == ")":
            if not stack:
                raise Malformed("a closing bracket too many", 1)
            here = stack.pop()
        else:
            here.append(token)
        if len(stack) > MAX_DEPTH:
            raise Malformed(f"brackets nested more than {MAX_DEPTH} deep", 1)
    if stack:
        raise Malformed("the file ends inside a list; it is cut short", 1)
    for item in root:
        if item.__class__ is Node:
            return item
    raise Malformed("no list in it", 1)


def parse(text: str, skip: frozenset[str] = frozenset()) -> Node:
    """The first list of a text. Lists that begin with a word of ``skip`` are left out.

    Raises:
        Malformed: unbalanced, too deep, too large, or no list at all.
    """
    line, depth, count = 1, 0, 0
    root = Node(1)
    here, stack = root, [root]
    skipping = 0  # depth inside a list that is left out
    fresh = False  # the next atom is the word of a list
    for match in _TOKEN.finditer(text):
        token = match[0]
        if token == "(":
            depth += 1
            if depth > MAX_DEPTH:
                raise Malformed(f"brackets nested more than {MAX_DEPTH} deep", line)
            if skipping:
                skipping += 1
                continue
            node = Node(line)
            here.append(node)
            stack.append(node)
            here, fresh = node, True
        elif token == ")":
            depth -= 1
            if depth < 0:
                raise Malformed("a closing bracket too many", line)
            if skipping > 1:
                skipping -= 1
                continue
            skipping = 0
            stack.pop()
            here, fresh = stack[-1], False
            if not depth:
                break
        elif token == "\n":
            line += 1
        elif not skipping:
            if fresh and token in skip:
                stack[-2].pop()
                skipping = 1
            else:
                here.append(token)
            fresh = False
            count += 1
            if count > MAX_TOKENS:
                raise Malformed(f"more than {MAX_TOKENS} words", line)
        if token[0] == '"':
            line += token.count("\n")
    if depth:
        raise Malformed("the file ends inside a list; it is cut short", line)
    if not root or root[0].__class__ is not Node:
        raise Malformed("no list in it", 1)
    first: Node = root[0]
    return first


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


# No set: in a broken file the word may be a list, which has no hash.
_SHAPES = ("fp_line", "fp_rect", "fp_circle", "fp_poly", "fp_arc")


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
