"""What must come before what, kept by sets.

"All flat parts before all parts with leads" are millions of pairs on a large board, but one
row for each part with leads. Jobs are numbered in the kit's order; sets of jobs are bit
masks.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple, overload

import numpy as np

from solderrisk.model.jobs import Job

# Among the names of a reason: the references of the two jobs. No text that people write holds
# these.
FIRST, THEN = "\x01", "\x02"
FEW = 4  # numbers in a mask, on average, that are looked at one by one
CHUNK_BYTES = 128  # columns that are turned into rows at a time


# Why a job waits, by kind; a refused move and a circle of rules say it as well.
WHYS = {
    "stated": "{0}",
    "in_kit": "stated in the kit",
    "lifted": "{0} is lifted, then fitted",
    "tests": "'{0}' tests it",
    "must_pass": "'{0}' must pass before more is put at stake",
    "gentler": "'{0}' is the gentler test",
    "plate": "the plate for {0} heats the whole board",
    "air": "hot air on {0}: {1} does not bear it",
    "softens": "{0}, {f[0]:.0f} mm from {1}, softens: its hot air reaches {f[1]:.0f} mm",
    "loosens": "{0}, {f[0]:.0f} mm from {1}, would come loose: its hot air reaches {f[1]:.0f} mm",
    "hangs": "it would hang below the heat for {0}, too heavy for molten joints",
    "off_first": "it comes off before hot air on {0} reaches it",
    "solvent": "solvent is dry and off the bench before hot air on {0}",
    "lies_flat": "with {0} in its holes the board no longer lies flat",
    "side_flat": "{0} keeps the board from lying flat for the {1} side",
    "low_first": "low parts go before {0}, {1}: room for hand and iron",
    "blocks_iron": "{0}, {f[0]:.0f} mm tall and {f[1]:.1f} mm away, blocks the iron",
    "lifts_first": "what comes off whole is known before anything is fitted",
    "lies_loose": "{0} lies loose across the board and is in the way",
    "prepares": "'{0}' prepares the work",
    "cleans": "'{0}' cleans what was lifted",
    "closes": "'{0}' closes the work in",
    "easiest": "{0} is the easiest of this kind: warm up on it",
    "locked": "{0} is locked in its place",
}


class Why(NamedTuple):
    """A reason of ``WHYS`` with what it names and its figures, mm."""

    kind: str
    names: tuple[str, ...] = ()
    figures: tuple[float, ...] = ()

    def naming(self, sign: str, ref: str) -> Why:
        """With a reference in the place of ``FIRST`` or ``THEN``."""
        if sign not in self.names:
            return self
        return self._replace(names=tuple(ref if name == sign else name for name in self.names))

    @property
    def told(self) -> str:
        return WHYS[self.kind].format(*self.names, f=self.figures)


@dataclass(frozen=True)
class Edge:
    """``first`` must come before ``then`` (job keys); every edge can say why it exists."""

    first: str
    then: str
    rule: str  # access, heat_reach, side, lift_before_fit, clean_first, gate, wires_last, kit ...
    why: Why


@dataclass(frozen=True)
class Waived:
    """An inferred rule that gave way: job ``then`` does not wait for the jobs of ``refs``."""

    rule: str
    then: str
    refs: tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """Job ``then`` waits for all ``firsts``. ``apart``: reasons of single ones, where theirs
    is another than ``why``, in which ``FIRST`` stands for the first job's reference."""

    then: int
    firsts: int
    rule: str
    why: Why
    apart: Mapping[int, Why] = field(default_factory=dict)


