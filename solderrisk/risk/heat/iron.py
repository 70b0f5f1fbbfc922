"""Heating joint by joint: an iron, an iron on a preheated board, a vacuum tool's nozzle."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from scipy.special import ndtr

from solderrisk.model.bench import Bench, Iron, Tip, VacuumDesolderer, VacuumNozzle
from solderrisk.model.footprint import PadGroup
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.joint import joint_cases
from solderrisk.physics.tool_fit import vacuum_fits
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.hands import GRID
from solderrisk.risk.heat.choice import IronAnswer, IronQuestion, starts_of
from solderrisk.risk.heat.setup import HIDDEN, Answer, Question, Setup
from solderrisk.risk.heat.source import HeatSource
from solderrisk.risk.results import Line, Lines, Option, Settings
from solderrisk.risk.why import window_text
from solderrisk.risk.work import Work
from solderrisk.risk.yields import hazard_of
from solderrisk.words import dial_c

WIDE = "wide"  # the rule for tips that heavy tabs take


def _questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    return _asked(technique, work, alloy, bench, starts_of(bench))


def _preheated_questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    return _asked(technique, work, alloy, bench, starts_of(bench, preheated_only=True))


def _asked(
    technique: Technique, work: Work, alloy: str, bench: Bench, starts: tuple[float, ...]
) -> list[Question]:
    if not (bench.irons and starts):
        return []
    main = technique.suits.main or technique.suits.kinds
    return [
        # Small pins of a heavy part get the tip that fits them.
        IronQuestion(
            case, bench.irons, technique.tip if case.group.kind in main else "fits", starts
        )
        for case in joint_cases(work.footprint, work.board, alloy, work.links)
    ]


def _vacuum_questions(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    return [
        IronQuestion(case, irons, "any", starts_of(bench))
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
    failed = [a for a in answers if not a.feasible]
    if failed:
        return _too_weak(base, failed, reference)
    hidden = [g.name for g in work.footprint.pads if g.kind in HIDDEN]
    if hidden or not work.footprint.hand_iron:
        where = ", ".join(hidden) or "its joints"
        return replace(base, missing=("a way to heat joints under the body",), why=(
            f"no iron reaches {where}"
        ))  # fmt: skip
    done = _with_iron(base, _leading(base, answers, work), answers, bench)
    small = (not own for own in heavy(base.technique, work))
    return _with_pins(done, _most(answers, work, small))


def _with_pins(base: Setup, pins: IronAnswer | None) -> Setup:
    """Small pins of a heavy part take a tip of their own."""
    if pins is None or pins.case is None:
        return base
    case, had = pins.case, base.settings
    if (case.iron.name, case.tip.width_mm, case.tip.shape) == (
        had.iron,
        had.tip_width_mm,
        had.tip_shape,
    ):
        return base
    settings = replace(
        had,
        pin_iron=case.iron.name,
        pin_tip_width_mm=case.tip.width_mm,
        pin_tip_shape=case.tip.shape,
        pin_tip_c=case.tip_c,
    )
    return replace(base, settings=settings)


def _leading(base: Setup, answers: list[IronAnswer], work: Work) -> IronAnswer:
    """The answer of the joints that there are most of; of heavy tabs where a technique's
    wide tip is for them."""
    return _most(answers, work, heavy(base.technique, work)) or answers[0]


def heavy(technique: Technique, work: Work) -> tuple[bool, ...]:
    """Which pad groups take the technique's own tip; others take one that fits them."""
    main = technique.suits.main or technique.suits.kinds
    return tuple(technique.tip != WIDE or g.kind in main for g in work.footprint.pads)


def _most(answers: list[IronAnswer], work: Work, chosen: Iterable[bool]) -> IronAnswer | None:
    groups = zip(answers, work.footprint.pads, chosen, strict=True)
    counted = [(group.count, answer) for answer, group, wanted in groups if wanted]
    return max(counted, key=lambda pair: pair[0])[1] if counted else None


def _too_weak(base: Setup, failed: list[IronAnswer], reference: Reference) -> Setup:
    worst = min(failed, key=lambda a: a.heat.margin_k if a.heat else float("-inf"))
    if worst.heat is None:
        what = reference.risk.technique_data.tip_rule(base.technique.tip).title
        return replace(base, missing=(what,), why=worst.why)
    return replace(base, missing=("more heat at the joint",), why=worst.why, iron_heat=worst.heat)


