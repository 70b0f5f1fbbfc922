"""Frozen base of all values, field types and units of length."""

from __future__ import annotations

import re
from typing import Annotated, Any, Self, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, Strict

MM_PER_UNIT = {
    "mm": 1.0,
    "um": 0.001,
    "\u00b5m": 0.001,  # micro sign
    "\u03bcm": 0.001,  # the Greek letter, which looks the same
    "mil": 0.0254,
    "in": 25.4,
    "inch": 25.4,
}
UNITS = ("mm", "um", "mil", "in")

# A number, a space if wanted, a unit if wanted: also the pattern of the JSON Schema.
LENGTH_PATTERN = (
    r"^\s*[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?\s*(mm|um|µm|μm|mil|inch|in|\")?\s*$"
)
_LENGTH = re.compile(
    r"\s*([+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,3})?)"
    r"\s*([^\s0-9.]*)\s*"
)


def length_mm(value: object) -> object:
    """Give a length in mm from a number (mm) or text such as ``"25 mil"``.

    Anything that is neither is handed back as it is, so that the model refuses it with
    its own message.

    Raises:
        ValueError: the unit is unknown.
    """
    if not isinstance(value, str):
        return value
    match = _LENGTH.fullmatch(value)
    if match is None:
        raise ValueError(f"not a length: {value[:40]!r}; write a number in mm, or like '25 mil'")
    number, unit = match.groups()
    unit = {"": "mm", '"': "in"}.get(unit, unit)
    if unit not in MM_PER_UNIT:
        raise ValueError(f"unknown unit {unit[:20]!r}; allowed: {', '.join(UNITS)}")
    return float(number) * MM_PER_UNIT[unit]


T = TypeVar("T")

_HASH = "__kept_hash__"


def _hashed(value: Any) -> Any:
    """Tables are compared by what they hold, in whatever order."""
    if not isinstance(value, dict):
        return value
    return frozenset((key, _hashed(each)) for key, each in value.items())


class Frozen(BaseModel):
    """A value read from a file: immutable, hashable, strict about types and keys."""

    model_config = ConfigDict(
        frozen=True, strict=True, extra="forbid", defer_build=True, allow_inf_nan=False
    )

    def __hash__(self) -> int:
        # Models are keys of caches everywhere, and nested: hashed once, kept beside the fields.
        held = self.__dict__
        kept: int | None = held.get(_HASH)
        if kept is None:
            fields = (_hashed(held[name]) for name in type(self).model_fields)
            kept = hash((type(self), *fields))
            held[_HASH] = kept
        return kept

    def __copy__(self) -> Self:
        copied = super().__copy__()
        copied.__dict__.pop(_HASH, None)
        return copied

    def __getstate__(self) -> dict[Any, Any]:
        state = super().__getstate__()
        fields = {name: value for name, value in self.__dict__.items() if name != _HASH}
        return {**state, "__dict__": fields}


# YAML has lists only; everything kept is a tuple, so that models stay hashable.
Many = Annotated[tuple[T, ...], Strict(False)]

# "25 mil", "0.1 in" or a number in mm; editors are told so by the JSON Schema.
_LengthText = Annotated[str, Field(pattern=LENGTH_PATTERN, description="like '25 mil'")]
LengthMm = Annotated[float, BeforeValidator(length_mm, json_schema_input_type=float | _LengthText)]
PositiveMm = Annotated[
    float,
    Field(gt=0, le=2000),
    BeforeValidator(
        length_mm,
        json_schema_input_type=Annotated[float, Field(gt=0, le=2000)] | _LengthText,
    ),
]
NonNegativeMm = Annotated[
    float,
    Field(ge=0, le=2000),
    BeforeValidator(
        length_mm,
        json_schema_input_type=Annotated[float, Field(ge=0, le=2000)] | _LengthText,
    ),
]
Share = Annotated[float, Field(ge=0, le=1)]
Text = Annotated[str, Field(min_length=1, max_length=400)]
Source = Annotated[
    str,
    Field(
        min_length=3,
        description="a published standard or handbook by name, 'common practice', "
        "'from memory' or 'assumed'",
    ),
]
Point = Annotated[tuple[float, float], Strict(False)]


class Key(tuple[Any, ...]):
    """A tuple that is hashed once: the key of what is kept, asked for many thousand times."""

    def __hash__(self) -> int:
        kept: int | None = self.__dict__.get(_HASH)
        if kept is None:
            kept = self.__dict__[_HASH] = super().__hash__()
        return kept


def steady(value: float) -> float:
    """A computed figure to eight digits and at most eight decimals.

    Further digits hang on the processor and on the libraries' versions. What is compared,
    chosen by or told must not, so results are made steady where they leave the arrays.
    """
    return round(float(f"{value:.8g}"), 8)
