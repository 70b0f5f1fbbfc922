"""The desk that computes. Each method imports what it needs when it is first called."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from solderrisk.tui.setup import Inputs, Loaded, Setup

if TYPE_CHECKING:
    from solderrisk.model.draft import Draft
    from solderrisk.physics.results import AirCase, Alignment, Curve, IronCase
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
        from solderrisk.files.loading import load_bench
        from solderrisk.plan.statement import difficulty_statement

        session = self._session_of(loaded)
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

    def alignment(self, loaded: Loaded, risk: JobRisk) -> Alignment | None:
        from solderrisk.physics.alignment import alignment

        if risk.job.footprint is None or loaded.reference is None or risk.job.kind != "fit":
            return None
        return alignment(risk.job.footprint, ACCEPTANCE_CLASS, loaded.reference.physics)

    def curve(self, loaded: Loaded, setup: Setup, risk: JobRisk, option: Option) -> Curve | None:
        assert loaded.reference is not None
        physics = loaded.reference.physics
        if option.air_heat is not None:
            from solderrisk.physics.hot_air import air_curve

            air = _air_case(setup, risk, option)
            return air_curve(air, physics) if air else None
        cases = _iron_cases(setup, risk, option) if option.iron_heat is not None else []
        if not cases:
            return None
        from solderrisk.physics.iron import iron_curve, iron_heat

        heats = iron_heat(cases, physics)
        # The option speaks of one group of joints: that one, else the hardest.
        same = (case for case, heat in zip(cases, heats, strict=True) if heat == option.iron_heat)
        hardest = min(range(len(cases)), key=lambda n: heats[n].margin_k)
        return iron_curve(next(same, cases[hardest]), physics)

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


def _iron_cases(setup: Setup, risk: JobRisk, option: Option) -> list[IronCase]:
    """The option's tip on each group of the part's joints."""
    from solderrisk.physics.results import IronCase, JointCase

    job, set_to = risk.job, option.settings
    iron = next((iron for iron in setup.bench.irons if iron.name == set_to.iron), None)
    if iron is None or job.footprint is None or job.board is None:
        return []
    tips = [tip for tip in iron.tips if tip.width_mm == set_to.tip_width_mm] or list(iron.tips)
    tip = next((tip for tip in tips if tip.shape == set_to.tip_shape), tips[0])
    tip_c = set_to.tip_c if set_to.tip_c is not None else iron.highest_c
    start = set_to.preheat_c if set_to.preheat_c is not None else setup.bench.room.ambient_c
    return [
        IronCase(
            JointCase(job.footprint, group, job.board, job.alloy, job.links),
            iron,
            tip,
            tip_c,
            start,
        )
        for group in job.footprint.pads
    ]


def _air_case(setup: Setup, risk: JobRisk, option: Option) -> AirCase | None:
    from solderrisk.physics.results import AirCase

    job, set_to = risk.job, option.settings
    if job.footprint is None or job.board is None:
        return None
    if set_to.air_c is None or set_to.flow_l_min is None or set_to.nozzle_mm is None:
        return None
    start = set_to.preheat_c if set_to.preheat_c is not None else setup.bench.room.ambient_c
    return AirCase(
        footprint=job.footprint,
        board=job.board,
        alloy=job.alloy,
        air_c=set_to.air_c,
        flow_l_min=set_to.flow_l_min,
        nozzle_mm=set_to.nozzle_mm,
        start_c=start,
        purpose="lift" if job.kind == "lift" else "fit",
        links=job.links,
    )


ANSWERS: dict[str, Callable[..., Any]] = {
    "advice": RealDesk.advice,
    "ladder": RealDesk.ladder,
    "statement": RealDesk.statement,
}
