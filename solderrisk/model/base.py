"""The base of every model: frozen, strict, unknown keys refused."""

from __future__ import annotations

from typing import Annotated, Any, Self, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, Strict

from solderrisk.model.units import LENGTH_PATTERN, length_mm

T = TypeVar("T")

_HASH = "__kept_hash__"


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
            kept = hash((type(self), *(held[name] for name in type(self).model_fields)))
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
