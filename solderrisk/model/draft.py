"""A draft: what was read from a builder's files, and what is still open.

Pure values. ``solderrisk.draft`` makes them and writes the kit file.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Literal

from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import Board, Kit, Placement, PlaneLink, Side
from solderrisk.model.library import Library

LineState = Literal["recognised", "guessed", "unknown", "ignored"]
LEAVE_OUT = "leave it out"


_LETTERS = re.compile(r"(?:^|[_-])([A-Z]{1,3})[0-9]")


def ref_prefix(ref: str) -> str:
    """The letters of a reference that say what the part is; of several pieces the first
    that is followed by a number, as C in PSU_C5."""
    if re.match(r"LINE\d+_", ref):
        return "LINE"  # a name made up for a row without a reference
    found = _LETTERS.search(ref.upper())
    if found:
        return found[1]
    letters = re.match(r"[A-Z]*", ref.upper())
    return letters[0] if letters else ""


@dataclass(frozen=True)
class DraftLine:
    """One reference of the sources. ``source`` is 'file:line'; ``from_what`` says what the
    footprint was taken from, or why there is none."""

    ref: str
    what: str
    state: LineState
    from_what: str
    footprint: str | None
    source: str


@dataclass(frozen=True)
class Question:
    """Something that only a person can decide. Until it is answered ``default`` holds, and
    the kit file says so; ``default`` None means that nothing is assumed."""

    id: str
    refs: tuple[str, ...]
    text: str
    choices: tuple[str, ...]
    default: str | None


@dataclass(frozen=True)
class Part:
    """One reference as the sources give it, joined over all of them."""

    ref: str
    source: str
    value: str = ""
    package: str = ""
    device: str = ""
    description: str = ""
    number: str = ""
    board: str = ""
    side: Side | None = None
    x_mm: float | None = None
    y_mm: float | None = None
    rotation_deg: float = 0.0
    drawn: Footprint | None = None  # from a board or footprint file
    seen: Footprint | None = None  # drawn from the pads of fabrication files
    pads: int | None = None  # how many pins those files show
    links: tuple[PlaneLink, ...] = ()
    joined: tuple[tuple[int, ...], ...] = ()  # lands of one net
    ignored: str = ""  # why it is no placement
    nets: int = 0  # how many nets its pads are on, where a board file says so
    unlisted: bool = False  # a board shows it, the parts list does not

    @property
    def prefix(self) -> str:
        """The letters that say what the part is: R of R12, C of PSU_C5."""
        return ref_prefix(self.ref)


@dataclass(frozen=True)
class OpenCount:
    """A line whose quantity contradicts its references."""

    refs: tuple[str, ...]
    quantity: int
    source: str


@dataclass(frozen=True)
class Found:
    """Everything that was read, before packages are looked up."""

    name: str
    parts: tuple[Part, ...]
    boards: tuple[Board, ...] = ()
    footprints: tuple[Footprint, ...] = ()  # from footprint files
    counts: tuple[OpenCount, ...] = ()
    notes: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Draft:
    """A kit in the making. ``answers`` are (question id, choice) pairs given so far."""

    name: str
    boards: tuple[Board, ...]
    footprints: tuple[Footprint, ...]
    placements: tuple[Placement, ...]
    lines: tuple[DraftLine, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
    comments: dict[str, str] = field(default_factory=dict, compare=False)  # refs -> remark
    found: Found | None = field(default=None, compare=False, repr=False)
    library: Library = field(default_factory=Library, compare=False, repr=False)

    def count(self, state: LineState) -> int:
        """How many references ended in this state."""
        return sum(line.state == state for line in self.lines)

    def not_counted(self) -> tuple[str, ...]:
        """References without a footprint: the kit says so until they have one."""
        return tuple(dict.fromkeys(line.ref for line in self.lines if line.state == "unknown"))

    def kit(self) -> Kit:
        """The kit as it stands; open questions hold their defaults."""
        return Kit(
            name=self.name,
            boards=self.boards,
            footprints=self.footprints,
            placements=self.placements,
            not_counted=self.not_counted(),
        )
