"""The base of every model: frozen, strict, unknown keys refused."""

from __future__ import annotations

from typing import Annotated, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, Strict

from solderrisk.model.units import LENGTH_PATTERN, length_mm

T = TypeVar("T")


class Frozen(BaseModel):
    """A value read from a file: immutable, hashable, strict about types and keys."""

    model_config = ConfigDict(
        frozen=True, strict=True, extra="forbid", defer_build=True, allow_inf_nan=False
    )


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
