"""Difficulty statement of a kit: builder level by bench, with what decides each cell."""

from __future__ import annotations

from collections.abc import Sequence

from solderrisk.model.bench import Bench
from solderrisk.model.builder import LEVELS, Builder
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.plan.results import StatementCell
from solderrisk.plan.verdict import judged, one_of_each
from solderrisk.risk.engine import RiskEngine

DECISIVE = 3


def difficulty_statement(
    question: Question, benches: Sequence[Bench], engine: RiskEngine, run: Run = ALONE
) -> tuple[StatementCell, ...]:
    """One cell per level and bench, levels from least to most done, each judged as the verdict
    is; the question's own bench and builder do not count.

    Raises:
        Stopped: the caller wants no more.
    """
    by_key = {job.key: job for job in question.jobs}
    cells: list[StatementCell] = []
    for level in LEVELS:
        builder = Builder(name=level, level=level)
        for bench in benches:
            run.tell(len(cells) / (len(LEVELS) * len(benches)), f"{level}, {bench.name}")
            asked = question.but(bench=bench, builder=builder, pins=())
            found = engine.chances(asked)
            ranked = [by_key[key] for key, share in found.decisive if share > 0]
            decisive = tuple(job.key for job in one_of_each(ranked)[:DECISIVE])
            judgement = judged(found.samples, asked, possible=not found.blocked)
            cells.append(StatementCell(level, bench.name, found.working, judgement, decisive))
    run.tell(1.0, "done")
    return tuple(cells)
