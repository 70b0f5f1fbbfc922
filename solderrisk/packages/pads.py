"""Pads as drawn, and what they amount to: pins, pitch, gaps, mounting. Pads alone decide.

"Pitch" has several meanings in drawings. Here it is the step along a row of pins; where
neighbouring pins stand alternately in two rows, it is the step along the body's long side
for lands, and along one row for leads in holes.
"""

from __future__ import annotations

import re
import statistics
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
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


_MOUNT = re.compile(r"(?:MP|SH|MH|SHIELD|MNT|SHELL|HOLD|GH)[-_]?\d*", re.IGNORECASE)
_MAYBE_MOUNT = re.compile(r"(?:[SMG]|MK|PAD|TAB|CASE|NC|MP)[-_]?[A-Z]?\d{0,2}", re.IGNORECASE)
TOLERANCE = 0.04
TURN_MM = 0.25  # a lead goes into a hole that is this much off or wider
FINEST = 0.33  # mm; alternating rows closer than this are drawn, and named, row by row

Spot = tuple[float, float, int]  # x, y, side


@dataclass(frozen=True)
class PadGeometry:
    """What the pads of one footprint amount to; mm."""

    pins: int
    pitch: float | None
    gap: float | None
    rows: int
    pin_pads: tuple[Pad, ...]
    exposed: tuple[Pad, ...]
    mounts: tuple[Pad, ...]
    bare_holes: tuple[Pad, ...]
    vias: int
    through_hole: bool
    ring: float | None


def geometry(pads: Sequence[Pad], *, one_row: bool = False) -> PadGeometry:
    """Take a footprint's pads apart.

    ``one_row``: the pitch of alternating rows is the step of one row, as outlines of
    staggered transistors state it, not the step across both, as connectors do.
    """
    bare = tuple(p for p in pads if p.type == "bare_hole")
    real = [p for p in pads if p.type != "bare_hole" and p.copper and p.area > 0]
    named: dict[str, list[Pad]] = defaultdict(list)
    for pad in real:
        named[pad.number].append(pad)
    mounts = _mounts(named)
    exposed_names = _exposed(named, mounts)
    pins = {
        n: group for n, group in named.items() if n and n not in mounts and n not in exposed_names
    }
    exposed, vias = _without_vias([p for n in named if n in exposed_names for p in named[n]])
    pin_pads = [p for group in pins.values() for p in _solid(group)]
    mount_pads = [p for n in named if n in mounts for p in named[n]]
    mount_pads += [p for p in named.get("", []) if "" not in mounts and _is_tab(p, pin_pads)]
    points = {n: _centre(_solid(group)) for n, group in pins.items()}
    holes = [p for p in pin_pads if p.type == "hole"]
    through = len(holes) > len(pin_pads) / 2 or (
        bool(holes) and not any(p.type == "smd" for p in pin_pads)
    )
    pitch = _pitch(points, {n: _solid(group) for n, group in pins.items()}, one_row)
    rings = [(min(p.w, p.h) - (p.slot or p.drill)) / 2 for p in holes if p.drill]
    return PadGeometry(
        pins=len(pins),
        pitch=pitch,
        gap=smallest_gap(pin_pads),
        rows=_row_count(list(points.values())),
        pin_pads=tuple(pin_pads),
        exposed=tuple(exposed),
        mounts=tuple(mount_pads),
        bare_holes=bare,
        vias=vias,
        through_hole=through,
        ring=round(min(rings), 4) if rings else None,
    )


def keyed(shape: PadGeometry, *, square: bool) -> bool:
    """Whether holes and pegs let the part into the board one way alone.

    They do where a half turn about their middle (``square``: any quarter turn) does not bring
    every hole onto one of its size. The shape of a land keys nothing.
    """
    spots = {
        (p.x, p.y, p.drill)
        for p in (*shape.pin_pads, *shape.mounts, *shape.bare_holes)
        if p.type in ("hole", "bare_hole") and p.drill > 0
    }
    if len(spots) < 2:
        return False
    x = sum(spot[0] for spot in spots) / len(spots)
    y = sum(spot[1] for spot in spots) / len(spots)
    holes = [(sx - x, sy - y, drill) for sx, sy, drill in spots]
    turns = ((-1, 0), (0, 1), (0, -1)) if square else ((-1, 0),)
    return not any(_repeats(holes, c, s) for c, s in turns)


