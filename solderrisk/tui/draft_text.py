"""A draft in words: its head, its questions, the rows of its references."""

from __future__ import annotations

from collections.abc import Container
from typing import TYPE_CHECKING

from textual.content import Content

from solderrisk.words import counted, one_line

if TYPE_CHECKING:
    from solderrisk.draft.kept import KeptDraft
    from solderrisk.model.draft import Draft, DraftLine, LineState, Question

STATES = {"recognised": "✔", "guessed": "≈", "unknown": "?", "ignored": "–"}
STATE_STYLES = {
    "recognised": "$success",
    "guessed": "$warning",
    "unknown": "bold $error",
    "ignored": "$quiet",
}
# Unknown lines first: they are what a person came for.
STATE_ORDER: tuple[LineState, ...] = ("unknown", "guessed", "recognised", "ignored")


def settled(draft: Draft) -> set[str]:
    """Questions whose answers could be used: an answer that names nothing known could not."""
    unknown = {line.ref for line in draft.lines if line.state == "unknown"}
    given = dict(draft.answers)
    return {q.id for q in draft.questions if q.id in given and not unknown.intersection(q.refs)}


def gone_text(before: KeptDraft, made: Draft) -> str:
    """What is said of things kept that do not fit any more; empty where all do."""
    gone = [
        counted(len(old) - len(new), what)
        for old, new, what in (
            (before.answers, made.answers, "answer"),
            (before.lifted, made.lifted, "donor part"),
        )
        if len(old) > len(new)
    ]
    if not gone:
        return ""
    fits = "does not" if len(gone) == 1 and gone[0].startswith("1 ") else "do not"
    return f"the files have changed: {' and '.join(gone)} of before {fits} fit any more"


def told_text(draft: Draft | KeptDraft) -> str:
    """What a person has said of the draft; empty where nothing."""
    told = [counted(len(draft.answers), "answer")] if draft.answers else []
    told += [f"{counted(len(draft.lifted), 'part')} off a donor"] if draft.lifted else []
    return ", ".join(told)


def head_text(draft: Draft, says: str = "") -> Content:
    """Counts, what is still open, what is said of kept answers, and the notes."""
    counts = ", ".join(f"{STATES[state]} {draft.count(state)} {state}" for state in STATE_ORDER)
    waiting = len(draft.questions) - len(settled(draft))
    off = f"; {counted(len(draft.lifted), 'part')} off a donor" if draft.lifted else ""
    parts: list[tuple[str, str]] = [
        (f"{one_line(draft.name, 40)}  ", "bold"),
        (f"{len(draft.lines):,} references: {counts}; ", ""),
        (counted(waiting, "open question") if waiting else "no open question", "bold $accent"),
        (off, ""),
    ]
    parts += [(f"\n{one_line(says, 300)}", "$warning")] if says else []
    parts += [(f"\n· {one_line(note, 200)}", "$quiet") for note in draft.notes[:3]]
    return Content.assemble(*parts)


def question_line(question: Question, answered: bool) -> Content:
    mark, style = ("✔", "$success") if answered else ("?", "bold $error")
    refs = ", ".join(question.refs[:3]) + (" …" if len(question.refs) > 3 else "")
    return Content.assemble(
        (f"{mark} ", style), (f"{one_line(refs, 18)}  ", "bold"), (one_line(question.text, 80), "")
    )


def question_text(question: Question, given: str | None, used: bool) -> Content:
    refs = ", ".join(question.refs[:20])
    rest = len(question.refs) - 20
    parts: list[tuple[str, str]] = [
        (f"{one_line(question.text, 300)}\n", "bold"),
        (f"for {one_line(refs, 300)}" + (f" and {rest} more" if rest > 0 else ""), "$quiet"),
    ]
    if question.default and not given:
        parts.append((f"\nuntil you answer: {one_line(question.default, 80)}", "$warning"))
    if given:
        told = "" if used else ": no package of this name is known; it stays open"
        style = "$success" if used else "$warning"
        parts.append((f"\nyour answer: {one_line(given, 80)}{told}", style))
    return Content.assemble(*parts)


def rows(draft: Draft, marked: Container[str], most: int) -> list[tuple[str, tuple[Content, ...]]]:
    """References with their table's rows, at most so many of them, the unknown ones first."""
    lines = sorted(draft.lines, key=lambda line: STATE_ORDER.index(line.state))[:most]
    off = {part.ref: part.donor for part in draft.lifted}
    return [(x.ref, _cells(x, off.get(x.ref, ""), x.ref in marked)) for x in lines]


def _cells(line: DraftLine, donor: str, marked: bool) -> tuple[Content, ...]:
    mark = "●" if marked else " "
    style, off = STATE_STYLES[line.state], f"off {donor}; " if donor else ""
    return (
        Content.assemble((STATES[line.state], style), (mark, "bold $accent")),
        Content.styled(one_line(line.ref, 8), "bold"),
        Content(one_line(line.what, 15)),
        Content(one_line(line.footprint or "none", 14)),
        Content.styled(one_line(f"{off}{line.from_what} ({line.source})", 120), "$quiet"),
    )
