"""A technique set up on a bench, with the heat that it was chosen for."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.technique import Technique
from solderrisk.physics.results import AirCase, AirHeat, IronCase, IronHeat, LowMeltLift
from solderrisk.risk.heat.choice import AirAnswer, AirQuestion, IronAnswer, IronQuestion
from solderrisk.risk.results import JointHeat, Settings

HIDDEN = ("exposed", "ball")  # joints under the body, out of an iron's reach
NO_SETTINGS = Settings()

Question = IronQuestion | AirQuestion
Answer = IronAnswer | AirAnswer


@dataclass(frozen=True)
class Setup:
    """A technique set up for a piece of work on a bench. ``windows`` and ``over_s`` go with
    the footprint's pad groups; None where no tip touches them. ``case`` is what the kept heat
    was computed from: the hardest joint's. ``joints``: in the order of the pad
    groups, where each has a tip. ``missing`` empty: feasible."""

    technique: Technique
    missing: tuple[str, ...] = ()
    why: str = ""
    settings: Settings = NO_SETTINGS
    windows: tuple[float | None, ...] = ()
    over_s: float = 0.0
    case: IronCase | AirCase | None = None
    iron_heat: IronHeat | None = None
    air_heat: AirHeat | None = None
    low_melt: LowMeltLift | None = None
    decided: bool = True
    joints: tuple[JointHeat, ...] = ()

    @property
    def feasible(self) -> bool:
        return not self.missing
