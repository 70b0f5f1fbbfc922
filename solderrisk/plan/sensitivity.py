"""What the answer really rests on: assumed numbers, and what a trial of one's own hands would
settle."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.builder import Record
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.plan.results import Answer
from solderrisk.plan.verdict import judged
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.reported import Compared
from solderrisk.risk.results import Range

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
class Ranking:
    """``hands``: share of the doubt that is the builder's alone; ``effects``, widest first;
    ``reported``: kits that people reported on, against what is predicted of such;
    ``trials``: what would settle an open answer."""

    hands: float
    effects: tuple[Effect, ...]
    reported: tuple[Compared, ...] = ()
    trials: tuple[Trial, ...] = ()


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
    )  # fmt: skip
