"""Flooding joints with an alloy that melts low."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from solderrisk.model.bench import Bench
from solderrisk.model.question import Reference
from solderrisk.physics.low_melt import low_melt_lift
from solderrisk.physics.results import LowMeltLift, Trap
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.heat.air import by_excess
from solderrisk.risk.heat.bench import HIDDEN, Answer, Setup
from solderrisk.risk.heat.choice import allowed, rounded, starts_of
from solderrisk.risk.heat.iron import tip_text
from solderrisk.risk.heat.source import HeatSource, nothing_to_ask
from solderrisk.risk.results import Lines, Option, Settings
from solderrisk.risk.work import Work
from solderrisk.words import about_s, grams


def _set_up(
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
    return replace(base, why=_why(alloy, work.alloy, best), settings=settings, low_melt=best)


TRAPS: dict[Trap, str] = {
    "bi_pb_sn": "bismuth with lead and tin has a phase that melts at {at:.0f} C and weakens "
    "the joint",
    "bi_sn": "bismuth left in the joint lowers its melting to {at:.0f} C and makes it brittle",
    "in_sn": "indium left in the joint lowers its melting to {at:.0f} C and softens it",
}


def _why(alloy: str, old: str, flood: LowMeltLift) -> str:
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


def _overheats(scene: Conditions) -> Iterator[Raw]:
    flood, limit = scene.setup.low_melt, scene.work.footprint.heat.body_c
    if flood is not None:
        warm = flood.mix_liquidus_c + scene.reference.physics.parameters["flood_over_k"]
        at = scene.data.even("heat.mix")
        over = warm - limit + at * np.where(at > 0, flood.mix_doubt_k, flood.mix_doubt_down_k)
        yield by_excess(over, f"alloy near {warm:.0f} of {limit:.0f} C", scene.data)


def _lines(option: Option) -> Lines:
    s, flood = option.settings, option.low_melt
    iron = "" if s.iron is None else tip_text(s.iron, s.tip_width_mm, s.tip_shape, s.tip_c)
    tip = (("iron", iron),) if iron else ()
    if s.removal_alloy is None or flood is None:
        return tip
    return (*tip, ("removal alloy", f"{s.removal_alloy}, about {grams(flood.alloy_g)}"))


def _last_lines(option: Option) -> Lines:
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
    set_up=_set_up,
    overheats=_overheats,
    lines=_lines,
    last_lines=_last_lines,
)
