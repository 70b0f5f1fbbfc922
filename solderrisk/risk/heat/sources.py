"""The sources of heat, and what a technique needs of them for a piece of work."""

from __future__ import annotations

from collections.abc import Sequence

from solderrisk.model.bench import Bench
from solderrisk.model.question import Reference
from solderrisk.model.technique import Heat, Technique
from solderrisk.risk.heat.air import AIR, LOW_MELT, PLATE
from solderrisk.risk.heat.bench import (
    Answer,
    Question,
    Setup,
    common_settings,
    missing_tools,
    used_alloy,
)
from solderrisk.risk.heat.iron import IRON, PREHEATED, VACUUM
from solderrisk.risk.heat.source import HeatSource
from solderrisk.risk.work import Work

SOURCES: dict[Heat, HeatSource] = {
    source.name: source for source in (IRON, PREHEATED, VACUUM, AIR, PLATE, LOW_MELT)
}


def suits(technique: Technique, work: Work) -> bool:
    """Whether a technique is meant for this kind of part and work at all."""
    rule, footprint = technique.suits, work.footprint
    kinds = {group.kind for group in footprint.pads}
    pitch = footprint.pitch_mm
    return (
        technique.purpose == work.kind
        and kinds <= set(rule.kinds)
        and (not rule.main or bool(kinds & set(rule.main)))
        and (not rule.families or footprint.family in rule.families)
        and footprint.family not in rule.not_families
        and (pitch is None or rule.pitch_from_mm is None or pitch >= rule.pitch_from_mm)
        and (rule.pitch_below_mm is None or (pitch is not None and pitch < rule.pitch_below_mm))
        and (work.kind == "wire" or rule.joints_from <= footprint.joint_count <= rule.joints_to)
        and (rule.holes is None or rule.holes == footprint.through_hole)
        and (work.flat_side or not SOURCES[technique.heat].lies_flat)
    )


def questions(
    technique: Technique, work: Work, bench: Bench, reference: Reference
) -> list[Question]:
    """What the heat model is to be asked for this set-up."""
    alloy = used_alloy(technique, work, bench, reference)
    return SOURCES[technique.heat].questions(technique, work, alloy, bench, reference)


def set_up(
    technique: Technique,
    work: Work,
    bench: Bench,
    answers: Sequence[Answer],
    reference: Reference,
) -> Setup:
    """Settings and heat of a technique on a bench; what is missing, in words.

    ``answers`` are those to ``questions`` for the same arguments, in their order.
    """
    missing = missing_tools(technique, work, bench, reference)
    if missing:
        return Setup(technique, missing, "not on this bench: " + ", ".join(missing))
    base = Setup(technique, settings=common_settings(technique, work, bench, reference))
    return SOURCES[technique.heat].set_up(base, answers, work, bench, reference)
