"""Chances and hazards, yields, counts of faults.

A hazard adds up over opportunities and keeps every chance between 0 and 1:
p = 1 - exp(-hazard).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, ndtri

Floats = NDArray[np.float64]

MILLION = 1e6
SIX_SIGMA_SHIFT = 1.5  # long-term drift that the six-sigma table takes off by convention
_LEAST = 1e-12


def hazard_of(chance: ArrayLike) -> Floats:
    """The hazard whose chance is ``chance``; infinite at 1."""
    with np.errstate(divide="ignore"):
        return np.asarray(-np.log1p(-np.asarray(chance, dtype=np.float64)))


def chance_of(hazard: ArrayLike) -> Floats:
    return np.asarray(-np.expm1(-np.asarray(hazard, dtype=np.float64)))


def first_time_yield(dpmo: Sequence[float], opportunities: Sequence[int]) -> float:
    """Share of boards without a fault: product of (1 - DPMO/1e6)^n (IPC-9261 style)."""
    hazards = hazard_of(np.asarray(dpmo) / MILLION)
    return float(np.exp(-(hazards * np.asarray(opportunities)).sum()))


def dpmo_of(faults: float, opportunities: float) -> float:
    """Faults per million opportunities."""
    return MILLION * faults / opportunities


def sigma_level(dpmo: float, shift: float = SIX_SIGMA_SHIFT) -> float:
    """Sigma level of a fault rate, one tail, with the customary shift."""
    return float(-ndtri(dpmo / MILLION)) + shift


def count_chances(chances: Iterable[float]) -> Floats:
    """Poisson-binomial: P(0), P(1), ... faults among independent opportunities."""
    table = np.array([1.0])
    for p in chances:
        grown = np.append(table * (1 - p), 0.0)
        grown[1:] += table * p
        table = grown
    return table


def count_at_most(count: ArrayLike, mean: ArrayLike, squares: ArrayLike) -> Floats:
    """P(count or fewer faults) of a Poisson-binomial, from the sum of its chances (``mean``)
    and of their squares: the binomial with the same mean and variance.

    Arguments broadcast. Kits have thousands of opportunities; the exact table
    (``count_chances``) would cost the square of that.
    """
    mu = np.maximum(np.asarray(mean, dtype=np.float64), _LEAST)
    p = np.clip(np.asarray(squares, dtype=np.float64) / mu, _LEAST, 1 - _LEAST)
    n = mu / p
    k = np.asarray(count, dtype=np.float64)
    inside = k < n
    room = np.where(inside, n - k, 1.0)
    return np.asarray(np.where(inside, betainc(room, k + 1.0, 1 - p), 1.0))
