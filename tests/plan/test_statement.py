"""The difficulty statement of a demo kit."""

from __future__ import annotations

import pytest

from solderrisk.files.loading import load_bench, open_inputs
from solderrisk.model.bench import LEVELS, Builder
from solderrisk.model.question import Run, Stopped
from solderrisk.plan.order.edges import Edges
from solderrisk.plan.results import FittingOrder, Search, StatementCell
from solderrisk.plan.verdict import DECISIVE
from solderrisk.session import Session

ASKED = open_inputs("rain-counter", "decent", "hobbyist")
BENCHES = [load_bench(name) for name in ("bare", "decent", "well-equipped")]


@pytest.fixture(scope="module")
def session() -> Session:
    return Session()


@pytest.fixture(scope="module")
def cells(session: Session) -> tuple[StatementCell, ...]:
    return session.statement(ASKED, BENCHES)


def test_a_cell_for_every_level_and_bench(cells: tuple[StatementCell, ...]) -> None:
    assert [(cell.level, cell.bench) for cell in cells] == [
        (level, bench.name) for level in LEVELS for bench in BENCHES
    ]
    for cell in cells:
        assert 0 <= cell.chance.low <= cell.chance.mid <= cell.chance.high <= 1


def test_chances_rise_with_the_level(cells: tuple[StatementCell, ...]) -> None:
    for bench in BENCHES:
        column = [cell.chance.mid for cell in cells if cell.bench == bench.name]
        assert column == sorted(column)
        assert column[-1] > column[0]


def test_decisive_work_is_of_different_sorts(cells: tuple[StatementCell, ...]) -> None:
    alike = {job.key: job.alike for job in ASKED.jobs}
    for cell in cells:
        assert 1 <= len(cell.decisive) <= DECISIVE
        assert len({alike[key] for key in cell.decisive}) == len(cell.decisive)


def test_agrees_with_the_whole_assessment(
    session: Session, cells: tuple[StatementCell, ...]
) -> None:
    """One rule for both: the published mark is the verdict's."""
    for level in LEVELS:
        for bench in BENCHES:
            asked = ASKED.but(bench=bench, builder=Builder(name=level, level=level))
            # The order plays no part in the verdict: any will do.
            order = FittingOrder((), (), Edges.of(asked.jobs, ()), 0.0, True, 0.0, 0, Search(True))
            whole = session.assess(asked, order=order)
            cell = next(c for c in cells if (c.level, c.bench) == (level, bench.name))
            assert cell.judgement == whole.verdict.judgement
            assert cell.chance == whole.verdict.chance
            assert cell.decisive[0] in whole.verdict.top[:2]


def test_tells_how_far_it_is_and_stops_when_told(session: Session) -> None:
    told: list[float] = []

    def progress(share: float, _: str) -> None:
        told.append(share)

    few = ASKED.but(samples=50)
    session.statement(few, BENCHES[:1], Run(progress))
    assert told == pytest.approx([0.0, 0.2, 0.4, 0.6, 0.8, 1.0])
    with pytest.raises(Stopped):
        session.statement(few, BENCHES, Run(cancelled=lambda: len(told) > 4))
