"""The base of every model: frozen, strict, unknown keys refused."""

from __future__ import annotations

from typing import Annotated, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, Strict

from solderrisk.model.units import length_mm

T = TypeVar("T")


class Frozen(BaseModel):
    """A value read from a file: immutable, hashable, strict about types and keys."""

    model_config = ConfigDict(
        frozen=True, strict=True, extra="forbid", defer_build=True, allow_inf_nan=False
    )


# YAML has lists only; everything kept is a tuple, so that models stay hashable.
Many = Annotated[tuple[T, ...], Strict(False)]

# "25 mil", "0.1 in" or a number in mm.
LengthMm = Annotated[float, BeforeValidator(length_mm)]
PositiveMm = Annotated[float, BeforeValidator(length_mm), Field(gt=0, le=2000)]
NonNegativeMm = Annotated[float, BeforeValidator(length_mm), Field(ge=0, le=2000)]
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
