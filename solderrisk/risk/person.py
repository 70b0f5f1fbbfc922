"""Builders as the risk engine sees them: beliefs, samples of their hands, eyes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from solderrisk.model.builder import Builder, Level
from solderrisk.model.risk_data import RiskData
from solderrisk.risk.conditions import Eyes
from solderrisk.risk.hands import Hand, hand_of
from solderrisk.risk.skill import Belief, beliefs_at, beliefs_of
from solderrisk.risk.worlds import Worlds

MAX_HANDS = 600


@dataclass(frozen=True)
class Person:
    """A builder as the engine sees them: beliefs, samples and eyes."""

    beliefs: Mapping[str, Belief]
    hands: Mapping[str, Hand]
    notes: Mapping[str, str]
    eyes: Eyes
    samples: int


class People:
    """Samples of persons, kept: many share a belief about a skill."""

    def __init__(self, data: RiskData) -> None:
        self.data = data
        self._hands: dict[tuple[float, float, int, int, int], Hand] = {}
        self._levels: dict[tuple[Level, int, int], Mapping[str, Hand]] = {}

    def person(
        self,
        builder: Builder,
        worlds: Worlds,
        *,
        samples: int = 2000,
        practice: Mapping[str, float] | None = None,
    ) -> Person:
        """A builder, after ``practice`` joints by skill if any are planned.

        Raises:
            KeyError: a record, level or plan names a skill that does not exist.
        """
        beliefs = beliefs_of(builder, self.data, practice=practice)
        own = builder.hand or self.data.levels.prior(builder.level).hand
        return Person(
            beliefs,
            self._samples(beliefs, samples, worlds),
            {skill: belief.note for skill, belief in beliefs.items()},
            Eyes(own, builder.acuity_arcmin, builder.near_point_mm),
            samples,
        )

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
            belief = beliefs[skill.id]
            key = (belief.a, belief.b, index, samples, worlds.seed)
            if key not in self._hands:
                if len(self._hands) >= MAX_HANDS:
                    self._hands.clear()
                self._hands[key] = hand_of(belief, index, samples, worlds)
            hands[skill.id] = self._hands[key]
        return hands
