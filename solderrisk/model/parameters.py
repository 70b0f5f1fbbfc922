"""Parameters: one number with its unit, source and range, and tables of them."""

from __future__ import annotations

from functools import cached_property
from typing import Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Source, Text

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
