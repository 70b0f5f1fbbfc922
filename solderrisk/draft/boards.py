"""What board, footprint and fabrication files show, as parts of a draft."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from solderrisk.draft.pile import Pile, place_mm
from solderrisk.files.text import refused
from solderrisk.model.draft import Part, ref_prefix
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import PlaneLink
from solderrisk.model.library import Library
from solderrisk.packages.drawn import footprint_of, joined_lands
from solderrisk.packages.pads import Drawing, Pad
from solderrisk.readers.columns import clean_ref
from solderrisk.readers.reading import DrawnBoard, Points, SeenHole, SeenPad, Zone

MAX_DRAWINGS = 10_000


def add_board(pile: Pile, path: Path, reading: DrawnBoard, library: Library) -> None:
    """Every part of a board file, with position, side, footprint and plane ties."""
    if len(reading.drawings) > MAX_DRAWINGS:
        raise refused(path, f"more than {MAX_DRAWINGS} parts; draft it in pieces")
    if any(b.name == reading.board.name for b in pile.boards):
        name = f"{reading.board.name}-{len(pile.boards) + 1}"
        reading = replace(reading, board=reading.board.model_copy(update={"name": name}))
    pile.boards.append(reading.board)
    ties = PlaneTies(reading)
    made: dict[tuple[object, ...], tuple[Footprint | None, tuple[PlaneLink, ...]]] = {}
    names: dict[str, tuple[object, ...]] = {}
    for drawing in reading.drawings:
        part = _part(path, reading, drawing)
        tied = ties.ties(drawing)
        footprint, links = _footprint(drawing, tied, library, made, names)
        if not part.ignored and footprint is None:
            part = replace(part, ignored="no pad to solder")
        joined = joined_lands(drawing, footprint) if footprint is not None else ()
        pile.add_drawn(replace(part, drawn=footprint, links=links, joined=joined))


def _footprint(
    drawing: Drawing,
    tied: dict[str, Tie],
    library: Library,
    made: dict[tuple[object, ...], tuple[Footprint | None, tuple[PlaneLink, ...]]],
    names: dict[str, tuple[object, ...]],
) -> tuple[Footprint | None, tuple[PlaneLink, ...]]:
    """One footprint per name and set of pads on planes."""
    prefix = ref_prefix(drawing.ref)
    shape = tuple((p.number, p.x, p.y, p.w, p.h, p.drill, p.round) for p in drawing.pads)
    key = (drawing.name, prefix, frozenset(tied.items()), hash(shape))
    if key not in made:
        made[key] = _make(drawing, tied, library)
        footprint, links = made[key]
        if footprint is not None:
            name, count = footprint.name, 2
            while names.setdefault(name.casefold(), key) != key and _differs(
                made, names, name, footprint
            ):
                name, count = f"{footprint.name} no. {count}", count + 1
            made[key] = (footprint.model_copy(update={"name": name}), links)
    return made[key]


def _differs(
    made: dict[tuple[object, ...], tuple[Footprint | None, tuple[PlaneLink, ...]]],
    names: dict[str, tuple[object, ...]],
    name: str,
    footprint: Footprint,
) -> bool:
    other = made[names[name.casefold()]][0]
    return other is None or other.model_copy(update={"name": footprint.name}) != footprint


def _make(
    drawing: Drawing, tied: dict[str, Tie], library: Library
) -> tuple[Footprint | None, tuple[PlaneLink, ...]]:
    label = ""
    if tied:
        numbers = sorted(tied, key=lambda n: (len(n), n))
        label = f"plane {','.join(numbers)}" if len(numbers) <= 4 else f"plane {len(numbers)} pads"
    drawn = footprint_of(drawing, library, frozenset(tied), label)
    if drawn is None:
        return None, ()
    exposed = {p.number for p in drawn.geometry.exposed}
    groups = [g.name for g in drawn.footprint.pads if g.name.startswith("plane")]
    links = links_of((t for n, t in tied.items() if n not in exposed), groups)
    below = [g.name for g in drawn.footprint.pads if g.kind == "exposed"]
    links += links_of((t for n, t in tied.items() if n in exposed), below)
    if below and not (exposed & tied.keys()):
        links += tuple(PlaneLink(group=name, planes=0) for name in below)
    return drawn.footprint, links


def _part(path: Path, reading: DrawnBoard, drawing: Drawing) -> Part:
    ref = clean_ref(drawing.ref) if not drawing.ref.endswith(("*", "?")) else ""
    flags = drawing.flags
    nets = len({pad.net for pad in drawing.pads if pad.net})
    ignored = ""
    if "dnp" in flags:
        ignored = "marked as not to be fitted"
    elif nets < 2 and ("board_only" in flags or "virtual" in flags):
        ignored = "part of the board itself"
    elif not ref:
        ignored = "has no reference"
    return Part(
        ref=ref,
        source=f"{path}:{drawing.line}",
        value="" if drawing.value.startswith("Val**") else drawing.value,
        package=drawing.name,
        description=drawing.description[:300],
        board=reading.board.name,
        side=drawing.side,
        x_mm=place_mm(drawing.x - reading.left),
        y_mm=place_mm(reading.bottom - drawing.y),
        rotation_deg=round(drawing.angle, 3),
        nets=nets,
        ignored=ignored,
    )


def add_footprint(pile: Pile, path: Path, drawing: Drawing, library: Library) -> None:
    """A footprint file: its definition answers for parts whose package bears its name."""
    drawn = footprint_of(drawing, library, where="footprint file")
    if drawn is None:
        raise refused(path, "a footprint without a pad to solder")
    pile.own_footprints[drawn.footprint.name] = drawn.footprint
    pile.note(f"{path.name}: footprint {drawn.footprint.name!r} with {drawn.geometry.pins} pins")


USUAL_SPOKES = 4
LARGE_SHARE = 0.05  # a pour under this share of the board is no plane for heat


@dataclass(frozen=True)
class Tie:
    """How one pad is tied to planes."""

    planes: int
    spokes: int
    spoke_w: float
    spoke_gap: float


class PlaneTies:
    """Answers for the pads of one board."""

    def __init__(self, reading: DrawnBoard) -> None:
        self.reading = reading
        area = reading.board.length_mm * reading.board.width_mm
        self.by_net: dict[str, list[Zone]] = defaultdict(list)
        for zone in reading.zones:
            xs, ys = [p[0] for p in zone.outline], [p[1] for p in zone.outline]
            if (max(xs) - min(xs)) * (max(ys) - min(ys)) >= LARGE_SHARE * area and zone.net:
                self.by_net[zone.net].append(zone)
        self.vias: dict[str, list[tuple[float, float]]] = defaultdict(list)
        for via in reading.vias:
            self.vias[via.net].append((via.x, via.y))
        self.limit = reading.board.copper_layers

    def ties(self, drawing: Drawing) -> dict[str, Tie]:
        """Pad number to its tie, for the pads that join a plane."""
        found: dict[str, Tie] = {}
        for pad in drawing.pads:
            if not pad.number or pad.net not in self.by_net or not pad.copper:
                continue
            tie = self._tie(drawing, pad)
            if tie is not None and (
                pad.number not in found or found[pad.number].planes < tie.planes
            ):
                found[pad.number] = tie
        return found

    def _tie(self, drawing: Drawing, pad: Pad) -> Tie | None:
        x, y = _place(drawing, pad)
        through = pad.type == "hole"
        own = "B.Cu" if drawing.side == "bottom" else "F.Cu"
        reach_all = through or self._vias_under(drawing, pad, x, y)
        planes, connects = 0, []
        for zone in self.by_net[pad.net]:
            layers = zone.layers if reach_all else zone.layers & {own}
            if layers and inside(zone.outline, x, y):
                planes += len(layers)
                connects.append(zone)
        if not planes:
            return None
        zone = connects[0]
        mode = pad.connect if pad.connect is not None else drawing.connect
        mode = zone.connect if mode is None else mode
        if mode == 0 and not (reach_all and not through):
            return None
        solid = mode == 2 or (mode == 3 and not through) or (reach_all and not through)
        return Tie(
            planes=min(planes, self.limit),
            spokes=0 if solid else USUAL_SPOKES,
            spoke_w=pad.spoke_w or zone.spoke_w,
            spoke_gap=pad.spoke_gap or zone.spoke_gap,
        )

    def _vias_under(self, drawing: Drawing, pad: Pad, x: float, y: float) -> bool:
        """Vias in a large land carry its heat to every plane of its net."""
        if pad.type != "smd" or pad.area < 1.0:
            return False
        half = max(pad.w, pad.h) / 2
        near = self.vias.get(pad.net, ())
        own = sum(q.type == "hole" and q.number == pad.number for q in drawing.pads)
        return own > 0 or any(abs(vx - x) < half and abs(vy - y) < half for vx, vy in near)


def _place(drawing: Drawing, pad: Pad) -> tuple[float, float]:
    """A pad's place in the board file's coordinates."""
    angle = math.radians(-drawing.angle)
    y = -pad.y if drawing.side == "bottom" else pad.y
    x_turned = pad.x * math.cos(angle) - y * math.sin(angle)
    y_turned = pad.x * math.sin(angle) + y * math.cos(angle)
    return drawing.x + x_turned, drawing.y + y_turned


def links_of(ties: Iterable[Tie], groups: Iterable[str]) -> tuple[PlaneLink, ...]:
    """One link for every tied group: the heaviest tie speaks for all of them."""
    heaviest = max(ties, key=lambda t: (t.planes, -t.spokes), default=None)
    if heaviest is None:
        return ()
    return tuple(
        PlaneLink(
            group=group,
            planes=heaviest.planes,
            spokes=heaviest.spokes,
            spoke_w_mm=max(round(heaviest.spoke_w, 3), 0.01),
            spoke_gap_mm=max(round(heaviest.spoke_gap, 3), 0.01),
        )
        for group in groups
    )


def inside(points: Points, x: float, y: float) -> bool:
    """Whether a point lies in a polygon (even-odd rule)."""
    odd = False
    for (x1, y1), (x2, y2) in zip(points, (*points[1:], points[0]), strict=True):
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            odd = not odd
    return odd


SAME_PLACE = 0.06  # mm; a hole this near to a pad's centre belongs to it


def seen_parts(pile: Pile, library: Library) -> list[Part]:
    """Parts from pads: place, side, number of pads and a footprint drawn from them."""
    by_ref: dict[str, list[tuple[SeenPad, Path]]] = defaultdict(list)
    for pad, path in pile.seen:
        ref = clean_ref(pad.ref)
        if ref:
            by_ref[ref].append((pad, path))
    holes = _by_place(pile.holes)
    parts: list[Part] = []
    made: dict[tuple[object, ...], Footprint | None] = {}
    for ref, seen in by_ref.items():
        unique = _once([pad for pad, _ in seen])
        first, path = seen[0]
        x = sum(p.x_mm for p in unique) / len(unique)
        y = sum(p.y_mm for p in unique) / len(unique)
        footprint = _drawn(ref, unique, (x, y), holes, library, made)
        parts.append(
            Part(
                ref=ref,
                source=f"{path}:{first.line}",
                side="top" if any(p.top for p in unique) else "bottom",
                x_mm=place_mm(x),
                y_mm=place_mm(y),
                seen=footprint,
                pads=len({p.pin for p in unique}),
            )
        )
    return parts


def _once(pads: list[SeenPad]) -> list[SeenPad]:
    """Pads through the board appear on several layers."""
    found: dict[tuple[str, int, int], SeenPad] = {}
    for pad in pads:
        key = (pad.pin, round(pad.x_mm * 50), round(pad.y_mm * 50))
        known = found.get(key)
        if known is None or pad.w_mm * pad.h_mm > known.w_mm * known.h_mm:
            found[key] = pad
    return list(found.values())


def _by_place(holes: list[SeenHole]) -> dict[tuple[int, int], list[SeenHole]]:
    table: dict[tuple[int, int], list[SeenHole]] = defaultdict(list)
    for hole in holes:
        table[round(hole.x_mm), round(hole.y_mm)].append(hole)
    return table


def _hole_at(table: dict[tuple[int, int], list[SeenHole]], pad: SeenPad) -> float:
    if pad.hole_mm:
        return pad.hole_mm
    for dx in (-1, 0, 1):
        for dy in (-1, 0, 1):
            for hole in table.get((round(pad.x_mm) + dx, round(pad.y_mm) + dy), ()):
                near = (
                    abs(hole.x_mm - pad.x_mm) < SAME_PLACE
                    and abs(hole.y_mm - pad.y_mm) < SAME_PLACE
                )
                if near and hole.plated is not False and hole.d_mm < max(pad.w_mm, pad.h_mm):
                    return hole.d_mm
    return 0.0


def _drawn(
    ref: str,
    pads: list[SeenPad],
    centre: tuple[float, float],
    holes: dict[tuple[int, int], list[SeenHole]],
    library: Library,
    made: dict[tuple[object, ...], Footprint | None],
) -> Footprint | None:
    drawn = []
    for pad in pads:
        if pad.w_mm <= 0 or pad.h_mm <= 0:
            continue
        hole = _hole_at(holes, pad)
        drawn.append(
            Pad(
                pad.pin,
                "hole" if hole else "smd",
                round(pad.x_mm - centre[0], 3),
                round(centre[1] - pad.y_mm, 3),
                pad.w_mm,
                pad.h_mm,
                hole,
                round=pad.round,
            )
        )
    if not drawn:
        return None
    prefix = ref_prefix(ref)
    key = (prefix, tuple(sorted((p.number, p.x, p.y, p.w, p.h, p.drill) for p in drawn)))
    if key not in made:
        name = f"SEEN-{prefix or 'X'}-{len(drawn)}-{len(made) + 1}"
        drawing = Drawing(
            name,
            ref,
            "",
            1,
            0.0,
            0.0,
            0.0,
            "top",
            tuple(drawn),
            None,
            (0.0, 0.0),
            frozenset(),
            None,
            "",
        )
        found = footprint_of(drawing, library)
        source = "assumed: pads as in the fabrication files; body, height and heat estimated"
        made[key] = found.footprint.model_copy(update={"source": source}) if found else None
    return made[key]
