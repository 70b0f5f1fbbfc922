"""Hand-made pieces for the tests of the reports."""

from __future__ import annotations

from solderrisk.model.builder import LEVELS
from solderrisk.plan.results import StatementCell
from solderrisk.risk.results import Range

BENCHES = ("bare", "decent", "well-equipped")


def statement_sample() -> tuple[StatementCell, ...]:
    """Five levels by three benches with chances that rise by 5 points a step."""
    return tuple(
        StatementCell(level, bench, around(0.1 + 0.15 * i + 0.05 * j), ("fit:U1", "lift:U1"))
        for i, level in enumerate(LEVELS)
        for j, bench in enumerate(BENCHES)
    )


def around(mid: float) -> Range:
    return Range(mid - 0.1, mid, mid + 0.1)
