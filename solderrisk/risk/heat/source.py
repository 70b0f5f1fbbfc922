"""A heat source as a record of functions, and the doubt of its heat."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.bench import Bench
from solderrisk.model.question import Reference
from solderrisk.model.technique import Heat, Technique
from solderrisk.physics.results import IronHeat
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.heat.bench import Answer, Question, Setup
from solderrisk.risk.results import JointHeat, Lines, Option, Warms
from solderrisk.risk.work import Work
from solderrisk.risk.worlds import STATED, Worlds

Floats = NDArray[np.float64]

Cause = Literal["heat.iron", "heat.air", "heat.plate", "heat.mix"]
_ALMOST = 1 - 1e-9
_LEAST_S = 1e-3


def short_of_heat(margin_k: float, band_k: float, cause: Cause, data: Worlds) -> Floats:
    """Chance that a joint does not melt or wet with that margin in each world: 0 from the
    upper edge of the doubt, 1 from its lower edge."""
    if margin_k >= band_k:
        return np.zeros((1, 1))
    shared = data["heat_shared"]
    at = margin_k / band_k + shared * data.even(cause)
    return np.clip((1 - shared - at) / (2 * (1 - shared)), 0.0, _ALMOST)


def dwell_s(joint: JointHeat, data: Worlds) -> Floats:
    """How long the tip has to stay in each world: quick where the joint takes heat as well as
    it may, slow where it takes it as badly; as long as it is safe where it just wets."""
    heat, what = joint.heat, joint.case.joint
    barrel = what.group.through_board and what.board.barrels
    flow_s = data.reference.physics.parameters["barrel_flow_s" if barrel else "flow_s"]
    points = [(1.0, heat.wet_s_low), (0.0, heat.wet_s)]
    edge = min(max(-heat.margin_k / heat.band_k, -1.0), 1.0) if heat.band_k > 0 else -1.0
    slowest = heat.wet_s_high if edge <= -1.0 else None
    known = [(at, time) for at, time in points if time is not None and at > edge]
    late = max(heat.safe_s, *(time for _, time in known), _LEAST_S) if known else heat.safe_s
    known.append((edge, late if slowest is None else slowest))
    at, times = zip(*sorted(known), strict=True)
    logs = np.log(np.maximum(times, _LEAST_S))
    return np.exp(np.interp(data.even("heat.iron"), at, logs)) + flow_s


def window_of(joint: JointHeat, data: Worlds) -> Floats:
    """Ratio of longest to needed dwell in each world, at least 1."""
    ratio = joint.heat.safe_s / dwell_s(joint, data)
    return np.clip(ratio, 1.0, data["widest_window"])


def window_text(window: Floats, heat: IronHeat) -> str:
    return f"longest over needed time {window[STATED, 0]:.1f}, {heat.margin_k:+.0f} K margin"


def margin_text(margin_k: float, band_k: float) -> str:
    return f"{margin_k:+.0f} K margin within a doubt of {band_k:.0f} K"


def tied_of(scene: Conditions, joint: JointHeat) -> JointHeat | None:
    """The joint on planes, where nobody knows whether it is."""
    return next((each for each in scene.setup.tied if each.group == joint.group), None)


def tied_number(scene: Conditions) -> str:
    """The name of the number that says how many of its pins are."""
    return scene.reference.plan.families.tied_share(scene.work.footprint.family)


def tied_share(scene: Conditions) -> Floats:
    """The share of a part's pins that lies on planes, in each world."""
    return scene.data[tied_number(scene)]


def mixed(scene: Conditions, joint: JointHeat, hazard: Callable[[JointHeat], Floats]) -> Floats:
    """The hazard of a joint that lies on planes by the share of its part's pins that does."""
    free, tied = hazard(joint), tied_of(scene, joint)
    return free if tied is None else free + tied_share(scene) * (hazard(tied) - free)


def _no_lines(option: Option) -> Lines:
    return ()


@dataclass(frozen=True)
class HeatSource:
    """One kind of heating, everything that others ask about it.

    ``warms``: only the joint, what stands around as well, or the whole board. ``lies_flat``: it
    needs the other side bare.
    ``questions`` to the heat model for a technique, a piece of work, the alloy that has to melt
    and a bench; ``set_up`` from a base and the answers, in their order; ``overheats``: the
    hazard of too much heat; ``lines``: its settings for a card, and ``last_lines`` what comes
    after solder, flux and time.
    """

    name: Heat
    warms: Warms
    questions: Callable[[Technique, Work, str, Bench, Reference], list[Question]]
    set_up: Callable[[Setup, Sequence[Answer], Work, Bench, Reference], Setup]
    overheats: Callable[[Conditions], Iterable[Raw]]
    lines: Callable[[Option], Lines]
    last_lines: Callable[[Option], Lines] = _no_lines
    lies_flat: bool = False


def nothing_to_ask(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    """For sources whose answer needs no heat model."""
    return []
