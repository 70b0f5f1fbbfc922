"""Levels of self-description and skills: where the chances of a person start."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from solderrisk.model.base import Frozen, Many, Share, Source, Text
from solderrisk.model.builder import Level


class LevelPrior(Frozen):
    """What is believed of a person who has done this much, before any record.

    ``faults_a`` and ``faults_b`` are the Beta prior of faults per ordinary joint.
    ``dwell_spread`` is the spread (of the logarithm) of how long the tip stays.
    ``inexperience`` is the share of the inexperience effect in slips, 0 to 1.
    ``joints_done`` is where on the learning curve such a person stands.
    """

    level: Level
    title: Text
    faults_a: float = Field(gt=0)
    faults_b: float = Field(gt=0)
    dwell_spread: float = Field(gt=0, le=2)
    inexperience: Share
    hand: Literal["steady", "braced", "novice", "unbraced"]
    joints_done: float = Field(ge=1)
    source: Source
    own: Many[Text] = Field((), description="figures set by the user")

    @property
    def faults_mean(self) -> float:
        return self.faults_a / (self.faults_a + self.faults_b)


class Skill(Frozen):
    """Something that hands learn; techniques exercise one each."""

    id: Text
    title: Text


class LevelData(Frozen):
    """``levels.yaml``: levels from least to most done, and the skills."""

    levels: Many[LevelPrior] = Field(min_length=2)
    skills: Many[Skill] = Field(min_length=1)

    def prior(self, level: Level) -> LevelPrior:
        return next(prior for prior in self.levels if prior.level == level)

    def skill(self, skill_id: str) -> Skill:
        """The skill of an id.

        Raises:
            KeyError: no such skill.
        """
        found = next((skill for skill in self.skills if skill.id == skill_id), None)
        if found is None:
            raise KeyError(f"no skill {skill_id!r}; there are {[s.id for s in self.skills]}")
        return found
