"""What heats all of a part: hot air, the hot plate, an alloy that melts low."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from solderrisk.model.bench import Bench
from solderrisk.model.question import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.low_melt import low_melt_lift
from solderrisk.physics.results import AirCase, LowMeltLift, PlateAnswer, PlateCase, PlateHeat, Trap
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.heat.bench import HIDDEN, Answer, Question, Setup
from solderrisk.risk.heat.choice import RANK, AirAnswer, AirQuestion, allowed, rounded, starts_of
from solderrisk.risk.heat.iron import tip_text
from solderrisk.risk.heat.source import HeatSource, nothing_to_ask
from solderrisk.risk.results import Lines, Option, Settings
from solderrisk.risk.work import Work
from solderrisk.risk.worlds import Worlds
from solderrisk.words import about_minutes, about_s, dial_c, flow_l_min, grams, minutes


def _questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    if not bench.hot_air:
        return []
    part = (work.footprint, work.board, alloy, work.links)
    purpose: Literal["fit", "lift"] = "lift" if work.kind == "lift" else "fit"
    return [AirQuestion(*part, bench.hot_air, starts_of(bench), purpose)]


def _set_up(
    base: Setup, given: Sequence[Answer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    answer = next((each for each in given if isinstance(each, AirAnswer)), None)
    if answer is None or answer.heat is None or answer.case is None or answer.air is None:
        return replace(base, missing=("a nozzle that suits the part",), why="no nozzle suits")
    if not answer.feasible:
        return replace(
            base, missing=("more heat from below",), why=answer.why, air_heat=answer.heat
        )
    case = answer.case
    settings = replace(
        base.settings,
        air=answer.air.name,
        nozzle_mm=case.nozzle_mm,
        air_c=case.air_c,
        flow_l_min=case.flow_l_min,
        preheat_c=case.start_c if case.start_c > bench.room.ambient_c else None,
    )
    return replace(
        base,
        why=answer.why,
        settings=settings,
        case=case,
        air_heat=answer.heat,
        decided=answer.heat.decision == "wets",
    )


def _overheats(scene: Conditions) -> Iterator[Raw]:
    heat = scene.setup.air_heat
    if heat is not None:
        # Where nobody knows the part's class, the limit lies anywhere between the two.
        doubt_k = heat.limit_doubt_k * (1.0 + scene.data.even("heat.class")) / 2.0
        most = f" to {heat.limit_c + heat.limit_doubt_k:.0f}" if heat.limit_doubt_k else ""
        why = f"top {heat.top_c:.0f} of {heat.limit_c:.0f}{most} C"
        yield by_excess(heat.top_c - heat.limit_c - doubt_k, why, scene.data)


def by_excess(over_k: ArrayLike, why: str, data: Worlds) -> Raw:
    """The hazard of a part that gets so much hotter than it bears."""
    excess = np.minimum(np.asarray(over_k) / data["overheated_air_k"], data["most_excess"])
    return Raw("overheated", 1, data["overheated_air_rate"] * np.exp(excess) * data.grid, why)


def _lines(option: Option) -> Lines:
    s = option.settings
    if s.air is None or s.air_c is None:
        return ()
    nozzle = f"{s.nozzle_mm:g} mm nozzle held about {AirCase.height_mm:.0f} mm above"
    flow = "" if s.flow_l_min is None else f", {flow_l_min(s.flow_l_min)}"
    return (("air", f"{s.air}, {nozzle}, {dial_c(s.air_c)}{flow}"),)


AIR = HeatSource(
    name="air",
    warms="around",
    questions=_questions,
    set_up=_set_up,
    overheats=_overheats,
    lines=_lines,
)


def _plate_questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    """Each plate, with the underside still bare: what goes there is fitted later."""
    start_c = bench.room.ambient_c
    return [
        PlateCase(work.footprint, work.board, alloy, plate, None, start_c, work.links)
        for plate in bench.plates
    ]


def _plate_set_up(
    base: Setup, given: Sequence[Answer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    answers = [answer for answer in given if isinstance(answer, PlateAnswer)]
    if not answers:
        return replace(base, missing=("a hot plate",), why="no hot plate")
    best = max(answers, key=lambda answer: _rank(answer.heat))
    heat, why = best.heat, _why(best)
    if heat.decision == "fails":
        return replace(base, missing=("a hotter plate",), why=why, plate_heat=heat)
    if heat.board_c > heat.board_limit_c:
        return replace(base, missing=("a board that bears it",), why=why, plate_heat=heat)
    if heat.top_c > heat.limit_c:
        return replace(base, missing=("a cooler way to heat it",), why=why, plate_heat=heat)
    return replace(
        base,
        why=why,
        settings=replace(base.settings, plate=best.case.plate.name),
        plate_heat=heat,
        decided=heat.decision == "wets",
    )


def _rank(heat: PlateHeat) -> tuple[int, float]:
    """What melts the joints for sure, and then the coolest top."""
    return RANK[heat.decision], heat.limit_c - heat.top_c


def _why(answer: PlateAnswer) -> str:
    heat, name = answer.heat, answer.case.plate.name
    if heat.decision == "fails":
        short = f"its joints stay some {-heat.margin_k:.0f} C too cold"
        return f"{name} at {heat.peak_plate_c:.0f} C: {short}"
    top = f"top {heat.top_c:.0f} of {heat.limit_c:.0f} C"
    if heat.board_c > heat.board_limit_c:
        top = f"the board's face {heat.board_c:.0f} of {heat.board_limit_c:.0f} C"
    after = "" if heat.molten_s is None else f", liquid after {about_minutes(heat.molten_s / 60)}"
    return f"{name} at {heat.peak_plate_c:.0f} C{after}, {top}"


def _plate_overheats(scene: Conditions) -> Iterator[Raw]:
    heat = scene.setup.plate_heat
    if heat is not None:
        why = f"top {heat.top_c:.0f} of {heat.limit_c:.0f} C"
        yield by_excess(heat.top_c - heat.limit_c, why, scene.data)


def _plate_lines(option: Option) -> Lines:
    heat, name = option.plate_heat, option.settings.plate
    if heat is None or name is None:
        return ()
    soak = f"{dial_c(heat.soak_plate_c)} for the soak, about {about_s(heat.soak_s)} s"
    return (("plate", f"{name}, cold at the start: {soak}; then {dial_c(heat.peak_plate_c)}"),)


def _plate_last_lines(option: Option) -> Lines:
    heat = option.plate_heat
    if heat is None or heat.molten_s is None:
        return ()
    first = heat.molten_s if heat.molten_s_low is None else heat.molten_s_low
    last = heat.molten_s_high
    most = "much longer" if last is None else minutes(math.ceil(last / 60))
    span = f"{math.floor(first / 60):d} to {most}"
    hold = about_s(heat.above_s)
    text = f"liquid {span} after switching on, by how flat the board lies; off {hold} s later"
    return (("time", text),)


PLATE = HeatSource(
    name="plate",
    warms="board",
    questions=_plate_questions,
    set_up=_plate_set_up,
    overheats=_plate_overheats,
    lines=_plate_lines,
    last_lines=_plate_last_lines,
    lies_flat=True,
)


def _flood_set_up(
    base: Setup, given: Sequence[Answer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    hidden = [g.name for g in work.footprint.pads if g.kind in HIDDEN]
    tried = [
        (
            alloy,
            low_melt_lift(work.footprint, work.board, work.alloy, alloy, reference.physics, start),
        )
        for alloy in bench.removal_alloys
        for start in starts_of(bench)
    ]
    if hidden or not tried:
        why = f"the alloy does not flow under the body to {', '.join(hidden)}"
        return replace(base, missing=("a way to heat joints under the body",), why=why)
    alloy, best = max(tried, key=lambda pair: (pair[1].feasible, pair[1].molten_s))
    if not best.feasible:
        return replace(base, missing=("a removal alloy that stays liquid",),
                       why=_obstacle(alloy, work.alloy, best), low_melt=best)  # fmt: skip
    settings = replace(_flood_tip(base, best, bench, reference), removal_alloy=alloy)
    return replace(base, why=_flood_why(alloy, work.alloy, best), settings=settings, low_melt=best)


TRAPS: dict[Trap, str] = {
    "bi_pb_sn": "bismuth with lead and tin has a phase that melts at {at:.0f} C and weakens "
    "the joint",
    "bi_sn": "bismuth left in the joint lowers its melting to {at:.0f} C and makes it brittle",
    "in_sn": "indium left in the joint lowers its melting to {at:.0f} C and softens it",
}


def _flood_why(alloy: str, old: str, flood: LowMeltLift) -> str:
    return (
        f"{alloy}: mixed with {old} it melts near {flood.mix_liquidus_c:.0f} C instead of "
        f"{flood.old_liquidus_c:.0f} C; wick and refill {flood.cleanings} times, since "
        f"{TRAPS[flood.trap].format(at=flood.trap_c)}"
    )


def _obstacle(alloy: str, old: str, flood: LowMeltLift) -> str:
    match flood.obstacle:
        case "cadmium":
            return f"{alloy} contains cadmium: never heat it"
        case "hidden":
            return "joints under the body: the alloy cannot be flooded round them"
        case "no_iron":
            return "no iron reaches the joints to flood them"
        case _:
            at_most = flood.mix_liquidus_c + flood.mix_doubt_k
            return (
                f"the mixture with {old} may melt at {at_most:.0f} C, not below the "
                f"{flood.old_liquidus_c:.0f} C of the solder alone"
            )


def _flood_tip(base: Setup, flood: LowMeltLift, bench: Bench, reference: Reference) -> Settings:
    """A tip that carries a bead, no hotter than the mixture needs: a hot tip chars the flux."""
    data = reference.risk.parameters
    rule = reference.risk.technique_data.tip_rule(base.technique.tip)
    order = sorted(bench.irons, key=lambda iron: -iron.power_w)
    pairs = [(iron, tip) for iron in order for tip in iron.tips]
    if not pairs:
        return base.settings
    # Any tip spreads the alloy in the end; the rule says which is best at it.
    iron, tip = max(pairs, key=lambda p: (allowed(p[1], rule), p[0].power_w, p[1].width_mm))
    wanted = rounded(flood.mix_liquidus_c + data["flood_tip_over_k"], data["tip_round_k"])
    tip_c = min(max(wanted, iron.lowest_c), iron.highest_c)
    if iron.drive == "plain":
        tip_c = reference.physics.parameters["plain_idle_c"]
    return replace(
        base.settings,
        iron=iron.name,
        tip_width_mm=tip.width_mm,
        tip_shape=tip.shape,
        tip_c=tip_c,
    )


def _flood_overheats(scene: Conditions) -> Iterator[Raw]:
    flood, limit = scene.setup.low_melt, scene.work.footprint.heat.body_c
    if flood is not None:
        warm = flood.mix_liquidus_c + scene.reference.physics.parameters["flood_over_k"]
        at = scene.data.even("heat.mix")
        over = warm - limit + at * np.where(at > 0, flood.mix_doubt_k, flood.mix_doubt_down_k)
        yield by_excess(over, f"alloy near {warm:.0f} of {limit:.0f} C", scene.data)


def _flood_lines(option: Option) -> Lines:
    s, flood = option.settings, option.low_melt
    iron = "" if s.iron is None else tip_text(s.iron, s.tip_width_mm, s.tip_shape, s.tip_c)
    tip = (("iron", iron),) if iron else ()
    if s.removal_alloy is None or flood is None:
        return tip
    return (*tip, ("removal alloy", f"{s.removal_alloy}, about {grams(flood.alloy_g)}"))


def _flood_last_lines(option: Option) -> Lines:
    flood = option.low_melt
    if flood is None:
        return ()
    low_c = flood.mix_liquidus_c - flood.mix_doubt_down_k
    melts = f"melts at {low_c:.0f} to {flood.mix_liquidus_c + flood.mix_doubt_k:.0f} C"
    stays = f"stays liquid about {about_s(flood.molten_s)} s without heat"
    times = "once" if flood.cleanings == 1 else f"{flood.cleanings} times"
    return ("mixture", f"{melts}; {stays}"), ("wick clean", f"{times} with fresh solder")


LOW_MELT = HeatSource(
    name="low_melt",
    warms="joint",
    questions=nothing_to_ask,
    set_up=_flood_set_up,
    overheats=_flood_overheats,
    lines=_flood_lines,
    last_lines=_flood_last_lines,
)
