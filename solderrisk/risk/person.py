"""Builders as the risk engine sees them: beliefs, samples of their hands, eyes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.builder import Builder, Level, Record
from solderrisk.model.question import SEED
from solderrisk.model.reference import Reference
from solderrisk.model.risk_data import RiskData
from solderrisk.risk.conditions import Eyes
from solderrisk.risk.hands import Hand, SkillTables, hand_of, skill_tables
from solderrisk.risk.records import made_at, per_joint, reading_of
from solderrisk.risk.skill import Belief, beliefs_at, practised, prior_of, updated
from solderrisk.risk.worlds import Worlds

Floats = NDArray[np.float64]

MAX_HANDS = 600
FEW_WORLDS = 50
FIFTHS = (0.1, 0.3, 0.5, 0.7, 0.9)
READ_WITH = 2_000  # samples by which records are read, whatever is drawn else


@dataclass(frozen=True)
class Person:
    """A builder as the engine sees them: beliefs, samples and eyes."""

    beliefs: Mapping[str, Belief]
    hands: Mapping[str, Hand]
    notes: Mapping[str, str]
    eyes: Eyes
    samples: int


class Rates:
    """Faults per joint that are predicted of somebody at a level, at a skill's usual work."""

    def __init__(self, reference: Reference) -> None:
        self.risk = reference.risk
        self.worlds = Worlds(reference, SEED, FEW_WORLDS)
        self.by_skill = skill_tables(self.worlds)

    def at(self, level: Level, skill_id: str) -> float:
        """The mean over all that is not known of such a hand."""
        index = [skill.id for skill in self.risk.levels.skills].index(skill_id)
        skill = self.risk.levels.skills[index]
        technique = self.risk.technique(skill.usual)
        table = per_joint(technique, skill.usual_pitch_mm, self.worlds, self.by_skill)
        belief = prior_of(self.risk.levels.prior(level))
        return float(hand_of(belief, index, READ_WITH, self.worlds).mean(table))


class People:
    """Samples of persons, kept: many share a belief about a skill."""

    def __init__(self, data: RiskData) -> None:
        self.data = data
        self._hands: dict[tuple[float, float, int, int, int], Hand] = {}
        self._rates: dict[tuple[str, float | None, int], Floats] = {}
        self._levels: dict[tuple[Level, int, int], Mapping[str, Hand]] = {}

    def person(
        self,
        builder: Builder,
        worlds: Worlds,
        by_skill: SkillTables,
        *,
        samples: int = 2000,
        practice: Mapping[str, float] | None = None,
        as_of: str | None = None,
    ) -> Person:
        """A builder, after ``practice`` joints by skill if any are planned.

        Raises:
            KeyError: a record, level or plan names a skill that does not exist.
        """
        beliefs = self._beliefs(builder, worlds, by_skill, practice or {}, as_of)
        own = builder.hand or self.data.levels.prior(builder.level).hand
        return Person(
            beliefs,
            self._samples(beliefs, samples, worlds),
            {skill: belief.note for skill, belief in beliefs.items()},
            Eyes(own, builder.acuity_arcmin, builder.near_point_mm, builder.guided),
            samples,
        )

    def _beliefs(
        self,
        builder: Builder,
        worlds: Worlds,
        by_skill: SkillTables,
        planned: Mapping[str, float],
        as_of: str | None,
    ) -> dict[str, Belief]:
        """The belief for every skill: what is said, what was recorded, what is planned."""
        levels = self.data.levels
        named = (*(r.skill for r in builder.records), *(s.skill for s in builder.skills), *planned)
        for name in named:
            levels.skill(name)
        guided = self.data.parameters["guided_factor"] if builder.guided else 1.0
        newest = as_of or max((r.date for r in builder.records if r.date), default="")
        found = {}
        for index, skill in enumerate(levels.skills):
            level = levels.prior(builder.level_of(skill.id))
            said = prior_of(level, guided)
            records = sorted(
                (r for r in builder.records if r.skill == skill.id), key=lambda r: r.date or ""
            )
            readings = [
                reading_of(record, self._ordinary(said, index, record, worlds, by_skill), newest,
                           self.data)
                for record in records
            ]  # fmt: skip
            joints, faults = sum(r.joints for r in records), sum(r.faults for r in records)
            note = f"your record {faults} in {joints}"
            belief = updated(said, readings, self.data, note)
            more = planned.get(skill.id, 0.0)
            found[skill.id] = practised(belief, level.joints_done + joints, more, levels)
        return found

    def _ordinary(
        self, said: Belief, index: int, record: Record, worlds: Worlds, by_skill: SkillTables
    ) -> float:
        """Ordinary joints that a joint of a record counts for: as many faults are predicted of
        this hand at its work as at those."""
        rates = self._at_work(record, index, worlds, by_skill)
        return float(self._hand(said, index, READ_WITH, worlds).mean(rates)) / said.mean

    def _at_work(self, record: Record, index: int, worlds: Worlds, by_skill: SkillTables) -> Floats:
        technique, pitch_mm = made_at(record, self.data.levels.skills[index], self.data)
        key = (technique.id, pitch_mm, worlds.seed)
        if key not in self._rates:
            self._rates[key] = per_joint(technique, pitch_mm, worlds, by_skill)
        return self._rates[key]

    def foreseen(
        self, person: Person, trial: Record, worlds: Worlds, by_skill: SkillTables
    ) -> tuple[int, ...]:
        """Faults that a trial may show, each as likely as the other: of hands from the best to
        the worst fifth of what is believed."""
        index = [skill.id for skill in self.data.levels.skills].index(trial.skill)
        hand, table = person.hands[trial.skill], self._at_work(trial, index, worlds, by_skill)
        rates = np.sort(hand.at_samples(table))
        fifths = (rates[int(share * len(rates))] for share in FIFTHS)
        return tuple(min(round(trial.joints * float(rate)), trial.joints) for rate in fifths)

    def level_hands(self, level: Level, samples: int, worlds: Worlds) -> Mapping[str, Hand]:
        """Hands of somebody at a level."""
        key = (level, samples, worlds.seed)
        if key not in self._levels:
            self._levels[key] = self._samples(beliefs_at(level, self.data), samples, worlds)
        return self._levels[key]

    def _samples(
        self, beliefs: Mapping[str, Belief], samples: int, worlds: Worlds
    ) -> dict[str, Hand]:
        hands = {}
        for index, skill in enumerate(self.data.levels.skills):
            hands[skill.id] = self._hand(beliefs[skill.id], index, samples, worlds)
        return hands

    def _hand(self, belief: Belief, index: int, samples: int, worlds: Worlds) -> Hand:
        key = (belief.a, belief.b, index, samples, worlds.seed)
        if key not in self._hands:
            if len(self._hands) >= MAX_HANDS:
                self._hands.clear()
            self._hands[key] = hand_of(belief, index, samples, worlds)
        return self._hands[key]
