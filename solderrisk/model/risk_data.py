"""What the risk layer reads: fault modes, skill levels, techniques."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal, Self, get_args

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, Parameters, PositiveMm, Share, Source, Text
from solderrisk.model.bench import Level
from solderrisk.model.footprint import Footprint, PadKind
from solderrisk.model.technique import Technique, TechniqueData

Severity = Literal["cosmetic", "mendable", "kills_part", "kills_board"]


# Every mode that the program yields; a name in the data that is not here would never come up.
ModeId = Literal[
    "bridge",
    "open",
    "cold",
    "unmelted",
    "disturbed",
    "short_fill",
    "tombstone",
    "misaligned",
    "orientation",
    "wrong_part",
    "forgotten",
    "lifted_pad",
    "overheated",
    "cracked",
    "void",
    "pad_open",
    "neighbour",
    "scorched",
    "residue",
    "alloy_residue",
    "bent_lead",
    "stuck_joint",
    "dead",
]


class FaultMode(Frozen):
    """One way a joint or a part goes wrong; its base rate is in ``risk.yaml``.

    ``seen``: share found by looking well, with enough magnification. ``measured``: share
    found by a continuity check. ``harm``: chance that one left alone keeps the board from
    working. ``part_share``: chance that it ruins the part at once. ``powered_share``:
    chance that it ruins the part when power comes on with the fault unseen.
    """

    id: ModeId
    title: Text
    per: Literal["gap", "joint", "barrel", "part", "lead"]
    severity: Severity
    seen: Share
    measured: Share
    harm: Share
    part_share: Share = 0.0
    powered_share: Share = 0.0
    mend_minutes: float = Field(ge=0, le=600)
    mendable: bool = Field(True, description="false: the means at hand cannot mend it")
    harm_by_alloy: Text | None = Field(
        None,
        description="numbers that its harm goes by, one for each phase that removal alloy leaves:"
        " their name without the phase",
    )
    source: Source
    own: Many[Text] = Field((), description="figures set by the user")


class FaultData(Frozen):
    """``faults.yaml``."""

    modes: Many[FaultMode] = Field(min_length=1)

    @model_validator(mode="after")
    def _all(self) -> Self:
        found = {mode.id for mode in self.modes}
        missing = [name for name in get_args(ModeId) if name not in found]
        if missing:
            raise ValueError(f"fault modes are missing: {', '.join(missing)}; add them")
        return self

    def __getitem__(self, mode_id: str) -> FaultMode:
        """The mode of an id.

        Raises:
            KeyError: no such mode.
        """
        for mode in self.modes:
            if mode.id == mode_id:
                return mode
        raise KeyError(f"no fault mode {mode_id!r}; there are {[m.id for m in self.modes]}")


class LevelPrior(Frozen):
    """What is believed of a person who has done this much, before any record.

    ``faults_a`` and ``faults_b`` are the Beta prior of faults per ordinary joint.
    ``dwell_spread`` is the spread (of the logarithm) of how long the tip stays.
    ``inexperience`` is the share of the inexperience effect in slips, 0 to 1.
    ``joints_done`` is where on the learning curve such a person stands.
    """

    level: Level
    title: Text
    faults_a: float = Field(gt=0)
    faults_b: float = Field(gt=0)
    dwell_spread: float = Field(gt=0, le=2)
    inexperience: Share
    hand: Literal["steady", "braced", "novice", "unbraced"]
    joints_done: float = Field(ge=1)
    source: Source
    own: Many[Text] = Field((), description="figures set by the user")

    @property
    def faults_mean(self) -> float:
        return self.faults_a / (self.faults_a + self.faults_b)


class Skill(Frozen):
    """Something that hands learn; techniques exercise one each. ``means`` says it in plain
    words beside a ``picture`` of a few lines. ``usual`` technique and ``usual_pitch_mm``: the
    work that records are made at where they tell none."""

    id: Text
    title: Text
    means: Text
    picture: Many[str]
    usual: Text
    usual_pitch_mm: PositiveMm | None = None


class LevelData(Frozen):
    """``levels.yaml``: levels from least to most done, and the skills."""

    levels: Many[LevelPrior] = Field(min_length=2)
    skills: Many[Skill] = Field(min_length=1)

    def prior(self, level: Level) -> LevelPrior:
        return next(prior for prior in self.levels if prior.level == level)

    def skill(self, skill_id: str) -> Skill:
        """The skill of an id.

        Raises:
            KeyError: no such skill.
        """
        found = next((skill for skill in self.skills if skill.id == skill_id), None)
        if found is None:
            raise KeyError(f"no skill {skill_id!r}; there are {[s.id for s in self.skills]}")
        return found


class ReportedPart(Frozen):
    """Equal parts of a reported kit: ``count`` of ``joints`` joints each."""

    technique: Text
    joints: int = Field(ge=2, le=400)
    count: int = Field(ge=1, le=400)
    pitch_mm: PositiveMm | None = None
    polarised: bool = False


class ReportedKit(Frozen):
    """A kind of kit of which people reported how it went. ``asks``: whether it worked when
    power first came on, or in the end."""

    id: Text
    title: Text
    level: Level
    guided: bool = False
    parts: Many[ReportedPart] = Field(min_length=1)
    asks: Literal["first_power", "in_the_end"]
    good: float = Field(ge=0)
    of: float = Field(gt=0)
    quality: Literal["study", "professional", "anecdote"]
    source: Source

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if self.good > self.of:
            raise ValueError(f"{self.id}: {self.good:g} of {self.of:g} cannot be")
        return self


class ReportedKits(Frozen):
    """``reported_kits.yaml``."""

    weights: dict[Literal["study", "professional", "anecdote"], Share]
    weights_source: Source
    least_share: Share
    least_share_source: Source
    kits: Many[ReportedKit] = ()

    def but(self, kit_id: str | None = None) -> Self:
        """Without one kit, or without any."""
        kept = tuple(kit for kit in self.kits if kit_id is not None and kit.id != kit_id)
        return self.model_copy(update={"kits": kept})


class Rescue(Frozen):
    """One way to deal with a fault. It is for parts that have one of ``pads`` (any part, if
    none are named) and at most ``joints_to`` joints; the bench must meet one of each group of
    ``needs``. ``share``: of the faults that are tried, those that this way can deal with."""

    id: Text
    title: Text
    modes: Many[ModeId] = Field(min_length=1)
    pads: Many[PadKind] = ()
    joints_to: int = Field(4000, ge=1)
    needs: Many[Many[Text]] = ()
    share: Share
    steps: Many[Text] = Field(min_length=1)
    risks: Text
    stop: Text
    lost: Text
    source: Source

    def suits(self, footprint: Footprint) -> bool:
        kinds = {group.kind for group in footprint.pads}
        return footprint.joint_count <= self.joints_to and (
            not self.pads or bool(kinds & set(self.pads))
        )


class RescueData(Frozen):
    """``rescue.yaml``. ``tries``: how often a place is tried at most."""

    tries: int = Field(ge=1, le=10)
    tries_source: Source
    rescues: Many[Rescue] = Field(min_length=1)

    @model_validator(mode="after")
    def _all(self) -> Self:
        found = {mode for rescue in self.rescues for mode in rescue.modes}
        missing = [name for name in get_args(ModeId) if name not in found]
        if missing:
            raise ValueError(f"nothing is told for {', '.join(missing)}; add a rescue")
        return self


@dataclass(frozen=True)
class RiskData:
    """``risk.yaml``, ``techniques.yaml``, ``faults.yaml``, ``levels.yaml``,
    ``rescue.yaml`` and ``reported_kits.yaml`` as values."""

    parameters: Parameters
    technique_data: TechniqueData
    faults: FaultData
    levels: LevelData
    reported: ReportedKits
    rescue: RescueData

    @cached_property
    def fault_modes(self) -> dict[str, FaultMode]:
        return {mode.id: mode for mode in self.faults.modes}

    @property
    def techniques(self) -> tuple[Technique, ...]:
        return self.technique_data.techniques

    def technique(self, technique_id: str) -> Technique:
        """The technique of an id.

        Raises:
            KeyError: no such technique.
        """
        for technique in self.techniques:
            if technique.id == technique_id:
                return technique
        raise KeyError(f"no technique {technique_id!r}")