class Edges(Sequence[Edge]):
    """Rows as the pairs that they stand for. Walking over all pairs of a large kit takes
    long: ask for those ``into`` or ``out`` of a job."""

    def __init__(
        self,
        jobs: Sequence[Job],
        rows: Sequence[Row],
        closure: tuple[tuple[int, ...], tuple[int, ...]] | None = None,
    ) -> None:
        self.jobs, self.rows = jobs, tuple(rows)
        if closure is not None:
            vars(self).update(before=closure[0], after=closure[1])

    @classmethod
    def of(cls, jobs: Sequence[Job], edges: Sequence[Edge]) -> Edges:
        """Edges of these jobs by rows, whoever made them."""
        if isinstance(edges, Edges) and [j.key for j in edges.jobs] == [j.key for j in jobs]:
            return edges
        place = {job.key: number for number, job in enumerate(jobs)}
        return cls(jobs, [Row(place[e.then], 1 << place[e.first], e.rule, e.why) for e in edges])

    def __len__(self) -> int:
        return sum(row.firsts.bit_count() for row in self.rows)

    @overload
    def __getitem__(self, at: int) -> Edge: ...
    @overload
    def __getitem__(self, at: slice) -> list[Edge]: ...
    def __getitem__(self, at: int | slice) -> Edge | list[Edge]:
        return list(self)[at]

    def __iter__(self) -> Iterator[Edge]:
        for row in self.rows:
            yield from self.told(row)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Edges) and self.rows == other.rows

    __hash__ = None  # type: ignore[assignment]

    def told(self, row: Row, among: int = -1) -> Iterator[Edge]:
        """The pairs of a row, those with a first job ``among`` a set."""
        then = self.jobs[row.then].key
        for first in bits(row.firsts & among):
            yield Edge(self.jobs[first].key, then, row.rule, self.reason(row, first))

    def reason(self, row: Row, first: int) -> Why:
        return row.apart.get(first) or row.why.naming(FIRST, self.jobs[first].ref)

    @cached_property
    def place(self) -> dict[str, int]:
        """The numbers of the jobs."""
        return {job.key: number for number, job in enumerate(self.jobs)}

    @cached_property
    def by_then(self) -> dict[int, list[Row]]:
        """Rows by the job that waits."""
        found: dict[int, list[Row]] = {}
        for row in self.rows:
            found.setdefault(row.then, []).append(row)
        return found

    @cached_property
    def by_rule(self) -> dict[str, list[Row]]:
        """Rows by their rule."""
        found: dict[str, list[Row]] = {}
        for row in self.rows:
            found.setdefault(row.rule, []).append(row)
        return found

    def into(self, key: str) -> Iterator[Edge]:
        """What a job waits for."""
        for row in self.by_then.get(self.place[key], ()):
            yield from self.told(row)

    def out(self, key: str) -> Iterator[Edge]:
        """What waits for a job."""
        own = 1 << self.place[key]
        for row in self.rows:
            yield from self.told(row, own)

    def without(self, rule: str) -> Edges:
        return Edges(self.jobs, [row for row in self.rows if row.rule != rule])

    def joined(self, more: Sequence[Edge]) -> Edges:
        """These and more, of the same jobs."""
        return Edges(self.jobs, (*self.rows, *Edges.of(self.jobs, more).rows)) if more else self

    def binding(self, done: Sequence[str]) -> Edges:
        """Those that still bind: what is done may have been done out of turn."""
        if not done:
            return self
        earlier: dict[int, int] = {}
        so_far = 0
        for key in done:
            earlier[self.place[key]] = so_far
            so_far |= 1 << self.place[key]
        rows = []
        for row in self.rows:
            firsts = row.firsts & earlier.get(row.then, -1)
            if firsts:
                rows.append(row if firsts == row.firsts else _with(row, firsts))
        return Edges(self.jobs, rows)

    @cached_property
    def before(self) -> tuple[int, ...]:
        """All that every job waits for, directly or not.

        Raises:
            ValueError: a circle.
        """
        direct = [0] * len(self.jobs)
        for row in self.rows:
            direct[row.then] |= row.firsts
        order = _sorted(direct)
        before = [0] * len(direct)
        kept: dict[int, int] = {}
        for node in order:
            # Jobs of a kind wait for the same others.
            mask = direct[node]
            whole = kept.get(mask)
            if whole is None:
                whole = mask
                for first in bits(mask):
                    whole |= before[first]
                kept[mask] = whole
            before[node] = whole
        return tuple(before)

    @cached_property
    def after(self) -> tuple[int, ...]:
        """All that waits for every job, directly or not."""
        return tuple(turned(self.before, len(self.jobs)))


