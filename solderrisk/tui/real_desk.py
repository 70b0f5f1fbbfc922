"""The desk that computes. Each method imports what it needs when it is first called."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from solderrisk.tui.setup import Inputs, Loaded, Setup

if TYPE_CHECKING:
    from solderrisk.model.bench import Bench
    from solderrisk.model.draft import Draft
    from solderrisk.physics.results import Alignment, Curve
    from solderrisk.plan.assess import Session
    from solderrisk.plan.results import Advice, Assessment, FittingOrder, StatementCell
    from solderrisk.risk.results import JobRisk, Option
    from solderrisk.tui.desk import Cancelled

STATEMENT_BENCHES = ("bare", "decent", "well-equipped")
ACCEPTANCE_CLASS: Literal[2] = 2


class RealDesk:
    """Keeps one session per kit, so that a what-if recomputes only what it touches."""

    def __init__(self) -> None:
        self._session: Session | None = None

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
        return self._session_of(loaded).assess(
            setup.bench,
            setup.builder,
            target=setup.target,
            pins=dict(setup.pins),
            order=order,
            cancelled=cancelled,
        )

    def _session_of(self, loaded: Loaded) -> Session:
        from solderrisk.plan.assess import Session

        assert loaded.reference is not None
        if self._session is None or self._session.kit is not loaded.kit:
            self._session = Session(loaded.kit, loaded.library, loaded.reference)
        return self._session

    def answer(self, name: str, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Any:
        return ANSWERS[name](self, loaded, setup, cancelled)

    def advice(self, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Advice:
        from solderrisk.plan.advice import advise

        session = self._session_of(loaded)
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

        assert loaded.reference is not None
        return ladder(setup.builder, loaded.reference)

    def statement(
        self, loaded: Loaded, setup: Setup, cancelled: Cancelled
    ) -> tuple[StatementCell, ...]:
        return self._statement(loaded, setup.bench, cancelled)

    def _statement(
        self, loaded: Loaded, bench: Bench, cancelled: Cancelled | None
    ) -> tuple[StatementCell, ...]:
        from solderrisk.files.loading import load_bench
        from solderrisk.plan.statement import difficulty_statement

        session = self._session_of(loaded)
        benches = [load_bench(name) for name in STATEMENT_BENCHES]
        if bench not in benches:
            benches.append(bench)
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

        session = self._session_of(loaded)
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
        self, loaded: Loaded, assessment: Assessment, key: str, before: str | None
    ) -> FittingOrder:
        from solderrisk.plan.replan import move

        assert loaded.reference is not None
        plan = loaded.reference.plan
        return move(
            assessment.order,
            assessment.jobs,
            assessment.order.edges,
            key,
            before,
            kit=assessment.kit,
            risk=assessment.risk,
            parameters=plan.parameters,
            hour_value=plan.costs["hour_value"],
        )

    def plan_anew(
        self, loaded: Loaded, assessment: Assessment, locked: Sequence[str], cancelled: Cancelled
    ) -> FittingOrder:
        from solderrisk.plan.replan import lock, replan

        assert loaded.reference is not None
        plan, order = loaded.reference.plan, assessment.order
        rules = [edge for edge in order.edges if edge.rule != "locked"]
        return replan(
            assessment.jobs,
            assessment.kit,
            assessment.risk,
            rules,
            parameters=plan.parameters,
            hour_value=plan.costs["hour_value"],
            locked=[edge for key in locked for edge in lock(order, key)],
            notes=order.notes,
            cancelled=cancelled,
        )

    def curve(self, loaded: Loaded, setup: Setup, risk: JobRisk, option: Option) -> Curve | None:
        from solderrisk.plan.heating import heating_curve

        assert loaded.reference is not None
        return heating_curve(risk.job, option, setup.bench, loaded.reference.physics)

    def draft(self, sources: Sequence[Path], libraries: Sequence[Path]) -> Draft:
        from solderrisk.files.draft import draft
        from solderrisk.files.library import load_library

        return draft(sources, load_library(libraries))

    def answer_question(self, draft: Draft, question: str, choice: str) -> Draft:
        from solderrisk.files.draft import answer

        return answer(draft, question, choice)

    def kit_text(self, draft: Draft) -> str:
        from solderrisk.files.draft_yaml import kit_yaml

        return kit_yaml(draft)

    def report(self, ending: str, loaded: Loaded, assessment: Assessment) -> str:
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

        assert loaded.reference is not None
        cells = self._statement(loaded, assessment.bench, None)
        return page(assessment, cells, drawings_of(assessment, loaded.reference.physics))


ANSWERS: dict[str, Callable[..., Any]] = {
    "advice": RealDesk.advice,
    "ladder": RealDesk.ladder,
    "looks": RealDesk.looks,
    "statement": RealDesk.statement,
}
