"""Heating a part as a whole with hot air."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from solderrisk.model.bench import Bench
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.results import AirCase
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.hands import GRID
from solderrisk.risk.heat.choice import AirAnswer, AirQuestion, starts_of
from solderrisk.risk.heat.setup import Answer, Question, Setup
from solderrisk.risk.heat.source import HeatSource
from solderrisk.risk.results import Lines, Option
from solderrisk.risk.work import Work
from solderrisk.risk.worlds import Worlds
from solderrisk.words import dial_c, flow_l_min


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
    return Raw("overheated", 1, data["overheated_air_rate"] * np.exp(excess) * GRID, why)


def _lines(option: Option) -> Lines:
    s = option.settings
    if s.air is None or s.air_c is None:
        return ()
    nozzle = f"{s.nozzle_mm:g} mm nozzle held about {AirCase.height_mm:.0f} mm above"
    flow = "" if s.flow_l_min is None else f", {flow_l_min(s.flow_l_min)}"
    return (("air", f"{s.air}, {nozzle}, {dial_c(s.air_c)}{flow}"),)


AIR = HeatSource(
    name="air",
    looks_at=("hot_air", "preheaters", "room"),
    warms="around",
    questions=_questions,
    set_up=_set_up,
    overheats=_overheats,
    lines=_lines,
)
