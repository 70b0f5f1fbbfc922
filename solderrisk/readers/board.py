"""Open s-expression board and footprint files: parts, outline, layers, planes."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from math import isfinite
from pathlib import Path

from solderrisk.files.text import bounded, refused, without_controls
from solderrisk.model.kit import Board
from solderrisk.packages.pads import Drawing
from solderrisk.readers.drawing import Malformed, Node, parse, parse_quick, read_drawing
from solderrisk.readers.reading import DrawnBoard, Points, Reading, Via, Zone

MAX_BOARD_BYTES = 60_000_000
MAX_FOOTPRINT_BYTES = 8_000_000
PLANE_SHARE = 0.4  # a layer whose largest pour covers this much of the board is a plane

_SKIP = frozenset(
    {
        "filled_polygon",
        "fill_segments",
        "effects",
        "model",
        "tstamp",
        "uuid",
        "segment",
        "gr_text",
        "dimension",
        "net_class",
        "image",
        "group",
        "embedded_files",
        "teardrops",
        "render_cache",
        "table",
        "generated",
        "fp_text_box",
        "gr_text_box",
        "title_block",
        "plot",
        "pcbplotparams",
    }
)
_FINISH = {
    "enig": "enig",
    "hasl": "hasl",
    "hal": "hasl",
    "osp": "osp",
    "tin": "tin",
    "silver": "silver",
    "gold": "enig",
}


def read_footprint(path: Path, data: bytes) -> Reading:
    """One footprint file.

    Raises:
        FileProblems: too large, damaged, or no footprint in it.
    """
    node, notes = _parse(path, bounded(path, data, MAX_FOOTPRINT_BYTES), quick=True)
    if node.text(0) not in ("footprint", "module"):
        raise refused(path, "no footprint in it")
    return Reading(notes, footprint=read_drawing(node))


def read_board(path: Path, data: bytes) -> Reading:
    """A board file.

    Raises:
        FileProblems: too large, damaged, or no board in it.
    """
    root, told = _parse(path, bounded(path, data, MAX_BOARD_BYTES))
    if root.text(0) != "kicad_pcb":
        raise refused(path, "no board in it")
    nets = {item.text(1): item.text(2) for item in root.each("net")}
    drawings = tuple(
        read_drawing(item)
        for item in root
        if item.__class__ is Node and item and item[0] in ("footprint", "module")
    )
    notes = [*told]
    copper = _copper_layers(root)
    zones = tuple(_zones(root, nets, copper))
    box = _outline(root, drawings, notes)
    board = _board(path, root, copper, zones, box, notes)
    vias = tuple(_vias(root, nets))
    return Reading(tuple(notes), board=DrawnBoard(board, drawings, zones, vias, box[0], box[3]))


def _parse(path: Path, data: bytes, *, quick: bool = False) -> tuple[Node, tuple[str, ...]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    if "\0" in text[:100_000]:
        raise refused(path, "binary data; this is no board or footprint file")
    text, notes = without_controls(text)
    try:
        return (parse_quick(text) if quick else parse(measured(text), _SKIP)), notes
    except Malformed as error:
        raise refused(path, f"damaged: {error}", error.line) from None


def _copper_layers(root: Node) -> tuple[str, ...]:
    layers = root.first("layers")
    found = []
    for item in layers or ():
        if item.__class__ is Node and item.text(1).endswith(".Cu"):
            found.append(item.text(1))
    return tuple(found) or ("F.Cu", "B.Cu")


def _zones(root: Node, nets: dict[str, str], copper: tuple[str, ...]) -> Iterator[Zone]:
    for item in root.each("zone"):
        if item.first("keepout") is not None:
            continue
        layers = _zone_layers(item, copper)
        polygon = item.first("polygon")
        points = polygon.first("pts") if polygon is not None else None
        outline = tuple((p.number(1), p.number(2)) for p in points.each("xy")) if points else ()
        if not layers or len(outline) < 3:
            continue
        fill = item.first("fill")
        width, gap = 0.0, 0.0
        if fill is not None:
            bridge, space = fill.first("thermal_bridge_width"), fill.first("thermal_gap")
            width = bridge.number(1) if bridge is not None else 0.0
            gap = space.number(1) if space is not None else 0.0
        spokes = (_connect(item), width or 0.5, gap or 0.5)
        yield Zone(_net_name(item, nets), layers, outline, *spokes, filled(item, layers))


def _net_name(item: Node, nets: dict[str, str]) -> str:
    named, net = item.first("net_name"), item.first("net")
    if named is not None and named.text(1):
        return named.text(1)
    if net is None:
        return ""
    return net.text(2) or nets.get(net.text(1), "" if net.text(1).isdigit() else net.text(1))


def _zone_layers(item: Node, copper: tuple[str, ...]) -> frozenset[str]:
    one, several = item.first("layer"), item.first("layers")
    names = [one.text(1)] if one is not None else several.atoms() if several is not None else []
    found: set[str] = set()
    for name in names:
        if name in copper:
            found.add(name)
        elif name in ("*.Cu", "F&B.Cu"):
            found |= set(copper) if name == "*.Cu" else {"F.Cu", "B.Cu"}
    return frozenset(found)


def _connect(item: Node) -> int:
    """How pads join this pour: 0 not, 1 by spokes, 2 solid, 3 spokes on holes only."""
    node = item.first("connect_pads")
    words = node.atoms() if node is not None else []
    if "yes" in words:
        return 2
    if "no" in words:
        return 0
    return 3 if "thru_hole_only" in words else 1


def _vias(root: Node, nets: dict[str, str]) -> Iterator[Via]:
    for item in root.each("via"):
        at = item.first("at")
        if at is not None:
            yield Via(_net_name(item, nets), at.number(1), at.number(2))


Box = tuple[float, float, float, float]


def _outline(root: Node, drawings: tuple[Drawing, ...], notes: list[str]) -> Box:
    """Left, top, right, bottom of the board's edge in the file's coordinates."""
    xs: list[float] = []
    ys: list[float] = []
    for item in root:
        if item.__class__ is not Node or not item or not str(item[0]).startswith("gr_"):
            continue
        layer = item.first("layer")
        if layer is None or layer.text(1) != "Edge.Cuts":
            continue
        points = item.first("pts")
        found = list(points.each("xy")) if points is not None else []
        found += [p for w in ("start", "mid", "end") if (p := item.first(w)) is not None]
        xs += [p.number(1) for p in found]
        ys += [p.number(2) for p in found]
        centre, end = item.first("center"), item.first("end")
        if item[0] == "gr_circle" and centre is not None and end is not None:
            dx, dy = end.number(1) - centre.number(1), end.number(2) - centre.number(2)
            r = (dx * dx + dy * dy) ** 0.5
            xs += [centre.number(1) - r, centre.number(1) + r]
            ys += [centre.number(2) - r, centre.number(2) + r]
    if xs and max(xs) - min(xs) > 1 and max(ys) - min(ys) > 1:
        return min(xs), min(ys), max(xs), max(ys)
    notes.append("no outline drawn; the board's size is taken from its parts")
    if not drawings:
        return 0.0, 0.0, 100.0, 80.0
    left, right = min(d.x for d in drawings) - 5, max(d.x for d in drawings) + 5
    top, bottom = min(d.y for d in drawings) - 5, max(d.y for d in drawings) + 5
    return left, top, right, bottom


def _board(
    path: Path,
    root: Node,
    copper: tuple[str, ...],
    zones: tuple[Zone, ...],
    box: Box,
    notes: list[str],
) -> Board:
    width, height = min(box[2] - box[0], 1900.0), min(box[3] - box[1], 1900.0)
    general = root.first("general")
    thick = general.first("thickness") if general is not None else None
    thickness = thick.number(1) if thick is not None and 0.1 <= thick.number(1) <= 10 else 1.6
    layers = min(len(copper), 32)
    covers = sorted(plane_covers(copper, zones, width * height).values(), reverse=True)
    planes = [c for c in covers if c >= PLANE_SHARE][:layers]
    if empty := sum(1 for zone in zones if zone.net and not zone.filled):
        notes.append(
            f"{empty} of {len(zones)} copper zones are not filled in the file; their outlines "
            "count as copper (fill all zones and save the board for the real cover)"
        )
    if not planes:
        notes.append("no copper plane found in the drawing")
    cover = sum(planes) / len(planes) if planes else max(covers, default=0.0)
    finish, foil = _stackup(root)
    return Board(
        name=plain_board_name(path),
        thickness_mm=thickness,
        length_mm=round(width, 2),
        width_mm=round(height, 2),
        copper_layers=layers,
        plane_layers=len(planes),
        plane_cover=round(min(cover, 1.0), 2),
        copper_um=foil,
        finish=finish,
    )


def plain_board_name(path: Path) -> str:
    name = "".join(c if c.isalnum() or c in "-._" else "-" for c in path.stem).strip("-.")
    return name[:60] or "main"


def _stackup(root: Node):  # type: ignore[no-untyped-def]
    """Surface finish and foil thickness where the stack-up is drawn."""
    setup = root.first("setup")
    stack = setup.first("stackup") if setup is not None else None
    if stack is None:
        return "unknown", 35.0
    said = stack.first("copper_finish")
    words = said.text(1).casefold() if said is not None else ""
    finish = next((value for key, value in _FINISH.items() if key in words), "unknown")
    foils = []
    for layer in stack.each("layer"):
        kind, thickness = layer.first("type"), layer.first("thickness")
        if kind is not None and kind.text(1) == "copper" and thickness is not None:
            foils.append(thickness.number(1) * 1000)
    foil = foils[0] if foils and 5 <= foils[0] <= 210 else 35.0
    return finish, foil


_FILLED, _POINTS = "(filled_polygon", "(pts"
_LAYER = re.compile(r'\(layer\s+"?([^\s")]+)')
_POINT = re.compile(r"\(xy\s+([-+.\de]+)\s+([-+.\de]+)\s*\)")
_END = re.compile(r"\)\s*\)\s*\)")
_HEAD = 400  # characters between the word and its points


def measured(text: str) -> str:
    """The text with one short list, layer and mm², in place of each filled polygon; lines
    keep their numbers."""
    pieces, done = [], 0
    while (start := text.find(_FILLED, done)) >= 0:
        points = text.find(_POINTS, start, start + _HEAD)
        end = _END.search(text, points) if points >= 0 else None
        if end is None:
            break
        layer = _LAYER.search(text, start, points)
        area = _area(text[points : end.end()])
        lines = "\n" * text.count("\n", start, end.end())
        pieces.append(text[done:start])
        pieces.append(f'(fill_area "{layer[1] if layer else ""}" {area:.4f}){lines}')
        done = end.end()
    return "".join((*pieces, text[done:]))


def _area(text: str) -> float:
    try:
        area = abs(polygon_area(tuple((float(x), float(y)) for x, y in _POINT.findall(text))))
    except ValueError:
        return 0.0
    return area if isfinite(area) else 0.0


def filled(zone: Node, layers: frozenset[str]) -> tuple[tuple[str, float], ...]:
    """Layer and mm² of what is filled of a zone; nothing where it is not filled."""
    areas: dict[str, float] = defaultdict(float)
    for item in zone.each("fill_area"):
        areas[item.text(1) or min(layers)] += item.number(2)
    return tuple(sorted(areas.items()))


def plane_covers(copper: tuple[str, ...], zones: tuple[Zone, ...], area: float) -> dict[str, float]:
    """Share of the board that the largest net's pours cover, layer by layer: what is filled
    of them, or their outline where nothing is."""
    covers: dict[str, float] = {}
    for layer in copper:
        by_net: dict[str, float] = defaultdict(float)
        for zone in zones:
            if layer in zone.layers:
                drawn = abs(polygon_area(zone.outline))
                by_net[zone.net] += dict(zone.filled).get(layer, 0.0) if zone.filled else drawn
        covers[layer] = min(max(by_net.values(), default=0.0) / max(area, 1.0), 1.0)
    return covers


def polygon_area(points: Points) -> float:
    """Signed area by the shoelace formula."""
    total = 0.0
    for (x1, y1), (x2, y2) in zip(points, (*points[1:], *points[:1]), strict=True):
        total += x1 * y2 - x2 * y1
    return total / 2
