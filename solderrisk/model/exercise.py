"""Exercises: what to practise, on what, and what it shows."""

from __future__ import annotations

from pydantic import Field

from solderrisk.model.base import Frozen, Many, Source, Text
from solderrisk.model.builder import Level


class Exercise(Frozen):
    """One rung of the ladder. ``shows`` is the level that its pass mark claims; ``unlocks``
    names techniques, ``notes`` the safety notes to acknowledge first."""

    id: Text
    title: Text
    skill: Text
    shows: Level
    after: Many[Text] = ()
    material: Text
    steps: Many[Text] = Field(min_length=1)
    joints_per_part: int = Field(1, ge=1, le=2000, description="joints of one practice part")
    least_parts: int = Field(1, ge=1, le=100, description="fewest parts of a pass mark")
    whole_part: bool = Field(
        False, description="a fault spoils the part: it counts once per part, as in lifting"
    )
    joint_minutes: float = Field(gt=0, le=30)
    joint_price: float = Field(ge=0, le=100)
    unlocks: Many[Text] = ()
    notes: Many[Text] = ()
    source: Source


class PracticeData(Frozen):
    """``practice.yaml``: the ladder and the confidence its pass marks carry."""

    confidence: float = Field(gt=0.5, lt=1)
    confidence_source: Source
    amounts: Many[int] = Field(min_length=1, description="joints that the advice may suggest")
    amounts_source: Source
    exercises: Many[Exercise] = Field(min_length=1)
