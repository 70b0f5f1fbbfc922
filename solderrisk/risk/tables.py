"""What depends on psi alone, tabulated over the grid once per set of reference data."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.risk_data import FaultMode, RiskData
from solderrisk.risk.detection import Mending, mending_by_skill
from solderrisk.risk.human import by_skill, psi_of
from solderrisk.risk.psi import GRID

Floats = NDArray[np.float64]

_LEAST_PSI = 1e-12


@dataclass(frozen=True)
class Tables:
    """Over the grid: spread of dwell times, share of inexperience, slowness, and mending of
    new and of lifted parts. ``outcomes`` keeps what became of modes looked for alike."""

    dwell_spread: Floats
    inexperience: Floats
    slowness: Floats
    mend_new: Mending
    mend_lifted: Mending
    modes: dict[str, FaultMode]
    outcomes: dict[object, tuple[Floats, Floats, Floats]] = field(default_factory=dict)


def tables_of(risk: RiskData) -> Tables:
    means = [prior.faults_mean for prior in risk.levels.levels]
    within = np.clip(GRID, psi_of(min(means), risk), psi_of(max(means), risk))
    above = np.maximum(GRID, _LEAST_PSI)
    return Tables(
        by_skill(GRID, "dwell_spread", risk),
        by_skill(GRID, "inexperience", risk),
        np.asarray(within ** risk.parameters["slower_power"]),
        mending_by_skill(above, False, risk.parameters),
        mending_by_skill(above, True, risk.parameters),
        {mode.id: mode for mode in risk.faults.modes},
    )
