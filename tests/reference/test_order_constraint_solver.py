"""The order of mid-size lists against a constraint solver (OR-tools CP-SAT, test-only).

Survival chances are powers of one base, so that the survival before a step is a table
look-up of an integer and the model is exact up to the rounding of its table.
"""

from __future__ import annotations

import random

import pytest

from solderrisk.plan.order.bounds import bits, make_problem
from solderrisk.plan.order.search import Budget, solve
from tests.reference.order_instances import price

cp_model = pytest.importorskip("ortools.sat.python.cp_model")

BASE = 0.97
SCALE = 10**7


def _least_cost(cost: list[int], power: list[int], before: tuple[int, ...]) -> float:
    size = len(cost)
    model = cp_model.CpModel()
    place = [model.new_int_var(0, size - 1, f"at{i}") for i in range(size)]
    model.add_all_different(place)
    ahead = {}
    for i in range(size):
        for j in range(i + 1, size):
            ahead[i, j] = model.new_bool_var(f"{i}<{j}")
            ahead[j, i] = ahead[i, j].Not()
            model.add(place[i] < place[j]).only_enforce_if(ahead[i, j])
            model.add(place[j] < place[i]).only_enforce_if(ahead[j, i])
    for i, mask in enumerate(before):
        for j in bits(mask):
            model.add(place[j] < place[i])
    total = sum(power)
    table = [round(SCALE * BASE**k) for k in range(total + 1)]
    alive = []
    for i in range(size):
        model.add(place[i] == sum(ahead[j, i] for j in range(size) if j != i))
        spent = model.new_int_var(0, total, f"t{i}")
        model.add(spent == sum(power[j] * ahead[j, i] for j in range(size) if j != i))
        survive = model.new_int_var(0, SCALE, f"s{i}")
        model.add_element(spent, table, survive)
        alive.append(survive)
    model.minimize(sum(c * s for c, s in zip(cost, alive, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = 20
    assert solver.solve(model) == cp_model.OPTIMAL
    return float(solver.objective_value) / SCALE


@pytest.mark.parametrize(("size", "seed"), [(8, 1), (12, 3), (16, 4)])
def test_the_optimum_is_that_of_a_constraint_solver(size: int, seed: int) -> None:
    rng = random.Random(seed)
    cost = [rng.randrange(1, 30) for _ in range(size)]
    power = [rng.randrange(1, 5) for _ in range(size)]
    turn = rng.sample(range(size), size)
    arcs = [
        (turn[i], turn[j]) for i in range(size) for j in range(i + 1, size) if rng.random() < 0.3
    ]
    problem = make_problem([float(c) for c in cost], [BASE**k for k in power], arcs)
    found = solve(problem, Budget(10**6))
    assert found.optimal
    expected = _least_cost(cost, power, problem.before)
    rounding = sum(cost) / SCALE
    assert found.cost == pytest.approx(expected, abs=rounding)
    assert price(problem, found.order) == pytest.approx(found.cost, rel=1e-12)


def _most_weighted(cost: list[int], weight: list[int], before: tuple[int, ...]) -> int:
    """The largest sum of cost x weight done before it, over linear orders."""
    size = len(cost)
    model = cp_model.CpModel()
    ahead = {}
    for i in range(size):
        for j in range(i + 1, size):
            ahead[i, j] = model.new_bool_var("")
            ahead[j, i] = ahead[i, j].Not()
    for i in range(size):
        for j in range(size):
            for k in range(size):
                if len({i, j, k}) == 3 and i < k and i < j:
                    model.add_bool_or([ahead[j, i], ahead[k, j], ahead[i, k]])
        for j in bits(before[i]):
            model.add(ahead[j, i] == 1)
    model.maximize(
        sum(cost[i] * weight[j] * ahead[j, i] for i in range(size) for j in range(size) if i != j)
    )
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = 30
    assert solver.solve(model) == cp_model.OPTIMAL
    return int(solver.objective_value)


@pytest.mark.parametrize(("size", "seed"), [(16, 1), (24, 3), (30, 4)])
def test_in_the_limit_of_small_chances_as_well(size: int, seed: int) -> None:
    """p = 1e-9 w: the least expected cost is sum c - 1e-9 max sum c_i w_j (j before i)."""
    rng = random.Random(seed)
    cost = [rng.randrange(1, 40) for _ in range(size)]
    weight = [rng.randrange(1, 20) for _ in range(size)]
    turn = rng.sample(range(size), size)
    arcs = [
        (turn[i], turn[j])
        for i in range(size)
        for j in range(i + 1, size)
        if rng.random() < 3 / size
    ]
    problem = make_problem([float(c) for c in cost], [1 - 1e-9 * w for w in weight], arcs)
    order = solve(problem, Budget(10**6)).order
    done, reached = 0, 0
    for node in order:
        reached += cost[node] * done
        done += weight[node]
    # Ratios of 1e-9 keep about seven digits: ties aside, the orders are the same.
    assert reached == _most_weighted(cost, weight, problem.before)
