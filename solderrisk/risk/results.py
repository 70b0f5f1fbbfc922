"""What the risk layer answers: ranges, options per job, the kit's roll-up."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from solderrisk.model.bench import Flux, Level, Solder
from solderrisk.model.jobs import Job
from solderrisk.model.technique import Heat
from solderrisk.physics.results import (
    AirCase,
    AirHeat,
    IronCase,
    IronHeat,
    LowMeltLift,
    PlateHeat,
    Sight,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Range:
    """A mean with the 5 % and 95 % quantiles of its uncertainty."""

    low: float
    mid: float
    high: float

    def __format__(self, spec: str) -> str:
        spec = spec or ".2f"
        return f"{self.mid:{spec}} ({self.low:{spec}}..{self.high:{spec}})"


Line = tuple[str, str]  # a label and its value
Lines = tuple[Line, ...]
Warms = Literal["joint", "around", "board"]


@dataclass(frozen=True)
class Settings:
    """How a technique is set up on this bench; None where it does not apply. Tool, tip and
    heat are those of the hardest joints; ``Option.joints`` has them for each group."""

    iron: str | None = None
    tip_width_mm: float | None = None
    tip_shape: str | None = None
    tip_c: float | None = None
    air: str | None = None
    nozzle_mm: float | None = None
    air_c: float | None = None
    flow_l_min: float | None = None
    plate: str | None = None
    desolderer: str | None = None
    bore_mm: float | None = None
    preheat_c: float | None = None
    solders: tuple[Solder, ...] = ()  # put on, the thinnest wire first
    alloy: str | None = None  # what has to melt: the board's, or a hotter one put on
    removal_alloy: str | None = None
    flux: Flux | None = None
    magnifier: str | None = None
    power_x: float = 1.0
    depth: bool = True  # seen with both eyes


@dataclass(frozen=True)
class JointHeat:
    """A tip on one group of a part's joints. ``alone``: it is meant to touch one land at a
    time. ``solder``: what is put on there."""

    group: str
    joints: int
    case: IronCase
    heat: IronHeat
    alone: bool = False
    solder: Solder | None = None

    @property
    def effort(self) -> tuple[float, float, float]:
        """What the joints ask for, the hardest most: tip temperature, its width, time."""
        dwell_s = math.inf if self.heat.dwell_s is None else self.heat.dwell_s
        return self.case.tip_c, self.case.tip.width_mm, dwell_s

    @property
    def spare_k(self) -> float:
        """What is left of the margin when the heat model's doubt is taken off, K."""
        return self.heat.margin_k - self.heat.band_k


@dataclass(frozen=True)
class ModeChance:
    """One way a job goes wrong: ``each`` of ``opportunities``, ``why``, and what ``hand`` that
    is taken from."""

    mode: str
    title: str
    opportunities: int
    each: Range
    total: Range  # at least one of them
    severity: str  # cosmetic, mendable, kills_part, kills_board
    why: str
    per: str = "joint"
    hand: str = ""


@dataclass(frozen=True)
class Option:
    """One technique for one job on this bench. Infeasible options say what is missing.
    ``case``: what the kept heat was computed from, the hardest joint's. ``joints``: groups
    of joints with the tip of each, the hardest first."""

    technique: str
    title: str
    feasible: bool
    missing: tuple[str, ...] = ()
    why: str = ""
    settings: Settings = Settings()
    iron_heat: IronHeat | None = None
    air_heat: AirHeat | None = None
    plate_heat: PlateHeat | None = None
    low_melt: LowMeltLift | None = None
    sight: Sight | None = None
    first_time: Range = Range(0, 0, 0)  # no fault at the first try
    after_mending: Range = Range(0, 0, 0)  # works in the end
    lost: Range = Range(0, 0, 0)  # part or board is lost for good
    loss: Range = Range(0, 0, 0)  # expected loss, money
    minutes: Range = Range(0, 0, 0)
    modes: tuple[ModeChance, ...] = ()
    decided: bool = True  # false where heat is inside its doubt
    skill: str = ""
    heat: Heat | None = None
    warms: Warms = "joint"
    case: IronCase | AirCase | None = None
    joints: tuple[JointHeat, ...] = ()


@dataclass(frozen=True)
class Asked:
    """What a level has to reach for a job: a chance, or what the level ``most`` reaches within
    ``slack``."""

    chance: float
    slack: float = 0.0
    most: Level | None = None


@dataclass(frozen=True)
class JobRisk:
    """A soldered job with its options, best first; options[0] is the chosen one where any
    is feasible. ``blocked`` says that none is."""

    job: Job
    options: tuple[Option, ...]
    blocked: bool
    skill_needed: Level | None  # None: blocked
    tooling_needed: tuple[str, ...]  # smallest set of tools that makes a technique feasible
    findings: tuple[str, ...] = ()
    skill_asked: Asked | None = None
    equals: tuple[str, ...] = ()  # titles of techniques that end well as often
    pinned: bool = False  # the chosen one is what the user asked for
    # Blocked, and nothing makes a technique surely hot enough: what makes one perhaps so.
    tooling_helps: tuple[str, ...] = ()
    worth: float = 0.0  # money that one of its parts counts for: its price, more if nobody sells it

    @property
    def chosen(self) -> Option:
        return self.options[0]


@dataclass(frozen=True, eq=False)
class Drawn:
    """A job in the samples behind ``KitRisk.working_samples``. ``fails``: its hazard of ending
    the kit; ``chances``: of each fault mode, per opportunity."""

    fails: NDArray[np.float64]
    chances: Mapping[str, NDArray[np.float64]]


@dataclass(frozen=True)
class KitRisk:
    """The roll-up. ``jobs`` holds the soldered jobs in the kit's order."""

    jobs: tuple[JobRisk, ...]
    first_time: Range  # no fault anywhere
    working: Range  # a working set of boards in the end
    faults: Range  # number of faults to expect
    ruined: Range  # money for parts ruined on the way and bought again, and for damage
    hours: Range
    by_key: dict[str, JobRisk] = field(default_factory=dict, compare=False)
    fail_share: dict[str, float] = field(default_factory=dict)  # job key -> share of failure
    # Chances of a working result, each as likely; their mean is ``working.mid``.
    working_samples: NDArray[np.float64] | None = field(default=None, compare=False, repr=False)
    # Money of ``ruined`` in the same samples.
    ruined_samples: NDArray[np.float64] | None = field(default=None, compare=False, repr=False)
    gate_finds: dict[str, float] = field(default_factory=dict)  # share that a kind of gate finds
    first_power: Range = Range(0, 0, 0)  # works when power first comes on
    by_hands: Range = Range(0, 0, 0)  # working, were every number as stated: the hands alone
    by_numbers: Range = Range(0, 0, 0)  # working, of the middle hand: what nobody measured
    # What is behind a job, by key; None where it is blocked.
    drawn: Callable[[str], Drawn | None] | None = field(default=None, compare=False, repr=False)
