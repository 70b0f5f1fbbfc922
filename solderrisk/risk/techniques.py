"""What a technique needs for a piece of work, whether the bench has it, how it is set up."""

from __future__ import annotations

from collections.abc import Sequence

from solderrisk.model.bench import Bench, Iron, Tip
from solderrisk.model.footprint import PadGroup
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.joint import joint_cases
from solderrisk.physics.results import JointCase
from solderrisk.physics.tool_fit import vacuum_fits
from solderrisk.risk.bench_facts import common_settings, missing_tools, used_alloy
from solderrisk.risk.heat_choice import (
    AirAnswer,
    AirQuestion,
    IronAnswer,
    IronQuestion,
    starts_of,
)
from solderrisk.risk.setups import Setup, by_air, by_iron, by_low_melt, by_plate, by_vacuum
from solderrisk.risk.work import Work


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
        and not (technique.heat == "plate" and work.side == "bottom")
    )


# What of a bench each kind of heating looks at, and what everything looks at: other changes
# leave its answers as they are.
HEAT_VIEW: dict[str, tuple[str, ...]] = {
    "iron": ("irons", "preheaters", "room"),
    "preheated_iron": ("irons", "preheaters", "room"),
    "air": ("hot_air", "preheaters", "room"),
    "plate": (),
    "vacuum": ("desolderers", "preheaters", "room"),
    "low_melt": ("irons", "hot_air", "preheaters", "removal_alloys", "room"),
}
SCENE_VIEW = ("solders", "fluxes", "magnifiers", "aids")


def questions(
    technique: Technique, work: Work, bench: Bench, reference: Reference
) -> list[IronQuestion | AirQuestion]:
    """What the heat model is to be asked for this set-up."""
    alloy = used_alloy(technique, work, bench, reference)
    match technique.heat:
        case "iron" | "preheated_iron":
            irons, only_hot = bench.irons, technique.heat == "preheated_iron"
            starts = starts_of(bench, preheated_only=only_hot)
            if not (irons and starts):
                return []
            return _iron_questions(technique, work, alloy, irons, starts)
        case "vacuum":
            return [
                IronQuestion(case, irons, "any", starts_of(bench))
                for case in _cases(work, alloy)
                if (irons := _vacuum_irons(bench, case.group, reference))
            ]
        case "air" if bench.hot_air:
            return [air_question(work, alloy, bench)]
        case _:
            return []


def air_question(work: Work, alloy: str, bench: Bench) -> AirQuestion:
    return AirQuestion(
        work.footprint,
        work.board,
        alloy,
        work.links,
        bench.hot_air,
        starts_of(bench),
        "lift" if work.kind == "lift" else "fit",
    )


def _cases(work: Work, alloy: str) -> tuple[JointCase, ...]:
    return joint_cases(work.footprint, work.board, alloy, work.links)


def _iron_questions(
    technique: Technique,
    work: Work,
    alloy: str,
    irons: tuple[Iron, ...],
    starts: tuple[float, ...],
) -> list[IronQuestion | AirQuestion]:
    main = technique.suits.main or technique.suits.kinds
    return [
        # Small pins of a heavy part get the tip that fits them.
        IronQuestion(case, irons, technique.tip if case.group.kind in main else "fits", starts)
        for case in _cases(work, alloy)
    ]


def _vacuum_irons(bench: Bench, group: PadGroup, reference: Reference) -> tuple[Iron, ...]:
    """Desolderers as irons whose tips are the nozzles that fit the lead."""
    found = []
    for tool in bench.desolderers:
        nozzles = [n for n in tool.nozzles if vacuum_fits(n, group, reference.physics).fits]
        if nozzles:
            tips = tuple(Tip(width_mm=n.outer_mm, shape="conical") for n in nozzles)
            found.append(
                Iron(
                    name=tool.name,
                    drive="station",
                    power_w=tool.power_w,
                    highest_c=tool.highest_c,
                    tips=tips,
                )
            )
    return tuple(found)


def set_up(
    technique: Technique,
    work: Work,
    bench: Bench,
    answers: Sequence[IronAnswer | AirAnswer],
    reference: Reference,
) -> Setup:
    """Settings and heat of a technique on a bench; what is missing, in words.

    ``answers`` are those to ``questions`` for the same arguments, in their order.
    """
    missing = missing_tools(technique, work, bench, reference)
    if missing:
        return Setup(technique, missing, "not on this bench: " + ", ".join(missing))
    base = Setup(technique, settings=common_settings(technique, work, bench, reference))
    irons = [answer for answer in answers if isinstance(answer, IronAnswer)]
    airs = [answer for answer in answers if isinstance(answer, AirAnswer)]
    match technique.heat:
        case "iron" | "preheated_iron":
            return by_iron(base, irons, work, bench, reference)
        case "vacuum":
            return by_vacuum(base, irons, work, bench, reference)
        case "air":
            return by_air(base, airs[0] if airs else None, bench)
        case "plate":
            return by_plate(base, work, reference)
        case _:
            return by_low_melt(base, work, bench, reference)
