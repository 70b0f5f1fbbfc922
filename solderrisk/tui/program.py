"""The program's state: what is loaded, tried and computed, whatever shows it.

The first frame is drawn before anything is read; reading and computing go on in worker
threads, whose results come back as messages.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from textual.reactive import reactive
from textual.worker import get_current_worker

from solderrisk.tui.faults import SteadyApp
from solderrisk.tui.messages import (
    Answered,
    Answers,
    Assessed,
    Failed,
    GaveUp,
    Opened,
    Ordered,
    Ranking,
    RankingTold,
    told,
)
from solderrisk.tui.setup import Inputs, Setup, Supposed, opened, stamps

if TYPE_CHECKING:
    from solderrisk.model.question import Question
    from solderrisk.plan.results import Assessment, FittingOrder
    from solderrisk.session import Session
    from solderrisk.tui.rows import Shown

    MakeOrder = Callable[[Question, Assessment], tuple[FittingOrder, Supposed]]

# How long a what-if rests before its order is searched anew.
SETTLE_S = 0.6


class Program(SteadyApp):
    """One kit, one bench, one builder; ``session`` does the work, ``read`` opens the files.

    ``saved`` is what the files say, ``tried`` what the what-if changes; ``baseline`` and
    ``shown`` are their assessments.
    """

    shown: reactive[Shown | None] = reactive(None, init=False)
    busy: reactive[str] = reactive("opening the files", init=False)
    problem: reactive[tuple[str, ...]] = reactive((), init=False)
    chosen: reactive[str | None] = reactive(None, init=False)  # the job all screens look at
    stage: reactive[int] = reactive(0, init=False)
    refused: reactive[str] = reactive("", init=False, always_update=True)  # a move by hand
    answers: reactive[int] = reactive(0, init=False)  # counts up when an answer comes

    def __init__(
        self,
        inputs: Inputs | None = None,
        session: Session | None = None,
        read: Callable[[Inputs], Question] = opened,
    ) -> None:
        super().__init__()
        self.inputs = inputs or Inputs()
        self.loaded: Question | None = None
        self.saved: Setup | None = None
        self.tried: Setup | None = None
        self.baseline: Shown | None = None
        self.own_order: FittingOrder | None = None
        self.locked: set[str] = set()
        self.supposed = Supposed()
        self.sort = ""  # of the list of placements
        self.remembers = False  # tests and other programs leave no traces
        self.acknowledged: set[str] = set()
        self.ranking, self.worked_out = Ranking(self), Answers(self)
        self._session, self._read = session, read
        self._computing = self._resting = False
        self._unreadable = False  # the files as they are now
        self._stamps: tuple[float, ...] = ()
        self._of_inputs: Inputs | None = None
        self._of_shown: Setup | None = None

    @property
    def session(self) -> Session:
        if self._session is None:
            from solderrisk.session import Session

            self._session = Session()
        return self._session

    def _watch_files(self) -> None:
        """Read the files anew when somebody saved one of them elsewhere."""
        now = stamps(self.inputs)
        if self._of_inputs != self.inputs or now == self._stamps:
            return
        self._stamps = now
        self.busy = "reading the changed file"
        self.run_worker(self._load, thread=True, exclusive=True, group="load")

    # Reading

    def open_files(self, inputs: Inputs) -> None:
        """Read a kit, a bench and a builder, then assess."""
        self.inputs = inputs
        self._stamps = stamps(inputs)
        self.busy = "opening the files"
        self.run_worker(self._load, thread=True, exclusive=True, group="load")

    def _load(self) -> None:
        inputs = self.inputs
        try:
            loaded = self._read(inputs)
        except Exception as error:
            self._unreadable = True
            self.post_message(Failed(*told(error)))
            return
        self._unreadable = False
        if not get_current_worker().is_cancelled:
            self.post_message(Opened(loaded))

    def on_opened(self, message: Opened) -> None:
        loaded, before = message.loaded, self.loaded
        again, self._of_inputs = self._of_inputs == self.inputs, self.inputs
        kept = (
            before is not None
            and again
            and (before.bench, before.builder) == (loaded.bench, loaded.builder)
        )
        self.loaded = loaded
        self.saved = Setup(loaded.bench, loaded.builder, loaded.target)
        self.tried = self.tried if kept else self.saved
        self.acknowledged = set(loaded.builder.acknowledged) | (
            self.acknowledged if again else set()
        )
        self.baseline, self.problem, self.own_order = None, (), None
        self.locked.clear()
        self.supposed = Supposed()
        self.ranking.drop()
        self.worked_out.drop()
        self._of_shown = None
        if not again:
            self.chosen, self.stage = None, 0
            self.set_reactive(Program.shown, None)
        self._compute()

    def on_failed(self, message: Failed) -> None:
        self.busy, self._computing = "", False
        self.problem = message.lines

    # Assessing

    def try_setup(self, setup: Setup) -> None:
        """Assess another set-up; the newest one asked for wins."""
        if setup != self.tried:
            self.tried = setup
            self._compute()

    def _compute(self) -> None:
        """First with the order at hand, which is quick, then with the best order."""
        if self._computing or self.loaded is None or self.tried is None:
            return
        loaded, setup = self.loaded, self.tried
        quick = self.baseline is not None and (self.shown is None or self._of_shown != setup)
        order = self.own_order
        if order is None and quick and self.baseline:
            order = self.baseline.assessment.order
        final = order is None or self.own_order is not None
        self._computing = True
        self.busy = "computing" if order is None else "trying"
        self.run_worker(
            lambda: self._assess(loaded, setup, order, final),
            thread=True,
            group="assess",
            exit_on_error=False,
        )

    def _assess(
        self, loaded: Question, setup: Setup, order: FittingOrder | None, final: bool
    ) -> None:
        from solderrisk.model.question import Run
        from solderrisk.tui.rows import Shown

        def outdated() -> bool:
            return self.leaving or self.loaded is not loaded or self.tried is not setup

        try:
            run = Run(cancelled=outdated)
            shown = Shown.of(self.session.assess(setup.asks(loaded), order=order, run=run))
        except Exception as error:
            self.post_message(GaveUp() if outdated() else Failed(*told(error)))
            return
        self.post_message(Assessed(shown, loaded, setup, final))

    def on_gave_up(self) -> None:
        self._computing = False
        self._compute()

    def on_assessed(self, message: Assessed) -> None:
        self._computing = False
        if message.loaded is not self.loaded or message.setup != self.tried:
            self._compute()
            return
        if message.setup == self.saved and message.final:
            self.baseline = message.shown
        self.busy = ""
        if not self._unreadable:
            self.problem = ()
        self._of_shown = message.setup
        if self.chosen not in message.shown.jobs:
            self.chosen = next(iter(message.shown.assessment.verdict.top), None)
        stages = len(message.shown.assessment.order.stages)
        self.stage = min(self.stage, max(stages - 1, 0))
        self.shown = message.shown
        self._resting = not message.final
        if self._resting:
            self.set_timer(SETTLE_S, self._settle)

    @property
    def settling(self) -> bool:
        """Whether the best order of a what-if is still to be searched."""
        return self._resting

    def _settle(self) -> None:
        """Nothing newer was asked for: look for the best order of this set-up."""
        if self._resting and self._of_shown == self.tried:
            self._compute()

    # The order by hand

    def move_job(self, key: str, before: str | None) -> None:
        """Move a job to just before another one, or to the end."""
        supposed = self.supposed

        def make(asked: Question, found: Assessment) -> tuple[FittingOrder, Supposed]:
            return self.session.move(asked, found, key, before, supposed.done), supposed

        self._reorder(make)

    def plan_anew(self, supposed: Supposed | None = None) -> None:
        """Search the best order round the locked jobs, after what is supposed."""
        locked, of = tuple(self.locked), self.shown
        wanted = self.supposed if supposed is None else supposed

        def outdated() -> bool:
            return self.leaving or self.shown is not of

        def make(asked: Question, found: Assessment) -> tuple[FittingOrder, Supposed]:
            from solderrisk.model.question import Run

            order, done = self.session.replan(
                asked,
                found,
                done=wanted.done,
                again=wanted.again,
                locked=locked,
                run=Run(cancelled=outdated),
            )
            return order, replace(wanted, done=done)

        self._reorder(make)

    def drop_own_order(self) -> None:
        """Go back to the order that was computed; nothing is supposed done."""
        self.own_order = None
        self.supposed = Supposed()
        self.locked.clear()
        self._of_shown = None
        self._compute()

    def _reorder(self, make: MakeOrder) -> None:
        loaded, setup, of = self.loaded, self.tried, self.shown
        if loaded is None or setup is None or of is None:
            return
        self.busy = "ordering"

        def run() -> None:
            from solderrisk.tui.rows import Shown

            try:
                order, supposed = make(setup.asks(loaded), of.assessment)
            except Exception as error:
                self.post_message(Ordered(None, of, self.supposed, " ".join(told(error))))
                return
            shown = Shown.of(replace(of.assessment, order=order))
            self.post_message(Ordered(shown, of, supposed, ""))

        self.run_worker(run, thread=True, exclusive=True, group="order", exit_on_error=False)

    def on_ordered(self, message: Ordered) -> None:
        if not self._computing:
            self.busy = ""
        self.refused = message.refusal
        if not message.refusal and message.of is self.shown:
            self.own_order = message.shown.assessment.order
            self.supposed = message.supposed
            if self.baseline is message.of:
                self.baseline = message.shown
            self.shown = message.shown

    # Answers on demand

    def answer(self, name: str) -> Answered | None:
        """Advice, ladder, statement or second looks for the set-up being tried: None while
        it is computed; ask again when ``answers`` has changed."""
        return self.worked_out.of(name)

    def on_answered(self, message: Answered) -> None:
        self.worked_out.take(message)
        self.answers += 1

    def on_ranking_told(self, message: RankingTold) -> None:
        self.ranking.take(message)
        self.answers += 1

    # Going about

    def action_go(self, name: str) -> None:
        """Go to a place."""
        raise NotImplementedError

    def look_at(self, key: str, place: str = "placements") -> None:
        """Choose a job and go where it is shown."""
        self.chosen = key
        self.action_go(place)
