"""A soldered job reduced to what its risk depends on, what stands round it, and equal jobs
gathered into cases: what is computed once and counted often.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import Key, Parameters
from solderrisk.model.footprint import Footprint
from solderrisk.model.jobs import Job, JobKind, flat_sides, mates
from solderrisk.model.kit import Board, GateKind, Kit, PlaneLink, Side
from solderrisk.model.outline import extent
from solderrisk.model.selectors import JobIndex

Floats = NDArray[np.float64]

WIRE_ENDS = 2
# Distances are told apart in such steps, so that twins stay twins.
STEPS_MM = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 48.0)
FAR_MM = 64.0
SIZE_STEP = 1.1
BEFORE_POWER: tuple[GateKind, ...] = ("visual", "shorts")
Block = tuple[JobKind, str, Side, Footprint | None]
DIRTY = ("corroded", "leaked_cell", "burnt")


@dataclass(frozen=True)
class GateLook:
    """A gate that looks for a job's faults; ``finds``: the share, None: as its kind does."""

    kind: GateKind
    finds: float | None


@dataclass(frozen=True)
class Work:
    """One piece of work, equal for twins. ``neighbour_mm`` is the room to the nearest part,
    ``plastic_mm`` the distance from the part's centre to the nearest plastic, None: none
    known. ``mates`` is the number of surface-mount parts on its side of the board
    (about), ``twins`` that of equal parts there. ``flat_side``: nothing is on the board's other
    side yet, so that it lies flat. ``gates`` look for its faults, ``suspects`` is the number
    of joints among which a fault has to be found."""

    kind: JobKind
    footprint: Footprint
    board: Board
    alloy: str
    links: tuple[PlaneLink, ...] = ()
    joined: tuple[tuple[int, ...], ...] = ()
    flat_side: bool = True
    mask_between: bool | None = None
    glued: bool = False
    polarised: bool = False
    lifted: bool = False
    dirty: bool = False
    bends: int = 0
    connections: int = 1
    neighbour_mm: float | None = None
    plastic_mm: float | None = None
    mates: int = 1
    twins: int = 1
    gates: tuple[GateLook, ...] = ()
    suspects: int = 1
    second_person: bool = False
    continuity: bool = False

    @cached_property
    def heated(self) -> Key:
        """What the heat model and the choice of techniques look at."""
        part = (self.kind, self.footprint, self.board, self.alloy)
        return Key((*part, self.links, self.flat_side, self.lifted))

    @cached_property
    def _key(self) -> Key:
        return Key(getattr(self, name) for name in _FIELDS)

    def __hash__(self) -> int:
        return hash(self._key)

    def copies(self, count: int) -> int:
        """Joints of a pad group of ``count`` pads; wires have two ends per connection."""
        return self.connections * WIRE_ENDS if self.kind == "wire" else count


_FIELDS = tuple(field.name for field in fields(Work))


@dataclass(frozen=True)
class Surroundings:
    """What a job's risk depends on besides the job, by job key."""

    neighbour_mm: Mapping[str, float]
    plastic_mm: Mapping[str, float]
    mates: Mapping[tuple[str, Side], int]
    twins: Mapping[Block, int]
    flat_sides: Mapping[str, Side]
    gates: Mapping[str, tuple[GateLook, ...]]
    suspects: Mapping[str, int]
    lifted: frozenset[str]


