"""The verdict: the chance against what is wanted, and what carries the risk."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.jobs import Job
from solderrisk.model.question import Question
from solderrisk.plan.results import Judgement, Verdict
from solderrisk.risk.results import JobRisk, KitRisk

TOP = 6
# So much of what is not known has to agree for a yes or a no.
AGREES = 0.8
TINY = 1e-9


def judged(samples: NDArray[np.float64], question: Question, *, possible: bool = True) -> Judgement:
    """One rule for all: yes or no where four fifths of what is not known agree, else open.
    ``samples``: chances of a working result, each as likely. What cannot be done is a no
    whatever the chance; a kit with references that nothing counts, or with parts off a burnt
    board, has no yes; with too many of the former there is no answer at all."""
    odds = float(np.mean(samples >= question.wanted)) if possible else 0.0
    missing = len(question.kit.not_counted)
    counted = sum(job.kind == "fit" for job in question.jobs)
    burnt = tuple(job.ref for job in question.jobs if job.donor_condition == "burnt")
    found = Judgement("open", odds, possible, missing, counted, burnt)
    if possible and not found.has_figure:
        return found
    if odds <= 1 - AGREES + TINY:
        return replace(found, answer="no")
    sure = odds >= AGREES - TINY and not missing and not burnt
    return replace(found, answer="yes") if sure else found


def verdict(risk: KitRisk, question: Question) -> Verdict:
    """Compare the chance of a working result with what is wanted."""
    blocked = any(job.blocked for job in risk.jobs)
    samples, chance = risk.working_samples, risk.working
    if samples is None:
        samples = np.array([chance.low, chance.mid, chance.high])
    return Verdict(
        judgement=judged(samples, question, possible=not blocked),
        chance=chance,
        first_time=risk.first_time,
        target=question.wanted,
        top=top_jobs(risk, TOP),
    )


def top_jobs(risk: KitRisk, count: int) -> tuple[str, ...]:
    """Keys of the jobs that carry most of the failure, one of each sort, worst first."""
    ranked = sorted(risk.fail_share.items(), key=lambda item: (-item[1], item[0]))
    worst = one_of_each([risk.by_key[key].job for key, share in ranked if share > 0])
    return tuple(job.key for job in worst[:count])


def one_of_each(jobs: Sequence[Job]) -> list[Job]:
    """The first of every sort of alike jobs, in their order."""
    return list({job.alike: job for job in reversed(jobs)}.values())[::-1]


def by_needs(blocked: Iterable[JobRisk]) -> dict[tuple[str, ...], list[JobRisk]]:
    """Blocked jobs by the kind of work and the tools that would do them."""
    groups: dict[tuple[str, ...], list[JobRisk]] = {}
    for risk in blocked:
        groups.setdefault((risk.job.kind, *risk.tooling_needed), []).append(risk)
    return groups
