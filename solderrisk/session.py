"""The session: everything that can be asked about kits, in one place.

    from solderrisk import Session, open_inputs

    question = open_inputs("kit.yaml", "bench.yaml", "builder.yaml")
    found = Session().assess(question)
    print(found.verdict.manageable, found.verdict.chance)

Answers are values; ``report`` puts them into words.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING

from solderrisk.model.base import Cache
from solderrisk.model.question import ALONE, Question, Run

if TYPE_CHECKING:
    from solderrisk.journal.classroom import ClassPlan, Person
    from solderrisk.model.bench import Bench, Builder, Level
    from solderrisk.model.jobs import Job
    from solderrisk.model.kit import Kit
    from solderrisk.model.question import Reference
    from solderrisk.physics.results import Alignment, Curve, Remedy
    from solderrisk.plan.order.task import OrderTask
    from solderrisk.plan.practice import PassMark, PracticeStep
    from solderrisk.plan.results import (
        Advice,
        Assessment,
        FittingOrder,
        Gain,
        SecondLook,
        StatementCell,
    )
    from solderrisk.plan.sensitivity import Ranking
    from solderrisk.risk.engine import Chances, RiskEngine
    from solderrisk.risk.results import Option
    from solderrisk.risk.skill import Belief

MOST_ENGINES = 6  # one for each set of numbers that is tried


class Session:
    """Answers questions, and keeps what the next one need not work out anew. May be asked
    from several threads. Long answers take a ``Run``, tell it how far they are and raise
    ``Stopped`` where it wants no more. Each method imports what it needs when first called."""

    def __init__(self) -> None:
        self._engines: Cache[Reference, RiskEngine] = Cache(MOST_ENGINES)

    def _engine(self, question: Question) -> RiskEngine:
        from solderrisk.risk.engine import RiskEngine

        return self._engines.get(question.reference, lambda: RiskEngine(question.reference))

    def assess(
        self,
        question: Question,
        *,
        order: FittingOrder | None = None,
        detail: bool = True,
        run: Run = ALONE,
    ) -> Assessment:
        """Everything there is to show. With ``order`` that order is kept, which is quick;
        without ``detail`` what each check is worth and the least tools for what the bench
        can do are left out: a third of the work.

        Raises:
            UnknownName: the kit names a footprint, board or donor that does not exist.
            CyclicOrder: the kit's own rules contradict each other.
        """
        from solderrisk.plan.assess import assess

        return assess(question, self._engine(question), order=order, detail=detail, run=run)

    def chances(self, question: Question) -> Chances:
        """The chance and what decides it, alone: many times faster."""
        return self._engine(question).chances(question)

    def advise(self, question: Question, *, cautious: bool = False, run: Run = ALONE) -> Advice:
        """The cheapest purchases and practice that reach what is wanted; ``cautious``: with
        the lower end of the range."""
        from solderrisk.plan.advice import advise

        return advise(question, self._engine(question), cautious=cautious, run=run)

    def gains(
        self, question: Question, ticked: Collection[str] = (), run: Run = ALONE
    ) -> tuple[Gain, ...]:
        """What every single purchase and practice does, alone and beside the ``ticked`` tools:
        most for its cost first."""
        from solderrisk.plan.advice import gains

        return gains(question, self._engine(question), ticked, run)

    def statement(
        self, question: Question, benches: Sequence[Bench], run: Run = ALONE
    ) -> tuple[StatementCell, ...]:
        """The difficulty statement: every level of builder on each bench."""
        from solderrisk.plan.verdict import difficulty_statement

        return difficulty_statement(question, benches, self._engine(question), run)

    def second_looks(self, question: Question, run: Run = ALONE) -> tuple[SecondLook, ...]:
        """What further checks are worth, best first."""
        from solderrisk.plan.sensitivity import second_looks

        return second_looks(question, self._engine(question), run)

    def beliefs(self, question: Question) -> Mapping[str, Belief]:
        """What is believed of the builder's hands, by skill."""
        return self._engine(question).beliefs(question)

    def class_plan(
        self, people: Sequence[Person], kits: Sequence[Kit], question: Question, run: Run = ALONE
    ) -> ClassPlan:
        """Several builders before several kits: who may start what, and what helps most."""
        from solderrisk.journal.classroom import class_plan

        return class_plan(people, kits, question, self._engine(question), run)

    def ladder(
        self,
        builder: Builder,
        reference: Reference,
        *,
        aim: str = "",
        skills: Collection[str] | None = None,
    ) -> tuple[PracticeStep, ...]:
        """The practice ladder for a builder; cut to what leads to ``aim``, or to ``skills``.

        Raises:
            UserProblem: nothing is called like the aim.
        """
        from solderrisk.plan.practice import ladder

        return ladder(builder, reference, aim=aim, skills=skills)

    def skills(self, question: Question) -> set[str]:
        """The skills that the kit's work asks for, in the ways that would be chosen."""
        by_id = {technique.id: technique for technique in question.reference.risk.techniques}
        risk = self._engine(question).assess(question)
        used = {job.chosen.technique for job in risk.jobs}
        return {by_id[name].skill for name in used if name in by_id}

    def marks(
        self, reference: Reference, confidences: Sequence[float]
    ) -> dict[Level, tuple[PassMark, ...]]:
        """What shows each level without a fault, by confidence."""
        from solderrisk.plan.practice import level_marks

        return level_marks(reference, confidences)

    def rank(self, question: Question, run: Run = ALONE) -> Ranking:
        """The assumed numbers that move the chance most; takes a second or two."""
        from solderrisk.plan.sensitivity import widest

        return widest(question, self._engine(question), run)

    def move(
        self,
        question: Question,
        found: Assessment,
        key: str,
        before: str | None,
        done: Sequence[str] = (),
    ) -> FittingOrder:
        """The order with one job moved to just before another, or to the end.

        Raises:
            MoveRefused: a rule forbids it; the message is the rule's reason.
        """
        from solderrisk.plan.order.fitting import move

        task = self._task(question, found, done)
        return move(task, found.order, found.order.edges, key, before)

    def _task(self, question: Question, found: Assessment, done: Sequence[str]) -> OrderTask:
        from solderrisk.plan.order.task import OrderTask

        reference = question.reference
        worth, waived = reference.risk.parameters["hour_value"], found.order.waived
        parameters = reference.plan.parameters
        return OrderTask(found.jobs, found.kit, found.risk, parameters, worth, done, waived)

    def replan(
        self,
        question: Question,
        found: Assessment,
        *,
        done: Sequence[str] = (),
        again: Sequence[str] = (),
        locked: Sequence[str] = (),
        run: Run = ALONE,
    ) -> tuple[FittingOrder, tuple[str, ...]]:
        """The best order that leaves locked jobs in their places and what is done in front;
        and what stays done once ``again`` has to be done anew."""
        from solderrisk.plan.order.fitting import lock, replan, still_done

        order = found.order
        rules = order.edges.without("locked")
        kept = still_done(found.jobs, rules, done, again)
        held = [edge for key in locked for edge in lock(order, key)]
        anew = replan(self._task(question, found, kept), rules, locked=held, run=run)
        return anew, kept

    def curve(self, question: Question, option: Option) -> Curve | None:
        """Temperatures against time of an option's heating, None where nothing is heated."""
        from solderrisk.plan.heating import heating_curve

        return heating_curve(option, question.reference.physics)

    def remedies(self, question: Question, option: Option) -> tuple[Remedy, ...]:
        """What would take an option's heat out of doubt or failure, cheapest first."""
        from solderrisk.plan.heating import heat_remedies

        return heat_remedies(option, question.reference.physics)

    def alignment(self, question: Question, job: Job) -> Alignment | None:
        """How far a part may sit off its lands; None where they do not guide it."""
        from solderrisk.plan.verdict import alignment_of

        return alignment_of(job, question.reference)
