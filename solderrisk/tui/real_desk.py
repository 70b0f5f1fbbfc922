"""The desk that computes. Each method imports what it needs when it is first called."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Literal

from solderrisk.tui.setup import Inputs, Loaded, Setup

if TYPE_CHECKING:
    from solderrisk.model.draft import Draft
    from solderrisk.model.kit import Kit
    from solderrisk.model.reference import Reference
    from solderrisk.physics.results import Alignment, Curve
    from solderrisk.plan.assess import Session
    from solderrisk.plan.results import Advice, Assessment, FittingOrder, StatementCell
    from solderrisk.plan.sensitivity import Effect, Progress
    from solderrisk.risk.results import JobRisk, Option
    from solderrisk.tui.desk import Cancelled
    from solderrisk.tui.supposed import Supposed

STATEMENT_BENCHES = ("bare", "decent", "well-equipped")
MOST_SESSIONS = 5  # the one of the stated numbers stays
ACCEPTANCE_CLASS: Literal[2] = 2


class RealDesk:
    """Keeps sessions of one kit, one for each set of moved numbers, so that a what-if
    recomputes only what it touches."""

    def __init__(self) -> None:
        self._kit: Kit | None = None
        self._sessions: OrderedDict[tuple[tuple[str, float], ...], Session] = OrderedDict()
        self._lock = Lock()

    def load(self, inputs: Inputs) -> Loaded:
        from solderrisk.files.loading import open_inputs
        from solderrisk.files.reference import load_reference

        found = open_inputs(inputs.kit, inputs.bench, inputs.builder, inputs.libraries)
        return Loaded(
            found.kit, found.bench, found.builder, found.library, load_reference(), inputs
        )

    def assess(
        self, loaded: Loaded, setup: Setup, cancelled: Cancelled, order: FittingOrder | None
    ) -> Assessment:
        return self._session_of(loaded, setup).assess(
            setup.bench,
            setup.builder,
            target=setup.target,
            pins=dict(setup.pins),
            order=order,
            cancelled=cancelled,
        )

    def _session_of(self, loaded: Loaded, setup: Setup) -> Session:
        from solderrisk.plan.assess import Session

        assert loaded.reference is not None
        with self._lock:
            if self._kit is not loaded.kit:
                self._kit = loaded.kit
                self._sessions.clear()
            session = self._sessions.get(setup.assumed)
            if session is None:
                reference = loaded.reference.assuming(dict(setup.assumed))
                session = Session(loaded.kit, loaded.library, reference)
                self._sessions[setup.assumed] = session
                if len(self._sessions) > MOST_SESSIONS:
                    oldest = next(key for key in self._sessions if key)
                    del self._sessions[oldest]
            self._sessions.move_to_end(setup.assumed)
            return session

    def _reference_of(self, loaded: Loaded, setup: Setup) -> Reference:
        return self._session_of(loaded, setup).reference

    def rank(
        self, loaded: Loaded, setup: Setup, progress: Progress, cancelled: Cancelled
    ) -> list[Effect]:
        from solderrisk.model.jobs import jobs_of
        from solderrisk.plan.sensitivity import widest

        session = self._session_of(loaded, replace(setup, assumed=()))
        return widest(
            jobs_of(loaded.kit, loaded.library),
            loaded.kit,
            setup.bench,
            setup.builder,
            session.reference,
            session.engine,
            progress=progress,
            cancelled=cancelled,
        )

    def answer(self, name: str, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Any:
        return ANSWERS[name](self, loaded, setup, cancelled)

    def advice(self, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Advice:
        from solderrisk.plan.advice import advise

        session = self._session_of(loaded, setup)
        return advise(
            loaded.kit,
            setup.bench,
            setup.builder,
            loaded.library,
            session.reference,
            target=setup.target,
            engine=session.engine,
            cancelled=cancelled,
        )

    def ladder(self, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Any:
        from solderrisk.plan.practice import ladder

        return ladder(setup.builder, self._reference_of(loaded, setup))

    def statement(
        self, loaded: Loaded, setup: Setup, cancelled: Cancelled
    ) -> tuple[StatementCell, ...]:
        return self._statement(loaded, setup, cancelled)

    def _statement(
        self, loaded: Loaded, setup: Setup, cancelled: Cancelled | None
    ) -> tuple[StatementCell, ...]:
        from solderrisk.files.loading import load_bench
        from solderrisk.plan.statement import difficulty_statement

        session = self._session_of(loaded, setup)
        benches = [load_bench(name) for name in STATEMENT_BENCHES]
        if setup.bench not in benches:
            benches.append(setup.bench)
        return difficulty_statement(
            loaded.kit,
            benches,
            loaded.library,
            session.reference,
            engine=session.engine,
            cancelled=cancelled,
        )

    def looks(self, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Any:
        from solderrisk.plan.second_looks import second_looks

        session = self._session_of(loaded, setup)
        return second_looks(
            loaded.kit,
            setup.bench,
            setup.builder,
            loaded.library,
            session.reference,
            engine=session.engine,
            cancelled=cancelled,
        )

    def alignment(self, loaded: Loaded, risk: JobRisk) -> Alignment | None:
        from solderrisk.physics.alignment import alignment

        if risk.job.footprint is None or loaded.reference is None or risk.job.kind != "fit":
            return None
        return alignment(risk.job.footprint, ACCEPTANCE_CLASS, loaded.reference.physics)

    def move(
        self,
        loaded: Loaded,
        setup: Setup,
        assessment: Assessment,
        supposed: Supposed,
        key: str,
        before: str | None,
    ) -> FittingOrder:
        from solderrisk.plan.replan import move

        reference = self._reference_of(loaded, setup)
        return move(
            assessment.order,
            assessment.jobs,
            assessment.order.edges,
            key,
            before,
            kit=assessment.kit,
            risk=assessment.risk,
            parameters=reference.plan.parameters,
            hour_value=reference.risk.parameters["hour_value"],
            done=supposed.done,
        )

    def plan_anew(
        self,
        loaded: Loaded,
        setup: Setup,
        assessment: Assessment,
        supposed: Supposed,
        locked: Sequence[str],
        cancelled: Cancelled,
    ) -> tuple[FittingOrder, Supposed]:
        from solderrisk.plan.replan import lock, replan, still_done

        reference, order = self._reference_of(loaded, setup), assessment.order
        rules = [edge for edge in order.edges if edge.rule != "locked"]
        done = still_done(assessment.jobs, rules, supposed.done, supposed.again)
        anew = replan(
            assessment.jobs,
            assessment.kit,
            assessment.risk,
            rules,
            parameters=reference.plan.parameters,
            hour_value=reference.risk.parameters["hour_value"],
            done=done,
            again=supposed.again,
            locked=[edge for key in locked for edge in lock(order, key)],
            notes=order.notes,
            cancelled=cancelled,
        )
        return anew, replace(supposed, done=done)

    def curve(self, loaded: Loaded, setup: Setup, risk: JobRisk, option: Option) -> Curve | None:
        from solderrisk.plan.heating import heating_curve

        physics = self._reference_of(loaded, setup).physics
        return heating_curve(option, physics)

    def draft(self, sources: Sequence[Path], libraries: Sequence[Path]) -> Draft:
        from solderrisk.draft.drafting import draft
        from solderrisk.files.library import load_library

        return draft(sources, load_library(libraries))

    def answer_question(self, draft: Draft, question: str, choice: str) -> Draft:
        from solderrisk.draft.drafting import answer

        return answer(draft, question, choice)

    def kit_text(self, draft: Draft) -> str:
        from solderrisk.draft.write import kit_yaml

        return kit_yaml(draft)

    def report(self, ending: str, loaded: Loaded, setup: Setup, assessment: Assessment) -> str:
        if ending == ".txt":
            from solderrisk.report.text import text

            return text(assessment, cards=True)
        if ending == ".json":
            from solderrisk.report.data import as_json

            return as_json(assessment)
        if ending == ".csv":
            from solderrisk.report.rows import MARK, as_csv

            return MARK + as_csv(assessment)
        from solderrisk.report.drawings import drawings_of
        from solderrisk.report.page import page

        cells = self._statement(loaded, setup, None)
        physics = self._reference_of(loaded, setup).physics
        return page(assessment, cells, drawings_of(assessment, physics))


ANSWERS: dict[str, Callable[..., Any]] = {
    "advice": RealDesk.advice,
    "ladder": RealDesk.ladder,
    "looks": RealDesk.looks,
    "statement": RealDesk.statement,
}
