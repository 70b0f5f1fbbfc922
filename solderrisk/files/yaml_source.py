"""Reading YAML that people wrote into models, with every fault told at its place."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ValidationError

from solderrisk.files.errors import MAX_PROBLEMS, FileProblems, Problem
from solderrisk.files.messages import describe, is_spurious, wants_text
from solderrisk.files.text_source import read_text
from solderrisk.files.yaml_values import Source
from solderrisk.model.problems import Loc

M = TypeVar("M", bound=BaseModel)


@dataclass(frozen=True)
class Marked(Generic[M]):
    """A model together with the places it was read from."""

    value: M
    source: Source


def read_model(path: Path, model: type[M]) -> M:
    """Read one YAML file into a model.

    Raises:
        FileProblems: with every problem found, each with file, line and column.
    """
    return read_model_with_marks(path, model).value


def read_model_with_marks(path: Path, model: type[M]) -> Marked[M]:
    """Like ``read_model``, and keep the places, so that later checks can name them."""
    return parse_model(read_text(path), model, name=str(path))


def parse_model(text: str, model: type[M], *, name: str) -> Marked[M]:
    """Read YAML text into a model; ``name`` stands for the file in problems."""
    source = Source(name, text)
    raw = source.value()
    if raw is None:
        keys = ", ".join(model.model_fields)
        raise FileProblems([Problem(name, f"the file holds nothing; expected keys: {keys}", 1, 1)])
    return Marked(_validate(raw, model, source), source)


def _validate(raw: object, model: type[M], source: Source) -> M:
    # A number where text is wanted (value: 4.70, footprint: 1206) goes back to what was typed.
    for _ in range(3):
        try:
            return model.model_validate(raw)
        except ValidationError as error:
            faults = error.errors(include_url=False)
        changed = [_put_text(raw, fault["loc"], source) for fault in faults if wants_text(fault)]
        if not any(changed):
            break
    faults = [fault for fault in faults if not is_spurious(fault)] or faults
    faults.sort(key=lambda fault: source.marks.at(fault["loc"]).place)
    shown = faults if len(faults) <= MAX_PROBLEMS else faults[: MAX_PROBLEMS - 1]
    problems = [source.problem(*describe(fault, model)) for fault in shown]
    raise FileProblems(problems, more=len(faults) - len(shown))


def _put_text(raw: object, loc: Loc, source: Source) -> bool:
    text = source.marks.at(loc).text
    if text is None or not loc:
        return False
    holder: Any = raw
    try:
        for part in loc[:-1]:
            holder = holder[part]
        if isinstance(holder[loc[-1]], str):
            return False
        holder[loc[-1]] = text
    except (KeyError, IndexError, TypeError):
        return False
    return True