def work_of(job: Job, around: Surroundings, looks: Mapping[str, Collection[str]]) -> Work:
    """The work behind a soldered job.

    Raises:
        ValueError: the job is no soldering.
    """
    if job.footprint is None or job.board is None:
        raise ValueError(f"{job.key} is no soldering")
    checks = looks.get(job.key, ())
    return Work(
        kind=job.kind,
        footprint=job.footprint,
        board=job.board,
        alloy=job.alloy,
        links=job.links,
        joined=job.joined,
        mask_between=job.mask_between,
        glued=job.glued,
        flat_side=job.side == around.flat_sides.get(job.place, job.side),
        polarised=job.polarised,
        lifted=job.kind == "lift" or job.donor is not None or job.key in around.lifted,
        dirty=job.donor_condition in DIRTY,
        bends=job.bends,
        connections=job.connections,
        neighbour_mm=around.neighbour_mm.get(job.key),
        plastic_mm=around.plastic_mm.get(job.key),
        mates=around.mates.get((job.place, job.side), 1) if job.kind == "fit" else 1,
        twins=around.twins.get(_block(job), 1),
        gates=around.gates.get(job.key, ()),
        suspects=around.suspects.get(job.key, 1),
        second_person="second_person" in checks,
        continuity="continuity" in checks,
    )


def surroundings(jobs: Sequence[Job], kit: Kit, data: Parameters) -> Surroundings:
    """Distances from positions, gates from the kit's selectors."""
    placed = [job for job in jobs if job.soldered and job.position is not None]
    neighbour: dict[str, float] = {}
    plastic: dict[str, float] = {}
    for place in dict.fromkeys(job.place for job in placed):
        here = [job for job in placed if job.place == place]
        neighbour.update(_neighbours(here))
        plastic.update(_plastics(here, kit, _names_of(place, kit)))
    plastic.update(_unplaced_lifts(jobs, kit, _step(data["plastic_unknown_mm"])))
    return Surroundings(
        neighbour,
        plastic,
        mates(jobs),
        _twins(jobs),
        flat_sides(jobs),
        _gates(jobs),
        _suspects(jobs),
        frozenset(j.feeds for j in jobs if j.feeds),
    )


def _block(job: Job) -> Block:
    return job.kind, job.place, job.side, job.footprint


def _twins(jobs: Sequence[Job]) -> dict[Block, int]:
    """Equal parts that are done in one go, rounded down to a power of two."""
    found = Counter(_block(job) for job in jobs if job.soldered)
    return {block: 1 << (count.bit_length() - 1) for block, count in found.items()}


def _suspects(jobs: Sequence[Job]) -> dict[str, int]:
    """By job, the joints of its board, or of the board that a lifted part goes to: among them
    a fault has to be found. Rounded down to a tenth more or less, so that boards of about one
    size are alike."""
    place = {job.key: job.place for job in jobs}
    joints: Counter[str] = Counter()
    for job in jobs:
        if job.footprint is not None and job.kind != "lift":
            joints[job.place] += job.footprint.joint_count
    boards = {job.key: place.get(job.feeds or "", job.place) for job in jobs if job.soldered}
    return {key: _about(joints[board]) for key, board in boards.items()}


def _about(joints: int) -> int:
    step = math.floor(math.log(max(joints, 1)) / math.log(SIZE_STEP) + 1e-9)
    return math.ceil(SIZE_STEP**step)


def _unplaced_lifts(jobs: Sequence[Job], kit: Kit, unknown_mm: float) -> dict[str, float]:
    """Lifts whose place on the donor is not given: any plastic there counts as near."""
    named = {plastic.board for plastic in kit.plastics}
    soft = {d.name for d in kit.donors if not named.isdisjoint((d.name, d.board.name))}
    lifts = (job for job in jobs if job.kind == "lift" and job.position is None)
    return {job.key: unknown_mm for job in lifts if job.donor in soft}


def _boxes(jobs: Sequence[Job]) -> Floats:
    """Left, bottom, right, top of each part as it lies on the board."""
    rows = []
    for job in jobs:
        if job.position is None or job.footprint is None:
            continue
        wide, high = extent(job.footprint)
        turn = math.radians(job.position.rotation_deg)
        cos, sin = abs(math.cos(turn)), abs(math.sin(turn))
        half = (wide * cos + high * sin) / 2, (wide * sin + high * cos) / 2
        x, y = job.position.x_mm, job.position.y_mm
        rows.append((x - half[0], y - half[1], x + half[0], y + half[1]))
    return np.array(rows)


