"""What is believed of a person's hands, samples of them, the grid of psi on which all chances
are tabulated, and the arithmetic of yields."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, betaincinv, ndtri

from solderrisk.model.base import Parameters, steady
from solderrisk.model.bench import Level
from solderrisk.model.risk_data import LevelData, LevelPrior, RiskData
from solderrisk.risk.detection import Mending, mending_by_skill
from solderrisk.risk.reads import KeptByReads
from solderrisk.risk.results import Asked, Range
from solderrisk.risk.worlds import GRID as GRID
from solderrisk.risk.worlds import STATED, Worlds
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
    asked: Asked | None = None


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
        return Skilled(level, Asked(wanted))
    return Skilled(level, Asked(best, slack, top))


Places = NDArray[np.intp]

LOW, HIGH = 0.05, 0.95
SHOWN = 256  # samples behind the ranges of a single job


def slip_chance(task: ArrayLike, conditions: Iterable[tuple[ArrayLike, ArrayLike]]) -> Floats:
    """Human error probability after HEART (Williams 1986): the task's own rate times
    (effect - 1) x proportion + 1 for every condition, at most 1."""
    chance = np.asarray(task, dtype=np.float64)
    for effect, proportion in conditions:
        chance = chance * ((np.asarray(effect) - 1) * np.asarray(proportion) + 1)
    return np.minimum(chance, 1.0)


def psi_of(fault_chance: ArrayLike, data: RiskData) -> Floats:
    """Skill factor of a fault chance per ordinary joint; 1 for the regular hand."""
    return hazard_of(fault_chance) / hazard_of(data.parameters["reference_fault_chance"])


def by_skill(psi: Floats, figure: str, data: RiskData) -> Floats:
    """A level's value for hands of any psi: straight lines over log psi between the
    levels, flat beyond them."""
    levels = sorted(data.levels.levels, key=lambda prior: prior.faults_mean)
    at = np.log(psi_of([prior.faults_mean for prior in levels], data))
    values = [getattr(prior, figure) for prior in levels]
    with np.errstate(divide="ignore"):
        return np.asarray(np.interp(np.log(psi), at, values))


@dataclass(frozen=True, eq=False)
class Hand:
    """One skill of a person as samples. ``place`` and ``part`` put each sample into a
    flattened table (worlds + 1) x grid; ``weights``, of that shape, turn a table into its
    mean."""

    psi: Floats
    place: Places
    part: Floats
    weights: Floats

    @property
    def samples(self) -> int:
        return len(self.psi)

    @property
    def world(self) -> Places:
        """The world of each sample, the same for all skills of one person."""
        return self.place // len(GRID)

    def at_samples(self, table: Floats, most: int | None = None) -> Floats:
        """Values of a table (... x worlds + 1 x grid) at every sample, or the first ``most``."""
        place, part = self.place[:most], self.part[:most]
        flat = table.reshape(*table.shape[:-2], -1)
        return np.asarray(
            flat.take(place, axis=-1) * (1 - part) + flat.take(place + 1, axis=-1) * part
        )

    def mean(self, table: Floats) -> Floats:
        """Mean of a table (... x worlds + 1 x grid) over all that is not known."""
        flat = table.reshape(*table.shape[:-2], -1)
        return np.asarray(flat @ self.weights.ravel())

    def on_tables(self, values: Floats) -> Floats:
        """Sum values per sample onto a table: its product with another one is the sum of that
        one's values at the samples, each times its own."""
        low = np.bincount(self.place, values * (1 - self.part), minlength=self.weights.size)
        both = low + np.bincount(self.place + 1, values * self.part, minlength=self.weights.size)
        return np.asarray(both).reshape(self.weights.shape)

    def in_stated_world(self) -> Hand:
        """The same hands where every number has its stated value."""
        return Hand(self.psi, self.place % len(GRID) + STATED * len(GRID), self.part, self.weights)

    def everywhere(self, worlds: Worlds) -> Hand:
        """The hand in the middle of its samples, in every world as often as that counts."""
        psi = np.full(worlds.count, self.middle)
        node, part = _between(psi, worlds.grid)
        place = worlds.drawn(strata(worlds.count)) * len(worlds.grid) + node
        return Hand(psi, place, part, self.weights)

    @property
    def middle(self) -> float:
        return float(np.median(self.psi))

    @property
    def nodes(self) -> Floats:
        """The two nodes between which the middle lies."""
        node = _between(np.array([self.middle]))[0][0]
        return GRID[node : node + 2]


@dataclass(frozen=True)
class Draws:
    """Shuffled strata: the day, the world, and for each skill the rank of each sample."""

    day: Floats
    world: Floats
    ranks: tuple[Places, ...]


