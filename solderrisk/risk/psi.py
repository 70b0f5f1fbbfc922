"""Samples of a person's hands, and the grid of psi on which all chances are tabulated.

Everything a job can suffer is a function of one psi, so tables over a fixed grid are made
once per job, technique and bench; a person enters by weights on the grid. The same random
numbers serve every person, bench and plan, so differences between them are no noise.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, ndtri

from solderrisk.model.risk_data import RiskData
from solderrisk.risk.human import psi_of
from solderrisk.risk.results import Range
from solderrisk.risk.skill import Belief

Floats = NDArray[np.float64]

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
    mean, one, other = row.tolist()
    # Far from the median the mean may lie outside its own quantiles: the range holds both.
    return Range(min(one, other, mean), mean, max(one, other, mean))


def sample_range(values: Floats) -> Range:
    """Mean and 5 % and 95 % quantiles of samples."""
    low, high = np.quantile(values, (LOW, HIGH))
    return Range(float(low), float(values.mean()), float(high))
