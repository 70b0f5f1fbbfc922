"""What a person has said of a draft: parts that come off a donor board, and the answers to one
that is not finished, kept and offered again when the same sources are drafted again."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path

from pydantic import Field, ValidationError

from solderrisk.draft.resolve import resolve
from solderrisk.files.text import platform_folder, read_text, refused, write_over
from solderrisk.model.base import Frozen, Many
from solderrisk.model.draft import Draft, Lifted, Question
from solderrisk.model.kit import Donor
from solderrisk.model.problems import UserProblem
from solderrisk.model.refs import expand_refs

FORMAT = 2  # 2: parts off donors


class KeptAnswer(Frozen):
    """An answer, and what it was about: each reference with its words."""

    question: str
    choice: str
    about: Many[str] = ()


class KeptLift(Frozen):
    """A part that comes off a donor."""

    ref: str
    donor: str
    irreplaceable: bool
    spares: int = Field(0, ge=0)


class KeptDraft(Frozen):
    """What has been answered so far about some sources, and what comes off donors."""

    format: int = Field(FORMAT, ge=1)
    sources: Many[str] = ()
    answers: Many[KeptAnswer] = ()
    donors: Many[Donor] = ()
    lifted: Many[KeptLift] = ()


def folder() -> Path:
    """Where they lie; it need not exist."""
    return platform_folder("state") / "drafts"


def place_of(sources: Sequence[Path]) -> Path:
    """The file that belongs to these sources, in whatever order they are named."""
    names = "\n".join(sorted(str(path.absolute()) for path in sources))
    return folder() / f"{hashlib.sha256(names.encode()).hexdigest()[:16]}.json"


def keep(sources: Sequence[Path], draft: Draft) -> None:
    """Keep the answers; without any, nothing is left.

    Raises:
        FileProblems: they cannot be kept, or a newer version's file is there.
    """
    path = place_of(sources)
    if _is_newer(path):
        raise _newer(path)
    if not (draft.answers or draft.lifted):
        drop(sources)
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise refused(path.parent, f"cannot be made ({error.strerror}); check the path") from None
    kept = KeptDraft(
        sources=tuple(map(str, sources)),
        answers=_answers(draft),
        donors=draft.donors,
        lifted=tuple(KeptLift(**asdict(part)) for part in draft.lifted),
    )
    write_over(path, kept.model_dump_json(indent=1) + "\n")


def kept_of(sources: Sequence[Path]) -> KeptDraft | None:
    """What is kept for these sources; None where nothing is.

    Raises:
        FileProblems: the file is damaged, not readable or a newer version's.
    """
    path = place_of(sources)
    if not path.exists():
        return None
    text = read_text(path)
    if _is_newer(path):
        raise _newer(path)
    try:
        return KeptDraft.model_validate_json(text)
    except ValidationError:
        raise refused(path, "damaged; delete it") from None


def drop(sources: Sequence[Path]) -> None:
    """Forget them: the kit is written, or every answer is taken back."""
    with contextlib.suppress(OSError):
        place_of(sources).unlink(missing_ok=True)


def taken_up(draft: Draft, kept: KeptDraft) -> Draft:
    """The draft with the kept answers that still fit: those to questions that now ask about
    nothing but references, with their words, that the answer was given for."""
    assert draft.found is not None
    given = {answer.question: answer for answer in kept.answers}
    while True:
        tried = resolve(draft.found, draft.library, {key: a.choice for key, a in given.items()})
        words = _words(tried)
        asked = {question.id: question for question in tried.questions}
        fits = {
            key: answer
            for key, answer in given.items()
            if key in asked and set(_about(asked[key], words)) <= set(answer.about)
        }
        # An answer that goes may bring other questions, so all are looked at again.
        if len(fits) == len(given):
            parts = tuple(Lifted(**p.model_dump()) for p in kept.lifted)
            return carried(tried, replace(tried, donors=kept.donors, lifted=parts))
        given = fits


def _answers(draft: Draft) -> tuple[KeptAnswer, ...]:
    words = _words(draft)
    asked = {question.id: question for question in draft.questions}
    return tuple(
        KeptAnswer(question=key, choice=choice, about=_about(asked[key], words))
        for key, choice in draft.answers
        if key in asked
    )


def _words(draft: Draft) -> dict[str, str]:
    return {line.ref: line.what for line in draft.lines}


def _about(question: Question, words: dict[str, str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(f"{ref}: {words.get(ref, '')}" for ref in question.refs))


def _is_newer(path: Path) -> bool:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    number = found.get("format") if isinstance(found, dict) else None
    return isinstance(number, int) and number > FORMAT


def _newer(path: Path) -> Exception:
    return refused(path, "kept by a newer version of solderrisk; update, or delete it")


MOST_TOLD = 5


def refs_of(draft: Draft, text: str) -> tuple[str, ...]:
    """The references that a list like 'U1, R1-R4' names, in any case.

    Raises:
        UserProblem: it is no list, or the draft has no such part.
    """
    known = {line.ref.upper(): line for line in draft.lines if line.ref}
    try:
        asked = expand_refs(text.strip().upper())
    except ValueError as error:
        raise UserProblem(str(error)) from None
    missing = [ref for ref in asked if ref not in known]
    if missing:
        raise UserProblem(f"the draft has no {_some(missing)}")
    left_out = [ref for ref in asked if known[ref].state == "ignored"]
    if left_out:
        raise UserProblem(f"the draft leaves out {_some(left_out)}")
    return tuple(known[ref].ref for ref in asked)


def _some(refs: Sequence[str]) -> str:
    return ", ".join(refs[:MOST_TOLD]) + (" ..." if len(refs) > MOST_TOLD else "")


def lift(
    draft: Draft, refs: Sequence[str], donor: Donor, *, irreplaceable: bool, spares: int = 0
) -> Draft:
    """The draft with these parts coming off the donor, in whatever way they came before.

    Raises:
        UserProblem: a board that is populated is called like the donor.
    """
    if donor.name in {board.name for board in draft.boards}:
        raise UserProblem(f"{donor.name} is the board to be populated; call the old one otherwise")
    rest = new(draft, refs)
    lifted = (*rest.lifted, *(Lifted(ref, donor.name, irreplaceable, spares) for ref in refs))
    donors = (*(d for d in rest.donors if d.name != donor.name), donor)
    return replace(rest, lifted=lifted, donors=donors)


def new(draft: Draft, refs: Sequence[str]) -> Draft:
    """The draft with these parts new again; a donor that nothing comes off is forgotten."""
    lifted = tuple(part for part in draft.lifted if part.ref not in refs)
    used = {part.donor for part in lifted}
    return replace(draft, lifted=lifted, donors=tuple(d for d in draft.donors if d.name in used))


def carried(made: Draft, before: Draft) -> Draft:
    """A draft resolved anew, with what was said of donors; parts that are gone are left out."""
    there = {line.ref for line in made.lines}
    whole = replace(made, donors=before.donors, lifted=before.lifted)
    return new(whole, [part.ref for part in before.lifted if part.ref not in there])
