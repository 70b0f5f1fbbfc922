"""Board and footprint files as sources of a draft."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from solderrisk.files.board import BoardReading, read_board, read_footprint_file
from solderrisk.files.bom_refs import clean_ref
from solderrisk.files.drawing import Drawing
from solderrisk.files.drawn_footprint import footprint_of
from solderrisk.files.plane_ties import PlaneTies, Tie, links_of
from solderrisk.files.tables import refused
from solderrisk.model.draft import Part, ref_prefix
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import PlaneLink
from solderrisk.model.library import Library

if TYPE_CHECKING:
    from solderrisk.files.draft_join import Pile

MAX_DRAWINGS = 10_000


def add_board(pile: Pile, path: Path, library: Library) -> None:
    """Every part of a board file, with position, side, footprint and plane ties."""
    reading = read_board(path)
    if len(reading.drawings) > MAX_DRAWINGS:
        raise refused(path, f"more than {MAX_DRAWINGS} parts; draft it in pieces")
    if any(b.name == reading.board.name for b in pile.boards):
        name = f"{reading.board.name}-{len(pile.boards) + 1}"
        reading = replace(reading, board=reading.board.model_copy(update={"name": name}))
    pile.boards.append(reading.board)
    for text in reading.notes:
        pile.note(f"{path.name}: {text}")
    ties = PlaneTies(reading)
    made: dict[tuple[object, ...], tuple[Footprint | None, tuple[PlaneLink, ...]]] = {}
    names: dict[str, tuple[object, ...]] = {}
    for drawing in reading.drawings:
        part = _part(path, reading, drawing)
        tied = ties.ties(drawing)
        footprint, links = _footprint(drawing, tied, library, made, names)
        if not part.ignored and footprint is None:
            part = replace(part, ignored="no pad to solder")
        pile.add_drawn(replace(part, drawn=footprint, links=links))


def _footprint(
    drawing: Drawing,
    tied: dict[str, Tie],
    library: Library,
    made: dict[tuple[object, ...], tuple[Footprint | None, tuple[PlaneLink, ...]]],
    names: dict[str, tuple[object, ...]],
) -> tuple[Footprint | None, tuple[PlaneLink, ...]]:
    """One footprint per name and set of pads on planes."""
    prefix = ref_prefix(drawing.ref)
    shape = tuple((p.number, p.x, p.y, p.w, p.h, p.drill) for p in drawing.pads)
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


def _part(path: Path, reading: BoardReading, drawing: Drawing) -> Part:
    ref = clean_ref(drawing.ref) if not drawing.ref.endswith(("*", "?")) else ""
    flags = drawing.flags
    ignored = ""
    if "dnp" in flags:
        ignored = "marked as not to be fitted"
    elif "board_only" in flags or "virtual" in flags:
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
        x_mm=round(_bounded(drawing.x - reading.left), 4),
        y_mm=round(_bounded(reading.bottom - drawing.y), 4),
        rotation_deg=round(drawing.angle, 3),
        ignored=ignored,
    )


def _bounded(value: float) -> float:
    return value if math.isfinite(value) else 0.0


def add_footprint(pile: Pile, path: Path, library: Library) -> None:
    """A footprint file: its definition answers for parts whose package bears its name."""
    drawing = read_footprint_file(path)
    drawn = footprint_of(drawing, library)
    if drawn is None:
        raise refused(path, "a footprint without a pad to solder")
    source = "pads as drawn in the footprint file"
    text = drawn.footprint.source.replace("pads as drawn in the board file", source)
    pile.own_footprints[drawn.footprint.name] = drawn.footprint.model_copy(update={"source": text})
    pile.note(f"{path.name}: footprint {drawn.footprint.name!r} with {drawn.geometry.pins} pins")
