"""What the hazards of a set-up depend on: the work, the set-up, and what eyes, hands and
the rest of the bench make of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.bench import Bench
from solderrisk.model.footprint import PadGroup
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import FaultMode
from solderrisk.physics.handwork import end_sigma_mm
from solderrisk.physics.results import Sight
from solderrisk.risk.detection import Looks, either
from solderrisk.risk.heat.bench import Setup
from solderrisk.risk.skill import SkillTables
from solderrisk.risk.work import BEFORE_POWER, Work
from solderrisk.risk.worlds import Worlds

Floats = NDArray[np.float64]
HandName = Literal["steady", "braced", "novice", "unbraced"]
Flux = Literal["no_clean", "washed", "unwashed", "rosin"]
View = Literal["open", "hidden", "balls"]

HIDDEN = ("no_lead",)
RESIDUE_WORDS: dict[Flux, str] = {
    "no_clean": "no-clean flux",
    "washed": "washed",
    "unwashed": "active flux, nothing to wash it off",
    "rosin": "rosin, not washed",
}


@dataclass(frozen=True)
class Eyes:
    """What of a person the tables depend on. ``guided``: somebody who knows is beside."""

    hand: HandName
    acuity_arcmin: float
    near_point_mm: float
    guided: bool = False


@dataclass(frozen=True)
class Means:
    """What this bench and this person's eyes and hand give for a piece of work. ``view``: how
    much an eye sees of its joints."""

    sight: Sight
    hand: HandName
    view: View
    board_holder: bool
    taped: bool
    stencil: bool
    second_person: bool
    multimeter: bool
    guided: bool
    flux: Flux
    rescues: tuple[tuple[str, float], ...] = ()  # share of found faults that can be dealt with

    def rescued(self, mode: str) -> float | None:
        """Share of such faults that can be dealt with once found; None where nothing is known
        about them."""
        return self._by_mode.get(mode)

    @cached_property
    def _by_mode(self) -> dict[str, float]:
        return dict(self.rescues)


@dataclass(frozen=True)
class Conditions:
    """A set-up for a piece of work, seen with some means, in all worlds."""

    setup: Setup
    work: Work
    means: Means
    data: Worlds
    tables: SkillTables

    @property
    def reference(self) -> Reference:
        return self.data.reference

    @property
    def modes(self) -> dict[str, FaultMode]:
        return self.reference.risk.fault_modes

    @property
    def detail_mm(self) -> float:
        return self.means.sight.detail_mm

    @cached_property
    def strain(self) -> Floats:
        """How much too little magnification multiplies faults, 1 with enough of it."""
        sight = self.means.sight
        enough = self.data["near_enough_x"] / self.data["comfort_factor"]
        return np.maximum(1.0, sight.needed_x * enough / sight.have_x)

    @property
    def short_sighted(self) -> str:
        sight = self.means.sight
        data = self.reference.risk.parameters
        enough = data["near_enough_x"] / self.reference.physics.handwork["comfort_factor"]
        if sight.needed_x * enough <= sight.have_x:
            return ""
        return f", {sight.needed_x:.0f}x wanted, {sight.have_x:.1f}x at hand"

    @cached_property
    def eye(self) -> Floats:
        """Share of a good look that is left."""
        sight = self.means.sight
        power = min(1.0, sight.have_x / sight.needed_x) ** self.data["look_power"]
        match self.means.view:
            case "balls":
                return power * self.data["ball_seen"]
            case "hidden":
                return power * self.data["hidden_seen"]
            case _:
                return power

    @cached_property
    def sigma_mm(self) -> Floats:
        """Spread with which an end of a part is set."""
        power_x, physics = self.means.sight.have_x, self.reference.physics
        return end_sigma_mm(self.data[f"hand_{self.means.hand}_mm"], power_x, physics)

    @property
    def residue(self) -> Floats:
        flux = self.means.flux
        return np.ones((1, 1)) if flux == "rosin" else self.data[f"residue_{flux}"]

    @cached_property
    def looks(self) -> Looks:
        """How faults of this work are looked for on this bench."""
        means, work = self.means, self.work
        # Under a ball grid nobody sees a joint and no probe reaches one.
        reached = means.view != "balls"
        helped = means.second_person or means.guided
        return Looks(
            eye=self.eye,
            second_person=reached and (work.second_person or helped),
            continuity=reached and work.continuity and means.multimeter,
            before_power=self._gates(before_power=True),
            gates=self._gates(before_power=False),
            hunt=self._hunt,
        )

    def _gates(self, before_power: bool) -> Floats:
        return either(
            *(
                self.data[f"gate_{gate.kind}"] if gate.finds is None else gate.finds
                for gate in self.work.gates
                if not before_power or gate.kind in BEFORE_POWER
            )
        )

    @cached_property
    def _hunt(self) -> Floats:
        """Share of faults found once the finished board does not work: the more joints, the
        less, and the less the eye sees."""
        data, means = self.data, self.means
        missed = 1 - data["hunt_meter" if means.multimeter else "hunt_bare"]
        if means.guided:
            missed = missed * (1 - data["hunt_guided"])
        crowd = np.maximum(self.work.suspects / data["hunt_joints"], 1.0) ** data["hunt_power"]
        return np.maximum(0.0, 1 - missed * crowd) / self.strain


@dataclass(frozen=True)
class Hazard:
    """One mode: ``count`` opportunities, hazard of each over worlds and the grid, and why."""

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


def _view(group: PadGroup) -> View:
    if group.kind == "ball":
        return "balls"
    return "hidden" if group.kind in HIDDEN else "open"


def means_of(work: Work, bench: Bench, sight: Sight, eyes: Eyes) -> Means:
    """What this bench and this person's eyes and hand give for a piece of work."""
    views = {_view(group) for group in work.footprint.pads}
    worst: View = "balls" if "balls" in views else "hidden" if "hidden" in views else "open"
    return Means(
        sight=sight,
        hand=eyes.hand,
        view=worst,
        board_holder=bench.has("board_holder"),
        taped=bench.has("polyimide_tape"),
        stencil=bench.has("stencil"),
        second_person=bench.has("second_person"),
        multimeter=bench.has("multimeter"),
        guided=eyes.guided,
        flux=_flux(bench),
    )


def _flux(bench: Bench) -> Flux:
    kinds = {flux.kind for flux in bench.fluxes}
    if "no_clean" in kinds:
        return "no_clean"
    if bench.has("cleaning_solvent"):
        return "washed"
    return "unwashed" if kinds & {"water_soluble", "acid"} else "rosin"
