"""What the trade offers to heat a joint better: tips, irons, preheaters, hotter air."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, Source
from solderrisk.model.reference import Parameters

Offer = Literal["tip_mm", "iron_w", "preheat_c", "hotter_air_k"]


class Steps(Frozen):
    """Sizes on offer, smallest first."""

    values: Many[float] = Field(min_length=1)
    unit: str
    source: Source

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if list(self.values) != sorted(set(self.values)):
            raise ValueError("values must rise")
        return self


class RemedyData(Parameters):
    """``remedies.yaml``: what is tried, and the effort that orders it."""

    offers: dict[Offer, Steps]
