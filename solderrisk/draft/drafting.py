"""Drafting a kit from what a builder has: lists, board files, fabrication files.

Sources are joined on the reference. Nothing is guessed silently and nothing overwritten.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from solderrisk.draft.join import join_sources
from solderrisk.draft.resolve import resolve
from solderrisk.draft.write import kit_yaml, report_text, round_trip
from solderrisk.files.atomic import write_new
from solderrisk.files.errors import FileProblems, Problem
from solderrisk.files.library import load_library
from solderrisk.model.draft import Draft
from solderrisk.model.library import Library


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
    return resolve(draft.found, draft.library, answers)


def draft_command(sources: Sequence[Path], out: Path | None, libraries: Sequence[Path] = ()) -> int:
    """``solderrisk draft``: report on stdout, problems on stderr, the kit in a new file.

    Gives the exit status: 0 where something was drafted, 2 where nothing could be; then all
    lines stand in the new file as remarks.
    """
    try:
        library = load_library(libraries)
        made = draft(sources, library, name=out.stem if out else None)
        if out is not None and made.lines:
            text = kit_yaml(made)
            round_trip(text, str(out))  # what is written must load
            write_new(out, text)
    except FileProblems as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        return 2
    print(report_text(made), end="")
    written = out is not None and bool(made.lines)
    if written:
        print(f"written: {out}", file=sys.stderr)
    if made.placements:
        return 0
    lines = "; its lines stand in the kit file as remarks" if written else ""
    for source in sources:
        message = f"nothing in it could be placed; see the report{lines}"
        print(Problem(str(source), message), file=sys.stderr)
    return 2
