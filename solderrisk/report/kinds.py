"""The kinds of report: what each is called, how a file of it ends, and how it is made."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from solderrisk.words import UTF8_MARK

if TYPE_CHECKING:
    from solderrisk.model.bench import Bench
    from solderrisk.model.question import Question
    from solderrisk.plan.results import Assessment
    from solderrisk.session import Session


@dataclass(frozen=True)
class Told:
    """What a report is made from: the answer, who gave it, the benches of the difficulty
    statement that a page shows, and what was built and seen, in sentences."""

    session: Session
    question: Question
    found: Assessment
    benches: Sequence[Bench] = ()
    built: Sequence[str] = ()
    day: str = ""
    only: Sequence[str] = ()


@dataclass(frozen=True)
class Kind:
    """``about``: in a few words; ``file_head`` goes in front of a file, not of a pipe."""

    name: str
    ending: str
    about: str
    made: Callable[[Told], str]
    file_head: str = ""


def _page(told: Told) -> str:
    from solderrisk.report.drawings import drawings_of
    from solderrisk.report.page import DEFAULT, NO_DRAWINGS, Parts, page

    session, question, found = told.session, told.question, told.found
    wanted = told.only or DEFAULT
    skills = session.skills(question) if "practice" in wanted else None
    parts = Parts(
        statement=session.statement(question, told.benches) if "statement" in wanted else (),
        gains=session.gains(question) if "verdict" in wanted else (),
        steps=session.ladder(question.builder, question.reference, skills=skills)
        if "practice" in wanted
        else (),
        drawings=drawings_of(found, question, session) if "cards" in wanted else NO_DRAWINGS,
        built=told.built,
        day=told.day,
    )
    return page(found, parts, told.only)


def _text(told: Told) -> str:
    from solderrisk.report.text import text

    return text(told.found, told.session.gains(told.question), show=["all"])


def _json(told: Told) -> str:
    from solderrisk.report.data import as_json

    return as_json(told.found)


def _csv(told: Told) -> str:
    from solderrisk.report.rows import as_csv

    return as_csv(told.found)


KINDS = (
    Kind("html", ".html", "one self-contained page to print, with all there is", _page),
    Kind("text", ".txt", "plain text", _text),
    Kind("csv", ".csv", "a row per placement, for a spreadsheet", _csv, UTF8_MARK),
    Kind("json", ".json", "everything as data", _json),
)


def kind_of_ending(ending: str) -> Kind | None:
    """The kind that a file name's ending asks for."""
    return next((kind for kind in KINDS if kind.ending == ending.lower()), None)
