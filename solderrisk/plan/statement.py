"""Difficulty statement of a kit: builder level by bench, with what decides each cell."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from solderrisk.model.bench import Bench
from solderrisk.model.builder import LEVELS, Builder
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.reference import Reference
from solderrisk.plan.results import StatementCell
from solderrisk.plan.verdict import one_of_each
from solderrisk.risk.engine import RiskEngine, Stopped

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
    """One cell per level and bench, levels from least to most done.

    Raises:
        Stopped: ``cancelled`` said so.
    """
    engine = engine or RiskEngine(reference)
    jobs = jobs_of(kit, library)
    by_key = {job.key: job for job in jobs}
    cells: list[StatementCell] = []
    for level in LEVELS:
        builder = Builder(name=level, level=level)
        for bench in benches:
            if cancelled is not None and cancelled():
                raise Stopped("stopped")
            found = engine.chances(jobs, kit, bench, builder, samples=samples, seed=seed)
            ranked = [by_key[key] for key, share in found.decisive if share > 0]
            decisive = tuple(job.key for job in one_of_each(ranked)[:DECISIVE])
            cells.append(StatementCell(level, bench.name, found.working, decisive))
            if progress is not None:
                progress(len(cells) / (len(LEVELS) * len(benches)), f"{level}, {bench.name}")
    return tuple(cells)