def _with(row: Row, firsts: int) -> Row:
    return Row(row.then, firsts, row.rule, row.why, row.apart)


def _sorted(direct: Sequence[int]) -> list[int]:
    """Nodes so that each comes after all in its mask.

    A waiting node watches its last missing predecessor alone, so that pairs are not counted.
    """
    size, done = len(direct), 0
    watching: list[list[int]] = [[] for _ in range(size)]
    order = []
    for node, mask in enumerate(direct):
        if mask:
            watching[mask.bit_length() - 1].append(node)
        else:
            order.append(node)
    for node in order:
        done |= 1 << node
        for other in watching[node]:
            missing = direct[other] & ~done
            if missing:
                watching[missing.bit_length() - 1].append(other)
            else:
                order.append(other)
    if len(order) < size:
        raise ValueError("the arcs have a cycle")
    return order


def bits(mask: int) -> list[int]:
    """The numbers in a mask, ascending."""
    if mask.bit_count() > 24:
        size = (mask.bit_length() + 7) // 8
        flat = np.frombuffer(mask.to_bytes(size, "little"), np.uint8)
        found: list[int] = np.flatnonzero(np.unpackbits(flat, bitorder="little")).tolist()
        return found
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def mask_of(numbers: Collection[int]) -> int:
    """The mask of some numbers."""
    if not numbers:
        return 0
    flags = np.zeros(max(numbers) + 1, np.uint8)
    flags[list(numbers)] = 1
    return int.from_bytes(np.packbits(flags, bitorder="little").tobytes(), "little")


def turned(masks: Sequence[int], size: int) -> list[int]:
    """Masks of ``size`` bits the other way round: bit j of row i becomes bit i of row j."""
    return picked(masks, range(size))


def picked(masks: Sequence[int], columns: Sequence[int]) -> list[int]:
    """For every one of some columns, the rows that have it, as a mask."""
    if not masks or not columns:
        return [0] * len(columns)
    if sum(mask.bit_count() for mask in masks) < FEW * len(masks):
        return _picked_one_by_one(masks, columns)
    width = (max(max(columns) + 1, max(mask.bit_length() for mask in masks)) + 7) // 8
    table = np.frombuffer(
        b"".join(mask.to_bytes(width, "little") for mask in masks), np.uint8
    ).reshape(len(masks), width)
    wanted = np.asarray(columns)
    found = [0] * len(columns)
    by_byte = np.argsort(wanted, kind="stable")
    for start in range(0, width, CHUNK_BYTES):
        low, high = np.searchsorted(
            wanted[by_byte], (8 * start, 8 * (start + CHUNK_BYTES)), side="left"
        )
        if low == high:
            continue
        part = np.unpackbits(table[:, start : start + CHUNK_BYTES], axis=1, bitorder="little")
        chosen = by_byte[low:high]
        rows = np.packbits(part[:, wanted[chosen] - 8 * start].T, axis=1, bitorder="little")
        for number, row in zip(chosen.tolist(), rows, strict=True):
            found[number] = int.from_bytes(row.tobytes(), "little")
    return found


def _picked_one_by_one(masks: Sequence[int], columns: Sequence[int]) -> list[int]:
    found: dict[int, list[int]] = {column: [] for column in columns}
    for number, mask in enumerate(masks):
        for column in bits(mask):
            if column in found:
                found[column].append(number)
    return [mask_of(found[column]) for column in columns]