def _repeats(holes: Sequence[tuple[float, float, float]], c: int, s: int) -> bool:
    """Every hole, turned by the angle of this cosine and sine, lies on one that takes it."""
    return all(
        any(
            abs(x * c - y * s - u) < TURN_MM
            and abs(x * s + y * c - v) < TURN_MM
            and abs(drill - other) < TURN_MM
            for u, v, other in holes
        )
        for x, y, drill in holes
    )


def _mounts(named: dict[str, list[Pad]]) -> set[str]:
    """Names that hold the part: MP, SH; S1 or G1 only among numbered pins, since balls and
    transistor leads bear such names too."""
    names = [n for n in named if n]
    numbered = sum(n.isdecimal() for n in names)
    return {
        n
        for n in names
        if _MOUNT.fullmatch(n)
        or (n == "0" and numbered > 4)  # the shell of shielded connectors
        or (_MAYBE_MOUNT.fullmatch(n) and numbered >= 3 and numbered > 0.6 * len(names))
    }


def _is_tab(pad: Pad, pins: Sequence[Pad]) -> bool:
    """An unnumbered pad as large as a pin holds the part; smaller ones are apertures."""
    if not pins:
        return False
    return pad.area >= 0.8 * statistics.median(p.area for p in pins)


def _exposed(named: dict[str, list[Pad]], mounts: set[str]) -> set[str]:
    """Numbers of pads under the body: far larger than a pin and inside the rows of pins."""
    usual = [(n, g) for n, g in named.items() if n and n not in mounts]
    if len(usual) < 4:
        return set()
    largest = {n: max((p.area for p in _fronts(g)), default=0.0) for n, g in usual}
    if sum(v > 0 for v in largest.values()) < 0.6 * len(usual):
        return set()
    median = statistics.median(largest.values())
    found = set()
    for name, group in usual:
        smd = _fronts(group)
        if not smd or sum(p.area for p in smd) < 1.8 * median:
            continue
        others = [p for n, g in usual if n != name for p in g if p.type == "smd"]
        big = max(smd, key=lambda p: p.area)
        if _inside(big, others) and (big.area > 1.8 * median or len(smd) > 3):
            found.add(name)
    return found if len(found) <= 6 else set()


def _fronts(group: Sequence[Pad]) -> list[Pad]:
    """The lands on the part's own side."""
    lands = [p for p in group if p.type == "smd"]
    return [p for p in lands if p.front] or lands


def _inside(pad: Pad, others: Sequence[Pad]) -> bool:
    """Others stand on two opposite sides of the pad at least, and none overlaps it."""
    left = any(o.x + o.w / 2 <= pad.x - pad.w / 2 + TOLERANCE for o in others)
    right = any(o.x - o.w / 2 >= pad.x + pad.w / 2 - TOLERANCE for o in others)
    above = any(o.y + o.h / 2 <= pad.y - pad.h / 2 + TOLERANCE for o in others)
    below = any(o.y - o.h / 2 >= pad.y + pad.h / 2 - TOLERANCE for o in others)
    if not ((left and right) or (above and below)):
        return False
    in_row = sum(abs(o.y - pad.y) < 0.05 and abs(o.h - pad.h) < 0.05 for o in others)
    in_column = sum(abs(o.x - pad.x) < 0.05 and abs(o.w - pad.w) < 0.05 for o in others)
    return in_row < 2 and in_column < 2


def _without_vias(pads: list[Pad]) -> tuple[list[Pad], int]:
    """The lands of an exposed pad, and how many vias are drawn through it."""
    lands = [p for p in pads if p.type == "smd" and p.front]
    vias = [p for p in pads if p.type == "hole"]
    return (lands or pads[:1], len(vias) if lands else 0)


def _solid(group: list[Pad]) -> list[Pad]:
    """The pads of one pin; vias inside a land of the same number are no leads."""
    lands = [p for p in group if p.type != "hole"]
    if not lands:
        large = max(p.area for p in group)
        return [p for p in group if p.area > 0.2 * large]
    kept = [p for p in group if p.type != "hole" or not any(_covers(land, p) for land in lands)]
    return [
        p for p in kept if p.front or p.type == "hole" or all(not q.front for q in kept)
    ] or kept


def _covers(land: Pad, hole: Pad) -> bool:
    return (
        abs(land.x - hole.x) <= land.w / 2 + 0.01
        and abs(land.y - hole.y) <= land.h / 2 + 0.01
        and land.area > 1.3 * hole.area
    )


