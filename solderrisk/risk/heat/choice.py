"""Which iron, tip and temperature, and which air, for a joint: the best the bench offers.

Cooler rather than hotter: a hotter setting is taken only where it widens the window
between too short and too long. All joints of a kit are asked about together, because the
heat model is fastest in batches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from solderrisk.model.bench import Bench, HotAir, Iron, Tip
from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.kit import Board, PlaneLink
from solderrisk.model.question import Reference
from solderrisk.model.technique import TipRule
from solderrisk.physics.handwork import air_nozzle_fits, tip_fits
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.plate import plate_heat
from solderrisk.physics.results import (
    AirCase,
    AirHeat,
    IronCase,
    IronHeat,
    JointCase,
    PlateAnswer,
    PlateCase,
)

RANK = {"wets": 2, "undecided": 1, "fails": 0}
TOLERANCE = 1e-9
COOLEST, HOTTER, ALL_STEPS = slice(1), slice(1, None), slice(None)


@dataclass(frozen=True)
class IronQuestion:
    """A joint to be heated by one of some irons. ``rule`` names which tips will do;
    ``starts_c`` are the board temperatures to be tried in turn: ambient, then preheated."""

    joint: JointCase
    irons: tuple[Iron, ...]
    rule: str
    starts_c: tuple[float, ...]
    over_k: str = "tip_over_liquidus_k"  # the parameter that says how hot a tip is to begin with


@dataclass(frozen=True)
class IronAnswer:
    """``window`` is the ratio of longest to needed dwell, less its doubt; below 1: none.
    ``case`` and ``heat`` are None where no tip suits."""

    case: IronCase | None
    heat: IronHeat | None
    window: float
    why: str = ""

    @property
    def feasible(self) -> bool:
        return self.heat is not None and self.heat.decision != "fails"


@dataclass(frozen=True)
class AirQuestion:
    footprint: Footprint
    board: Board
    alloy: str
    links: tuple[PlaneLink, ...]
    airs: tuple[HotAir, ...]
    starts_c: tuple[float, ...]
    purpose: Literal["fit", "lift"]


@dataclass(frozen=True)
class AirAnswer:
    air: HotAir | None
    case: AirCase | None
    heat: AirHeat | None
    why: str = ""

    @property
    def feasible(self) -> bool:
        return self.heat is not None and self.heat.decision != "fails"


def starts_of(bench: Bench, preheated_only: bool = False) -> tuple[float, ...]:
    """Board temperatures that the bench offers, ambient first."""
    hot = tuple(sorted({heater.board_c for heater in bench.preheaters}))
    return hot if preheated_only else (bench.room.ambient_c, *hot)


def answer_irons(
    questions: Sequence[IronQuestion], reference: Reference
) -> dict[IronQuestion, IronAnswer]:
    """The best iron, tip and temperature for every joint."""
    best = {q: IronAnswer(None, None, 0.0, "no tip suits") for q in questions}
    _ask_irons(best, {q: _tips(q, reference) for q in best}, reference)
    # A tip that touches the next land as well is not out of the question, only riskier.
    failed = {q: _crowded_tips(q, reference) for q in best if not best[q].feasible}
    _ask_irons(best, failed, reference)
    return best


def _ask_irons(
    best: dict[IronQuestion, IronAnswer],
    tips: Mapping[IronQuestion, Sequence[tuple[Iron, Tip]]],
    reference: Reference,
) -> None:
    """Put the best answer with these tips into ``best`` where it beats what stands there."""
    widest = reference.risk.parameters["widest_window"]
    for start in range(max((len(q.starts_c) for q in tips), default=0)):
        # The coolest setting does for most; all hotter ones are asked for together.
        for steps in (COOLEST, HOTTER) if start == 0 else (ALL_STEPS,):
            asked = [
                (q, case)
                for q in tips
                if start < len(q.starts_c) and best[q].window < widest - TOLERANCE
                for case in _iron_cases(q, tips[q], steps, q.starts_c[start], reference)
            ]
            heats = iron_heat([case for _, case in asked], reference.physics)
            for (q, case), heat in zip(asked, heats, strict=True):
                answer = _judged(case, heat, reference)
                if _better(answer, best[q]):
                    best[q] = answer


def _better(new: IronAnswer, old: IronAnswer) -> bool:
    if old.heat is None or new.heat is None:
        return old.heat is None
    if new.feasible != old.feasible:
        return new.feasible
    if abs(new.window - old.window) > TOLERANCE:
        return new.window > old.window
    # Of undecided ones the best is told, not the first.
    return new.heat.margin_k > old.heat.margin_k + TOLERANCE and new.window <= 1.0


def _tips(question: IronQuestion, reference: Reference) -> list[tuple[Iron, Tip]]:
    """The tips that will do, the best first: of equal windows the first is taken."""
    group = question.joint.group
    rule = reference.risk.technique_data.tip_rule(question.rule)
    found = [
        (iron, tip)
        for iron in question.irons
        for tip in iron.tips
        if allowed(tip, rule) and (not rule.alone or _alone(tip, group, reference))
    ]
    if rule.strongest:
        return sorted(found, key=lambda pair: (-pair[0].power_w, -pair[1].width_mm))
    wanted = min(max(group.land_w_mm, rule.from_mm or 0.0), rule.to_mm or math.inf)
    return sorted(
        found,
        key=lambda pair: (
            rule.shapes.index(pair[1].shape) if not rule.alone else 0,
            round(abs(math.log(pair[1].width_mm / wanted)), 9),
        ),
    )


def _crowded_tips(question: IronQuestion, reference: Reference) -> list[tuple[Iron, Tip]]:
    """Tips that reach over to the next land, the narrowest first; needles and blades for
    many lands at once stay out."""
    group = question.joint.group
    rule = reference.risk.technique_data.tip_rule(question.rule)
    if not rule.alone:
        return []
    most = reference.risk.parameters["crowded_tip_ratio"]
    found = [
        (iron, tip)
        for iron in question.irons
        for tip in iron.tips
        if allowed(tip, rule) and 1 < crowding(tip.width_mm, group) <= most
    ]
    return sorted(found, key=lambda pair: pair[1].width_mm)


def crowding(tip_mm: float, group: PadGroup) -> float:
    """Width of a tip over the widest that touches one land alone; 1 where it does."""
    if group.gap_mm is None:
        return 1.0
    return max(tip_mm / (group.land_w_mm + 2 * group.gap_mm), 1.0)


def allowed(tip: Tip, rule: TipRule) -> bool:
    """Whether a tip's shape and width are what a rule asks for."""
    return (
        tip.shape in rule.shapes
        and (rule.from_mm is None or tip.width_mm >= rule.from_mm - TOLERANCE)
        and (rule.to_mm is None or tip.width_mm <= rule.to_mm + TOLERANCE)
    )


