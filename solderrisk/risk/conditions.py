"""What the hazards of a set-up depend on: the work, the set-up, and what eyes, hands and
the rest of the bench make of it, as a handful of numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.bench import Bench
from solderrisk.model.footprint import PadGroup
from solderrisk.model.parameters import Parameters
from solderrisk.model.reference import Reference
from solderrisk.model.risk_data import FaultMode
from solderrisk.physics.results import Sight
from solderrisk.physics.sight import end_sigma_mm
from solderrisk.risk.hands import GRID, SkillTables
from solderrisk.risk.heat.setup import Setup
from solderrisk.risk.work import Work

Floats = NDArray[np.float64]
HandName = Literal["steady", "braced", "novice", "unbraced"]

ANY_HAND: Floats = np.ones_like(GRID)
SIGMA_DIGITS = 3  # a hand's spread is told apart to a micrometre
HIDDEN = ("no_lead",)


@dataclass(frozen=True)
class Eyes:
    """What of a person the tables depend on."""

    hand: HandName
    acuity_arcmin: float
    near_point_mm: float


@dataclass(frozen=True)
class Means:
    """``strain``: how much too little magnification multiplies faults, 1 with enough of it;
    ``eye``: share of a good look that is left; ``sigma_mm``: spread with which an end of a
    part is set; ``hunt``: share of faults found by hunting on a small board."""

    strain: float
    eye: float
    sigma_mm: float
    short_sighted: str
    board_holder: bool
    taped: bool
    stencil: bool
    second_person: bool
    multimeter: bool
    residue: float
    residue_why: str
    hunt: float


@dataclass(frozen=True)
class Conditions:
    """A set-up for a piece of work, seen with some means."""

    setup: Setup
    work: Work
    means: Means
    detail_mm: float
    reference: Reference
    tables: SkillTables

    @property
    def data(self) -> Parameters:
        return self.reference.risk.parameters


@dataclass(frozen=True)
class Hazard:
    """One mode: ``count`` opportunities, hazard of each over the grid, and why."""

    mode: FaultMode
    count: int
    each: Floats
    why: str


@dataclass(frozen=True)
class Raw:
    """A mode's hazard before the technique's factor: opportunities of one pad group."""

    mode: str
    count: int
    each: Floats
    why: str


def _seen(group: PadGroup, data: Parameters) -> float:
    """Share of the usual that an eye sees of these joints."""
    if group.kind == "ball":
        return data["ball_seen"]
    return data["hidden_seen"] if group.kind in HIDDEN else 1.0


def means_of(work: Work, bench: Bench, sight: Sight, hand: HandName, reference: Reference) -> Means:
    """What this bench and this person's eyes and hand give for a piece of work."""
    data, physics = reference.risk.parameters, reference.physics
    enough = data["near_enough_x"] / physics.handwork["comfort_factor"]
    strain = max(1.0, sight.needed_x * enough / sight.have_x)
    power = min(1.0, sight.have_x / sight.needed_x) ** data["look_power"]
    seen = min((_seen(group, data) for group in work.footprint.pads), default=1.0)
    residue, why = _residue(bench, data)
    wanted = f", {sight.needed_x:.0f}x wanted, {sight.have_x:.1f}x at hand"
    return Means(
        strain=strain,
        eye=power * seen,
        sigma_mm=round(end_sigma_mm(hand, sight.have_x, physics), SIGMA_DIGITS),
        short_sighted=wanted if strain > 1.0 else "",
        board_holder=bench.has("board_holder"),
        taped=bench.has("polyimide_tape"),
        stencil=bench.has("stencil"),
        second_person=bench.has("second_person"),
        multimeter=bench.has("multimeter"),
        residue=residue,
        residue_why=why,
        hunt=data["hunt_meter" if bench.has("multimeter") else "hunt_bare"],
    )


def _residue(bench: Bench, data: Parameters) -> tuple[float, str]:
    kinds = {flux.kind for flux in bench.fluxes}
    if "no_clean" in kinds:
        return data["residue_no_clean"], "no-clean flux"
    if bench.has("cleaning_solvent"):
        return data["residue_washed"], "washed"
    if kinds & {"water_soluble", "acid"}:
        return data["residue_unwashed"], "active flux, nothing to wash it off"
    return 1.0, "rosin, not washed"
