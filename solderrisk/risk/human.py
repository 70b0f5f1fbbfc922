"""Slips of people: published task rates and what multiplies them.

The hand itself is psi, the hazard of a person's skill over that of the regular hand.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solderrisk.model.risk_data import RiskData
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