def _alone(tip: Tip, group: PadGroup, reference: Reference) -> bool:
    """Whether the tip touches this land and not the next."""
    return tip_fits(tip, group, group.gap_mm, reference.physics).fits


def _iron_cases(
    question: IronQuestion,
    tips: Sequence[tuple[Iron, Tip]],
    steps: slice,
    start_c: float,
    reference: Reference,
) -> Iterable[IronCase]:
    for iron, tip in tips:
        for tip_c in _tip_settings(question, iron, reference)[steps]:
            yield IronCase(question.joint, iron, tip, tip_c, start_c)


def _tip_settings(question: IronQuestion, iron: Iron, reference: Reference) -> list[float]:
    """Settings to be tried, cooler ones first, up to what part, iron and practice bear."""
    data, joint = reference.risk.parameters, question.joint
    if iron.drive == "plain":
        return [reference.physics.parameters["plain_idle_c"]]
    liquidus = reference.physics.alloys[joint.alloy].liquidus_c
    usual = rounded(liquidus + data[question.over_k], data["tip_round_k"])
    first = min(max(usual, iron.lowest_c), iron.highest_c)
    last = min(data["tip_highest_c"], max(joint.footprint.heat.iron_c, first), iron.highest_c)
    steps = int(max(last - first, 0.0) // data["tip_step_k"])
    settings = [first + step * data["tip_step_k"] for step in range(steps + 1)]
    return settings if last - settings[-1] < data["tip_least_step_k"] else [*settings, last]


def rounded(value: float, step: float) -> float:
    """To what a dial shows and a hand sets."""
    return round(value / step) * step


def _judged(case: IronCase, heat: IronHeat, reference: Reference) -> IronAnswer:
    data = reference.risk.parameters
    return IronAnswer(
        case,
        heat,
        window_of(heat, data["window_spread"], data["widest_window"]),
        _why(case, heat),
    )


def window_of(heat: IronHeat, spread: float, widest: float) -> float:
    """Ratio of longest to needed dwell, less the heat model's own doubt: the window that
    would give a hand of that spread the same chance if there were no doubt."""
    if heat.decision == "fails" or heat.dwell_s is None or heat.wet_s is None:
        return 1.0 if heat.decision == "undecided" else 0.0
    flow = heat.dwell_s - heat.wet_s
    low = (heat.wet_s if heat.wet_s_low is None else heat.wet_s_low) + flow
    high = max(heat.safe_s, heat.dwell_s) if heat.wet_s_high is None else heat.wet_s_high + flow
    # 5 % to 95 % of a normal is 3.29 sigmas.
    doubt = math.log(max(high / low, 1.0)) / 3.29
    plain = math.log(max(heat.safe_s / heat.dwell_s, TOLERANCE))
    return min(math.exp(plain * spread / math.hypot(spread, doubt)), widest)


def _why(case: IronCase, heat: IronHeat) -> str:
    name = f"{case.iron.name}, {case.tip.width_mm:g} mm {case.tip.shape} tip at {case.tip_c:.0f} C"
    if heat.decision == "fails":
        limit = {"power": "too little power", "path": "too little contact", "none": "too cold"}
        return f"{name}: {limit[heat.limit]}, the joint stays some {-heat.margin_k:.0f} C too cold"
    if heat.decision == "undecided":
        return f"{name}: {heat.margin_k:+.0f} K margin within a doubt of {heat.band_k:.0f} K"
    return f"{name}: {heat.margin_k:+.0f} K margin"


def answer_airs(
    questions: Sequence[AirQuestion], reference: Reference
) -> dict[AirQuestion, AirAnswer]:
    """The coolest hot air that melts every joint of a part with the part's top coolest."""
    best = {q: AirAnswer(None, None, None, "no nozzle suits") for q in questions}
    nozzles = {q: _nozzles(q, reference) for q in best}
    cases = [
        (q, air, case)
        for q in best
        for start_c in q.starts_c
        for air, case in _air_cases(q, nozzles[q], start_c, reference)
    ]
    heats = air_heat([case for _, _, case in cases], reference.physics)
    for (q, air, case), heat in zip(cases, heats, strict=True):
        if _better_air(heat, best[q].heat):
            best[q] = AirAnswer(air, case, heat, _why_air(case, heat))
    _refine(best, reference)
    return best


def _refine(best: dict[AirQuestion, AirAnswer], reference: Reference) -> None:
    """Between the steps: the coolest air in tens of degrees that does as much for a part whose
    top gets too hot."""
    data = reference.risk.parameters
    finer = range(1, round(data["air_step_k"] / data["air_round_k"]))
    asked = [
        (q, found, replace(found.case, air_c=found.case.air_c - step * data["air_round_k"]))
        for q, found in best.items()
        if found.case is not None and found.heat is not None
        if found.heat.decision == "wets" and found.heat.top_c > found.heat.limit_c
        for step in finer
    ]
    heats = air_heat([case for _, _, case in asked], reference.physics)
    for (q, found, case), heat in zip(asked, heats, strict=True):
        if heat.decision == "wets" and _better_air(heat, best[q].heat):
            best[q] = AirAnswer(found.air, case, heat, _why_air(case, heat))


def answer_plates(cases: Sequence[PlateCase], reference: Reference) -> dict[PlateCase, PlateAnswer]:
    """What each plate does; its settings are part of the answer."""
    heats = plate_heat(cases, reference.physics)
    return {case: PlateAnswer(case, heat) for case, heat in zip(cases, heats, strict=True)}


def _better_air(new: AirHeat, old: AirHeat | None) -> bool:
    if old is None:
        return True
    if RANK[new.decision] != RANK[old.decision]:
        return RANK[new.decision] > RANK[old.decision]
    if new.decision == "wets":
        return new.top_c - new.limit_c < old.top_c - old.limit_c - TOLERANCE
    # Of undecided ones the best is told, not the coolest: what its joints gain beyond what its
    # top gets too much.
    return _gain_k(new) > _gain_k(old) + TOLERANCE


def _gain_k(heat: AirHeat) -> float:
    return heat.margin_k - max(heat.top_c - heat.limit_c, 0.0)


def _nozzles(question: AirQuestion, reference: Reference) -> list[tuple[HotAir, float]]:
    """The nozzles that suit the part, largest first."""
    found = []
    for air in question.airs:
        fitting = [
            nozzle
            for nozzle in sorted(air.nozzles_mm, reverse=True)
            if air_nozzle_fits(nozzle, question.footprint, reference.physics).fits
        ]
        found += [(air, nozzle) for nozzle in fitting]
    return found


def _air_cases(
    question: AirQuestion,
    nozzles: Iterable[tuple[HotAir, float]],
    start_c: float,
    reference: Reference,
) -> Iterable[tuple[HotAir, AirCase]]:
    data = reference.risk.parameters
    liquidus = reference.physics.alloys[question.alloy].liquidus_c
    usual = rounded(liquidus + data["air_over_liquidus_k"], data["air_round_k"])
    for air, nozzle in nozzles:
        first = min(usual, air.highest_c)
        last = min(data["air_highest_c"], air.highest_c)
        steps = int(max(last - first, 0.0) // data["air_step_k"])
        flow = rounded(data["air_flow_l_min_mm"] * nozzle, data["air_round_l_min"])
        for step in range(steps + 1):
            yield (
                air,
                AirCase(
                    footprint=question.footprint,
                    board=question.board,
                    alloy=question.alloy,
                    air_c=first + step * data["air_step_k"],
                    flow_l_min=min(max(flow, air.flow_l_min_low), air.flow_l_min_high),
                    nozzle_mm=nozzle,
                    start_c=start_c,
                    purpose=question.purpose,
                    links=question.links,
                ),
            )


def _why_air(case: AirCase, heat: AirHeat) -> str:
    name = f"{case.nozzle_mm:g} mm air at {case.air_c:.0f} C"
    if heat.decision == "fails":
        return f"{name}: its joints stay some {-heat.margin_k:.0f} C too cold"
    top = f"top {heat.top_c:.0f} of {heat.limit_c:.0f} C"
    return f"{name}: liquid after {heat.molten_s or 0:.0f} s, {top}"
