"""What has been read so far, by reference."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

from solderrisk.draft.contradictions import Contradictions
from solderrisk.model.draft import OpenCount, Part
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import MAX_PLACE_MM, Board
from solderrisk.readers.reading import SeenHole, SeenPad

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
