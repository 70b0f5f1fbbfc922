"""What is believed of a person's hands, and the arithmetic of yields."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc

from solderrisk.model.base import Parameters
from solderrisk.model.bench import Level
from solderrisk.model.risk_data import LevelData, LevelPrior, RiskData
from solderrisk.words import LEVEL_WORDS

Floats = NDArray[np.float64]

MILLION = 1e6
_LEAST = 1e-12


def hazard_of(chance: ArrayLike) -> Floats:
    """The hazard whose chance is ``chance``; infinite at 1."""
    with np.errstate(divide="ignore"):
        return np.asarray(-np.log1p(-np.asarray(chance, dtype=np.float64)))


def chance_of(hazard: ArrayLike) -> Floats:
    return np.asarray(-np.expm1(-np.asarray(hazard, dtype=np.float64)))


def dpmo_of(faults: float, opportunities: float) -> float:
    """Faults per million opportunities."""
    return MILLION * faults / opportunities


def count_at_most(count: ArrayLike, mean: ArrayLike, squares: ArrayLike) -> Floats:
    """P(count or fewer faults) of a Poisson-binomial, from the sum of its chances (``mean``)
    and of their squares: the binomial with the same mean and variance.

    Arguments broadcast. Kits have thousands of opportunities; the exact table
    would cost the square of that.
    """
    mu = np.maximum(np.asarray(mean, dtype=np.float64), _LEAST)
    p = np.clip(np.asarray(squares, dtype=np.float64) / mu, _LEAST, 1 - _LEAST)
    n = mu / p
    k = np.asarray(count, dtype=np.float64)
    inside = k < n
    room = np.where(inside, n - k, 1.0)
    return np.asarray(np.where(inside, betainc(room, k + 1.0, 1 - p), 1.0))


@dataclass(frozen=True)
class Reading:
    """A record in ordinary joints: ``joints`` at which as many faults are expected as at its
    own work, and the ``faults`` of the hand seen there. ``age_days``: None where undated."""

    joints: float
    faults: float
    age_days: float | None = None


@dataclass(frozen=True)
class Belief:
    """Beta(``a``, ``b``) of faults per ordinary joint. ``note`` says what it rests on."""

    a: float
    b: float
    note: str = ""

    @property
    def mean(self) -> float:
        return self.a / (self.a + self.b)

    def scaled(self, factor: float, note: str = "") -> Belief:
        """The belief with another mean; how little is known (``a``) stays."""
        if factor == 1.0:
            return replace(self, note=note or self.note)
        mean = self.mean * factor
        return Belief(self.a, self.a * (1 - mean) / mean, note or self.note)


def prior_of(level: LevelPrior, guided: float = 1.0) -> Belief:
    """What is believed of somebody at a level. ``guided``: what somebody beside leaves of the
    faults of the wholly inexperienced; less so of others."""
    belief = Belief(level.faults_a, level.faults_b, f"{LEVEL_WORDS[level.level]}, no record")
    return belief.scaled(guided**level.inexperience)


def updated(prior: Belief, readings: Sequence[Reading], data: RiskData, note: str = "") -> Belief:
    """The belief after records in their order, conjugate to the Beta: faults add to ``a``, good
    joints to ``b``. A dated record counts half after ``half_life_days``, an undated one less
    with each joint recorded after it, and so does the description itself: its middle stays, but
    it comes to say less than the record, whatever it said."""
    if not readings:
        return prior
    forgetting, half_life = data.parameters["forgetting"], data.parameters["half_life_days"]
    bad, good = 0.0, 0.0
    later = sum(reading.joints for reading in readings)
    kept = max(forgetting**later, data.parameters["description_least"] / prior.a)
    for reading in readings:
        later -= reading.joints
        if reading.age_days is None:
            weight = _kept_joints(reading.joints, forgetting) / reading.joints * forgetting**later
        else:
            weight = 0.5 ** (reading.age_days / half_life)
        bad += weight * reading.faults
        good += weight * max(reading.joints - reading.faults, 0.0)
    kept = min(kept, 1.0)
    return Belief(prior.a * kept + bad, prior.b * kept + good, note or prior.note)


def _kept_joints(joints: float, forgetting: float) -> float:
    """Weight of joints made one after the other, the last one counting 1."""
    return (1 - forgetting**joints) / -math.log(forgetting) if forgetting < 1 else joints


def practised(belief: Belief, done: float, more: float, levels: LevelData) -> Belief:
    """What to expect after ``more`` joints of practice: the middle falls along the curve on
    which the levels lie, the doubt (``a``) stays. For planning only; a claim needs a record."""
    if more <= 0:
        return belief
    factor = faults_after(done + more, levels) / faults_after(done, levels)
    return belief.scaled(factor, f"{belief.note}; {more:.0f} joints of practice planned")


def faults_after(joints: float, levels: LevelData) -> float:
    """Faults per ordinary joint of somebody who has made so many: straight lines in the
    logarithms through the levels, flat beyond the last."""
    done = np.log([prior.joints_done for prior in levels.levels])
    faults = np.log([prior.faults_mean for prior in levels.levels])
    return float(np.exp(np.interp(math.log(max(joints, 1.0)), done, faults)))


def beliefs_at(level: Level, data: RiskData) -> dict[str, Belief]:
    """The belief for every skill of somebody at a level, without any record."""
    belief = prior_of(data.levels.prior(level))
    return {skill.id: belief for skill in data.levels.skills}


@dataclass(frozen=True)
class Skilled:
    """The level that a job asks for, and what was asked of it; no level where blocked."""

    level: Level | None = None
    why: str = ""


NOBODY = Skilled()


def skill_needed(chances: Mapping[Level, float], data: Parameters) -> Skilled:
    """The lowest level at which a job works in the end often enough.

    ``chances``: of the best technique on the bench, by level from least to most done; all 0
    where the job is blocked. Enough is ``placement_chance``, or less where the job has risks
    that no skill removes (a lifted part that was dead, corrosion): then within
    ``skill_slack`` of what the highest level reaches.
    """
    wanted, slack = data["placement_chance"], data["skill_slack"]
    top, best = list(chances.items())[-1]
    if best <= 0.0:
        return NOBODY
    enough = min(wanted, best - slack)
    level = next(level for level, chance in chances.items() if chance >= enough)
    if enough == wanted:
        return Skilled(level, f"{100 * wanted:.3g} % asked")
    return Skilled(
        level, f"within {100 * slack:g} % of the {100 * best:.1f} % that {top} hands reach"
    )