@lru_cache(maxsize=32)
def draws(skills: int, samples: int, seed: int, together: float) -> Draws:
    """Latin hypercube of ``samples`` strata, the same for the same arguments. Ranks of two
    skills correlate by ``together``."""
    rng = np.random.Generator(np.random.PCG64(seed))
    normal = np.asarray(ndtri(strata(samples)))
    day, common, *own = (normal[rng.permutation(samples)] for _ in range(skills + 2))
    ranks = [
        np.argsort(np.argsort(np.sqrt(together) * common + np.sqrt(1 - together) * each))
        for each in own
    ]
    return Draws(day, rng.permutation(strata(samples)), tuple(ranks))


def strata(samples: int) -> Floats:
    return np.asarray((np.arange(samples) + 0.5) / samples)


def hand_of(belief: Belief, skill: int, samples: int, worlds: Worlds) -> Hand:
    """Samples of psi for the ``skill``-th skill: the belief's quantiles times a factor of
    the day that all skills share (lognormal, mean 1)."""
    data = worlds.reference.risk
    together = data.parameters["skills_together"]
    drawn = draws(len(data.levels.skills), samples, worlds.seed, together)
    world = worlds.drawn(drawn.world)
    spread = worlds["day_spread"]
    own = spread[world, 0] if len(spread) > 1 else spread[0, 0]
    psi = psi_of(_quantiles(belief.a, belief.b, samples), data)[drawn.ranks[skill]]
    psi = np.clip(psi * np.exp(own * drawn.day - own**2 / 2), GRID[0], GRID[-1])
    node, part = _between(psi)
    place = world * len(GRID) + node
    unweighted = Hand(psi, place, part, np.empty((worlds.count + 1, len(GRID))))
    return replace(unweighted, weights=unweighted.on_tables(np.full(samples, 1 / samples)))


@lru_cache(maxsize=256)
def _quantiles(a: float, b: float, samples: int) -> Floats:
    # Capped below 1, where the hazard has no end.
    return np.minimum(betaincinv(a, b, strata(samples)), 1 - 1e-9)


def _between(psi: Floats, grid: Floats = GRID) -> tuple[Places, Floats]:
    node = np.clip(np.searchsorted(grid, psi, side="right") - 1, 0, len(grid) - 2)
    return node, (psi - grid[node]) / (grid[node + 1] - grid[node])


def sample_range(values: Floats) -> Range:
    """Mean, 5 % and 95 % quantiles; the range holds its own mean."""
    low, high = np.quantile(values, (LOW, HIGH))
    return _range(values.mean(), low, high)


def row_ranges(means: Floats, values: Floats) -> list[Range]:
    """A range per row, of its mean and of its values at samples."""
    ordered = np.sort(values, axis=-1)
    ends = (_quantile(ordered, level).tolist() for level in (LOW, HIGH))
    return [_range(*row) for row in zip(means.tolist(), *ends, strict=True)]


def _quantile(ordered: Floats, level: float) -> Floats:
    """Of rows in rising order; as ``numpy.quantile``, which is slow for short rows."""
    at = level * (ordered.shape[-1] - 1)
    node = int(at)
    low, high = ordered[..., node], ordered[..., node + 1]
    return np.asarray(low + (at - node) * (high - low))


def _range(mean: float, low: float, high: float) -> Range:
    """Far from the median a mean may lie outside its own quantiles: the range holds it."""
    told, one, other = steady(mean), steady(low), steady(high)
    return Range(min(one, told), told, max(other, told))


@dataclass(frozen=True)
class SkillTables:
    """Over worlds and the grid: spread of dwell times, share of inexperience, slowness, and
    mending of new and of lifted parts. ``fates`` keeps what becomes of modes, by trap and ids."""

    dwell_spread: Floats
    inexperience: Floats
    slowness: Floats
    mend_new: Mending
    mend_lifted: Mending
    fates: dict[tuple[str | None, ...], KeptByReads[object]] = field(default_factory=dict)
    _slowed: dict[float, Floats] = field(default_factory=dict)

    @cached_property
    def nothing(self) -> Floats:
        return np.zeros_like(self.dwell_spread)

    def slowed(self, minutes: float) -> Floats:
        """How long these hands take for what takes so many minutes: one table for all that
        ask, which nobody may change."""
        if minutes not in self._slowed:
            self._slowed[minutes] = minutes * self.slowness
        return self._slowed[minutes]


def skill_tables(worlds: Worlds) -> SkillTables:
    risk = worlds.reference.risk
    means = [prior.faults_mean for prior in risk.levels.levels]
    within = np.clip(worlds.grid, psi_of(min(means), risk), psi_of(max(means), risk))
    return SkillTables(
        worlds.by_level("dwell_spread", by_skill(worlds.grid, "dwell_spread", risk)),
        worlds.by_level("inexperience", by_skill(worlds.grid, "inexperience", risk)),
        np.asarray(within ** worlds["slower_power"]),
        mending_by_skill(worlds.grid, False, worlds),
        mending_by_skill(worlds.grid, True, worlds),
    )
