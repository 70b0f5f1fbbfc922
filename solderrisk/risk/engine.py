"""The risk of a whole kit, and the engine that remembers what a what-if need not redo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import steady
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.model.reference import Reference
from solderrisk.risk.choice import Candidate, Worth, chance_for, job_risk, pinned_first, ranked
from solderrisk.risk.needed import Tooling
from solderrisk.risk.person import People, Person
from solderrisk.risk.results import JobRisk, KitRisk, Range
from solderrisk.risk.roll_up import (
    Share,
    Totals,
    failure_shares,
    fault_range,
    ranges,
    roll_up,
)
from solderrisk.risk.skill import Skilled, skill_needed
from solderrisk.risk.tables import Tables, view
from solderrisk.risk.work import Case, cases_of, stake_of

Floats = NDArray[np.float64]

NONE = Range(0.0, 0.0, 0.0)
MAX_RISKS = 2_000
MAX_CASES = 200


@dataclass(frozen=True)
class Chances:
    """The short answer of ``RiskEngine.chances``. ``decisive``: share of failure by job key,
    largest first; ``blocked``: keys of jobs that cannot be done; ``minutes``: expected, of
    the soldered jobs."""

    working: Range
    first_time: Range
    loss: Range
    decisive: tuple[tuple[str, float], ...]
    blocked: tuple[str, ...]
    minutes: float
    samples: Floats


class RiskEngine:
    """Assesses kits again and again. Tables are kept per piece of work, technique, part of
    the bench and eyes; persons enter only by weights on them."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.tables = Tables(reference)
        self.people = People(reference.risk)
        self._risks: dict[tuple[object, ...], JobRisk] = {}
        self._kept_cases: dict[object, tuple[Case, ...]] = {}
        self.tooling = Tooling(self.tables)

    # --- the whole answer ---

    def assess(self, question: Question, run: Run = ALONE) -> KitRisk:
        """Chances of every soldered job and of the kit. A question about other reference data
        than this engine's is not for it.

        Raises:
            Stopped: the caller wants no more.
            KeyError: a record, level or plan names a skill that does not exist.
        """
        run.tell(0.0, "taking the kit apart")
        cases, person = self._cases(question), self._person(question)
        run.tell(0.1, "heating joints on the bench")
        options = self.tables.candidates(cases, question.bench, person.eyes)
        run.tell(0.6, "looking for the smallest set of tools")
        tooling = self.tooling.needed(cases, options, question.bench)
        run.tell(0.8, "weighing techniques")
        stake = stake_of(question.jobs, question.kit, self.reference.risk.parameters)
        risks = [
            self._case_risk(case, options[n], tooling[n], person, question, stake)
            for n, case in enumerate(cases)
        ]
        run.tell(0.95, "adding it up")
        return self._rolled(question.jobs, question.kit, cases, options, risks, person, stake)

    def _person(self, question: Question) -> Person:
        return self.people.person(
            question.builder,
            samples=question.samples,
            seed=question.seed,
            practice=dict(question.practice),
        )

    def _cases(self, question: Question) -> tuple[Case, ...]:
        if self.tables.full:
            self.tables = Tables(self.reference)
            self.tooling = Tooling(self.tables)
            self._risks.clear()
            self._kept_cases.clear()
        key = (question.kit, question.jobs, question.looks, question.pins)
        if key not in self._kept_cases:
            _room(self._kept_cases, MAX_CASES)
            looks, pins = dict(question.looks), dict(question.pins)
            cases = cases_of(question.jobs, question.kit, self.reference, looks, pins)
            self._kept_cases[key] = cases
        return self._kept_cases[key]

    def _case_risk(
        self,
        case: Case,
        candidates: Sequence[Candidate],
        tooling: tuple[str, ...],
        person: Person,
        question: Question,
        stake: float,
    ) -> JobRisk:
        """The answer for one case, told of its first job."""
        draw = (question.samples, question.seed)
        worth = self._worth(case, question.kit, stake)
        believed = tuple((b.a, b.b, b.note) for b in person.beliefs.values())
        key = (
            *(case.work, case.spares, case.irreplaceable, len(case.jobs)),
            *(view(question.bench), person.eyes, believed, worth, case.pin, tooling, draw),
            case.jobs[0].alike,
        )
        kept = self._risks.get(key)
        if kept is None:
            _room(self._risks, MAX_RISKS)
            order = ranked(candidates, person.hands, worth)
            order, finding, pinned = pinned_first(order, case.pin)
            found = job_risk(
                case.jobs[0],
                order,
                person.hands,
                person.notes,
                worth,
                pinned=pinned,
                findings=self._findings(finding, order, tooling),
                skill=self._skill_needed(candidates, draw),
                tooling_needed=tooling,
            )
            kept = self._risks[key] = found
        return kept

    def _findings(
        self, pin: str, order: Sequence[Candidate], tooling: tuple[str, ...]
    ) -> tuple[str, ...]:
        found = [pin] if pin else []
        if tooling and not any(c.outcome is not None for c in order):
            titles = {tool.id: tool.title for tool in self.reference.plan.tools}
            found.append(f"possible with: {'; '.join(titles[tool] for tool in tooling)}")
        return tuple(found)

    def _worth(self, case: Case, kit: Kit, stake: float) -> Worth:
        data = self.reference.risk.parameters
        hour = data["hour_value"] if kit.hour_value is None else kit.hour_value
        postage = data["reorder_cost"] * data["reorder_share"] if not case.irreplaceable else 0.0
        return Worth(case.price + postage, stake, hour)

    def _skill_needed(self, candidates: Sequence[Candidate], draw: tuple[int, int]) -> Skilled:
        """As ``skilled.skill_needed``, with this builder's hand and eyes at every level."""
        chances = {}
        for prior in self.reference.risk.levels.levels:
            hands = self.people.level_hands(prior.level, draw)
            found = (chance_for(c, hands[c.technique.skill]) for c in candidates)
            chances[prior.level] = max(found, default=0.0)
        return skill_needed(chances, self.reference.risk.parameters)

    def _rolled(
        self,
        jobs: Sequence[Job],
        kit: Kit,
        cases: Sequence[Case],
        options: Sequence[Sequence[Candidate]],
        risks: Sequence[JobRisk],
        person: Person,
        stake: float,
    ) -> KitRisk:
        by_key = {
            job.key: replace(risk, job=job)
            for case, risk in zip(cases, risks, strict=True)
            for job in case.jobs
        }
        chosen = [
            next((c for c in found if c.technique.id == risk.chosen.technique), None)
            for found, risk in zip(options, risks, strict=True)
        ]
        shares = self._shares(cases, chosen, kit, stake)
        totals, failing = self._totals(cases, shares, jobs, person)
        blocked = [risk.job.key for risk in by_key.values() if risk.blocked]
        told = _told(totals, stake, bool(blocked))
        minutes = sum(job.minutes for job in jobs if not job.soldered)
        hours = told["hours"]
        hours = Range(*(value + minutes / 60 for value in (hours.low, hours.mid, hours.high)))
        working = np.zeros_like(totals.working) if blocked else totals.working
        if blocked:
            failing = {key: 1 / len(blocked) for key in blocked}
        return KitRisk(
            jobs=tuple(by_key[job.key] for job in jobs if job.soldered),
            first_time=told["first_time"],
            working=told["working"],
            faults=fault_range(totals),
            loss=told["loss"],
            hours=hours,
            by_key={job.key: by_key[job.key] for job in jobs if job.soldered},
            fail_share={job.key: failing.get(job.key, 0.0) for job in jobs if job.soldered},
            working_samples=working,
        )

    def _shares(
        self,
        cases: Sequence[Case],
        chosen: Sequence[Candidate | None],
        kit: Kit,
        stake: float,
    ) -> list[Share | None]:
        return [
            Share(
                candidate.outcome,
                candidate.technique.skill,
                len(case.jobs),
                self._worth(case, kit, stake).part_cost,
            )
            if candidate is not None and candidate.outcome is not None
            else None
            for case, candidate in zip(cases, chosen, strict=True)
        ]

    def _totals(
        self,
        cases: Sequence[Case],
        shares: Sequence[Share | None],
        jobs: Sequence[Job],
        person: Person,
    ) -> tuple[Totals, dict[str, float]]:
        real = [share for share in shares if share is not None]
        spoiled = 1.0 - float(np.prod([1.0 - job.spoils for job in jobs]))
        totals = roll_up(real, person.hands, spoiled)
        # What tasks spoil is not soldering: it is left out of the jobs' shares.
        carried = iter(failure_shares(real, person.hands, totals.working / (1 - spoiled))
                       if spoiled < 1 else [0.0] * len(real))  # fmt: skip
        failing: dict[str, float] = {}
        for case, share in zip(cases, shares, strict=True):
            part = next(carried) if share is not None else 0.0
            failing.update((job.key, part) for job in case.jobs)
        return totals, failing

    # --- the short answer, for searches ---

    def chances(self, question: Question, *, by: str = "loss") -> Chances:
        """The working chance alone, many times faster than ``assess``.

        ``by`` 'loss' chooses techniques as ``assess`` does; 'chance' takes the technique
        most likely to work, with which more tools or practice never lower the answer.
        """
        kit, jobs = question.kit, question.jobs
        cases, person = self._cases(question), self._person(question)
        options = self.tables.candidates(cases, question.bench, person.eyes)
        stake = stake_of(jobs, kit, self.reference.risk.parameters)
        chosen = []
        for case, candidates in zip(cases, options, strict=True):
            order = ranked(candidates, person.hands, self._worth(case, kit, stake), by)
            order, _, _ = pinned_first(order, case.pin)
            chosen.append(order[0] if order and order[0].outcome is not None else None)
        shares = self._shares(cases, chosen, kit, stake)
        totals, failing = self._totals(cases, shares, jobs, person)
        blocked = tuple(
            job.key
            for case, candidate in zip(cases, chosen, strict=True)
            if candidate is None
            for job in case.jobs
        )
        if blocked:
            failing = {key: 1 / len(blocked) for key in blocked}
        told = _told(totals, stake, bool(blocked))
        return Chances(
            told["working"],
            told["first_time"],
            told["loss"],
            tuple(sorted(failing.items(), key=lambda item: (-item[1], item[0]))),
            blocked,
            steady(totals.minutes.mean()),
            np.zeros_like(totals.working) if blocked else totals.working,
        )


def _told(totals: Totals, stake: float, blocked: bool) -> dict[str, Range]:
    """Ranges of the totals; nothing works where a job is blocked."""
    told = ranges(totals, stake)
    if blocked:
        told |= {"first_time": NONE, "working": NONE, "loss": Range(stake, stake, stake)}
    return told


def _room(kept: dict[Any, Any], most: int) -> None:
    if len(kept) >= most:
        kept.clear()
