"""What has been read so far, by reference, and where two sources contradict each other."""

from __future__ import annotations

import re
import statistics
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from solderrisk.model.draft import OpenCount, Part
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import MAX_PLACE_MM, Board
from solderrisk.packages.names import read_package
from solderrisk.packages.reading import PackageReading
from solderrisk.readers.reading import SeenHole, SeenPad

OFF_MM = 1.0
SAME = 0.02  # values nearer than this share are one value
SHOWN = 4
_NUMBER = re.compile(r"(\d+)(?:[.,](\d+))?\s*([pnuµμmkKMGR]?)(\d*)\s*(?:Ω|[oO][hH][mM]s?|F|H|R)?")
_SCALE = {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "k": 3, "K": 3, "M": 6, "G": 9}


@dataclass
class Contradictions:
    """What differs, by what it is about, and how far placement lists are off."""

    found: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    taken: dict[str, str] = field(default_factory=dict)
    moved: list[tuple[str, float, float, str]] = field(default_factory=list)

    def compare(self, known: Part, new: Part) -> None:
        """Note what a further source says against what is known of a part."""
        for about, one, other in _differences(known, new):
            by_board = about == "side" or (about == "package" and known.drawn is not None)
            self.taken[about] = "the board or placement file" if by_board else "the parts list"
            told = f"{new.ref} ({known.source}: {one}; {new.source}: {other})"
            self.found[about].append(told)

    def move(self, known: Part, x_mm: float, y_mm: float, place: str) -> None:
        """Note where a placement list has a part that a board file shows."""
        if known.x_mm is not None and known.y_mm is not None:
            both = f"{known.source}; {place}"
            self.moved.append((known.ref, x_mm - known.x_mm, y_mm - known.y_mm, both))

    def notes(self) -> Iterator[str]:
        for about, told in self.found.items():
            more = f" and {len(told) - SHOWN} more" if len(told) > SHOWN else ""
            shown = ", ".join(told[:SHOWN])
            yield f"{about} differs: {shown}{more}; taken from {self.taken[about]}"
        if len(self.moved) > 2:
            # The two files need not count from one corner: what nearly all are off is that.
            x = statistics.median(m[1] for m in self.moved)
            y = statistics.median(m[2] for m in self.moved)
            off = [m for m in self.moved if max(abs(m[1] - x), abs(m[2] - y)) > OFF_MM]
            if off:
                told = [
                    f"{ref} ({place}) by {abs(dx - x) + abs(dy - y):.1f} mm"
                    for ref, dx, dy, place in off[:SHOWN]
                ]
                more = f" and {len(off) - SHOWN} more" if len(off) > SHOWN else ""
                yield f"position differs: {', '.join(told)}{more}; taken from the board file"


def _differences(known: Part, new: Part) -> Iterator[tuple[str, str, str]]:
    if known.package and new.package and _other_package(known, new):
        yield "package", known.package, new.package
    one, other = _amount(known.value), _amount(new.value)
    if one and other and abs(one - other) > SAME * max(one, other):
        yield "value", known.value, new.value
    if known.side and new.side and known.side != new.side:
        yield "side", known.side, new.side


def _other_package(known: Part, new: Part) -> bool:
    one, other = read_package(known.package, known.prefix), read_package(new.package, new.prefix)
    if other.state == "unknown":
        return False
    chips = (_chips(one), _chips(other))
    if all(chips):
        return not (chips[0] & chips[1])
    pins = known.drawn.pin_count if known.drawn is not None else one.pins
    if pins is None or other.pins is None or (one.state == "unknown" and known.drawn is None):
        return False
    return abs(pins - other.pins) > 1  # a pad below is counted by some


def _chips(reading: PackageReading) -> frozenset[str]:
    return frozenset(r.chip for r in (reading, *reading.choices) if r.chip)


def _amount(text: str) -> float | None:
    """A plain value such as 10k, 4k7, 100 nF; None for anything else."""
    found = _NUMBER.fullmatch(text.strip())
    if found is None:
        return None
    whole, fraction, unit, rest = found.groups()
    scale = _SCALE.get(unit, -3 if unit == "m" else 0)
    return float(f"{whole}.{fraction or rest or 0}") * 10.0**scale


MAX_NOTES = 60


def place_mm(value: float) -> float | None:
    """A coordinate that a kit may hold; None for one that no board has."""
    return round(value, 4) if abs(value) <= MAX_PLACE_MM else None


@dataclass
class Pile:
    """Parts by reference, and what will be joined to them once all sources are read."""

    parts: dict[str, Part] = field(default_factory=dict)
    listed: set[str] = field(default_factory=set)
    placed: set[str] = field(default_factory=set)  # with a position from a placement list
    boards: list[Board] = field(default_factory=list)
    counts: list[OpenCount] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    rows: list[Part] = field(default_factory=list)  # rows that name nothing
    has_list: bool = False
    own_footprints: dict[str, Footprint] = field(default_factory=dict)
    seen: list[tuple[SeenPad, Path]] = field(default_factory=list)
    holes: list[SeenHole] = field(default_factory=list)
    folded: dict[str, str] = field(default_factory=dict)
    against: Contradictions = field(default_factory=Contradictions)

    def key(self, ref: str) -> str:
        """The key of a reference: its own spelling, or one that differs in case alone."""
        if ref in self.parts:
            return ref
        return self.folded.get(ref.upper(), ref)

    def put(self, key: str, part: Part) -> None:
        self.parts[key] = part
        self.folded.setdefault(key.upper(), key)

    def note(self, text: str) -> None:
        if text not in self.notes and len(self.notes) < MAX_NOTES:
            self.notes.append(text)

    def add_drawn(self, part: Part) -> None:
        """Add a part of a board file. The same reference on two boards gets the board's name."""
        if not part.ref:
            self.rows.append(part)
            return
        known = self.parts.get(part.ref)
        if known is not None and known.board == part.board:
            if not part.ignored:
                self.note(f"{part.ref} stands twice on {part.board}; the first holds")
            return
        if known is not None:
            fresh = f"{part.board}_{part.ref}"
            self.note(f"{part.ref} stands on two boards; on {part.board} it is called {fresh}")
            part = replace(part, ref=fresh)
        self.put(part.ref, part)
