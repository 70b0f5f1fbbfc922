"""Tables with known hazards, for checking the roll-up against textbook results."""

from __future__ import annotations

import numpy as np

from solderrisk.model.technique import Suits, Technique
from solderrisk.risk.hands import GRID
from solderrisk.risk.heat.setup import Setup
from solderrisk.risk.outcomes import FaultTable

TECHNIQUE = Technique(
    id="known",
    title="known",
    short="known",
    purpose="fit",
    heat="iron",
    solder="wire",
    suits=Suits(kinds=("chip_end",)),
    needs=(),
    skill="iron_surface",
    set_up_minutes=1.0,
    joint_minutes=1.0,
    steps=("work",),
    look_for=("result",),
    source="assumed",
)


def burden_with(
    *, fault_hazard: float = 0.0, board_hazard: float = 0.0, part_hazard: float = 0.0
) -> FaultTable:
    """A burden whose hazards do not depend on psi."""
    flat, nothing = np.ones_like(GRID), np.zeros_like(GRID)
    p = 1 - np.exp(-fault_hazard)
    return FaultTable(
        setup=Setup(TECHNIQUE),
        hazards=(),
        log_first=-fault_hazard * flat,
        log_board=-board_hazard * flat,
        log_part=-part_hazard * flat,
        faults=p * flat,
        squares=p**2 * flat,
        minutes=2 * flat,
        redo_minutes=2 * flat,
        damage=nothing,
        modes=np.zeros((0, len(GRID))),
    )
