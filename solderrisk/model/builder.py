"""Builder: a person, what they can do, and how well they see and hold still."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, PositiveMm, Text

# Self-description by what a person has done, not by a title.
Level = Literal["never", "few", "several", "regular", "trained"]
LEVELS: tuple[Level, ...] = ("never", "few", "several", "regular", "trained")


class SkillLevel(Frozen):
    """A level that differs from the builder's usual one for one skill."""

    skill: Text
    level: Level


class ModeCount(Frozen):
    """Faults of one kind in a record."""

    mode: Text = Field(description="as in faults.yaml: bridge, open, cold and so on")
    faults: int = Field(ge=1, le=1_000_000)


class Record(Frozen):
    """Practice or bench results: joints tried, faults seen in them, and at what work they
    were made. Without ``technique`` it is the skill's usual work."""

    skill: Text
    joints: int = Field(ge=1, le=1_000_000)
    faults: int = Field(ge=0, le=1_000_000, description="joints that needed mending")
    date: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")] | None = None
    technique: Text | None = Field(None, description="as in techniques.yaml")
    pitch_mm: PositiveMm | None = Field(None, description="from joint to joint")
    parts: int | None = Field(None, ge=1, le=1_000_000)
    modes: Many[ModeCount] = Field((), description="faults by kind, as far as known")

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if sum(each.faults for each in self.modes) > self.faults:
            raise ValueError(f"modes name more than {self.faults} faults")
        if self.date is not None:
            try:
                date.fromisoformat(self.date)
            except ValueError:
                raise ValueError(f"{self.date} is no date") from None
        return self


class Builder(Frozen):
    name: Text
    title: str = ""
    invented: bool = False
    level: Level = "few"
    guided: bool = Field(False, description="somebody who knows stands by: a course, a parent")
    skills: Many[SkillLevel] = ()
    records: Many[Record] = ()
    hand: Literal["steady", "braced", "novice", "unbraced"] | None = Field(
        None, description="by level if unset"
    )
    acuity_arcmin: float = Field(1.0, ge=0.4, le=20, description="smallest detail, corrected")
    near_point_mm: PositiveMm = 250.0
    acknowledged: Many[Text] = Field((), description="safety notes read and acknowledged")

    def level_of(self, skill: str) -> Level:
        """The self-described level for a skill."""
        return next((s.level for s in self.skills if s.skill == skill), self.level)