def _neighbours(jobs: Sequence[Job]) -> dict[str, float]:
    """Room to the nearest part on the same side; farther than ``FAR_MM`` is all one."""
    boxes = _boxes(jobs)
    order = np.argsort(boxes[:, 0], kind="stable")
    left, bottom, right, top = boxes[order].T
    sides = np.array([jobs[n].side == "top" for n in order])
    widest = float((right - left).max(initial=0.0))
    starts = np.searchsorted(left, left - widest - FAR_MM)
    ends = np.searchsorted(left, right + FAR_MM, side="right")
    found = {}
    for n, (start, end) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
        gap_x = np.maximum(left[start:end] - right[n], left[n] - right[start:end])
        gap_y = np.maximum(bottom[start:end] - top[n], bottom[n] - top[start:end])
        gap = np.hypot(np.maximum(gap_x, 0), np.maximum(gap_y, 0))
        gap[n - start] = np.inf
        gap[sides[start:end] != sides[n]] = np.inf
        found[jobs[order[n]].key] = _step(float(gap.min(initial=np.inf)))
    return found


def _names_of(place: str, kit: Kit) -> set[str]:
    """What a kit may call a board; donors go by their own name or their board's."""
    donor = next((d for d in kit.donors if f"donor:{d.name}" == place), None)
    return {place} if donor is None else {donor.name, donor.board.name}


def _plastics(jobs: Sequence[Job], kit: Kit, names: set[str]) -> dict[str, float]:
    """Plastics that are there when a part is heated. On a board that is being fitted, soft
    parts come after the hot air that would reach them; on a donor they are there already."""
    soft = [
        job
        for job in jobs
        if job.kind == "lift" and job.footprint and job.footprint.heat.softens_c is not None
    ]
    points = [(p.x_mm, p.y_mm, p.x_mm, p.y_mm) for p in kit.plastics if p.board in names]
    boxes = np.array([*_boxes(soft).tolist(), *points])
    if not len(boxes):
        return {}
    keys = np.array([*(job.key for job in soft), *("" for _ in points)])
    found = {}
    for job in jobs:
        if job.position is None:
            continue
        x, y = job.position.x_mm, job.position.y_mm
        off_x = np.maximum(np.maximum(boxes[:, 0] - x, x - boxes[:, 2]), 0)
        off_y = np.maximum(np.maximum(boxes[:, 1] - y, y - boxes[:, 3]), 0)
        away = np.where(keys == job.key, np.inf, np.hypot(off_x, off_y))
        nearest = float(away.min())
        if nearest < FAR_MM:
            found[job.key] = _step(nearest)
    return found


def _step(distance_mm: float) -> float:
    """Rounded down to a step."""
    if distance_mm >= FAR_MM:
        return FAR_MM
    return max((step for step in STEPS_MM if step <= distance_mm + 1e-9), default=0.0)


def _gates(jobs: Sequence[Job]) -> dict[str, tuple[GateLook, ...]]:
    index = JobIndex.of(jobs)
    found: dict[str, list[GateLook]] = {}
    for job in jobs:
        if job.gate is None:
            continue
        if job.gate.finds == 0:
            continue
        look = GateLook(job.gate.kind, job.gate.finds)
        for key in _covered(job.gate.after, index):
            found.setdefault(key, []).append(look)
    return {key: tuple(sorted(looks, key=str)) for key, looks in found.items()}


def _covered(selectors: Iterable[str], index: JobIndex) -> set[str]:
    return {key for selector in selectors for key in index.keys(selector)}


