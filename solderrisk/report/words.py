"""Jobs, risks and costs in plain words, the same on every face."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from solderrisk.words import LEVEL_WORDS as LEVEL_WORDS
from solderrisk.words import (
    about_minutes,
    chance,
    counted,
    folded,
    grams,
    kind_and_ref,
    likely,
    money,
    named,
    note_words,
    one_line,
    percent,
    rate,
    short_list,
    span,
)

if TYPE_CHECKING:
    from solderrisk.model.jobs import Job
    from solderrisk.model.plan_data import PricedTool
    from solderrisk.plan.results import (
        Assessment,
        CostLine,
        Costs,
        Judgement,
        SecondLook,
        Training,
        Verdict,
    )
    from solderrisk.risk.results import JobRisk, KitRisk, ModeChance


@dataclass(frozen=True)
class Band:
    """How likely a job is to end badly: a mark and a word, so that colour is never needed."""

    rank: int
    mark: str
    word: str

    @property
    def style(self) -> str:
        """Name of its style in every face."""
        return f"band-{self.rank}"


SLIGHT = Band(0, "·", "slight")
SOME = Band(1, "○", "some")
HIGH = Band(2, "◐", "high")
SEVERE = Band(3, "●", "severe")
BLOCKED = Band(4, "✖", "blocked")
BANDS = (SLIGHT, SOME, HIGH, SEVERE, BLOCKED)

# Steps for showing only: one bad end in 1000, in 100, in 20 tries.
BAND_STEPS = (0.001, 0.01, 0.05)


def band_of(risk: JobRisk) -> Band:
    """The band of a job from its chance of not working in the end."""
    if risk.blocked or not risk.options:
        return BLOCKED
    bad = 1.0 - risk.chosen.after_mending.mid
    return BANDS[sum(bad >= step for step in BAND_STEPS)]


# The verdict


def headline(judgement: Judgement) -> str:
    """The answer in a few words."""
    if not judgement.possible:
        return "Not manageable with these tools"
    if not judgement.has_figure:
        every = judgement.missing + judgement.counted
        return f"Not decided: {judgement.missing} of {every} parts are not counted"
    if judgement.answer != "open":
        yes = judgement.answer == "yes"
        return "Manageable" if yes else "Not manageable as things stand"
    lean = "manageable" if judgement.leaning else "not manageable"
    if judgement.missing:
        are = "part is" if judgement.missing == 1 else "parts are"
        return f"Not decided: {judgement.missing} {are} not counted; the rest leans to {lean}"
    if judgement.burnt and judgement.leaning:
        return f"Not decided: {short_list(judgement.burnt)} would come off a burnt board"
    return f"Too close to call, leaning to {lean} ({odds(judgement)})"


def odds(judgement: Judgement) -> str:
    """'about 2 in 3': how much of what is not known agrees with the leaning."""
    share = judgement.odds if judgement.leaning else 1 - judgement.odds
    told = ((1, 2), (3, 5), (2, 3), (3, 4), (4, 5), (9, 10))
    part, of = min(told, key=lambda pair: abs(pair[0] / pair[1] - share))
    return f"about {part} in {of}"


MARKS = {"yes": "✔", "no": "✘", "open": "≈"}
MARK_WORDS = "✔ enough, ≈ too close to call, ✘ not enough, – not with these tools"


def mark(judgement: Judgement) -> str:
    """One sign for a cell of the difficulty statement."""
    return MARKS[judgement.answer] if judgement.possible else "–"


def in_hundred(v: Verdict) -> str:
    """'38 in 100 such builds would work; you asked for 70'."""
    if not v.judgement.possible:
        return "part of the work cannot be done on this bench"
    if not v.judgement.has_figure:
        return "no chance is told for the rest alone"
    works, asked = _hundred(v.chance.mid), _hundred(v.target)
    return f"{works} in 100 such builds would work; you asked for {asked}"


def _hundred(share: float) -> str:
    told = f"{100 * share:.0f}"
    if 0 < share < 0.005:
        return "less than 1"
    return "more than 99" if 0.995 <= share < 1 else told


def chance_told(v: Verdict) -> str:
    """The chance with its range, or why there is none."""
    if not v.judgement.possible:
        return "none with these tools"
    return chance(v.chance) if v.judgement.has_figure else "not told: too much is not counted"


def reasons(a: Assessment) -> list[str]:
    """What stands behind the verdict: work that cannot be done, or what carries the risk."""
    from solderrisk.plan.verdict import by_needs

    blocked = by_needs(job for job in a.risk.jobs if job.blocked)
    if blocked:
        return [*_spoilt(a), *(_cannot(a, needs, jobs) for needs, jobs in blocked.items())]
    told = _spoilt(a) + [
        _carries(a.risk.by_key[key], a.risk.fail_share[key]) for key in a.verdict.top[:3]
    ]
    doubtful = [job.job.ref for job in a.risk.jobs if not job.chosen.decided]
    if doubtful:
        told.append(f"whether the heat is enough is not certain at {short_list(doubtful)}")
    return told


SPOILT = {
    "burnt": "with burnt spots: leave it alone, take the parts from another",
    "leaked_cell": "that a cell has leaked on: clean and test each part before it is trusted",
}
VERBS = {"wire": "connect"}
UNDECIDED = "too close to call: try one on scrap before it counts"


def _spoilt(a: Assessment) -> list[str]:
    """Parts off boards that have suffered: what no figure here knows."""
    told = []
    for condition, why in SPOILT.items():
        refs = [job.ref for job in a.jobs if job.donor_condition == condition]
        if refs:
            told.append(f"{short_list(refs)} would come off a board {why}")
    return told


def _cannot(a: Assessment, needs: tuple[str, ...], blocked: Sequence[JobRisk]) -> str:
    kind, *tools = needs
    remedy = f"it needs {named(tools, a.tool_names)}" if tools else "no tool in the list helps"
    helps = sorted({tool for risk in blocked for tool in risk.tooling_helps})
    if helps and not tools:
        remedy = f"{named(helps, a.tool_names)} would help, still {UNDECIDED}"
    refs = short_list([risk.job.ref for risk in blocked])
    return f"nothing on this bench can {VERBS.get(kind, kind)} {refs}; {remedy}"


def _carries(job: JobRisk, share: float) -> str:
    worst = worst_mode(job)
    why = f"; most likely fault: {worst.title}, {likely(worst.total.mid)}" if worst else ""
    works = likely(job.chosen.after_mending.mid)
    return (
        f"{job_name(job.job)} ({job.chosen.title}) carries {percent(share)} of the failure, "
        f"works {works}{why}"
    )


def worst_mode(job: JobRisk) -> ModeChance | None:
    return max(job.chosen.modes, key=lambda mode: mode.total.mid, default=None)


def mode_why(mode: ModeChance) -> str:
    """'bridge 0.3 % per gap: ...': how a figure comes about."""
    return f"{mode.title} {rate(mode.each.mid)} per {mode.per}: {mode.why}, {mode.hand}"


def look_text(look: SecondLook) -> str:
    """What a check is worth, as a line."""
    worth = f"raises the chance by {100 * look.gain:.1f} points for {about_minutes(look.minutes)}"
    if look.kind == "gate":
        return f"gate '{look.title}' {worth}"
    what = {
        "second_person": "a look by another person at",
        "continuity": "a continuity check with a meter of",
    }[look.kind]
    refs = ", ".join(look.refs[:4]) + (" and others" if len(look.refs) > 4 else "")
    return f"{what} {refs} {worth}"


def assumption_lines(a: Assessment) -> list[str]:
    """What the answer rests on."""
    from solderrisk.plan.cards import usual_limits

    own = [
        f"{number.name} is set to {number.parameter.told} by the user" for number in a.assumed.own
    ]
    return [
        *own,
        "how a chance is worked out: every gap, joint and part may go wrong at a rate that follows "
        "from the part, the technique, the bench and the hand; a fault is seen, mended, or kills "
        "part or board; all jobs have to end well",
        "what a range holds: 5 % to 95 % of all that is not known, drawn together: the hands, "
        "every assumed number within its range, and where within its doubt the heat lies",
        "yes or no is said where four fifths of that agree; solderrisk assumed KIT tells what each "
        "number makes of it and what would settle it",
        f"{a.assumed.judged} of {a.assumed.of} risk parameters are sized by judgement: never "
        "measured are faults per hand-soldered joint by skill, hand-made bridges against pitch, "
        "mending and pad damage, and how often a hunt finds a fault",
        usual_limits(),
        "heat margins inside the band of doubt are undecided: the contact between tip and joint "
        "dominates for irons, what arrives of the jet's heat for hot air",
        *_air_doubts(a.risk),
    ]


def _air_doubts(risk: KitRisk) -> list[str]:
    """Where the hot-air model is used beyond what it was made from, with the work it is about."""
    found: dict[str, list[str]] = {}
    for item in risk.jobs:
        heat = None if item.blocked else item.chosen.air_heat
        for doubt in heat.doubts if heat else ():
            found.setdefault(note_words(doubt), []).append(item.job.ref)
    return [
        f"hot air on {short_list(list(dict.fromkeys(refs)))}: {doubt}"
        for doubt, refs in found.items()
    ]


# Money


def bad_case(costs: Costs) -> str:
    """What is lost if it fails, and what it is made of."""
    unit = costs.currency
    parts = [
        (costs.bad_worth, "for what nobody sells"),
        (costs.bad_hours, "for the hours"),
    ]
    told = [f"{money(amount, unit)} {what}" for amount, what in parts if amount >= 0.005]
    more = f"; {unpriced(costs)}" if costs.unpriced else ""
    if not told:
        return money(costs.bad_case, unit) + more
    spent = f"{money(costs.bad_money, unit)} of money"
    return f"{money(costs.bad_case, unit)}: {', '.join([spent, *told])}{more}"


def expected_loss(costs: Costs) -> str:
    """The loss to reckon with; what has no price is not in it, which is said."""
    told = span(costs.expected_loss, costs.currency)
    return f"{told}; {unpriced(costs)}" if costs.unpriced else told


def to_buy(costs: Costs) -> str:
    """The sum to pay; never a small sum where most of it is not known."""
    if not costs.unpriced:
        return money(costs.to_buy, costs.currency)
    return f"{unpriced(costs)}; the rest {money(costs.to_buy, costs.currency)}"


def unpriced(costs: Costs) -> str:
    return f"price of {counted(len(costs.unpriced), 'part')} not known"


def cost_note(line: CostLine) -> str:
    """What stands beside the sum."""
    if line.amount is None:
        return "price not known"
    notes = [f"{line.count} x"] if line.count else []
    notes += [grams(line.grams)] if line.grams else []
    return ", ".join([*notes, *(["invented price"] if line.invented else [])])


# Advice and practice


def item_name(item: PricedTool | Training) -> str:
    """A purchase, or practice with its amount."""
    from solderrisk.plan.results import Training

    if isinstance(item, Training):
        return f"practise {item.title}, {counted(item.joints, 'joint')}"
    return item.title


# Jobs

MORE_OFTEN = 1e-4  # a mode that is rarer than that beside another way is not told


def why_chosen(risk: JobRisk) -> str:
    """Why the chosen technique comes first, or why none does."""
    first = risk.chosen
    if risk.blocked:
        return f"not possible on this bench: {first.why or ', '.join(first.missing)}"
    told = f"{first.title}: works {likely(first.after_mending.mid)}"
    if risk.pinned:
        return f"pinned by you; {told}"
    if not any(option.feasible for option in risk.options[1:]):
        return f"{told}; the only technique that is possible here"
    if risk.equals:
        return f"{told}; the kit about as likely with {' or with '.join(risk.equals)}"
    return f"{told}, best for the kit as a whole"


def why_not_next(risk: JobRisk) -> str:
    """Why the runner-up lost, with the mode in which it is worse by most; '' without one."""
    if risk.blocked or len(risk.options) < 2:
        return ""
    first, second = risk.options[:2]
    if not second.feasible:
        return f"{second.title}: {second.why or ', '.join(second.missing)}"
    one, other = likely(first.after_mending.mid), likely(second.after_mending.mid)
    text = f"{second.title}: works {other} against {one}, "
    text += f"{second.minutes.mid:.0f} against {first.minutes.mid:.0f} min"
    base = {mode.mode: mode.total.mid for mode in first.modes}
    worse = [(mode.total.mid - base.get(mode.mode, 0.0), mode.title) for mode in second.modes]
    gap, title = max(worse, key=lambda pair: pair[0], default=(0.0, ""))
    return f"{text}; more often: {title}" if gap > MORE_OFTEN else text


def skill_words(job: JobRisk) -> str:
    """The skill that is needed, and what is asked of it."""
    level = LEVEL_WORDS[job.skill_needed] if job.skill_needed else "no level is enough here"
    return f"{level} ({asked_of(job)})" if job.skill_asked else level


def asked_of(job: JobRisk) -> str:
    """What is asked of the level that a job needs; '' where it is blocked."""
    asked = job.skill_asked
    if asked is None:
        return ""
    if asked.most is None:
        return f"{100 * asked.chance:.3g} % asked"
    reached = f"{100 * asked.chance:.1f} % that {asked.most} hands reach"
    return f"within {100 * asked.slack:g} % of the {reached}"


def job_name(job: Job) -> str:
    """What a person calls the job: 'U3', 'lift U3', 'wire W1'."""
    ref = one_line(job.ref, 24)
    return ref if job.kind == "fit" else f"{job.kind} {ref}"


def key_name(key: str) -> str:
    """The same from a key alone."""
    kind, ref = kind_and_ref(key)
    return ref if kind == "fit" else f"{kind} {ref}"


def refs_line(keys: tuple[str, ...], limit: int = 12) -> str:
    """Many keys in one line; the rest is counted."""
    names = [key_name(key) for key in keys[:limit]]
    rest = len(keys) - len(names)
    return ", ".join(names) + (f" and {rest:,} more" if rest > 0 else "")


WORKS = (
    "'Works' means that all boards of the kit do in the end what they are for, faults found and "
    "mended on the way included. Each figure is the mean for a builder who has done that much, "
    "in brackets the 5 % and 95 % ends of what is not known about such a person. Estimates, "
    "partly by judgement; no clearance to work."
)


def grouped(keys: Iterable[str]) -> str:
    """Job keys by kind with runs folded: 'fit R1-R12, R15; lift U1'."""
    by_kind: dict[str, list[str]] = {}
    for key in keys:
        kind, ref = kind_and_ref(key)
        by_kind.setdefault(kind, []).append(ref)
    return "; ".join(f"{kind} {folded(refs)}" for kind, refs in by_kind.items())
