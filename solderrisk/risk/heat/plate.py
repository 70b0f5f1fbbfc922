"""Heating a whole board on a plate."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from solderrisk.model.bench import Bench
from solderrisk.model.reference import Reference
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.heat.air import by_excess
from solderrisk.risk.heat.setup import Answer, Setup
from solderrisk.risk.heat.source import HeatSource, nothing_to_ask
from solderrisk.risk.results import Lines, Option
from solderrisk.risk.work import Work


def _peak_c(work: Work, reference: Reference) -> float:
    liquidus = reference.physics.alloys[work.alloy].liquidus_c
    return liquidus + reference.risk.parameters["plate_over_liquidus_k"]


def _set_up(
    base: Setup, given: Sequence[Answer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    peak = _peak_c(work, reference)
    limits = [work.footprint.heat.body_c]
    if work.footprint.heat.softens_c is not None:
        limits.append(work.footprint.heat.softens_c)
    if peak > min(limits):
        why = f"the board's peak of {peak:.0f} C is above the part's {min(limits):.0f} C"
        return replace(base, missing=("a cooler way to heat it",), why=why)
    return replace(base, why=f"whole board to about {peak:.0f} C")


def _overheats(scene: Conditions) -> Iterator[Raw]:
    peak, limit = _peak_c(scene.work, scene.reference), scene.work.footprint.heat.body_c
    yield by_excess(peak - limit, f"peak {peak:.0f} of {limit:.0f} C", scene.data)


def _lines(option: Option) -> Lines:
    return ()


PLATE = HeatSource(
    name="plate",
    looks_at=(),
    warms="board",
    questions=nothing_to_ask,
    set_up=_set_up,
    overheats=_overheats,
    lines=_lines,
    sides=("top",),
)
