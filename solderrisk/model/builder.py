"""Builder: a person, what they can do, and how well they see and hold still."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from solderrisk.model.base import Frozen, Many, PositiveMm, Text

# Self-description by what a person has done, not by a title.
Level = Literal["never", "few", "several", "regular", "trained"]
LEVELS: tuple[Level, ...] = ("never", "few", "several", "regular", "trained")


class SkillLevel(Frozen):
    """A level that differs from the builder's usual one for one skill."""

    skill: Text
    level: Level


class Record(Frozen):
    """Practice or bench results: joints tried and faults seen in them."""

    skill: Text
    joints: int = Field(ge=1, le=1_000_000)
    faults: int = Field(ge=0, le=1_000_000)
    date: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")] | None = None


class Builder(Frozen):
    name: Text
    title: str = ""
    invented: bool = False
    level: Level = "few"
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
