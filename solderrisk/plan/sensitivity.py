"""What matters most: assumed numbers, and further checks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from solderrisk.model.base import steady
from solderrisk.model.bench import Bench, Record
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Gate
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.model.risk_data import ReportedKits
from solderrisk.plan.results import Answer, SecondLook
from solderrisk.plan.verdict import judged
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import Range
from solderrisk.risk.roll_up import Compared, weigh

# Groups of alike jobs that are tried, the riskiest first; the rest cannot matter more.
MOST_GROUPS = 12
SAMPLES = 1000
SMALLEST_GAIN = 0.0005
KINDS: tuple[Literal["second_person", "continuity"], ...] = ("second_person", "continuity")


@dataclass(frozen=True)
class _Trial:
    """A question that is asked again with one check more or less."""

    question: Question
    engine: RiskEngine
    run: Run

    def chance(self, **changes: Any) -> float:
        self.run.check()
        return self.engine.chances(self.question.but(**changes)).working.mid

    def without(self, gate: Gate) -> float:
        """The chance if this gate found nothing. The gate itself stays: rules name it."""
        kit = self.question.kit
        gates = tuple(
            each.model_copy(update={"finds": 0.0}) if each.ref == gate.ref else each
            for each in kit.gates
        )
        return self.chance(kit=kit.model_copy(update={"gates": gates}))


def second_looks(
    question: Question, engine: RiskEngine, run: Run = ALONE
) -> tuple[SecondLook, ...]:
    """What each check adds to the chance of a working result, best first.

    A gate is worth what the chance falls without it. Checks that the bench gives to every
    job anyway (a second person at hand) gain nothing and are left out.

    Techniques stay as they are chosen: what differs is the check alone.

    Raises:
        Stopped: the caller wants no more.
    """
    question = question.but(looks=(), samples=SAMPLES)
    found = engine.chances(question)
    question = question.but(pins=tuple(found.techniques.items()))
    by_key = {job.key: job for job in question.jobs}
    groups = _groups([by_key[key] for key, share in found.decisive if share > 0])
    trial, base = _Trial(question, engine, run), found.working.mid
    looks = [*_checks(trial, groups, base), *_gates(trial, base)]
    worth = [look for look in looks if look.gain >= SMALLEST_GAIN]
    return tuple(sorted(worth, key=lambda look: (-look.gain, look.key, look.kind)))


def _groups(ranked: Iterable[Job]) -> list[list[Job]]:
    groups: dict[Job, list[Job]] = {}
    for job in ranked:
        groups.setdefault(job.alike, []).append(job)
    return list(groups.values())[:MOST_GROUPS]


def _checks(trial: _Trial, groups: list[list[Job]], base: float) -> Iterable[SecondLook]:
    data = trial.question.reference.plan.costs
    for number, group in enumerate(groups):
        trial.run.tell(number / len(groups), "trying second looks")
        joints = sum(job.footprint.joint_count for job in group if job.footprint)
        refs = tuple(job.ref for job in group)
        for kind in KINDS:
            if not _possible(kind, group[0], trial.question.bench):
                continue
            gain = trial.chance(looks=tuple((job.key, (kind,)) for job in group)) - base
            minutes = joints * data[f"{kind}_minutes_per_joint"]
            yield SecondLook(group[0].key, kind, gain, minutes, refs)


def _possible(kind: str, job: Job, bench: Bench) -> bool:
    if kind == "second_person":
        return not bench.has("second_person")
    # A lifted part has no joints to measure yet.
    return job.kind != "lift" and bench.has("multimeter")


def _gates(trial: _Trial, base: float) -> Iterable[SecondLook]:
    for gate in trial.question.kit.gates:
        gain = base - trial.without(gate)
        yield SecondLook(f"gate:{gate.ref}", "gate", gain, gate.minutes, title=gate.title)


MOST_EFFECTS = 10
TRIALS = (40, 150)  # joints of practice
MOST_TRIALS = 3


@dataclass(frozen=True)
class Effect:
    """The chance of a working result with one number at its 5 % and at its 95 % point, all
    else as little known as it is. ``share``: of the whole doubt; ``others`` move with it."""

    name: str
    at_low: float
    at_high: float
    share: float = 0.0
    others: tuple[str, ...] = ()

    @property
    def width(self) -> float:
        return abs(self.at_high - self.at_low)


@dataclass(frozen=True)
class Outcome:
    """What a trial may show: ``faults``, the chance then, and what the answer would be."""

    faults: int
    chance: Range
    answer: Answer


@dataclass(frozen=True)
class Trial:
    """Joints on scrap, counted: each outcome is as likely as the others. ``settles``: share of
    outcomes that turn an open answer into yes or no."""

    skill: str
    title: str
    joints: int
    hours: float
    cost: float
    outcomes: tuple[Outcome, ...]

    @property
    def settles(self) -> float:
        return sum(o.answer != "open" for o in self.outcomes) / len(self.outcomes)


@dataclass(frozen=True)
class Unheard:
    """The chance of a working result with all reports of kits, with none of them, and with each
    one left out, by its id."""

    heard: float
    none: float
    without: Mapping[str, float]


@dataclass(frozen=True)
class Ranking:
    """``hands``: share of the doubt that is the builder's alone; ``effects``, widest first;
    ``reported``: kits that people reported on, against what is predicted of such;
    ``trials``: what would settle an open answer; ``unheard``: the chance without them."""

    hands: float
    effects: tuple[Effect, ...]
    reported: tuple[Compared, ...] = ()
    trials: tuple[Trial, ...] = ()
    unheard: Unheard | None = None


def trials(question: Question, engine: RiskEngine, run: Run = ALONE) -> tuple[Trial, ...]:
    """The trials that would most likely settle an open answer, the cheapest of equals first;
    none where the answer is not open or no trial would settle it.

    Raises:
        Stopped: the caller wants no more.
    """
    now = engine.chances(question)
    if now.blocked or judged(now.samples, question).answer != "open":
        return ()
    reference = question.reference
    used = {reference.risk.technique(name).skill for name in now.techniques.values()}
    found = []
    for skill in sorted(used):
        for joints in TRIALS:
            run.tell(0.9, f"trying {joints} joints of {skill}")
            found.append(_trial(question, engine, skill, joints))
    settling = [trial for trial in found if trial.settles > 0]
    settling.sort(key=lambda trial: (-trial.settles, trial.cost, trial.skill))
    return tuple(settling[:MOST_TRIALS])


def _trial(question: Question, engine: RiskEngine, skill: str, joints: int) -> Trial:
    reference, builder = question.reference, question.builder
    rung = next((e for e in reversed(reference.plan.practice.exercises) if e.skill == skill), None)
    hours = joints * (1.0 if rung is None else rung.joint_minutes) / 60
    price = 0.0 if rung is None else joints * rung.joint_price
    newest = max((r.date for r in builder.records if r.date), default=None)
    made = Record(skill=skill, joints=joints, faults=0, date=question.as_of or newest)
    outcomes = []
    for faults in engine.foreseen(question, made):
        record = made.model_copy(update={"faults": faults})
        told = builder.model_copy(update={"records": (*builder.records, record)})
        then = engine.chances(question.but(builder=told))
        outcomes.append(Outcome(faults, then.working, judged(then.samples, question).answer))
    cost = price + hours * question.hour_value
    title = reference.risk.levels.skill(skill).title
    return Trial(skill, title, joints, hours, cost, tuple(outcomes))


def unheard(question: Question, engine: RiskEngine) -> Unheard | None:
    """The same samples, weighed anew; None where the work cannot be done."""
    found = engine.chances(question)
    if found.blocked:
        return None
    worlds, by_skill = engine.tables.worlds(question.seed)
    # Whoever it is, the same samples lie in the same worlds.
    hands = engine.people.level_hands("several", question.samples, worlds)
    world = next(iter(hands.values())).world - 1
    data = question.reference.risk.reported

    def mean(heard: ReportedKits) -> float:
        weights = weigh(worlds, by_skill, heard) / worlds.weights
        return steady(float(np.average(found.samples, weights=weights[world])))

    without = {kit.id: mean(data.but(kit.id)) for kit in data.kits}
    return Unheard(found.working.mid, mean(data.but()), without)


def widest(question: Question, engine: RiskEngine, run: Run = ALONE) -> Ranking:
    """What moves the chance most, and its share of the doubt: a second or two.

    Raises:
        Stopped: the caller wants no more.
    """
    found = engine.makeup(question, MOST_EFFECTS, run)
    tried = trials(question, engine, run)
    run.tell(1.0, "the last of them")
    return Ranking(
        found.hands,
        tuple(
            Effect(doubt.names[0] if doubt.names else doubt.cause, doubt.at_low, doubt.at_high,
                   doubt.share, doubt.names[1:])
            for doubt in found.doubts
        ),
        engine.reported(question.seed),
        tried,
        unheard(question, engine),
    )  # fmt: skip
