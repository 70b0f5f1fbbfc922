"""Which technique for a job: options on a bench, which is chosen, why the next one lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.base import steady
from solderrisk.model.jobs import Job
from solderrisk.model.technique import Technique
from solderrisk.physics.results import Sight
from solderrisk.risk.hands import Hand, as_range
from solderrisk.risk.heat.setup import Setup
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.outcomes import DAMAGE, FIRST, LOST, MINUTES, PARTS, WORK, FaultTable, Outcome
from solderrisk.risk.results import JobRisk, ModeChance, Option, Range
from solderrisk.risk.skill import NOBODY, Skilled
from solderrisk.words import likely, rate


@dataclass(frozen=True)
class Worth:
    """What is at stake for a job: money."""

    part_cost: float  # one more part, with its share of postage
    stake: float  # the kit, if it never works
    hour_value: float


@dataclass(frozen=True)
class Candidate:
    """A technique for a job; ``outcome`` is None where it is not feasible."""

    setup: Setup
    outcome: Outcome | None
    sight: Sight | None = None

    @property
    def technique(self) -> Technique:
        return self.setup.technique


def cost_of(candidate: Candidate, hand: Hand, worth: Worth) -> float:
    """Expected loss and the value of the hours, what techniques are compared by."""
    if candidate.outcome is None:
        return float("inf")
    mean = candidate.outcome.rows @ hand.weights[:, 0]
    money = mean[PARTS] * worth.part_cost + mean[DAMAGE] + worth.stake * (1 - mean[WORK])
    hours = mean[MINUTES] / 60
    return steady(money + hours * worth.hour_value + candidate.technique.consumables)


def chance_for(candidate: Candidate, hand: Hand) -> float:
    """Chance that the job works in the end, mean over what is not known of the person."""
    if candidate.outcome is None:
        return 0.0
    return steady(candidate.outcome.rows[WORK] @ hand.weights[:, 0])


def ranked(
    candidates: Sequence[Candidate],
    hands: Mapping[str, Hand],
    worth: Worth,
    by: str = "loss",
) -> list[Candidate]:
    """Best first: by expected cost, or by the chance of working (``by`` 'chance'). What is
    not feasible comes last, that which lacks least first."""

    def key(candidate: Candidate) -> tuple[bool, float, str]:
        hand = hands[candidate.technique.skill]
        if candidate.outcome is None:
            return True, float(len(candidate.setup.missing)), candidate.technique.id
        chance = by == "chance"
        value = -chance_for(candidate, hand) if chance else cost_of(candidate, hand, worth)
        return False, value, candidate.technique.id

    return sorted(candidates, key=key)


def pinned_first(order: Sequence[Candidate], pin: str | None) -> tuple[list[Candidate], str, bool]:
    """Put a pinned technique first where it is feasible. Gives the order, a finding for a
    pin that could not be kept, and whether it was kept."""
    if pin is None:
        return list(order), "", False
    wanted = next((c for c in order if c.technique.id == pin), None)
    if wanted is None:
        return list(order), f"pinned technique {pin!r} does not suit this part: not used", False
    if wanted.outcome is None:
        why = wanted.setup.why or ", ".join(wanted.setup.missing)
        return (
            list(order),
            f"pinned technique '{wanted.technique.title}' is not possible: {why}",
            False,
        )
    return [wanted, *(c for c in order if c is not wanted)], "", True


LEAST_SHOWN = 1e-4  # modes less likely than one in ten thousand are not listed
TOLD = 2  # options whose modes are spelt out: the chosen one and the runner-up


def option_of(
    candidate: Candidate, hand: Hand, note: str, worth: Worth, *, modes: bool = True
) -> Option:
    """Everything a face shows of a technique for a job. ``note`` says what the belief in
    the person's skill rests on; ``modes``: spell out the fault modes."""
    setup, technique = candidate.setup, candidate.technique
    outcome = candidate.outcome
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
            setup.low_melt,
            decided=setup.decided,
            skill=technique.skill,
            heat=technique.heat,
            warms=SOURCES[technique.heat].warms,
            case=setup.case,
            joints=tuple(sorted(setup.joints, key=lambda joint: joint.effort, reverse=True)),
        )
    table = outcome.rows @ hand.weights
    loss = table[PARTS] * worth.part_cost + table[DAMAGE] + worth.stake * (1 - table[WORK])
    return Option(
        technique=technique.id,
        title=technique.title,
        feasible=True,
        why=setup.why,
        settings=setup.settings,
        iron_heat=setup.iron_heat,
        air_heat=setup.air_heat,
        low_melt=setup.low_melt,
        sight=candidate.sight,
        first_time=as_range(table[FIRST]),
        after_mending=as_range(table[WORK]),
        lost=as_range(table[LOST]),
        loss=as_range(loss),
        minutes=as_range(table[MINUTES]),
        modes=_modes(outcome.table, hand, note) if modes else (),
        decided=setup.decided,
        skill=technique.skill,
        heat=technique.heat,
        warms=SOURCES[technique.heat].warms,
        case=setup.case,
        joints=tuple(sorted(setup.joints, key=lambda joint: joint.effort, reverse=True)),
    )


