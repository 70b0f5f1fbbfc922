"""Jobs, risks and costs in plain words, the same on every face."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from solderrisk.words import LEVEL_WORDS as LEVEL_WORDS
from solderrisk.words import folded, kind_and_ref, money, one_line

if TYPE_CHECKING:
    from solderrisk.model.jobs import Job
    from solderrisk.plan.results import Costs
    from solderrisk.risk.results import JobRisk

SEVERITY_WORDS = {
    "cosmetic": "looks only",
    "mendable": "can be mended",
    "kills_part": "costs the part",
    "kills_board": "costs the board",
}


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


def bad_case(costs: Costs) -> str:
    """What is gone in the bad case, and what it is made of."""
    unit = costs.currency
    parts = [
        (costs.bad_worth, "for what nobody sells"),
        (costs.bad_hours, "for the hours"),
    ]
    told = [f"{money(amount, unit)} {what}" for amount, what in parts if amount >= 0.005]
    if not told:
        return money(costs.bad_case, unit)
    spent = f"{money(costs.bad_money, unit)} of money"
    return f"{money(costs.bad_case, unit)}: {', '.join([spent, *told])}"


def skill_words(job: JobRisk) -> str:
    """The skill that is needed, and what is asked of it."""
    level = LEVEL_WORDS[job.skill_needed] if job.skill_needed else "no level is enough here"
    return f"{level} ({job.skill_why})" if job.skill_why else level


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
    "partly by judgement; no permission."
)


def grouped(keys: Iterable[str]) -> str:
    """Job keys by kind with runs folded: 'fit R1-R12, R15; lift U1'."""
    by_kind: dict[str, list[str]] = {}
    for key in keys:
        kind, ref = kind_and_ref(key)
        by_kind.setdefault(kind, []).append(ref)
    return "; ".join(f"{kind} {folded(refs)}" for kind, refs in by_kind.items())
