"""Samples of a person's hands, and the grid of psi on which all chances are tabulated.

Everything a job can suffer is a function of one psi, so tables over a fixed grid are made
once per job, technique and bench; a person enters by weights on the grid. The same random
numbers serve every person, bench and plan, so differences between them are no noise.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, ndtri

from solderrisk.model.base import steady
from solderrisk.model.risk_data import FaultMode, RiskData
from solderrisk.risk.detection import Mending, mending_by_skill
from solderrisk.risk.results import Range
from solderrisk.risk.skill import Belief
from solderrisk.risk.yields import hazard_of

Floats = NDArray[np.float64]


def slip_chance(task: float, conditions: Iterable[tuple[ArrayLike, ArrayLike]]) -> Floats:
    """Human error probability after HEART (Williams 1986): the task's own rate times
    (effect - 1) x proportion + 1 for every condition, at most 1."""
    chance = np.asarray(task, dtype=np.float64)
    for effect, proportion in conditions:
        chance = chance * ((np.asarray(effect) - 1) * np.asarray(proportion) + 1)
    return np.minimum(chance, 1.0)


def psi_of(fault_chance: ArrayLike, data: RiskData) -> Floats:
    """Skill factor of a fault chance per ordinary joint; 1 for the regular hand."""
    return hazard_of(fault_chance) / hazard_of(data.parameters["reference_fault_chance"])


def by_skill(psi: Floats, field: str, data: RiskData) -> Floats:
    """A level's value for hands of any psi: straight lines over log psi between the
    levels, flat beyond them."""
    levels = sorted(data.levels.levels, key=lambda prior: prior.faults_mean)
    at = np.log(psi_of([prior.faults_mean for prior in levels], data))
    values = [getattr(prior, field) for prior in levels]
    with np.errstate(divide="ignore"):
        return np.asarray(np.interp(np.log(psi), at, values))


GRID: Floats = np.concatenate([[0.0], np.logspace(-4, 3, 169)])
LOW, HIGH = 0.05, 0.95


@dataclass(frozen=True)
class Hand:
    """One skill of a person as samples. ``node`` and ``part`` place each sample on the
    grid; ``weights`` (grid x 3) turn a table into its mean and its values at the 5 % and
    95 % quantiles of psi."""

    psi: Floats
    node: NDArray[np.intp]
    part: Floats
    weights: Floats

    def at_samples(self, table: Floats) -> Floats:
        """Values of a table (... x grid) at every sample."""
        return np.asarray(
            table[..., self.node] * (1 - self.part) + table[..., self.node + 1] * self.part
        )

    def on_grid(self, values: Floats) -> Floats:
        """Sum values per sample onto the grid, so that ``table @ on_grid`` is their sum."""
        size = len(GRID)
        low = np.bincount(self.node, values * (1 - self.part), minlength=size)
        return np.asarray(low + np.bincount(self.node + 1, values * self.part, minlength=size))


@dataclass(frozen=True)
class Draws:
    """Shuffled strata: one order of the samples for the day, one per skill."""

    day: Floats
    orders: tuple[NDArray[np.intp], ...]


@lru_cache(maxsize=32)
def draws(skills: int, samples: int, seed: int) -> Draws:
    """Latin hypercube of ``samples`` strata, the same for the same arguments."""
    rng = np.random.Generator(np.random.PCG64(seed))
    orders = [rng.permutation(samples) for _ in range(skills + 1)]
    return Draws(np.asarray(ndtri(strata(samples)))[orders[0]], tuple(orders[1:]))


def strata(samples: int) -> Floats:
    return np.asarray((np.arange(samples) + 0.5) / samples)


def hand_of(belief: Belief, skill: int, samples: int, seed: int, data: RiskData) -> Hand:
    """Samples of psi for the ``skill``-th skill: the belief's quantiles times a factor of
    the day that all skills share (lognormal, mean 1)."""
    shuffled = draws(len(data.levels.skills), samples, seed)
    spread = data.parameters["day_spread"]
    quantiles = _quantiles(belief.a, belief.b, samples)
    psi = psi_of(quantiles, data)[shuffled.orders[skill]]
    psi = np.clip(psi * np.exp(spread * shuffled.day - spread**2 / 2), 0.0, GRID[-1])
    node, part = _place(psi)
    hand = Hand(psi, node, part, np.empty(0))
    mean = hand.on_grid(np.full(samples, 1 / samples))
    edges = [_single(float(np.quantile(psi, q))) for q in (LOW, HIGH)]
    return Hand(psi, node, part, np.stack([mean, *edges], axis=1))


@lru_cache(maxsize=256)
def _quantiles(a: float, b: float, samples: int) -> Floats:
    # Capped below 1, where the hazard has no end.
    return np.minimum(betaincinv(a, b, strata(samples)), 1 - 1e-9)


def _place(psi: Floats) -> tuple[NDArray[np.intp], Floats]:
    node = np.clip(np.searchsorted(GRID, psi, side="right") - 1, 0, len(GRID) - 2)
    return node, (psi - GRID[node]) / (GRID[node + 1] - GRID[node])


def _single(psi: float) -> Floats:
    node, part = _place(np.array([psi]))
    weights = np.zeros(len(GRID))
    weights[node], weights[node + 1] = 1 - part, part
    return weights


def as_range(row: Floats) -> Range:
    """A table's (mean, at low psi, at high psi) as a range."""
    mean, one, other = map(steady, row.tolist())
    # Far from the median the mean may lie outside its own quantiles: the range holds both.
    return Range(min(one, other, mean), mean, max(one, other, mean))


def sample_range(values: Floats) -> Range:
    """Mean and 5 % and 95 % quantiles of samples."""
    low, high = np.quantile(values, (LOW, HIGH))
    return Range(steady(low), steady(values.mean()), steady(high))


_LEAST_PSI = 1e-12


@dataclass(frozen=True)
class SkillTables:
    """Over the grid: spread of dwell times, share of inexperience, slowness, and mending of
    new and of lifted parts. ``outcomes`` keeps what became of modes looked for alike."""

    dwell_spread: Floats
    inexperience: Floats
    slowness: Floats
    mend_new: Mending
    mend_lifted: Mending
    modes: dict[str, FaultMode]
    outcomes: dict[object, tuple[Floats, Floats, Floats]] = field(default_factory=dict)


def skill_tables(risk: RiskData) -> SkillTables:
    means = [prior.faults_mean for prior in risk.levels.levels]
    within = np.clip(GRID, psi_of(min(means), risk), psi_of(max(means), risk))
    above = np.maximum(GRID, _LEAST_PSI)
    return SkillTables(
        by_skill(GRID, "dwell_spread", risk),
        by_skill(GRID, "inexperience", risk),
        np.asarray(within ** risk.parameters["slower_power"]),
        mending_by_skill(above, False, risk.parameters),
        mending_by_skill(above, True, risk.parameters),
        {mode.id: mode for mode in risk.faults.modes},
    )
