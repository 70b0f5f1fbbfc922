"""Reading YAML that people wrote into models, with every fault told at its place."""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from solderrisk.files.text import MAX_PROBLEMS, FileProblems, Problem, did_you_mean, read_text
from solderrisk.files.yaml_text import Source
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
        changed = [_put_text(raw, fault["loc"], source) for fault in faults if _wants_text(fault)]
        if not any(changed):
            break
    faults = [fault for fault in faults if not _is_spurious(fault)] or faults
    faults.sort(key=lambda fault: source.marks.at(fault["loc"]).place)
    shown = faults[:MAX_PROBLEMS]
    problems = [source.problem(*_describe(fault, model)) for fault in shown]
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


# From a model's complaint to a line a person can act on.

_PLAIN = {
    "string_type": "must be text",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "finite_number": "must be a finite number",
    "bool_type": "must be true or false",
    "tuple_type": "must be a list",
    "list_type": "must be a list",
    "dict_type": "must be keys with values",
    "model_type": "must be keys with values",
    "model_attributes_type": "must be keys with values",
}
_BOUNDS = {
    "greater_than": ("gt", "must be greater than {}"),
    "greater_than_equal": ("ge", "must be at least {}"),
    "less_than": ("lt", "must be less than {}"),
    "less_than_equal": ("le", "must be at most {}"),
    "string_pattern_mismatch": ("pattern", "must match {}"),
}
_LENGTHS = {
    "too_short": ("min_length", "needs at least {} {}", "item"),
    "too_long": ("max_length", "may have at most {} {}", "item"),
    "string_too_short": ("min_length", "needs at least {} {}", "character"),
    "string_too_long": ("max_length", "may have at most {} {}", "character"),
}


def _describe(fault: Mapping[str, Any], model: type[BaseModel]) -> tuple[Loc, str]:
    """The location and the message of one of pydantic's error dicts."""
    loc: Loc = fault["loc"]
    kind, found, context = fault["type"], fault.get("input"), fault.get("ctx", {})
    if kind == "missing":
        return loc, "is missing; add this key"
    if kind == "extra_forbidden":
        return loc, f"unknown key {loc[-1]!r}{did_you_mean(str(loc[-1]), _keys(model, loc[:-1]))}"
    if kind in ("value_error", "assertion_error"):
        return loc, str(context.get("error") or fault["msg"])
    return loc, f"found {show(found)}, {_allowed(kind, found, context, str(fault['msg']))}"


def _wants_text(fault: Mapping[str, Any]) -> bool:
    """Whether a number or truth value stands where text is wanted."""
    return fault["type"] in ("string_type", "literal_error") and isinstance(
        fault.get("input"), (bool, int, float)
    )


def _is_spurious(fault: Mapping[str, Any]) -> bool:
    """A list counts as too short when its items failed; those faults are told already."""
    if fault["type"] != "too_short" or not isinstance(fault.get("input"), list):
        return False
    return len(fault["input"]) >= int(fault.get("ctx", {}).get("min_length", 0))


def show(value: object) -> str:
    """A value as its author would recognise it, short."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "keys with values"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}"
    if isinstance(value, float):
        return f"{value:g}"
    text = repr(value)
    return text if len(text) <= 50 else f"{text[:46]}...{text[-1]}"


def _allowed(kind: str, found: object, context: Mapping[str, Any], otherwise: str) -> str:
    if kind in _PLAIN:
        return _PLAIN[kind] + _number_hint(kind, found)
    if kind in _BOUNDS:
        name, text = _BOUNDS[kind]
        bound = context.get(name)
        return text.format(f"{bound:g}" if isinstance(bound, (int, float)) else bound)
    if kind in _LENGTHS:
        name, text, unit = _LENGTHS[kind]
        count = context.get(name, 0)
        return text.format(count, unit if count == 1 else f"{unit}s")
    if kind == "literal_error":
        known = str(context.get("expected", "")).replace(" or ", ", ").replace("'", "").split(", ")
        near = did_you_mean(found, known) if isinstance(found, str) else ""
        hint = near if near.startswith("; did") else ""
        return f"allowed: {', '.join(known)}{hint}"
    return otherwise[:1].lower() + otherwise[1:]


def _number_hint(kind: str, found: object) -> str:
    if not isinstance(found, str) or not kind.startswith(("int", "float")):
        return ""
    bare = found.strip().lstrip("+-")
    if bare.replace(",", ".", 1).replace(".", "", 1).isdecimal() and bare.count(",") == 1:
        return "; write the decimal mark as a point"
    if bare.replace(".", "", 1).isdecimal():
        return "; write it without quotes or leading zeros"
    return ""


def _keys(model: type[BaseModel], loc: Loc) -> list[str]:
    """Keys allowed at a location of a model."""
    kinds: list[Any] = [model]
    for part in loc:
        kinds = [inner for kind in kinds for inner in _step(kind, part)] or kinds
    return [name for kind in kinds if _is_model(kind) for name in kind.model_fields]


def _step(kind: Any, part: int | str) -> list[Any]:
    if _is_model(kind):
        field = kind.model_fields.get(part)
        return _unwrap(field.annotation) if field is not None else []
    if get_origin(kind) in (tuple, list):
        return [inner for arg in get_args(kind) for inner in _unwrap(arg)]
    if get_origin(kind) is dict:
        return _unwrap(get_args(kind)[1])
    return []


def _unwrap(annotation: Any) -> list[Any]:
    """The plain types inside Annotated, unions and optionals."""
    if hasattr(annotation, "__metadata__"):
        return _unwrap(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType):
        return [inner for arg in get_args(annotation) for inner in _unwrap(arg)]
    return [annotation]


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)
