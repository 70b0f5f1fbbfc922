"""What all values share: frozen models, parameters with their ranges, a bounded cache."""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from functools import cached_property
from threading import Lock
from typing import Annotated, Any, Generic, NamedTuple, Self, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, Strict, model_validator

from solderrisk.model.problems import Loc


class KitProblem(NamedTuple):
    """A fault between the parts of a kit; ``loc`` leads to it: ``("gates", 0, "after", 1)``."""

    loc: Loc
    message: str


K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Cache(Generic[K, V]):
    """Answers by question, at most ``most`` of them: the one asked for longest ago goes first.
    Two threads may work out the same answer at once; both are then given the first one."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[K, V] = OrderedDict()
        self._lock = Lock()

    def __len__(self) -> int:
        return len(self._kept)

    def get(self, key: K, make: Callable[[], V]) -> V:
        """The answer kept for ``key``, or a new one from ``make``."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        return self._keep(key, make())

    def many(self, keys: Sequence[K], make: Callable[[Sequence[K]], Sequence[V]]) -> list[V]:
        """Answers in the order of ``keys``; those not kept are made together, each once."""
        with self._lock:
            found = {key: self._kept[key] for key in keys if key in self._kept}
        missing = list(dict.fromkeys(key for key in keys if key not in found))
        if missing:
            fresh = zip(missing, make(missing), strict=True)
            found.update((key, self._keep(key, value)) for key, value in fresh)
        return [found[key] for key in keys]

    def clear(self) -> None:
        with self._lock:
            self._kept.clear()

    def _keep(self, key: K, value: V) -> V:
        with self._lock:
            value = self._kept.setdefault(key, value)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
            return value


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


SET_BY_USER = "assumed: set by the user"


class Parameter(Frozen):
    """One number with its unit, its source and, where it is uncertain, its range.

    ``value`` is the middle of what is believed, ``low`` and ``high`` its 5 % and 95 % points.
    A ``choice`` is set, not found out: its range is what one may set. Numbers that are one
    thing move together: those that name the same ``moves_with`` rise and fall as one, those
    that name it in ``moves_against`` fall as it rises.
    """

    value: float
    unit: str
    source: Source
    low: float | None = None
    high: float | None = None
    choice: bool = False
    moves_with: str = ""
    moves_against: str = ""
    note: str = ""

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        low = self.value if self.low is None else self.low
        high = self.value if self.high is None else self.high
        if not low <= self.value <= high:
            raise ValueError(f"value {self.value:g} is outside its range {low:g}..{high:g}")
        return self

    @property
    def ends(self) -> tuple[float, float, float]:
        """Low, value and high; the value where there is no range."""
        low = self.value if self.low is None else self.low
        return low, self.value, self.value if self.high is None else self.high

    @property
    def doubted(self) -> bool:
        """Whether nobody knows it better than within its range."""
        return not self.choice and self.low is not None and self.high is not None

    @property
    def assumed(self) -> bool:
        return self.source.startswith("assumed")

    @property
    def told(self) -> str:
        """The value with its unit, if it has one."""
        return f"{self.value:g}" if self.unit in ("", "1") else f"{self.value:g} {self.unit}"


class Parameters(Frozen):
    """The named numbers of one data file, e.g. ``physics.yaml``."""

    parameters: dict[Text, Parameter] = Field(min_length=1)

    @cached_property
    def plain(self) -> dict[str, float]:
        """Values alone, for code that asks many thousand times."""
        return {name: parameter.value for name, parameter in self.parameters.items()}

    def __getitem__(self, name: str) -> float:
        found = self.plain.get(name)
        return self.at(name).value if found is None else found

    def at(self, name: str) -> Parameter:
        """A parameter with its unit, range and source.

        Raises:
            KeyError: no such parameter; the message names those there are.
        """
        try:
            return self.parameters[name]
        except KeyError:
            raise KeyError(f"no parameter {name!r}; there are {sorted(self.parameters)}") from None

    def replaced(self, changes: dict[str, float]) -> Self:
        """A copy with some values set by the user, marked as such."""
        table = dict(self.parameters)
        for name, value in changes.items():
            unit = self.at(name).unit
            table[name] = Parameter(value=value, unit=unit, source=SET_BY_USER)
        return type(self)(parameters=table)
