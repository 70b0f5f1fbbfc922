"""The risk of a whole kit, and the engine that remembers what a what-if need not redo."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any, get_args

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import Key
from solderrisk.model.bench import Record
from solderrisk.model.jobs import Job
from solderrisk.model.kit import GateKind
from solderrisk.model.question import ALONE, Question, Reference, Run
from solderrisk.risk.choice import Alternatives, Choice, Row, Worth, choose
from solderrisk.risk.options import NOTHING, Needed, Tooling, User, job_risk
from solderrisk.risk.person import People, Person
from solderrisk.risk.results import JobRisk, KitRisk, Range
from solderrisk.risk.roll_up import (
    Chosen,
    Compared,
    Makeup,
    Plan,
    Share,
    Totals,
    compared,
    drawn_of,
    failure_shares,
    fault_range,
    makeup,
    ranges,
    roll_up,
    share_of,
    working_of,
)
from solderrisk.risk.skill import Belief, Skilled, sample_range, skill_needed
from solderrisk.risk.tables import Tables
from solderrisk.risk.work import Case, Surroundings, cases_of, part_worth, stake_of, surroundings
from solderrisk.risk.worlds import WORLDS, Worlds

Floats = NDArray[np.float64]

NONE = Range(0.0, 0.0, 0.0)
MAX_RISKS = 2_000
MAX_CASES = 200


@dataclass(frozen=True)
class Chances:
    """The short answer of ``RiskEngine.chances``. ``blocked``: keys of jobs that cannot be
    done; ``techniques``: the chosen ones by job key."""

    samples: Floats
    blocked: tuple[str, ...]
    techniques: dict[str, str]
    carried: Callable[[], Mapping[str, float]]

    @cached_property
    def working(self) -> Range:
        return NONE if self.blocked else sample_range(self.samples)

    @cached_property
    def decisive(self) -> tuple[tuple[str, float], ...]:
        """Share of failure by job key, largest first."""
        return tuple(sorted(self.carried().items(), key=lambda item: (-item[1], item[0])))


@dataclass(frozen=True)
class _Asked:
    """A question with what is known of its person, what is at stake, and its worlds."""

    question: Question
    person: Person
    stake: float
    worlds: Worlds


class RiskEngine:
    """Assesses kits again and again. Tables are kept per piece of work, technique, part of
    the bench and eyes; persons enter only by weights on them."""

    def __init__(self, reference: Reference, worlds: int = WORLDS) -> None:
        self.reference = reference
        self.tables = Tables(reference, worlds)
        self.people = People(reference.risk)
        self._risks: dict[tuple[object, ...], JobRisk] = {}
        self._kept_cases: dict[object, tuple[Case, ...]] = {}
        self._around: dict[Key, Surroundings] = {}
        self.tooling = Tooling(self.tables)

    # --- the whole answer ---

    def assess(self, question: Question, run: Run = ALONE, *, detail: bool = True) -> KitRisk:
        """Chances of every soldered job and of the kit. A question about other reference data
        than this engine's is not for it. Without ``detail`` the least tools are worked out for
        what is blocked alone.

        Raises:
            Stopped: the caller wants no more.
            KeyError: a record, level or plan names a skill that does not exist.
        """
        run.tell(0.0, "taking the kit apart")
        cases, asked = self._cases(question), self._asked(question)
        run.tell(0.1, "heating joints on the bench")
        options = self._candidates(cases, asked)
        run.tell(0.6, "weighing techniques")
        choices = self._choose(cases, options, asked)
        run.tell(0.7, "looking for the smallest set of tools")
        user = User(asked.person.eyes, asked.person.hands)
        asking = [n for n, choice in enumerate(choices) if detail or choice.chosen is None]
        found = self.tooling.needed(
            [cases[n] for n in asking], [choices[n] for n in asking], question.bench, user
        )
        tooling = dict(zip(asking, found, strict=True))
        risks = []
        for n, (case, choice) in enumerate(zip(cases, choices, strict=True)):
            run.tell(0.8 + 0.15 * n / len(cases), "weighing techniques")
            needed = tooling.get(n, NOTHING)
            risks.append(self._case_risk(case, options[n], choice, needed, asked))
        run.tell(0.95, "adding it up")
        return self._rolled(cases, choices, risks, asked)

    def _asked(self, question: Question) -> _Asked:
        worlds, by_skill = self.tables.worlds(question.seed)
        person = self.people.person(
            question.builder,
            worlds,
            by_skill,
            samples=question.samples,
            practice=dict(question.practice),
            as_of=question.as_of,
        )
        stake = stake_of(question.jobs, question.kit, self.reference.risk.parameters)
        return _Asked(question, person, stake, worlds)

    def beliefs(self, question: Question) -> Mapping[str, Belief]:
        """What is believed of the builder, by skill, after their records."""
        return self._asked(question).person.beliefs

    def _cases(self, question: Question) -> tuple[Case, ...]:
        if self.tables.full:
            self.tables = Tables(self.reference, self.tables.count)
            self.tooling = Tooling(self.tables)
            self._risks.clear()
            self._kept_cases.clear()
            self._around.clear()
        here = Key((question.kit, *question.jobs))
        key = (here, question.looks, question.pins)
        if key not in self._kept_cases:
            _room(self._kept_cases, MAX_CASES)
            if here not in self._around:
                _room(self._around, MAX_CASES)
                data = self.reference.risk.parameters
                self._around[here] = surroundings(question.jobs, question.kit, data)
            looks, pins = dict(question.looks), dict(question.pins)
            self._kept_cases[key] = Key(cases_of(question.jobs, self._around[here], looks, pins))
        return self._kept_cases[key]

    def _candidates(self, cases: tuple[Case, ...], asked: _Asked) -> list[Row]:
        question, eyes = asked.question, asked.person.eyes
        return self.tables.candidates(cases, question.bench, eyes, question.seed)

    def _choose(
        self,
        cases: Sequence[Case],
        options: Sequence[Row],
        asked: _Asked,
        *,
        every: bool = True,
    ) -> list[Choice]:
        groups = [
            Alternatives(len(case.jobs), found, self._worth(case, asked), case.pin)
            for case, found in zip(cases, options, strict=True)
        ]
        data = self.reference.risk.parameters
        return choose(groups, asked.person.hands, data, every=every)

    def _case_risk(
        self, case: Case, row: Row, choice: Choice, tooling: Needed, asked: _Asked
    ) -> JobRisk:
        """The answer for one case, told of its first job."""
        person, question = asked.person, asked.question
        worth = self._worth(case, asked)
        believed = tuple((b.a, b.b, b.note) for b in person.beliefs.values())
        key = (
            *(row, case.stock, len(case.jobs), case.pin),
            *(believed, worth, tooling),
            *(question.samples, question.seed),
            *(tuple(c.technique.id for c in choice.order), choice.equals),
            case.jobs[0].alike,
        )
        if key not in self._risks:
            _room(self._risks, MAX_RISKS)
            self._risks[key] = job_risk(
                case.jobs[0],
                choice,
                person.hands,
                person.notes,
                worth,
                findings=self._findings(case, choice, tooling.ids),
                skill=self._skill_needed(choice, asked),
                tooling=tooling,
            )
        return self._risks[key]

    def _findings(self, case: Case, choice: Choice, tooling: tuple[str, ...]) -> tuple[str, ...]:
        found = [] if case.pin is None or choice.pinned else [_pin_lost(case.pin, choice)]
        if tooling and choice.chosen is None:
            titles = {tool.id: tool.title for tool in self.reference.plan.tools}
            found.append(f"possible with: {'; '.join(titles[tool] for tool in tooling)}")
        return tuple(found)

    def _worth(self, case: Case, asked: _Asked) -> Worth:
        data, own = self.reference.risk.parameters, asked.question.kit.hour_value
        hour = data["hour_value"] if own is None else own
        postage = data["reorder_cost"] * data["reorder_share"] if not case.irreplaceable else 0.0
        return Worth(case.price + postage, asked.stake, hour)

    def _skill_needed(self, choice: Choice, asked: _Asked) -> Skilled:
        """As ``skill.skill_needed``, with this builder's hand and eyes at every level."""
        chances = {}
        for prior in self.reference.risk.levels.levels:
            hands = self.people.level_hands(prior.level, asked.question.samples, asked.worlds)
            chances[prior.level] = max(
                (c.outcome.chance_in(hands[c.technique.skill]) for c in choice.order
                 if c.outcome is not None),
                default=0.0,
            )  # fmt: skip
        return skill_needed(chances, self.reference.risk.parameters)

    def _rolled(
        self,
        cases: Sequence[Case],
        choices: Sequence[Choice],
        risks: Sequence[JobRisk],
        asked: _Asked,
    ) -> KitRisk:
        jobs, data = asked.question.jobs, self.reference.risk.parameters
        by_key = {
            job.key: replace(risk, job=job, worth=part_worth(job, data))
            for case, risk in zip(cases, risks, strict=True)
            for job in case.jobs
        }
        shares = self._shares(cases, choices, asked)
        real = [share for share in shares if share is not None]
        totals = roll_up(real, asked.person.hands, _spoiled(jobs))
        failing = self._failing(cases, shares, totals.working, asked)
        blocked = _blocked(cases, shares)
        told = _told(totals, bool(blocked))
        minutes = sum(job.minutes for job in jobs if not job.soldered)
        hours = told["hours"]
        hours = Range(*(value + minutes / 60 for value in (hours.low, hours.mid, hours.high)))
        working = np.zeros_like(totals.working) if blocked else totals.working
        hands, numbers = self._apart(shares, asked, bool(blocked))
        return KitRisk(
            jobs=tuple(by_key[job.key] for job in jobs if job.soldered),
            first_time=told["first_time"],
            first_power=told["first_power"],
            working=told["working"],
            faults=fault_range(totals),
            ruined=told["ruined"],
            hours=hours,
            by_key={job.key: by_key[job.key] for job in jobs if job.soldered},
            fail_share={job.key: failing.get(job.key, 0.0) for job in jobs if job.soldered},
            working_samples=working,
            ruined_samples=np.zeros_like(working) if blocked else totals.money,
            gate_finds={kind: data[f"gate_{kind}"] for kind in get_args(GateKind)},
            by_hands=hands,
            by_numbers=numbers,
            drawn=drawn_of(cases, shares, asked.person.hands),
        )

    def _apart(
        self, shares: Sequence[Share | None], asked: _Asked, blocked: bool
    ) -> tuple[Range, Range]:
        """The chance where only the hands are in doubt, and where only the numbers are."""
        if blocked:
            return NONE, NONE
        real = [share for share in shares if share is not None]
        sound = 1 - _spoiled(asked.question.jobs)
        hands = asked.person.hands
        stated = {skill: hand.in_stated_world() for skill, hand in hands.items()}
        middle = {skill: hand.everywhere(asked.worlds) for skill, hand in hands.items()}
        return (
            sample_range(working_of(real, stated) * sound),
            sample_range(working_of(real, middle) * sound),
        )

    def _shares(
        self, cases: Sequence[Case], choices: Sequence[Choice], asked: _Asked
    ) -> list[Share | None]:
        return [
            share_of(case, chosen.outcome, self._worth(case, asked).part_cost, asked.worlds)
            if (chosen := choice.chosen) is not None and chosen.outcome is not None
            else None
            for case, choice in zip(cases, choices, strict=True)
        ]

    def _failing(
        self, cases: Sequence[Case], shares: Sequence[Share | None], working: Floats, asked: _Asked
    ) -> dict[str, float]:
        """Share of the kit's failure by job key; of those that cannot be done where there are
        any. What tasks spoil is not soldering: it is left out."""
        keys = [[job.key for job in case.jobs] for case in cases]
        blocked = _blocked(cases, shares)
        if blocked:
            return dict.fromkeys(blocked, 1 / len(blocked))
        real = [share for share in shares if share is not None]
        sound = 1 - _spoiled(asked.question.jobs)
        if sound <= 0:
            return dict.fromkeys((key for some in keys for key in some), 0.0)
        carried = failure_shares(real, asked.person.hands, working / sound)
        return {key: part for some, part in zip(keys, carried, strict=True) for key in some}

    def makeup(self, question: Question, most: int, run: Run = ALONE) -> Makeup:
        """What the range of the working chance is made of; nothing where a job is blocked."""
        cases, asked = self._cases(question), self._asked(question)
        choices = self._choose(cases, self._candidates(cases, asked), asked)
        shares = self._shares(cases, choices, asked)
        real = [share for share in shares if share is not None]
        if len(real) < len(shares):
            return Makeup(0.0, ())
        person, sound = asked.person, 1 - _spoiled(question.jobs)
        chosen = [
            Chosen(case, choice.order[0].setup,
                   self.tables.means(case.work, question.bench, person.eyes))
            for case, choice in zip(cases, choices, strict=True)
        ]  # fmt: skip
        stated = {skill: hand.in_stated_world() for skill, hand in person.hands.items()}
        plan = Plan(self.reference, chosen, person.hands, sound, question.seed)
        working, by_hands = (working_of(real, hands) * sound for hands in (person.hands, stated))
        return makeup(plan, working, by_hands, most, run)

    def foreseen(self, question: Question, trial: Record) -> tuple[int, ...]:
        """Faults that a trial of this builder may show, each as likely as the other."""
        asked, (worlds, by_skill) = self._asked(question), self.tables.worlds(question.seed)
        return self.people.foreseen(asked.person, trial, worlds, by_skill)

    def reported(self, seed: int) -> tuple[Compared, ...]:
        """What kits that people reported on say of the numbers, and are told by them."""
        return compared(*self.tables.worlds(seed))

    # --- the short answer, for searches ---

    def chances(self, question: Question) -> Chances:
        """The working chance alone, as ``assess`` tells it and many times faster."""
        cases, asked = self._cases(question), self._asked(question)
        choices = self._choose(cases, self._candidates(cases, asked), asked, every=False)
        shares = self._shares(cases, choices, asked)
        real = [share for share in shares if share is not None]
        sound = 1 - _spoiled(question.jobs)
        working = working_of(real, asked.person.hands) * sound
        blocked = _blocked(cases, shares)
        return Chances(
            np.zeros_like(working) if blocked else working,
            blocked,
            {
                job.key: choice.chosen.technique.id
                for case, choice in zip(cases, choices, strict=True)
                if choice.chosen is not None
                for job in case.jobs
            },
            partial(self._failing, cases, shares, working, asked),
        )


def _blocked(cases: Sequence[Case], shares: Sequence[Share | None]) -> tuple[str, ...]:
    """Keys of jobs that nothing on the bench can do."""
    pairs = zip(cases, shares, strict=True)
    return tuple(job.key for case, share in pairs if share is None for job in case.jobs)


def _pin_lost(pin: str, choice: Choice) -> str:
    wanted = next((c for c in choice.order if c.technique.id == pin), None)
    if wanted is None:
        return f"pinned technique {pin!r} does not suit this part: not used"
    why = wanted.setup.why or ", ".join(wanted.setup.missing)
    return f"pinned technique '{wanted.technique.title}' is not possible: {why}"


def _spoiled(jobs: Sequence[Job]) -> float:
    """Chance that work without solder spoils the kit."""
    return 1.0 - float(np.prod([1.0 - job.spoils for job in jobs]))


def _told(totals: Totals, blocked: bool) -> dict[str, Range]:
    """Ranges of the totals; nothing works, nor is tried, where a job is blocked."""
    told = ranges(totals)
    if blocked:
        told |= dict.fromkeys(("first_time", "first_power", "working", "ruined"), NONE)
    return told


def _room(kept: dict[Any, Any], most: int) -> None:
    if len(kept) >= most:
        kept.clear()