@dataclass(frozen=True)
class Case:
    """Jobs that differ in nothing that matters. ``stock``: the parts that they and others may
    use up, where nobody sells more; ``ends``: those without which the kit is for nothing, in a
    kit of lifts its parts too."""

    work: Work
    jobs: tuple[Job, ...]
    price: float
    stock: Stock | None
    pin: str | None
    ends: Stock | None

    @property
    def irreplaceable(self) -> bool:
        return self.stock is not None

    @property
    def spares(self) -> int:
        return 0 if self.stock is None else self.stock.spares


@dataclass(frozen=True)
class Stock:
    """Parts of one kind that nobody sells, with the spares of all entries of the kit."""

    part: str
    spares: int


def stocks_of(jobs: Sequence[Job], *, every: bool = False) -> dict[str, Stock]:
    """By key of each job on a part that nobody sells, or of ``every`` one. Parts of one value
    are one kind, whatever entry of the kit they stand in: what one says of it holds for all. A
    part lifted for a place is the part fitted there, and its spares are the same, written down
    once or twice."""
    fits = {job.key: job for job in jobs if job.kind == "fit"}
    kinds = {job.key: _kind(fits.get(job.feeds or job.key, job)) for job in jobs if job.soldered}
    precious = {kinds[job.key] for job in jobs if job.soldered and (every or job.irreplaceable)}
    spares: dict[tuple[str, JobKind], dict[str, int]] = {}
    for job in jobs:
        if job.soldered and kinds[job.key] in precious:
            spares.setdefault((kinds[job.key], job.kind), {})[job.entry or job.key] = job.spares
    hands = {
        kind: max(sum(spares.get((kind, work), {}).values()) for work in ("lift", "fit", "wire"))
        for kind in precious
    }
    return {key: Stock(kind, hands[kind]) for key, kind in kinds.items() if kind in precious}


def _kind(job: Job) -> str:
    footprint = job.footprint
    if job.kind != "fit" or footprint is None or job.title in (footprint.title, footprint.name):
        return job.entry or job.key
    return f"{footprint.name} {job.title}"


def cases_of(
    jobs: Sequence[Job],
    around: Surroundings,
    looks: Mapping[str, Collection[str]],
    pins: Mapping[str, str],
) -> tuple[Case, ...]:
    """The soldered jobs of a kit in cases. A fit fed by the lift of an irreplaceable part is
    irreplaceable too."""
    stocks = stocks_of(jobs)
    lifts_alone = all(job.kind == "lift" for job in jobs if job.soldered)
    ends = stocks_of(jobs, every=True) if lifts_alone else stocks
    groups: dict[tuple[Work, float, Stock | None, str | None, Stock | None], list[Job]] = {}
    for job in jobs:
        if job.soldered:
            pin = pins.get(job.key, job.technique)
            work, stock = work_of(job, around, looks), stocks.get(job.key)
            key = (work, job.price_each, stock, pin, ends.get(job.key))
            groups.setdefault(key, []).append(job)
    return tuple(
        Case(work, tuple(found), price, stock, pin, last)
        for (work, price, stock, pin, last), found in groups.items()
    )


def part_worth(job: Job, data: Parameters) -> float:
    """What a part counts for when it is lost: its price, or what nobody sells is worth."""
    return max(job.price_each, data["irreplaceable_worth"]) if job.irreplaceable else job.price_each


def stake_of(jobs: Sequence[Job], kit: Kit, data: Parameters) -> float:
    """What a kit that never works has cost: boards, donors, what is put on them, and the hours
    put into it."""
    parts = sum(part_worth(job, data) for job in jobs if job.kind in ("fit", "wire"))
    joints = sum(job.footprint.joint_count for job in jobs if job.footprint is not None)
    waits = sum(job.minutes for job in jobs if not job.soldered)
    hour = data["hour_value"] if kit.hour_value is None else kit.hour_value
    hours = (joints * data["joint_minutes_guess"] + waits) / 60
    prices = [thing.price for things in (kit.boards, kit.donors, kit.extras) for thing in things]
    return sum(prices) + (kit.price or 0.0) + parts + hours * hour
