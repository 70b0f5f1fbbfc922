"""One job: its options on a bench, which is chosen, and why the next one lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from solderrisk.model.jobs import Job
from solderrisk.risk.choice import Candidate, Choice, Worth
from solderrisk.risk.hands import SHOWN, Hand, row_ranges
from solderrisk.risk.heat.bench import Setup
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.outcomes import FaultTable
from solderrisk.risk.results import JobRisk, JointHeat, ModeChance, Option
from solderrisk.risk.skill import NOBODY, Skilled
from solderrisk.words import likely, rate

LEAST_SHOWN = 1e-4  # modes less likely than one in ten thousand are not listed
TOLD = 2  # options whose modes are spelt out: the chosen one and the runner-up


def option_of(
    candidate: Candidate, hand: Hand, note: str, worth: Worth, *, modes: bool = True
) -> Option:
    """Everything a face shows of a technique for a job. ``note`` says what the belief in
    the person's skill rests on; ``modes``: spell out the fault modes."""
    setup, technique, outcome = candidate.setup, candidate.technique, candidate.outcome
    if outcome is None:
        return Option(
            technique.id,
            technique.title,
            False,
            setup.missing,
            setup.why,
            setup.settings,
            setup.iron_heat,
            setup.air_heat,
            setup.plate_heat,
            setup.low_melt,
            decided=setup.decided,
            skill=technique.skill,
            heat=technique.heat,
            warms=SOURCES[technique.heat].warms,
            case=setup.case,
            joints=_hardest_first(setup),
        )
    table = outcome.table
    money = outcome.parts * worth.part_cost + table.damage + worth.stake * (1 - outcome.works)
    # A lift is about this very part: that another one can be bought does not bring it off whole.
    works = 1 - table.lost if technique.purpose == "lift" else outcome.works
    told = np.stack([np.exp(-table.first), works, table.lost, money, outcome.minutes])
    ranges = row_ranges(hand.mean(told), hand.at_samples(told, SHOWN))
    return Option(
        technique=technique.id,
        title=technique.title,
        feasible=True,
        why=setup.why,
        settings=setup.settings,
        iron_heat=setup.iron_heat,
        air_heat=setup.air_heat,
        plate_heat=setup.plate_heat,
        low_melt=setup.low_melt,
        sight=candidate.sight,
        first_time=ranges[0],
        after_mending=ranges[1],
        lost=ranges[2],
        loss=ranges[3],
        minutes=ranges[4],
        modes=_modes(outcome.table, hand, note) if modes else (),
        decided=setup.decided,
        skill=technique.skill,
        heat=technique.heat,
        warms=SOURCES[technique.heat].warms,
        case=setup.case,
        joints=_hardest_first(setup),
    )


def _hardest_first(setup: Setup) -> tuple[JointHeat, ...]:
    return tuple(sorted(setup.joints, key=lambda joint: joint.effort, reverse=True))


def _modes(faults: FaultTable, hand: Hand, note: str) -> tuple[ModeChance, ...]:
    count = faults.hurt.count
    chances, hazards = faults.hurt.chances, faults.hurt.hazards
    mean = hand.mean(chances)
    shown = np.flatnonzero(mean >= LEAST_SHOWN)
    one = hand.at_samples(chances[shown], SHOWN)
    times = count[shown, None]
    several = 1 - (1 - one) ** times
    totals = np.where(count[shown] > 1, several.mean(axis=1), mean[shown])
    each, total = row_ranges(mean[shown], one), row_ranges(totals, several)
    found = []
    for n, index in enumerate(shown.tolist()):
        hazard = hazards[index]
        mode = hazard.mode
        why = f"{mode.title} {rate(each[n].mid)} per {mode.per}: {hazard.why}, {note}"
        found.append(
            ModeChance(mode.id, mode.title, hazard.count, each[n], total[n], mode.severity, why)
        )
    found.sort(key=lambda chance: -chance.total.mid)
    return tuple(found)


def job_risk(
    job: Job,
    choice: Choice,
    hands: Mapping[str, Hand],
    notes: Mapping[str, str],
    worth: Worth,
    *,
    findings: tuple[str, ...] = (),
    skill: Skilled = NOBODY,
    tooling_needed: tuple[str, ...] = (),
) -> JobRisk:
    """The job with its options, the chosen one first. Modes are spelt out for the first
    two; pin another technique to see its own."""
    options = tuple(
        option_of(c, hands[c.technique.skill], notes[c.technique.skill], worth, modes=n < TOLD)
        for n, c in enumerate(choice.order)
    )
    blocked = not options or not options[0].feasible
    if not options:
        nothing = "no technique is known for this kind of part"
        options = (Option("none", "no technique", False, (nothing,), nothing),)
    return JobRisk(
        job=job,
        options=options,
        blocked=blocked,
        why_chosen=_why_chosen(options, choice, blocked),
        why_not_next="" if blocked or len(options) < 2 else _why_not_next(options),
        skill_needed=skill.level,
        tooling_needed=tooling_needed,
        findings=findings,
        skill_why=skill.why,
        equals=choice.equals,
    )


def _why_chosen(options: Sequence[Option], choice: Choice, blocked: bool) -> str:
    first = options[0]
    if blocked:
        return f"not possible on this bench: {first.why or ', '.join(first.missing)}"
    told = f"{first.title}: works {likely(first.after_mending.mid)}"
    if choice.pinned:
        return f"pinned by you; {told}"
    if not any(option.feasible for option in options[1:]):
        return f"{told}; the only technique that is possible here"
    if choice.equals:
        return f"{told}, as often as {', '.join(choice.equals)}"
    return f"{told}, best for the kit as a whole"


def _why_not_next(options: Sequence[Option]) -> str:
    first, second = options[0], options[1]
    if not second.feasible:
        return f"{second.title}: {second.why or ', '.join(second.missing)}"
    text = (
        f"{second.title}: works {likely(second.after_mending.mid)} against "
        f"{likely(first.after_mending.mid)}, "
        f"{second.minutes.mid:.0f} against {first.minutes.mid:.0f} min"
    )
    worst = _worse_mode(first, second)
    return f"{text}; {worst}" if worst else text


def _worse_mode(first: Option, second: Option) -> str:
    """The mode in which the runner-up is worse by most."""
    base = {mode.mode: mode.total.mid for mode in first.modes}
    worse = [(mode.total.mid - base.get(mode.mode, 0.0), mode) for mode in second.modes]
    gap, mode = max(worse, key=lambda pair: pair[0], default=(0.0, None))
    return f"more often: {mode.title}" if mode is not None and gap > LEAST_SHOWN else ""
