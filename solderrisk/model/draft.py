"""A draft: what was read from a builder's files, and what is still open.

Pure values. ``solderrisk.draft`` makes them and writes the kit file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import Board, Donor, Kit, Placement, PlaneLink, Side
from solderrisk.model.library import Library
from solderrisk.model.refs import expand_refs

LineState = Literal["recognised", "guessed", "unknown", "ignored"]
LEAVE_OUT = "leave it out"
UNNAMED = "LINE"  # stands for letters where a line has no reference


_LETTERS = re.compile(r"(?:^|[_-])([A-Z]{1,3})[0-9]")


def ref_prefix(ref: str) -> str:
    """The letters of a reference that say what the part is; of several pieces the first
    that is followed by a number, as C in PSU_C5."""
    if re.match(rf"{UNNAMED}\d+_", ref):
        return UNNAMED
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
    heading: str = ""  # what stands above its part of the list
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
class Lifted:
    """A part that comes off a donor; ``irreplaceable``: nobody sells it; ``spares``: more of
    it that may be lost."""

    ref: str
    donor: str
    irreplaceable: bool
    spares: int = 0


@dataclass(frozen=True)
class Draft:
    """A kit in the making. ``answers`` are (question id, choice) pairs given so far; what is
    ``lifted`` off ``donors`` is said by a person."""

    name: str
    boards: tuple[Board, ...]
    footprints: tuple[Footprint, ...]
    placements: tuple[Placement, ...]
    lines: tuple[DraftLine, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
    donors: tuple[Donor, ...] = ()
    lifted: tuple[Lifted, ...] = ()
    comments: dict[str, str] = field(default_factory=dict, compare=False)  # refs -> remark
    found: Found | None = field(default=None, compare=False, repr=False)
    library: Library = field(default_factory=Library, compare=False, repr=False)

    def count(self, state: LineState) -> int:
        """How many references ended in this state."""
        return sum(line.state == state for line in self.lines)

    def not_counted(self) -> tuple[str, ...]:
        """References without a footprint: the kit says so until they have one."""
        return tuple(dict.fromkeys(line.ref for line in self.lines if line.state == "unknown"))

    def placed(self) -> Iterator[tuple[Placement, str]]:
        """Placements with their remarks, apart by where their parts come from."""
        lifted = {part.ref: part for part in self.lifted}
        for placement in self.placements:
            groups: dict[Lifted | None, list[str]] = {}
            for ref in expand_refs(placement.refs):
                part = lifted.get(ref)
                groups.setdefault(part and replace(part, ref=""), []).append(ref)
            remark = self.comments.get(placement.refs, "")
            for part, refs in groups.items():
                yield (
                    (
                        placement
                        if part is None and len(groups) == 1
                        else _of(placement, refs, part)
                    ),
                    remark,
                )

    def kit(self) -> Kit:
        """The kit as it stands; open questions hold their defaults."""
        return Kit(
            name=self.name,
            boards=self.boards,
            donors=self.donors,
            footprints=self.footprints,
            placements=tuple(placement for placement, _ in self.placed()),
            not_counted=self.not_counted(),
        )


def _of(placement: Placement, refs: Sequence[str], part: Lifted | None) -> Placement:
    """The placement of some of its references, which come off a donor or do not."""
    own: dict[str, object] = {
        "refs": ", ".join(refs),
        "positions": tuple(at for at in placement.positions if at.ref in refs),
    }
    if placement.quantity is not None:
        own["quantity"] = len(refs)
    if part is not None:
        own |= {
            "donor": part.donor,
            "irreplaceable": part.irreplaceable,
            "spares": part.spares,
        }
    return placement.model_copy(update=own)
