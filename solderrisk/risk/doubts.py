"""What the range is made of: the hands, and every number that nobody has measured.

The chosen techniques are worked out in many more worlds than a range needs, once for all
numbers. A number's share is the part of the variance that goes with it alone, by a straight
line between the chance at its two ends.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import steady
from solderrisk.model.question import ALONE, Run
from solderrisk.model.reference import Reference
from solderrisk.risk.conditions import Conditions, Means
from solderrisk.risk.hands import Hand, SkillTables, skill_tables
from solderrisk.risk.heat.setup import Setup
from solderrisk.risk.outcomes import Hurt, fault_table, outcome
from solderrisk.risk.reported import weigh
from solderrisk.risk.roll_up import Share, working_of
from solderrisk.risk.work import Case
from solderrisk.risk.worlds import EDGE, Worlds

Floats = NDArray[np.float64]

MANY = 400
FEW = 100
SPARE = 5  # tried at both ends, more than are told
LEAST_WIDTH = 2e-3  # of the chance


@dataclass(frozen=True)
class Doubt:
    """A cause of doubt: the numbers that it moves, the share of the whole variance that goes
    with it, and the chance with it at its 5 % and at its 95 % point."""

    cause: str
    names: tuple[str, ...]
    share: float
    at_low: float
    at_high: float

    @property
    def width(self) -> float:
        return abs(self.at_high - self.at_low)


@dataclass(frozen=True)
class Makeup:
    """``hands``: share of the variance that is the builder's alone; ``doubts``: what goes with
    single causes, largest first; the rest is what several do together."""

    hands: float
    doubts: tuple[Doubt, ...]


@dataclass(frozen=True)
class Chosen:
    """A case with the set-up chosen for it."""

    case: Case
    setup: Setup
    means: Means


@dataclass(frozen=True)
class Plan:
    """What is done and by whom; ``sound``: chance that work without solder spoils nothing."""

    reference: Reference
    chosen: Sequence[Chosen]
    hands: Mapping[str, Hand]
    sound: float
    seed: int

    def by_world(self, worlds: Worlds) -> Floats:
        """Chance that all works, of the hands in the middle of their samples."""
        by_skill = skill_tables(worlds)
        shares = [self._share(chosen, worlds, by_skill) for chosen in self.chosen]
        middle = {skill: hand.everywhere(worlds) for skill, hand in self.hands.items()}
        return working_of(shares, middle) * self.sound

    def _share(self, chosen: Chosen, worlds: Worlds, by_skill: SkillTables) -> Share:
        case, setup = chosen.case, chosen.setup
        found = Conditions(setup, case.work, chosen.means, worlds, by_skill)
        table = fault_table(found, Hurt.of(found))
        made = outcome(table, case.irreplaceable, case.spares, len(case.jobs), worlds)
        stock = case.stock if case.spares else None
        return Share(made, setup.technique.skill, len(case.jobs), 0.0, stock)


def makeup(plan: Plan, working: Floats, by_hands: Floats, most: int, run: Run = ALONE) -> Makeup:
    """``working``: samples of the chance, ``by_hands``: those where every number is as stated;
    ``most``: how many causes to tell. Which they are is seen from many worlds at once, their
    shares from all worlds with the one cause at either end."""
    run.tell(0.0, "drawing many worlds")
    many = Worlds(plan.reference, plan.seed, MANY)
    chance = plan.by_world(many)
    whole = max(float(working.var()), 1e-12)
    told = {cause: _goes_with(chance, score) for cause, score in many.causes.items()}
    few = Worlds(plan.reference, plan.seed, FEW)
    weights = weigh(few, skill_tables(few))
    first = sorted(told, key=lambda cause: (-steady(told[cause]), cause))[: most + SPARE]
    doubts = []
    for done, cause in enumerate(first):
        run.tell((done + 1) / (len(first) + 2), f"weighing {cause}")
        doubts.append(_doubt(plan, cause, tuple(many.members.get(cause, ())), whole, weights))
    doubts.sort(key=lambda doubt: (-doubt.share, doubt.cause))
    hands = steady(min(float(by_hands.var()) / whole, 1.0))
    return Makeup(hands, tuple(d for d in doubts[:most] if d.width >= LEAST_WIDTH))


def _doubt(plan: Plan, cause: str, names: tuple[str, ...], whole: float, weights: Floats) -> Doubt:
    low, high = (steady(_at(plan, cause, end, weights)) for end in (-EDGE, EDGE))
    slope = (high - low) / (2 * EDGE)
    return Doubt(cause, names, steady(min(slope**2 / whole, 1.0)), low, high)


def _at(plan: Plan, cause: str, score: float, weights: Floats) -> float:
    """The chance with one cause known, all worlds else counting as they do."""
    worlds = Worlds(plan.reference, plan.seed, FEW, {cause: score})
    return float((plan.by_world(worlds) * weights).mean())


def _goes_with(chance: Floats, score: Floats) -> float:
    """Share of the variance that a straight line in the score takes."""
    if chance.std() < 1e-9 or score.std() < 1e-9:
        return 0.0
    return float(np.corrcoef(chance, score)[0, 1]) ** 2
