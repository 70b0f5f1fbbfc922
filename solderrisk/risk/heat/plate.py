"""Heating a whole board on a plate."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from solderrisk.model.bench import Bench
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.results import PlateAnswer, PlateCase, PlateHeat
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.heat.air import by_excess
from solderrisk.risk.heat.choice import RANK
from solderrisk.risk.heat.setup import Answer, Question, Setup
from solderrisk.risk.heat.source import HeatSource
from solderrisk.risk.results import Lines, Option
from solderrisk.risk.work import Work
from solderrisk.words import about_minutes, about_s, dial_c, minutes


def _questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    """Each plate, with the underside still bare: what goes there is fitted later."""
    start_c = bench.room.ambient_c
    return [
        PlateCase(work.footprint, work.board, alloy, plate, None, start_c, work.links)
        for plate in bench.plates
    ]


def _set_up(
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


def _overheats(scene: Conditions) -> Iterator[Raw]:
    heat = scene.setup.plate_heat
    if heat is not None:
        why = f"top {heat.top_c:.0f} of {heat.limit_c:.0f} C"
        yield by_excess(heat.top_c - heat.limit_c, why, scene.data)


def _lines(option: Option) -> Lines:
    heat, name = option.plate_heat, option.settings.plate
    if heat is None or name is None:
        return ()
    soak = f"{dial_c(heat.soak_plate_c)} for the soak, about {about_s(heat.soak_s)} s"
    return (("plate", f"{name}, cold at the start: {soak}; then {dial_c(heat.peak_plate_c)}"),)


def _last_lines(option: Option) -> Lines:
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
    looks_at=("hot_plates", "aids", "room"),
    warms="board",
    questions=_questions,
    set_up=_set_up,
    overheats=_overheats,
    lines=_lines,
    last_lines=_last_lines,
    sides=("top",),
)
