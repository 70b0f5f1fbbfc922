"""What a person has said of a draft: parts that come off a donor board, and the answers to one
that is not finished, kept and offered again when the same sources are drafted again; and a
definition of one's own, from a few answers or from a drawing."""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from pydantic import Field, ValidationError

from solderrisk.draft.resolve import resolve
from solderrisk.draft.write import yaml_item
from solderrisk.files.text import (
    FileProblems,
    Problem,
    read_text,
    refused,
    write_over,
)
from solderrisk.files.yaml_source import parse_model
from solderrisk.folders import platform_folder
from solderrisk.model.base import Frozen, Many
from solderrisk.model.draft import Draft, Lifted, Question
from solderrisk.model.footprint import Footprint, FootprintFile
from solderrisk.model.kit import Donor
from solderrisk.model.lands import definition_faults
from solderrisk.model.library import Library
from solderrisk.model.problems import UserProblem
from solderrisk.model.refs import expand_refs
from solderrisk.packages.drawn import footprint_of
from solderrisk.readers.formats import read_source

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
    return Path(platform_folder("state"), "drafts")


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


# What is asked, in this order; the keys are those of the command's options.
QUESTIONS: dict[str, str] = {
    "like": "Which definition is most like it? Joints, leads, material and heat limits are taken "
    "from that one (for example HEADER-1X4-2.54)",
    "pins": "How many pins",
    "pitch": "mm from pin to pin in a row, centre to centre",
    "rows": "How many rows: 1, 2 or 4",
    "row-span": "mm between the centres of opposite rows (nothing for one row)",
    "land": "Land in mm, across the row x along the lead (for example 1.7x1.7)",
    "hole": "Hole in mm (nothing where it is soldered flat)",
    "body": "Body in mm, length x width x height (for example 10x5x8.5)",
}
MAY_BE_LEFT_OUT = ("rows", "row-span", "hole")
_SIZE = re.compile(r"\d+(?:\.\d+)?(?:\s*[xX]\s*\d+(?:\.\d+)?)*")


def answered(given: Mapping[str, str | None], ask: Callable[[str], str] | None) -> dict[str, str]:
    """What is given, the rest as asked for; without ``ask`` only what may be left out is.

    Raises:
        UserProblem: something that is needed is not given, and nobody can be asked.
    """
    missing = [key for key in QUESTIONS if given[key] is None and key not in MAY_BE_LEFT_OUT]
    if missing and ask is None:
        raise UserProblem(f"--new needs {', '.join(f'--{key}' for key in missing)}, or a terminal")
    answers = {}
    for key, question in QUESTIONS.items():
        known = given[key]
        answers[key] = known if known is not None else ask(question) if ask else ""
    return answers


def ask(question: str) -> str:
    """One line from the terminal; the question goes to stderr, which carries no data."""
    sys.stderr.write(f"{question}: ")
    sys.stderr.flush()
    return sys.stdin.readline().strip()


def part_from_answers(
    name: str, answers: Mapping[str, str], library: Library, file: Path
) -> tuple[str, Footprint]:
    """YAML text of a file with one definition, and the definition.

    Raises:
        FileProblems: an answer that is no number, or a definition that no real part can have.
    """
    like = library.get(answers["like"])
    if like is None:
        near = ", ".join(f.name for f in library.search(answers["like"]).found[:3])
        raise _refused(file, f"like: no definition {answers['like']!r}; near: {near or 'none'}")
    pins = int(_sizes(file, "pins", answers["pins"], 1)[0])
    rows = int(_sizes(file, "rows", answers["rows"] or "1", 1)[0])
    (pitch,) = _sizes(file, "pitch", answers["pitch"], 1)
    across, along = _sizes(file, "land", answers["land"], 2)
    length, width, height = _sizes(file, "body", answers["body"], 3)
    model = like.pads[0].model_dump(mode="json", exclude_defaults=True)
    kept = ("kind", "slot_w_mm") if answers["hole"] else ("kind",)
    group: dict[str, Any] = {key: model[key] for key in kept if key in model}
    group |= {"count": pins, "land_w_mm": across, "land_l_mm": along}
    if answers["hole"]:
        group["hole_mm"] = _sizes(file, "hole", answers["hole"], 1)[0]
    if pins == 2 and rows == 1:
        group |= {"layout": "ends", "row_span_mm": pitch}
    else:
        group |= {"layout": _layout(rows, flat=not answers["hole"]), "pitch_mm": pitch}
        if rows > 1:
            group["row_span_mm"] = _sizes(file, "row-span", answers["row-span"], 1)[0]
        if rows > 1 and answers["hole"]:
            group["rows"] = rows
    if "lead" in model:
        group["lead"] = model["lead"]
    data = like.model_dump(
        mode="json", exclude_defaults=True, include={"family", "heat", "orientation", "mark"}
    )
    body = like.body.model_dump(mode="json", include={"material", "shape"})
    text = _file_text(
        {"name": name, "family": data.pop("family"), "pads": [group]}
        | {"body": {"length_mm": length, "width_mm": width, "height_mm": height, **body}}
        | data
        | {"source": f"assumed: lands and body as measured, the rest as for {like.name}"}
    )
    return text, _checked(text, file)


def part_from_drawing(
    name: str, drawing: Path, library: Library, file: Path
) -> tuple[str, Footprint]:
    """The same from a footprint file; height, leads and heat limits are the family's usual.

    Raises:
        FileProblems: unreadable, no pad to solder, or lands that no real part can have.
    """
    read = read_source(drawing)[1].footprint
    drawn = footprint_of(read, library) if read is not None else None
    if drawn is None:
        raise _refused(drawing, "holds no footprint with a pad to solder")
    data = drawn.footprint.model_dump(mode="json", exclude_defaults=True)
    text = _file_text(data | {"name": name})
    return text, _checked(text, file)


def _layout(rows: int, *, flat: bool) -> str:
    if rows == 1 or not flat:
        return "single"
    return "dual" if rows == 2 else "quad"


def _file_text(data: dict[str, Any]) -> str:
    return "footprints:\n" + "\n".join(yaml_item(data, "  ")) + "\n"


def _checked(text: str, file: Path) -> Footprint:
    marked = parse_model(text, FootprintFile, name=str(file))
    (footprint,) = marked.value.footprints
    problems = [
        marked.source.problem(("footprints", 0, *loc), message)
        for loc, message in definition_faults(footprint)
    ]
    if problems:
        raise FileProblems(problems)
    return footprint


def _sizes(file: Path, key: str, answer: str, count: int) -> list[float]:
    parts = re.split(r"\s*[xX]\s*", answer.strip()) if _SIZE.fullmatch(answer.strip()) else []
    if len(parts) != count or not all(float(part) > 0 for part in parts):
        asked = "a number above 0" if count == 1 else f"{count} numbers with x between"
        raise _refused(file, f"{key}: {answer!r} is not {asked}")
    return [float(part) for part in parts]


def _refused(file: Path, message: str) -> FileProblems:
    return FileProblems([Problem(str(file), message)])