def _centre(group: Sequence[Pad]) -> Spot:
    big = max(group, key=lambda p: p.area)
    return (big.x, big.y, 0 if big.front or big.type == "hole" else 1)


def _steps(spots: Sequence[Spot], along: int) -> Counter[float]:
    """Steps between neighbours in rows that run along one axis, each side by itself."""
    rows: dict[tuple[int, int], list[float]] = defaultdict(list)
    for spot in spots:
        rows[spot[2], round(spot[1 - along] / (2 * TOLERANCE))].append(spot[along])
    counts: Counter[float] = Counter()
    last: tuple[int, int] | None = None
    row: list[float] = []
    for key in [*sorted(rows), None]:
        if row and (key is None or last is None or key[0] != last[0] or key[1] - last[1] != 1):
            row.sort()
            for a, b in pairwise(row):
                if b - a > 0.15:
                    counts[round(b - a, 2)] += 1
            row = []
        if key is not None:
            row = row + rows[key]
        last = key
    return counts


def _common(counts: Counter[float]) -> float | None:
    """The most common step; of nearly equally common ones the smallest."""
    if not counts:
        return None
    joined = {s: sum(c for t, c in counts.items() if abs(s - t) <= 0.011) for s in counts}
    top = max(joined.values())
    return min(step for step, count in joined.items() if count >= 0.8 * top)


def _pitch(points: dict[str, Spot], groups: dict[str, list[Pad]], one_row: bool) -> float | None:
    spots = list(points.values())
    if len(spots) < 2:
        return None
    if len(spots) == 2:
        first, second = groups.values()
        return _of_two(first, second)
    along = (_steps(spots, 0), _steps(spots, 1))
    in_row = _common(along[0] + along[1])
    if in_row is None or one_row:
        return in_row or _by_number(points, 0) or _by_number(points, 1)
    for axis in (0, 1):
        numbered = _by_number(points, axis)
        alternate = _common(along[axis])
        if numbered is None or alternate is None or abs(alternate - 2 * numbered) > 0.03:
            continue
        if numbered > in_row or sum(along[axis].values()) < sum(along[1 - axis].values()):
            continue
        if numbered >= FINEST:
            return numbered
    return in_row


def _of_two(first: list[Pad], second: list[Pad]) -> float | None:
    """Two pins in a line are as far apart as they are; two that stand askew are the first
    pair of two alternating rows, unless they are far longer apart one way."""
    pairs_ = [sorted((abs(a.x - b.x), abs(a.y - b.y))) for a in first[:6] for b in second[:6]]
    in_line = [p for p in pairs_ if p[0] < 0.05]
    # A second hole for one pin offers another spacing; clips have two holes at both ends.
    choose = min if len(first) == 1 or len(second) == 1 else max
    short, long = choose(in_line, key=lambda p: p[1]) if in_line else pairs_[0]
    if short > 0.15 and long < 3.2 * short:
        return round(short, 3)
    return round(long, 3) if long > 0.05 else None


def _by_number(points: dict[str, Spot], axis: int) -> float | None:
    """The step along one axis from one number to the next."""
    numbers = sorted((int(n), p[axis]) for n, p in points.items() if n.isdecimal() and len(n) < 7)
    if len(numbers) < 3 or len(numbers) < 0.8 * len(points):
        return None
    counts: Counter[float] = Counter()
    for (a, p), (b, q) in pairwise(numbers):
        if b - a == 1 and abs(p - q) > 0.15:
            counts[round(abs(p - q), 2)] += 1
    return _common(counts)


def smallest_gap(pads: Sequence[Pad]) -> float | None:
    """The smallest copper gap between two pins, mm."""
    best: float | None = None
    ordered = sorted(pads, key=lambda p: p.x - p.w / 2)
    for i, a in enumerate(ordered):
        right = a.x + a.w / 2
        for b in ordered[i + 1 : i + 400]:
            dx = b.x - b.w / 2 - right
            if best is not None and dx > best:
                break
            if a.number == b.number:
                continue
            dy = max(abs(a.y - b.y) - (a.h + b.h) / 2, 0.0)
            gap = (max(dx, 0.0) ** 2 + dy**2) ** 0.5
            if gap > 0.01 and (best is None or gap < best):
                best = gap
    return round(best, 4) if best is not None else None


def _row_count(points: Sequence[Spot]) -> int:
    if len(points) < 2:
        return len(points)
    xs = len({round(p[0] / 0.1) for p in points})
    ys = len({round(p[1] / 0.1) for p in points})
    return min(xs, ys)
