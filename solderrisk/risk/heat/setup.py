"""A technique set up on a bench, with the heat that it was chosen for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from solderrisk.model.base import Key
from solderrisk.model.technique import Technique
from solderrisk.physics.results import (
    AirCase,
    AirHeat,
    IronCase,
    IronHeat,
    LowMeltLift,
    PlateAnswer,
    PlateCase,
    PlateHeat,
)
from solderrisk.risk.heat.choice import AirAnswer, AirQuestion, IronAnswer, IronQuestion
from solderrisk.risk.results import JointHeat, Settings

HIDDEN = ("exposed", "ball")  # joints under the body, out of an iron's reach
NO_SETTINGS = Settings()

Question = IronQuestion | AirQuestion | PlateCase
Answer = IronAnswer | AirAnswer | PlateAnswer


@dataclass(frozen=True)
class Setup:
    """A technique set up for a piece of work on a bench. ``case`` is what the kept heat
    was computed from: the hardest joint's. ``joints``: in the order of the pad
    groups, where each has a tip. ``missing`` empty: feasible."""

    technique: Technique
    missing: tuple[str, ...] = ()
    why: str = ""
    settings: Settings = NO_SETTINGS
    case: IronCase | AirCase | None = None
    iron_heat: IronHeat | None = None
    air_heat: AirHeat | None = None
    plate_heat: PlateHeat | None = None
    low_melt: LowMeltLift | None = None
    decided: bool = True
    joints: tuple[JointHeat, ...] = ()

    @cached_property
    def heat_key(self) -> Key:
        """What faults depend on, not how it came about: another tip may change nothing."""
        joints = tuple((j.group, j.heat, j.case.tip.width_mm, j.alone) for j in self.joints)
        return Key((self.technique.id, joints, self.air_heat, self.plate_heat, self.low_melt))

    @property
    def feasible(self) -> bool:
        return not self.missing
