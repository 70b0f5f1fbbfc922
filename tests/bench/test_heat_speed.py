"""Speed of the heat figures, outside the default run.

    python -m pytest tests/bench/test_heat_speed.py --benchmark-enable

Limits are asserted on the best of several rounds: other work on the machine slows a round,
nothing makes it faster than it is.
"""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import Footprint
from solderrisk.physics import hot_air, iron, joint, low_melt
from solderrisk.physics.joint import joint_cases
from solderrisk.physics.results import AirCase, IronCase
from tests.heat_joints import (
    CHIP_0402,
    DIP_16,
    GROUND_PIN,
    IRONS,
    JACK,
    QFP_48,
    QFP_100,
    SNPB,
    SOIC_8,
    TAB,
    air_on,
    board,
    tip_on,
)

DATA = physics_data()
PARTS = (CHIP_0402, SOIC_8, QFP_48, QFP_100, DIP_16, GROUND_PIN, TAB, JACK)
BOARD = board(1)


def variants(count: int) -> list[Footprint]:
    """Footprints that differ a little: as many distinct joints as asked."""
    found = []
    for n in range(count):
        part = PARTS[n % len(PARTS)]
        scale = 1.0 + 0.0005 * (n // len(PARTS))
        group = part.pads[0].model_copy(update={"land_l_mm": part.pads[0].land_l_mm * scale})
        found.append(part.model_copy(update={"pads": (group,), "name": f"{part.name}-{n}"}))
    return found


def placements(joints: int, each: int, tips: tuple[float, ...]) -> list[IronCase]:
    """Cases of all placements, repeats included, with every tip."""
    kinds = [case for part in variants(joints) for case in joint_cases(part, BOARD, SNPB)]
    return [tip_on(kind, IRONS[1], width) for kind in kinds for width in tips for _ in range(each)]


def forget() -> None:
    for memo in (iron._KEPT, hot_air._KEPT, low_melt._KEPT, joint._KEPT):
        memo.clear()


def airs() -> list[AirCase]:
    return [
        air_on(part, 8.0, 50.0, c) for part in (QFP_48, QFP_100, SOIC_8) for c in (350.0, 380.0)
    ]


def kit_of_200() -> Callable[[], None]:
    """200 placements of 50 distinct joints, two tips each; six air cases, four low-melt."""
    irons, air = placements(50, 4, (1.0, 2.0)), airs()
    assert len(irons) == 400

    def figures() -> None:
        iron.iron_heat(irons, DATA)
        hot_air.air_heat(air, DATA)
        for part in (QFP_48, QFP_100, SOIC_8, JACK):
            low_melt.low_melt_lift(part, BOARD, SNPB, "Sn42Bi58", DATA, 22.0)

    return figures


def best_of(benchmark: BenchmarkFixture, limit_s: float) -> None:
    if benchmark.stats is not None:
        assert benchmark.stats.stats.min < limit_s


def test_kit_of_200_asked_again(benchmark: BenchmarkFixture) -> None:
    figures = kit_of_200()
    figures()
    benchmark(figures)
    best_of(benchmark, 0.020)


def test_kit_of_200_computed(benchmark: BenchmarkFixture) -> None:
    """Nothing kept but the loaded program: every figure is computed. Measured
    at 18 ms; the limit leaves room for a slower machine."""
    figures = kit_of_200()
    figures()
    benchmark.pedantic(figures, setup=forget, rounds=15)
    best_of(benchmark, 0.050)


def test_one_changed_tip_recomputes_its_own(benchmark: BenchmarkFixture) -> None:
    """A what-if on the bench: ten joints get another tip."""
    figures = kit_of_200()
    figures()
    widths = iter(1.0 + 0.001 * n for n in range(1, 100_000))
    kinds = [case.joint for case in placements(10, 1, (1.0,))]

    def change() -> tuple[tuple[list[IronCase]], dict[str, object]]:
        width = next(widths)
        return ([tip_on(kind, IRONS[1], width) for kind in kinds],), {}

    benchmark.pedantic(lambda cases: iron.iron_heat(cases, DATA), setup=change, rounds=15)
    best_of(benchmark, 0.020)


def test_10_000_placements_with_1_000_joints(benchmark: BenchmarkFixture) -> None:
    cases = placements(1000, 10, (1.6,))
    assert len(cases) == 10_000
    assert len(set(cases)) == 1000
    benchmark.pedantic(lambda: iron.iron_heat(cases, DATA), setup=forget, rounds=5)
    best_of(benchmark, 1.0)


@pytest.mark.parametrize("what", ["iron", "air"])
def test_memory_grows_with_the_cases_at_most(benchmark: BenchmarkFixture, what: str) -> None:
    def peak(count: int) -> int:
        forget()
        parts = variants(count)
        iron_cases = [
            tip_on(kind, IRONS[1], 1.6) for p in parts for kind in joint_cases(p, BOARD, SNPB)
        ]
        air_cases = [air_on(part, 8.0, 50.0) for part in parts]
        tracemalloc.start()
        if what == "iron":
            iron.iron_heat(iron_cases, DATA)
        else:
            hot_air.air_heat(air_cases, DATA)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    small, large = benchmark.pedantic(lambda: (peak(250), peak(1000)), rounds=1)
    assert large < 4.5 * small


def test_time_grows_with_the_cases_at_most(benchmark: BenchmarkFixture) -> None:
    def took(count: int) -> float:
        best = float("inf")
        cases = placements(count, 1, (1.6,))
        for _ in range(3):
            forget()
            start = time.process_time()
            iron.iron_heat(cases, DATA)
            best = min(best, time.process_time() - start)
        return best

    few, many = benchmark.pedantic(lambda: (took(500), took(2000)), rounds=1)
    assert many < 5.0 * few
