"""A definition of one's own: from a few answers or from a drawing, checked at once."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from solderrisk.draft.write import yaml_item
from solderrisk.files.text import FileProblems, Problem
from solderrisk.files.yaml_source import parse_model
from solderrisk.model.footprint import Footprint, FootprintFile
from solderrisk.model.lands import definition_faults
from solderrisk.model.library import Library
from solderrisk.model.problems import UserProblem
from solderrisk.packages.drawn import footprint_of
from solderrisk.readers.formats import read_source

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
