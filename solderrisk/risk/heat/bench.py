"""What a bench has for a heat source, and the set-up of a technique on it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

from solderrisk.model.base import Key, Parameters
from solderrisk.model.bench import Bench, Flux, Solder
from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.kit import Board
from solderrisk.model.physics_data import PhysicsData
from solderrisk.model.question import Reference
from solderrisk.model.technique import Need, Technique, TipLike
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
from solderrisk.physics.solder_volume import joint_volume_mm3
from solderrisk.risk.heat.choice import AirAnswer, AirQuestion, IronAnswer, IronQuestion
from solderrisk.risk.reads import one_read
from solderrisk.risk.results import JointHeat, Settings
from solderrisk.risk.work import Work

HIDDEN = ("exposed", "ball")  # joints under the body, out of an iron's reach
NO_SETTINGS = Settings()
MOST_MET = 20_000
MOST_WIRES = 4_000

Question = IronQuestion | AirQuestion | PlateCase
Answer = IronAnswer | AirAnswer | PlateAnswer


@dataclass(frozen=True)
class Setup:
    """A technique set up for a piece of work on a bench. ``case`` is what the kept heat
    was computed from: the hardest joint's. ``joints``: in the order of the pad
    groups, where each has a tip; ``tied``: those whose copper nobody knows, as they are on planes.
    ``missing`` empty: feasible."""

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
    tied: tuple[JointHeat, ...] = ()

    @cached_property
    def heat_key(self) -> Key:
        """What faults depend on, not how it came about: another tip may change nothing."""
        joints = tuple(
            (j.group, j.heat, j.case.tip.width_mm, j.alone) for j in self.joints + self.tied
        )
        return Key((self.technique.id, joints, self.air_heat, self.plate_heat, self.low_melt))

    @property
    def feasible(self) -> bool:
        return not self.missing


WASHED = ("water_soluble",)
SOME_MM = 0.1  # no wire is thinner


def missing_tools(
    technique: Technique, work: Work, bench: Bench, reference: Reference
) -> tuple[str, ...]:
    """Titles of needs that nothing on the bench meets."""
    data = reference.risk.technique_data
    return tuple(
        " or ".join(data.need(need).title for need in group)
        for group in technique.needs_for(work.footprint, work.lifted)
        if not any(has(data.need(need), bench, reference.risk.parameters) for need in group)
    )


def has(need: Need, bench: Bench, data: Parameters) -> bool:
    """Whether something on a bench meets a need."""
    return one_read(_meets, bench, need, data)


@lru_cache(maxsize=MOST_MET)
def _meets(bench: Bench, need: Need, data: Parameters) -> bool:
    when = need.met_when
    return (
        any(getattr(bench, field) for field in when.any_of)
        or any(bench.has(aid) for aid in when.aids)
        or any(flux.kind in when.fluxes for flux in usable_fluxes(bench))
        or (when.tips is not None and _has_tip(when.tips, bench, data))
        or (when.solder is not None and any(_is(when.solder, each) for each in bench.solders))
    )


def _has_tip(like: TipLike, bench: Bench, data: Parameters) -> bool:
    least_mm = data[like.wide_from] if like.wide_from else 0.0
    return any(
        tip.width_mm >= least_mm and (not like.shapes or tip.shape in like.shapes)
        for iron in bench.irons
        for tip in iron.tips
    )


def _is(kind: str, solder: Solder) -> bool:
    """Whether it is what a technique puts on: wire, paste or nothing."""
    if kind == "wire":
        return not solder.paste and solder.wire_mm is not None
    return solder.paste and kind == "paste"


def used_solder(
    technique: Technique, work: Work, group: PadGroup, bench: Bench, reference: Reference
) -> Solder | None:
    """The solder that is put on a group of joints: the board's alloy if there is any, then the
    wire of which a hand's feed fills such a joint. None where none is put on or there is none."""
    if technique.purpose == "lift":
        return None
    wanted_mm = _wanted_wire_mm(work, group, reference)

    def rank(solder: Solder) -> tuple[bool, float, str]:
        off = abs(math.log((solder.wire_mm or wanted_mm) / wanted_mm))
        return solder.alloy != work.alloy, off, solder.alloy

    found = (each for each in bench.solders if _is(technique.solder, each))
    return min(found, key=rank, default=None)


def _wanted_wire_mm(work: Work, group: PadGroup, reference: Reference) -> float:
    feed_mm = reference.risk.parameters["wire_feed_mm"]
    return _wire_mm(work.footprint, group, work.board, feed_mm, reference.physics)


@lru_cache(maxsize=MOST_WIRES)
def _wire_mm(
    footprint: Footprint, group: PadGroup, board: Board, feed_mm: float, data: PhysicsData
) -> float:
    """Diameter of which one feed holds a joint's solder, mm."""
    volume = joint_volume_mm3(footprint, group, board, data)
    return max(math.sqrt(4 * volume / (math.pi * feed_mm)), SOME_MM)


def used_solders(
    technique: Technique, work: Work, bench: Bench, reference: Reference
) -> tuple[Solder, ...]:
    """All that is put on a part, the thinnest wire first."""
    found = {
        solder
        for group in work.footprint.pads
        if (solder := used_solder(technique, work, group, bench, reference)) is not None
    }
    return tuple(sorted(found, key=lambda solder: (solder.wire_mm or 0.0, solder.alloy)))


def used_alloy(technique: Technique, work: Work, bench: Bench, reference: Reference) -> str:
    """The alloy that has to melt: the board's, or that of the bench's solder if it melts
    at a higher temperature."""
    put_on = used_solders(technique, work, bench, reference)
    alloys = reference.physics.alloys
    names = (work.alloy, *(solder.alloy for solder in put_on))
    return max(names, key=lambda name: alloys[name].liquidus_c)


def common_settings(
    technique: Technique, work: Work, bench: Bench, reference: Reference
) -> Settings:
    """Solder, flux and magnifier that the bench offers."""
    flux = min(
        usable_fluxes(bench),
        key=lambda f: (_FORM_RANK[technique.flux][f.form], _FLUX_RANK[f.kind]),
        default=None,
    )
    glass = max(bench.magnifiers, key=lambda m: m.power_x, default=None)
    return Settings(
        solders=used_solders(technique, work, bench, reference),
        alloy=used_alloy(technique, work, bench, reference),
        flux=flux,
        magnifier=glass.name if glass else None,
        power_x=glass.power_x if glass else 1.0,
        depth=glass.stereo if glass else True,
    )


def usable_fluxes(bench: Bench) -> list[Flux]:
    """Acid is for plumbing; what has to be washed off needs something to wash with."""
    washes = can_wash(bench)
    return [f for f in bench.fluxes if f.kind in _FLUX_RANK and (washes or f.kind not in WASHED)]


def can_wash(bench: Bench) -> bool:
    return bench.has("brush") or bench.has("cleaning_solvent")


# Under air, in a flood or a sweep a thin flux is gone at once.
_FLUX_RANK = {"no_clean": 0, "rosin": 1, "water_soluble": 2}
_FORM_RANK = {
    "tacky": {"gel": 0, "solid": 1, "liquid": 2, "pen": 3},
    "any": {"pen": 0, "liquid": 1, "gel": 2, "solid": 3},
}
