"""Difficulty statement of a kit: builder level by bench, with what decides each cell."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from solderrisk.model.bench import Bench
from solderrisk.model.builder import LEVELS, Builder
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.reference_set import Reference
from solderrisk.plan.results import StatementCell
from solderrisk.plan.verdict import top_jobs
from solderrisk.risk.kit import RiskEngine, assess_risk

DECISIVE = 3


def difficulty_statement(
    kit: Kit,
    benches: Sequence[Bench],
    library: Library,
    reference: Reference,
    *,
    engine: RiskEngine | None = None,
    samples: int = 1000,
    seed: int = 20,
    progress: Callable[[float, str], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[StatementCell, ...]:
    """One cell per level and bench, levels from least to most done."""
    engine = engine or RiskEngine(reference)
    jobs = jobs_of(kit, library)
    cells = []
    total = len(LEVELS) * len(benches)
    for level in LEVELS:
        builder = Builder(name=level, level=level)
        for bench in benches:
            if cancelled is not None and cancelled():
                return tuple(cells)
            risk = assess_risk(
                jobs, kit, bench, builder, reference, samples=samples, seed=seed, engine=engine
            )
            cells.append(StatementCell(level, bench.name, risk.working, top_jobs(risk, DECISIVE)))
            if progress is not None:
                progress(len(cells) / total, f"{level}, {bench.name}")
    return tuple(cells)