def _modes(faults: FaultTable, hand: Hand, note: str) -> tuple[ModeChance, ...]:
    table = [[steady(value) for value in row] for row in faults.modes @ hand.weights]
    found = []
    for index, hazard in enumerate(faults.hazards):
        each, total = table[2 * index], table[2 * index + 1]
        if total[0] < LEAST_SHOWN:
            continue
        mode = hazard.mode
        found.append(
            ModeChance(
                mode.id,
                mode.title,
                hazard.count,
                _range(each),
                _range(total),
                mode.severity,
                f"{mode.title} {rate(each[0])} per {mode.per}: {hazard.why}, {note}",
            )
        )
    found.sort(key=lambda chance: -chance.total.mid)
    return tuple(found)


def _range(row: list[float]) -> Range:
    return Range(min(row), row[0], max(row))


def job_risk(
    job: Job,
    order: Sequence[Candidate],
    hands: Mapping[str, Hand],
    notes: Mapping[str, str],
    worth: Worth,
    *,
    pinned: bool = False,
    findings: tuple[str, ...] = (),
    skill: Skilled = NOBODY,
    tooling_needed: tuple[str, ...] = (),
) -> JobRisk:
    """The job with its options, in the order given. Modes are spelt out for the first
    two; pin another technique to see its own."""
    options = tuple(
        option_of(c, hands[c.technique.skill], notes[c.technique.skill], worth, modes=n < TOLD)
        for n, c in enumerate(order)
    )
    costs = [cost_of(c, hands[c.technique.skill], worth) for c in order]
    blocked = not options or not options[0].feasible
    if not options:
        nothing = "no technique is known for this kind of part"
        options = (Option("none", "no technique", False, (nothing,), nothing),)
    return JobRisk(
        job=job,
        options=options,
        blocked=blocked,
        why_chosen=_why_chosen(options, costs, pinned, blocked),
        why_not_next=_why_not_next(options, costs, pinned, blocked),
        skill_needed=skill.level,
        tooling_needed=tooling_needed,
        findings=findings,
        skill_why=skill.why,
    )


def _why_chosen(
    options: Sequence[Option], costs: Sequence[float], pinned: bool, blocked: bool
) -> str:
    first = options[0]
    if blocked:
        return f"not possible on this bench: {first.why or ', '.join(first.missing)}"
    cost = f"{first.title}: expected loss and time worth {costs[0]:.2f}"
    if pinned:
        return f"pinned by you; {cost}"
    rivals = sum(option.feasible for option in options) - 1
    if rivals == 0:
        return f"{cost}; the only technique that is possible here"
    return f"{cost}, least of {rivals + 1} possible techniques"


def _why_not_next(
    options: Sequence[Option], costs: Sequence[float], pinned: bool, blocked: bool
) -> str:
    if blocked or len(options) < 2:
        return ""
    first, second = options[0], options[1]
    if not second.feasible:
        return f"{second.title}: {second.why or ', '.join(second.missing)}"
    text = (
        f"{second.title}: worth {costs[1]:.2f} against {costs[0]:.2f}, "
        f"works {likely(second.after_mending.mid)} against {likely(first.after_mending.mid)}, "
        f"{second.minutes.mid:.0f} against {first.minutes.mid:.0f} min"
    )
    worst = _worse_mode(first, second)
    return f"{text}; {worst}" if worst and not (pinned and costs[1] < costs[0]) else text


def _worse_mode(first: Option, second: Option) -> str:
    """The mode in which the runner-up is worse by most."""
    base = {mode.mode: mode.total.mid for mode in first.modes}
    worse = [(mode.total.mid - base.get(mode.mode, 0.0), mode) for mode in second.modes]
    gap, mode = max(worse, key=lambda pair: pair[0], default=(0.0, None))
    return f"more often: {mode.title}" if mode is not None and gap > LEAST_SHOWN else ""
