"""Speed of the risk layer: what-ifs on a large kit, a class of builders. Time is the
processor's, so that a busy machine does not fail them.

Run with: python -m pytest tests/bench --benchmark-enable -o addopts="--import-mode=importlib"
"""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import count

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from solderrisk.model.bench import LEVELS, Bench, Builder, Magnifier, Record, Tip
from solderrisk.model.kit import Kit, Placement
from solderrisk.model.question import Question
from solderrisk.risk.engine import RiskEngine
from tests.risk.risk_scene import FULL, PLANE_BOARD, REFERENCE, REGULAR, asked, kit_of

SAMPLES = 2000
WHAT_IF_S = 0.1
OTHER_LENS_S = 0.3  # another lens changes the hazards of every part
CLASS_S = 10.0

PROCESSOR = pytest.mark.benchmark(timer=time.process_time)

MIX = [
    ("R-0603", 60), ("C-0603", 50), ("CHIP-0402", 20), ("C-0805", 12), ("SOT-23", 8),
    ("SOD-123", 8), ("SOIC-8", 6), ("SOIC-16", 2), ("TSSOP-16", 4), ("LQFP-48", 2),
    ("LQFP-100", 1), ("QFN-32", 2), ("CRYSTAL-3225-4", 2), ("TANTALUM-B", 4), ("DIP-8", 3),
    ("RESISTOR-AXIAL-0.25W", 5), ("HEADER-1X6-2.54", 4), ("SHIELDED-12", 2), ("DC-JACK-2.1", 1),
    ("TERMINAL-3-5.08", 2), ("INDUCTOR-6060", 2),
]  # fmt: skip


def large_kit(total: int = 200, name: str = "large") -> Kit:
    """Placements in a grid, so that neighbours differ."""
    placements = []
    number = count()
    for footprint, share in MIX:
        for _ in range(max(round(share * total / 200), 1)):
            n = next(number)
            ref = f"X{n}"
            place = {"ref": ref, "x_mm": 12.0 * (n % 20), "y_mm": 9.0 * (n // 20) + 0.7 * (n % 3)}
            placements.append(
                Placement.model_validate(
                    {"refs": ref, "footprint": footprint, "board": "b", "price_each": 0.5,
                     "positions": (place,)}
                )
            )  # fmt: skip
    board = PLANE_BOARD.model_copy(update={"length_mm": 250.0, "width_mm": 120.0})
    return kit_of(placements, board)


@pytest.fixture(scope="module")
def kit() -> Kit:
    return large_kit()


@pytest.fixture(scope="module")
def question(kit: Kit) -> Question:
    return asked(kit, FULL, samples=SAMPLES)


@pytest.fixture
def warm(question: Question) -> RiskEngine:
    engine = RiskEngine(REFERENCE)
    engine.assess(question)
    return engine


def other_record(n: int) -> tuple[Bench, Builder]:
    record = Record(skill="iron_surface", joints=50 + n, faults=1)
    return FULL, Builder(name="x", level="regular", records=(record,))


def other_level(n: int) -> tuple[Bench, Builder]:
    skill = {"skill": "hot_air", "level": LEVELS[n % 5]}
    record = {"skill": "low_melt", "joints": n + 1, "faults": 0}
    return FULL, Builder.model_validate(
        {"name": "x", "level": "regular", "skills": (skill,), "records": (record,)}
    )


def other_magnifier(n: int) -> tuple[Bench, Builder]:
    glass = Magnifier(name="glass", power_x=2.0 + 0.01 * n)
    return FULL.model_copy(update={"magnifiers": (glass,)}), REGULAR


def without_air(n: int) -> tuple[Bench, Builder]:
    air = FULL.hot_air[0].model_copy(update={"highest_c": 300.0 + n})
    return FULL.model_copy(update={"hot_air": (air,)}), REGULAR


def other_tip(n: int) -> tuple[Bench, Builder]:
    tip = Tip(width_mm=1.5 + 0.001 * n)
    iron = FULL.irons[0].model_copy(update={"tips": (*FULL.irons[0].tips, tip)})
    return FULL.model_copy(update={"irons": (iron, *FULL.irons[1:])}), REGULAR


Change = Callable[[int], tuple[Bench, Builder]]


def within(benchmark: BenchmarkFixture, limit_s: float) -> None:
    """The least of the rounds: neighbours on the machine cost some cache even so."""
    if benchmark.stats is not None:  # timed at all
        assert benchmark.stats.stats.min < limit_s


@PROCESSOR
@pytest.mark.parametrize("change", [other_record, other_level, other_magnifier])
def test_what_if(
    benchmark: BenchmarkFixture, warm: RiskEngine, question: Question, change: Change
) -> None:
    """One change of the builder or of what they see: under 100 ms at 2,000 samples."""
    numbers = count()

    def what_if() -> None:
        bench, builder = change(next(numbers))
        warm.assess(question.but(bench=bench, builder=builder))

    benchmark.pedantic(what_if, rounds=15, warmup_rounds=1)
    within(benchmark, OTHER_LENS_S if change is other_magnifier else WHAT_IF_S)


@PROCESSOR
@pytest.mark.parametrize("change", [without_air, other_tip])
def test_what_if_with_new_heat(
    benchmark: BenchmarkFixture, warm: RiskEngine, question: Question, change: Change
) -> None:
    """A tool that was never seen before has to be heated first: under 100 ms as well."""
    numbers = count()

    def what_if() -> None:
        bench, builder = change(next(numbers))
        warm.assess(question.but(bench=bench, builder=builder))

    benchmark.pedantic(what_if, rounds=8, warmup_rounds=1)
    within(benchmark, WHAT_IF_S)


@PROCESSOR
def test_short_answer(benchmark: BenchmarkFixture, warm: RiskEngine, question: Question) -> None:
    numbers = count()

    def ask() -> None:
        bench, builder = other_record(next(numbers))
        warm.chances(question.but(bench=bench, builder=builder))

    benchmark.pedantic(ask, rounds=20, warmup_rounds=1)
    within(benchmark, WHAT_IF_S / 2)


def test_first_time(benchmark: BenchmarkFixture, question: Question) -> None:
    """Nothing known yet but what the heat model itself has kept."""

    def first() -> None:
        RiskEngine(REFERENCE).assess(question)

    benchmark.pedantic(first, rounds=3)


@PROCESSOR
def test_class_of_builders(benchmark: BenchmarkFixture) -> None:
    """30 builders x 20 kits on the workshop's bench: chance, loss and what decides, under
    10 s."""
    kits = [large_kit(20 + 9 * n) for n in range(20)]
    pieces = [asked(kit, FULL, samples=SAMPLES) for kit in kits]
    builders = [
        Builder.model_validate(
            {
                "name": f"builder {n}",
                "level": LEVELS[n % 5],
                "records": ({"skill": "iron_surface", "joints": 20 + n, "faults": n % 4},),
            }
        )
        for n in range(30)
    ]

    def whole_class() -> None:
        engine = RiskEngine(REFERENCE)
        for piece in pieces:
            for builder in builders:
                engine.chances(piece.but(builder=builder))

    benchmark.pedantic(whole_class, rounds=1)
    within(benchmark, CLASS_S)
