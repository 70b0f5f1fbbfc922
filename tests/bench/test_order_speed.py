"""Speed of the order: 60 groups proved within 2 s, 500 within 5 s with a gap, a kit in 0.3 s."""

from __future__ import annotations

import random
from typing import Any

import pytest

from solderrisk.model.kit import Kit
from solderrisk.plan.assess import precedence_of
from solderrisk.plan.order.fitting import fitting_order
from solderrisk.plan.order.large import solve_large
from solderrisk.plan.order.search import Budget, Found, solve
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.results import FittingOrder, Search
from solderrisk.risk.results import KitRisk, Settings
from tests.plan import kit_builder as make
from tests.plan.kit_builder import PARAMETERS, part
from tests.reference.order_instances import allowed, instance

STEPS = int(PARAMETERS["order_steps"])
FINE = Settings(iron="station", tip_width_mm=0.8, tip_shape="conical", tip_c=310.0)


@pytest.mark.parametrize("arcs_per_node", [1.5, 3.0, 5.0, 8.0])
@pytest.mark.parametrize("seed", range(10))
def test_60_random_groups_are_proved_within_2_s(
    benchmark: Any, seed: int, arcs_per_node: float
) -> None:
    problem = instance(60, seed, arcs_per_node)
    found: Found = benchmark.pedantic(solve, (problem, Budget(STEPS)), rounds=1)
    assert found.optimal
    assert benchmark.stats is None or benchmark.stats["max"] < 2.0


@pytest.mark.parametrize("seed", range(3))
def test_500_random_groups_within_5_s_with_a_bound(benchmark: Any, seed: int) -> None:
    problem = instance(500, seed, 5.0)
    found: Found = benchmark.pedantic(solve_large, (problem, Budget(STEPS)), rounds=1)
    assert allowed(problem, found.order)
    assert 0 < found.bound <= found.cost
    assert 1 - found.bound / found.cost < 0.15
    assert benchmark.stats is None or benchmark.stats["max"] < 5.0


def random_work(count: int, seed: int, kinds: int) -> tuple[Kit, KitRisk]:
    """``count`` parts of about ``kinds`` kinds, half of them tiny, with positions."""
    rng = random.Random(seed)
    names = ["R"] * 8 + ["SO", "QFP", "QFN", "CAN", "DIP", "AXIAL", "HEADER", "JACK", "SHIELD"]
    sorts = [(rng.choice(names), round(rng.uniform(0.01, 9), 3)) for _ in range(kinds)]
    placements = []
    for i in range(count):
        name, price = sorts[i % kinds]
        at = {f"X{i}": (rng.uniform(0, 300), rng.uniform(0, 300))}
        placements.append(part(f"X{i}", name, price_each=price, at=at))
    gates = [
        {"ref": f"g{k}", "title": f"g{k}", "kind": "rail", "after": [f"X{rng.randrange(count)}"]}
        for k in range(4)
    ]
    kit = make.kit(placements=placements, gates=gates)
    work = make.jobs(kit)
    options = {}
    chances = [
        (rng.uniform(1e-4, 0.02), rng.uniform(1, 10), rng.choice([make.IRON, make.WIDE, FINE]))
        for _ in range(kinds)
    ]
    for job in work:
        if job.kind == "fit" and job.footprint is not None:
            lost, minutes, tip = chances[int(job.ref[1:]) % kinds]
            hot = job.footprint.name == "QFN"
            options[job.key] = make.option(
                "paste_and_air" if hot else "point_iron",
                lost,
                minutes,
                make.AIR if hot else tip,
                make.air_heat() if hot else None,
            )
    return kit, make.risk(work, options)


def planned(kit: Kit, chances: KitRisk) -> FittingOrder:
    work = make.jobs(kit)
    found = precedence_of(work, kit, chances, **make.RULES)
    return fitting_order(OrderTask(work, kit, chances, PARAMETERS), found.edges)


@pytest.mark.parametrize("seed", range(3))
def test_a_kit_of_150_jobs_with_its_precedence_within_0_3_s(benchmark: Any, seed: int) -> None:
    kit, chances = random_work(150, seed, 30)
    order: FittingOrder = benchmark.pedantic(planned, (kit, chances), rounds=3)
    assert isinstance(order.made, Search)
    assert order.made.proved or order.optimal
    assert benchmark.stats is None or benchmark.stats["min"] < 0.3


def test_a_kit_of_500_different_jobs_within_5_s(benchmark: Any) -> None:
    kit, chances = random_work(500, 1, 500)
    order: FittingOrder = benchmark.pedantic(planned, (kit, chances), rounds=1)
    assert len(order.keys) == 504
    assert order.optimal or order.gap > 0
    assert isinstance(order.made, Search)
    assert not order.made.stopped
    assert benchmark.stats is None or benchmark.stats["max"] < 5.0