def _with_iron(base: Setup, lead: IronAnswer, answers: list[IronAnswer], bench: Bench) -> Setup:
    case, heat = lead.case, lead.heat
    if case is None or heat is None:
        return base
    others = [
        a.why for a in answers
        if a.case is not None and a.case.tip != case.tip and a.case.joint != case.joint
    ]  # fmt: skip
    also = f"; for its other joints {others[0]}" if others else ""
    worst = min((a for a in answers if a.heat), key=_spare_k)
    hot = max(a.case.start_c for a in answers if a.case)
    settings = replace(
        base.settings,
        iron=case.iron.name,
        tip_width_mm=case.tip.width_mm,
        tip_shape=case.tip.shape,
        tip_c=case.tip_c,
        preheat_c=hot if hot > bench.room.ambient_c else None,
        dwell_s=heat.dwell_s,
    )
    return replace(
        base,
        why=lead.why + also,
        settings=settings,
        windows=tuple(max(a.window, 1.0) for a in answers),
        over_s=max(a.over_s for a in answers),
        case=worst.case,
        iron_heat=worst.heat,
        decided=all(a.heat is not None and a.heat.decision == "wets" for a in answers),
    )


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
    lead = _leading(base, answers, work)
    done = _with_iron(base, lead, answers, bench)
    nozzle = _nozzle_of(bench.desolderers, lead)
    return replace(done, settings=replace(
        done.settings,
        iron=None,
        tip_shape=None,
        tip_width_mm=None,
        desolderer=lead.case.iron.name if lead.case else None,
        bore_mm=nozzle.bore_mm if nozzle else None,
    ))  # fmt: skip


def _nozzle_of(tools: Iterable[VacuumDesolderer], answer: IronAnswer) -> VacuumNozzle | None:
    if answer.case is None:
        return None
    name, outer = answer.case.iron.name, answer.case.tip.width_mm
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
    return f"{group.name}: {fits[-1].why}" if fits else f"{group.name}: no nozzle"


def _spare_k(answer: IronAnswer) -> float:
    """What is left of the margin when the heat model's doubt is taken off, K."""
    return answer.heat.margin_k - answer.heat.band_k if answer.heat else -math.inf


def _held_too_long(scene: Conditions) -> Iterator[Raw]:
    """Any joint's tip may stay too long: one hazard for the part."""
    spread, setup = scene.tables.dwell_spread, scene.setup
    total, tightest = np.zeros_like(GRID), None
    for window, group in zip(setup.windows, scene.work.footprint.pads, strict=True):
        if window is None:
            continue
        over = ndtr(-math.log(window) / 2 / spread) * scene.data["overheated_share"]
        total = total + scene.work.copies(group.count) * hazard_of(over)
        tightest = window if tightest is None else min(tightest, window)
    if tightest is not None:
        yield Raw("overheated", 1, total, window_text(tightest, setup))


def tip_line(s: Settings) -> Line:
    """'iron', with its tip and its heat."""
    tip = f", {s.tip_width_mm:g} mm {s.tip_shape} tip" if s.tip_width_mm else ""
    return "iron", f"{s.iron}{tip}{f' at {dial_c(s.tip_c)}' if s.tip_c else ''}"


def _lines(option: Option) -> Lines:
    s = option.settings
    if s.iron is None:
        return ()
    return (tip_line(s),) if s.pin_tip_width_mm is None else (tip_line(s), ("pins", pin_tip(s)))


def pin_tip(s: Settings) -> str:
    """The tip for the small pins of a heavy part; iron and heat where they are others."""
    tip = f"{s.pin_tip_width_mm:g} mm {s.pin_tip_shape} tip"
    if s.pin_iron != s.iron:
        tip = f"{s.pin_iron}, {tip}"
    if s.pin_tip_c is not None and s.pin_tip_c != s.tip_c:
        tip += f" at {dial_c(s.pin_tip_c)}"
    return tip


def _vacuum_lines(option: Option) -> Lines:
    s = option.settings
    vacuum = ("vacuum", f"{s.desolderer}, {s.bore_mm:g} mm bore")
    return () if s.desolderer is None else (vacuum,)


IRON = HeatSource(
    name="iron",
    looks_at=("irons", "preheaters", "room"),
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
    looks_at=("desolderers", "preheaters", "room"),
    questions=_vacuum_questions,
    set_up=_set_up_vacuum,
    lines=_vacuum_lines,
)
