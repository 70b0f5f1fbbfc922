"""Heating joint by joint: an iron, an iron on a preheated board, a vacuum tool's nozzle."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from scipy.special import ndtr

from solderrisk.model.bench import Bench, Iron, Tip, VacuumDesolderer, VacuumNozzle
from solderrisk.model.footprint import PadGroup
from solderrisk.model.question import Reference
from solderrisk.model.technique import Technique, TipRule
from solderrisk.physics.handwork import vacuum_fits
from solderrisk.physics.joint import doubted_link, joint_cases
from solderrisk.physics.part_limits import shock_limit
from solderrisk.physics.results import IronCase, JointCase
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.heat.bench import HIDDEN, Answer, Question, Setup, used_solder
from solderrisk.risk.heat.choice import IronAnswer, IronQuestion, starts_of
from solderrisk.risk.heat.source import Floats, HeatSource, mixed, window_of, window_text
from solderrisk.risk.results import JointHeat, Lines, Option
from solderrisk.risk.skill import hazard_of
from solderrisk.risk.work import Work
from solderrisk.risk.worlds import STATED
from solderrisk.words import dial_c, fit_words


def tip_for(technique: Technique, group: PadGroup) -> str:
    """The rule for tips on a group of joints: small pins of a heavy part take another."""
    main = technique.suits.main or technique.suits.kinds
    return technique.tip if group.kind in main else technique.other_tip


def _questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    return _asked(technique, work, alloy, bench, starts_of(bench), reference)


def _preheated_questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    starts = starts_of(bench, preheated_only=True)
    return _asked(technique, work, alloy, bench, starts, reference)


def _asked(
    technique: Technique,
    work: Work,
    alloy: str,
    bench: Bench,
    starts: tuple[float, ...],
    reference: Reference,
) -> list[Question]:
    limit = shock_limit(work.footprint, reference.physics)
    if limit is not None and limit.told and bench.preheaters:
        starts = starts_of(bench, preheated_only=True)  # a cold ceramic cracks under a hot tip
    if not (bench.irons and starts):
        return []
    return [
        IronQuestion(case, bench.irons, tip_for(technique, case.group), starts)
        for case in _made(technique, work, alloy)
    ]


def _made(technique: Technique, work: Work, alloy: str) -> list[JointCase]:
    """Joints as they are tied, then as those would be that may be tied."""
    part = (work.footprint, work.board)
    made = [case for case in joint_cases(*part, alloy, work.links) if technique.makes(case.group)]
    ties = [doubted_link(work.footprint, case.group, work.board, work.links) for case in made]
    doubted = zip(made, ties, strict=True)
    return [*made, *(replace(case, links=(tie,)) for case, tie in doubted if tie is not None)]


def _vacuum_questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    return [
        IronQuestion(case, irons, "any", starts_of(bench), "vacuum_over_liquidus_k")
        for case in joint_cases(work.footprint, work.board, alloy, work.links)
        if (irons := _vacuum_irons(bench, case.group, reference))
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


def _set_up(
    base: Setup, given: Sequence[Answer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    answers = [answer for answer in given if isinstance(answer, IronAnswer)]
    if not answers:
        return replace(base, missing=("a soldering iron",), why="no iron")
    made = [group for group in work.footprint.pads if base.technique.makes(group)]
    failed = [a for a in answers[: len(made)] if not a.feasible]
    if failed:
        return _too_weak(base, failed, reference)
    hidden = [group.name for group in made if group.kind in HIDDEN]
    if hidden or not work.footprint.hand_iron:
        where = ", ".join(hidden) or "its joints"
        return replace(base, missing=("a way to heat joints under the body",), why=(
            f"no iron reaches {where}"
        ))  # fmt: skip
    return _with_iron(base, answers, work, bench, reference)


def _too_weak(base: Setup, failed: list[IronAnswer], reference: Reference) -> Setup:
    worst = min(failed, key=lambda a: a.heat.margin_k if a.heat else float("-inf"))
    if worst.heat is None:
        what = reference.risk.technique_data.tip_rule(base.technique.tip).title
        return replace(base, missing=(what,), why=worst.why)
    return replace(
        base,
        missing=("more heat at the joint",),
        why=worst.why,
        case=worst.case,
        iron_heat=worst.heat,
    )


def _with_iron(
    base: Setup, answers: list[IronAnswer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    found = [
        JointHeat(
            group.name,
            work.copies(group.count),
            case,
            heat,
            _rule(base.technique, group, reference).alone,
            used_solder(base.technique, work, group, bench, reference),
        )
        for case, heat in ((answer.case, answer.heat) for answer in answers)
        if case is not None and heat is not None
        for group in (case.joint.group,)
    ]
    made = sum(base.technique.makes(group) for group in work.footprint.pads)
    joints = tuple(found[:made])
    worst = min(joints, key=lambda joint: joint.spare_k)
    case = max(joints, key=lambda joint: joint.effort).case
    others = [
        a.why for a in answers[:made]
        if a.case is not None and a.case.tip != case.tip and a.case.joint != case.joint
    ]  # fmt: skip
    also = f"; for its other joints {others[0]}" if others else ""
    why = next(a.why for a in answers if a.case is case)
    hot = max(joint.case.start_c for joint in joints)
    settings = replace(
        base.settings,
        iron=case.iron.name,
        tip_width_mm=case.tip.width_mm,
        tip_shape=case.tip.shape,
        tip_c=case.tip_c,
        preheat_c=hot if hot > bench.room.ambient_c else None,
    )
    return replace(
        base,
        why=why + also,
        settings=settings,
        case=worst.case,
        iron_heat=worst.heat,
        decided=all(joint.heat.decision == "wets" for joint in joints),
        joints=joints,
        tied=tuple(found[made:]),
    )


def _rule(technique: Technique, group: PadGroup, reference: Reference) -> TipRule:
    return reference.risk.technique_data.tip_rule(tip_for(technique, group))


def _set_up_vacuum(
    base: Setup, given: Sequence[Answer], work: Work, bench: Bench, reference: Reference
) -> Setup:
    answers = [answer for answer in given if isinstance(answer, IronAnswer)]
    groups = work.footprint.pads
    if len(answers) < len(groups):
        why = next(
            reason
            for group in groups
            if (reason := _no_nozzle(bench.desolderers, group, reference))
        )
        return replace(base, missing=("a nozzle that goes over the lead",), why=why)
    failed = [a for a in answers if not a.feasible]
    if failed:
        return _too_weak(base, failed, reference)
    done = _with_iron(base, answers, work, bench, reference)
    case = max(done.joints, key=lambda joint: joint.effort).case
    nozzle = _nozzle_of(bench.desolderers, case)
    settings = replace(
        done.settings,
        iron=None,
        tip_shape=None,
        tip_width_mm=None,
        desolderer=done.settings.iron,
        bore_mm=nozzle.bore_mm if nozzle else None,
    )
    return replace(done, settings=settings)


def _nozzle_of(tools: Iterable[VacuumDesolderer], case: IronCase) -> VacuumNozzle | None:
    name, outer = case.iron.name, case.tip.width_mm
    return next(
        (n for tool in tools if tool.name == name for n in tool.nozzles if n.outer_mm == outer),
        None,
    )


def _no_nozzle(
    tools: Iterable[VacuumDesolderer], group: PadGroup, reference: Reference
) -> str | None:
    fits = [vacuum_fits(n, group, reference.physics) for tool in tools for n in tool.nozzles]
    if any(fit.fits for fit in fits):
        return None
    return f"{group.name}: {fit_words(fits[-1])}" if fits else f"{group.name}: no nozzle"


def _held_too_long(scene: Conditions) -> Iterator[Raw]:
    """Any joint's tip may stay too long: one hazard for the part."""
    data, spread = scene.data, scene.tables.dwell_spread
    found = []

    def kept(joint: JointHeat) -> Floats:
        over = ndtr(-np.log(window_of(joint, data)) / 2 / spread) * data["overheated_share"]
        return np.asarray(hazard_of(over))

    for joint in scene.setup.joints:
        window = window_of(joint, data)
        told = window_text(window, joint.heat)
        hurt = joint.joints * mixed(scene, joint, kept)
        found.append((float(window[STATED, 0]), told, hurt))
    if found:
        why = min(found, key=lambda each: each[0])[1]
        yield Raw("overheated", 1, np.asarray(sum(hazard for *_, hazard in found)), why)


