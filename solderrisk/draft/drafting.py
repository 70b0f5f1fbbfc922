"""Drafting a kit: sources are read, joined part by part, and written as a kit file."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from dataclasses import replace
from itertools import count as counting
from pathlib import Path

from solderrisk.draft.answers import carried
from solderrisk.draft.boards import add_board, add_footprint, seen_parts
from solderrisk.draft.pile import Pile
from solderrisk.draft.placements import not_soldered
from solderrisk.draft.resolve import resolve
from solderrisk.draft.write import draft_json, kit_yaml, report_text, round_trip
from solderrisk.files.loading import load_library
from solderrisk.files.settings import own_currency
from solderrisk.files.text import FileProblems, Problem, write_new, write_over
from solderrisk.model.draft import Draft, Found, OpenCount, Part
from solderrisk.model.library import Library
from solderrisk.readers.centroid import said_side
from solderrisk.readers.formats import read_source
from solderrisk.readers.reading import ListLine, Placed, Reading

MAX_PARTS = 10_000


def join_sources(sources: Sequence[Path], library: Library, *, name: str | None = None) -> Found:
    """Read every source and join them.

    Raises:
        FileProblems: no source, or sources that cannot be used; all of them are told.
    """
    if not sources:
        raise FileProblems([Problem("draft", "no source given; name a parts list or a board file")])
    pile, problems = Pile(), []
    readings = []
    for path in sources:
        try:
            found, reading = read_source(path)
        except FileProblems as error:
            problems.extend(error.problems)
        else:
            readings.append((found.rank, path, reading))
    if problems:
        raise FileProblems(problems)
    for _, path, reading in sorted(readings, key=lambda item: item[0]):
        _add(pile, path, reading, library)
    if pile.seen:
        for part in seen_parts(pile, library):
            _add_seen(pile, part)
    elif pile.holes and not pile.boards:
        pile.note(f"{len(pile.holes)} drilled holes, but no file says whose they are")
    if pile.own_footprints and not pile.parts and not pile.rows:
        for number, footprint in enumerate(pile.own_footprints.values(), start=1):
            source = str(sources[min(number, len(sources)) - 1])
            part = Part(ref=f"PART{number}", source=source, package=footprint.name)
            pile.put(part.ref, part)
    _mark_unlisted(pile)
    for text in pile.against.notes():
        pile.note(text)
    parts = [*pile.parts.values(), *pile.rows]
    if len(parts) > MAX_PARTS:
        message = f"more than {MAX_PARTS} references; draft it in pieces"
        raise FileProblems([Problem(str(sources[0]), message)])
    if all(part.ignored or part.unlisted for part in parts):
        pile.note("nothing in the sources names a part")
    return Found(
        name=_kit_name(name or sources[0].stem),
        parts=tuple(parts),
        boards=tuple(pile.boards),
        footprints=tuple(pile.own_footprints.values()),
        counts=tuple(pile.counts),
        notes=tuple(pile.notes),
        sources=tuple(str(s) for s in sources),
    )


def _kit_name(text: str) -> str:
    cleaned = re.sub(r"[^\w.-]+", "-", text).strip("-.")
    return cleaned[:60] or "kit"


def _add(pile: Pile, path: Path, reading: Reading, library: Library) -> None:
    for text in reading.notes:
        pile.note(f"{path.name}: {text}")
    if reading.board is not None:
        add_board(pile, path, reading.board, library)
    if reading.footprint is not None:
        add_footprint(pile, path, reading.footprint, library)
    pile.seen.extend((pad, path) for pad in reading.pads)
    pile.holes.extend(reading.holes)
    for row in reading.placed:
        _add_placed(pile, row)
    if reading.listed:
        pile.has_list = True
        _add_lines(pile, path, reading.lines)


def _add_lines(pile: Pile, path: Path, lines: Sequence[ListLine]) -> None:
    unnamed = 0
    for line in lines:
        if not line.refs:
            pile.rows.append(
                Part(ref="", source=line.place, value=line.value, ignored=line.ignored)
            )
            continue
        fresh = []
        for ref in line.refs:
            part = Part(
                ref=ref,
                source=line.place,
                value=line.value,
                package=line.package,
                device=line.device,
                description=line.description,
                number=line.number,
                heading=line.heading,
                side=said_side(line.side),
                ignored=line.ignored,
            )
            if _join_listed(pile, part):
                fresh.append(ref)
        if line.numeric_package:
            pile.note(
                f"{path.name}: package cells are stored as numbers, so leading zeros are lost there"
            )
        unnamed += line.unnamed
        if line.count_open and fresh and line.quantity is not None:
            pile.counts.append(OpenCount(tuple(fresh), line.quantity, line.place))
    if unnamed:
        pile.note(f"{path.name}: {unnamed} lines without a usual reference got names of their own")


def _join_listed(pile: Pile, part: Part) -> bool:
    """Add one reference of a list. False where it stands in a list already."""
    key = pile.key(part.ref)
    if key in pile.listed and key != part.ref:
        key = part.ref  # Rv1 beside RV1 in one list are two parts
    known = pile.parts.get(key)
    if key in pile.listed and known is not None:
        if (known.package, known.value) != (part.package, part.value):
            pile.note(
                f"{part.ref} is listed twice ({known.source} and {part.source}); the first holds"
            )
        return False
    pile.listed.add(key)
    if known is None:
        pile.put(key, part)
        return True
    pile.against.compare(known, part)
    pile.parts[key] = replace(
        known,
        source=part.source,
        side=known.side or part.side,
        value=part.value or known.value,
        package=part.package or known.package,
        device=part.device or known.device,
        description=part.description or known.description,
        number=part.number or known.number,
        heading=part.heading,
        ignored=part.ignored,
    )
    return True


def _add_placed(pile: Pile, row: Placed) -> None:
    key = pile.key(row.ref)
    if key in pile.placed:
        key = next(fresh for i in counting(2) if (fresh := f"{row.ref}_{i}") not in pile.parts)
        pile.note(f"{row.ref} has several positions; the others are called {row.ref}_2 and so on")
    pile.placed.add(key)
    known = pile.parts.get(key)
    if known is None:
        placed = Part(
            ref=key,
            source=row.place,
            value=row.value,
            package=row.package,
            side=row.side,
            x_mm=row.x_mm,
            y_mm=row.y_mm,
            rotation_deg=row.rotation_deg,
        )
        pile.put(key, placed)
        return
    package = known.package or row.package
    seen = Part(row.ref, row.place, value=row.value, package=row.package, side=row.side)
    pile.against.compare(known, seen)
    if known.x_mm is not None:  # a board file says it better
        pile.against.move(known, row.x_mm, row.y_mm, row.place)
        pile.parts[key] = replace(known, package=package)
        return
    pile.parts[key] = replace(
        known,
        side=row.side,
        x_mm=row.x_mm,
        y_mm=row.y_mm,
        rotation_deg=row.rotation_deg,
        package=package,
        value=known.value or row.value,
    )


def _add_seen(pile: Pile, part: Part) -> None:
    """Join what fabrication files show; a board file or a centroid says places better."""
    key = pile.key(part.ref)
    known = pile.parts.get(key)
    if known is None:
        pile.put(key, part)
    elif known.drawn is None:
        placed = known.x_mm is not None
        pile.parts[key] = replace(
            known,
            seen=part.seen,
            pads=part.pads,
            side=known.side or part.side,
            x_mm=known.x_mm if placed else part.x_mm,
            y_mm=known.y_mm if placed else part.y_mm,
        )


def _mark_unlisted(pile: Pile) -> None:
    """With a list at hand, what only the board shows is asked about."""
    if not pile.has_list:
        return
    for key, part in pile.parts.items():
        if key not in pile.listed and not part.ignored and not not_soldered(part):
            pile.parts[key] = replace(part, unlisted=True)


def draft(sources: Sequence[Path], library: Library, *, name: str | None = None) -> Draft:
    """Read the sources and look every package up.

    Raises:
        FileProblems: a source cannot be used; every faulty source is told.
    """
    found = join_sources(sources, library, name=name)
    return resolve(found, library)


def answer(draft: Draft, question_id: str, choice: str) -> Draft:
    """The draft with one more question answered.

    ``choice`` is one of the question's choices, the name of a library footprint, or any
    package name that can be read. An empty choice takes the answer back.

    Raises:
        KeyError: no such question.
    """
    if draft.found is None or question_id not in {q.id for q in draft.questions}:
        raise KeyError(question_id)
    answers = dict(draft.answers)
    if choice:
        answers[question_id] = choice
    else:
        answers.pop(question_id, None)
    return carried(resolve(draft.found, draft.library, answers), draft)


def draft_command(
    sources: Sequence[Path],
    out: Path | None,
    libraries: Sequence[Path] = (),
    *,
    as_data: bool = False,
    force: bool = False,
) -> int:
    """``solderrisk draft``: report on stdout, problems on stderr, the kit in a new file. Where
    the kit goes to stdout (``-``) the report is told on stderr.

    Gives the exit status: 0 where something was drafted, 2 where nothing could be; then all
    lines stand in the new file as remarks.
    """
    to_stdout = str(out) == "-"
    written = False
    try:
        library = load_library(libraries)
        made = draft(sources, library, name=out.stem if out and not to_stdout else None)
        if out is not None and made.lines:
            text = kit_yaml(made, own_currency())
            round_trip(text, str(out))  # what is written must load
            if to_stdout:
                print(text, end="")
            else:
                (write_over if force else write_new)(out, text)
                written = True
    except FileProblems as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        return 2
    told = draft_json(made) if as_data else report_text(made)
    print(told, end="", file=sys.stderr if to_stdout else sys.stdout)
    if written:
        print(f"written: {out}", file=sys.stderr)
    if made.placements:
        return 0
    lines = "; its lines stand in the kit file as remarks" if written else ""
    for source in sources:
        message = f"nothing in it could be placed; see the report{lines}"
        print(Problem(str(source), message), file=sys.stderr)
    return 2
