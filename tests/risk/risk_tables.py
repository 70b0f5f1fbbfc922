"""Tables with known hazards, for checking the roll-up against textbook results."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.question import Reference
from solderrisk.model.technique import Suits, Technique
from solderrisk.risk.detection import Mending
from solderrisk.risk.heat.bench import Setup
from solderrisk.risk.outcomes import Fates, FaultTable, Hurt
from solderrisk.risk.skill import GRID, Belief, Hand, hand_of
from solderrisk.risk.worlds import Worlds
from tests.risk.risk_scene import REFERENCE

COUNT = 10
SHAPE = (COUNT + 1, len(GRID))
TECHNIQUE = Technique(
    id="known",
    title="known",
    short="known",
    purpose="fit",
    heat="iron",
    suits=Suits(kinds=("chip_end",)),
    needs=(),
    skill="iron_surface",
    solder="none",
    set_up_minutes=1.0,
    joint_minutes=1.0,
    steps=("work",),
    look_for=("result",),
    source="assumed",
)


def fixed(reference: Reference, **values: float) -> Reference:
    """The reference data with every number of the risk known exactly."""
    table = reference.risk.parameters
    known = table.replaced({name: table[name] for name in table.parameters} | values)
    return replace(reference, risk=replace(reference.risk, parameters=known))


@lru_cache(maxsize=4)
def worlds(seed: int = 20) -> Worlds:
    return Worlds(fixed(REFERENCE), seed, COUNT)


def hand(belief: Belief, samples: int, skill: int = 0) -> Hand:
    return hand_of(belief, skill, samples, worlds())


def table_with(
    *, fault_hazard: float = 0.0, board_hazard: float = 0.0, part_hazard: float = 0.0
) -> FaultTable:
    """A table whose hazards depend on nothing."""
    p = 1 - np.exp(-fault_hazard)
    found = FaultTable(
        setup=Setup(TECHNIQUE),
        hurt=Hurt((), np.ones(1), np.full((1, *SHAPE), p)),
        fates=Fates(*[np.zeros((1, COUNT + 1, 1))] * 7),
        mend=Mending(*[np.zeros(SHAPE)] * 3),
        board=np.full(SHAPE, board_hazard),
        part=np.full(SHAPE, part_hazard),
        minutes=np.full(SHAPE, 2.0),
        redo_minutes=np.full(SHAPE, 2.0),
        damage=np.zeros(SHAPE),
    )
    return told(found, np.full(SHAPE, fault_hazard))


def told(table: FaultTable, first: NDArray[np.float64]) -> FaultTable:
    """The table with this hazard of any fault."""
    found = replace(table)
    vars(found)["first"] = first
    return found