def tip_text(iron: str, width_mm: float | None, shape: str | None, tip_c: float | None) -> str:
    """'station, 1.6 mm chisel tip at 330 C'."""
    tip = f", {width_mm:g} mm {shape} tip" if width_mm else ""
    return f"{iron}{tip}{f' at {dial_c(tip_c)}' if tip_c else ''}"


def _lines(option: Option) -> Lines:
    """One line where one tip does, else one for each tip, the hardest joints first."""
    s = option.settings
    groups: dict[str, list[str]] = {}
    for joint in option.joints:
        case = joint.case
        tip = tip_text(case.iron.name, case.tip.width_mm, case.tip.shape, case.tip_c)
        groups.setdefault(tip, []).append(joint.group)
    if len(groups) > 1:
        return tuple((", ".join(names), tip) for tip, names in groups.items())
    if s.iron is None:
        return ()
    return (("iron", tip_text(s.iron, s.tip_width_mm, s.tip_shape, s.tip_c)),)


def _vacuum_lines(option: Option) -> Lines:
    s = option.settings
    if s.desolderer is None:
        return ()
    at = f" at {dial_c(s.tip_c)}" if s.tip_c else ""
    return (("vacuum", f"{s.desolderer}, {s.bore_mm:g} mm bore{at}"),)


IRON = HeatSource(
    name="iron",
    warms="joint",
    questions=_questions,
    set_up=_set_up,
    overheats=_held_too_long,
    lines=_lines,
)
PREHEATED = replace(IRON, name="preheated_iron", questions=_preheated_questions)
VACUUM = replace(
    IRON,
    name="vacuum",
    questions=_vacuum_questions,
    set_up=_set_up_vacuum,
    lines=_vacuum_lines,
)
