"""The order against published rules for testing sequences.

Sources, from memory: Mitten 1960 (least cost testing sequence: ascending cost per chance of
failing), Horn 1972 (out-trees by the best ratio of a rooted subtree), Lawler 1978 and Monma
and Sidney 1979 (series-parallel orders by merging strings), Smith 1956 (weighted completion
times, the limit of small chances).
"""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from solderrisk.plan.order.bounds import (
    Forest,
    closure,
    make_problem,
    ratio_of,
    with_dominance,
)
from solderrisk.plan.order.search import Budget, solve
from tests.reference.order_instances import by_permutations, price


def test_without_precedence_ascending_cost_per_risk() -> None:
    rng = random.Random(5)
    cost = [rng.uniform(1, 9) for _ in range(40)]
    keep = [rng.uniform(0.2, 0.99) for _ in range(40)]
    found = solve(make_problem(cost, keep, ()), Budget(10**5))
    rule = sorted(range(40), key=lambda i: cost[i] / (1 - keep[i]))
    assert found.optimal
    assert list(found.order) == rule


def test_a_chain_is_done_as_a_block_when_its_joint_ratio_is_lower() -> None:
    """By hand: X (2, fails 0.1) before Y (1, fails 0.9); Z (3, fails 0.5) is free.

    Ratios X 20, Z 6, but the block XY costs 2 + 0.9 x 1 = 2.9 and survives 0.09, ratio
    2.9 / 0.91 = 3.19 < 6. So X Y Z: 2 + 0.9 + 0.09 x 3 = 3.17; Z X Y would cost 4.45.
    """
    problem = make_problem([2, 1, 3], [0.9, 0.1, 0.5], [(0, 1)])
    found = solve(problem, Budget(1000))
    assert found.order == (0, 1, 2)
    assert found.cost == pytest.approx(3.17)
    assert price(problem, (2, 0, 1)) == pytest.approx(4.45)


def test_a_block_of_two_has_the_published_cost_and_ratio() -> None:
    """c = c1 + q1 c2, q = q1 q2, ratio c / (1 - q), in exact fractions."""
    c1, q1, c2, q2 = Fraction(4), Fraction(9, 10), Fraction(1), Fraction(1, 2)
    forest = Forest(make_problem([4, 1], [0.9, 0.5], [(0, 1)]), [-1, 0])
    cost, keep = c1 + q1 * c2, q1 * q2
    assert forest.block[0] == (0, 1)
    assert forest.bound(forest.root_ranks) == pytest.approx(float(cost))
    assert ratio_of(float(cost), float(keep)) == pytest.approx(float(cost / (1 - keep)))


def _tree(size: int, seed: int) -> tuple[list[float], list[float], list[int]]:
    rng = random.Random(seed)
    cost = [rng.uniform(0.5, 9) for _ in range(size)]
    keep = [rng.uniform(0.3, 0.99) for _ in range(size)]
    return cost, keep, [rng.randrange(-1, node) for node in range(size)]


@pytest.mark.parametrize("seed", range(10))
def test_on_out_trees_the_forest_bound_is_the_optimum(seed: int) -> None:
    cost, keep, parent = _tree(7, seed)
    problem = make_problem(cost, keep, [(up, i) for i, up in enumerate(parent) if up >= 0])
    forest = Forest(problem, parent)
    assert forest.bound(forest.root_ranks) == pytest.approx(by_permutations(problem), rel=1e-12)
    assert price(problem, forest.order()) == pytest.approx(by_permutations(problem), rel=1e-12)


String = tuple[tuple[int, ...], float, float]


def _ratio(string: String) -> float:
    return string[1] / (1 - string[2])


def _joined(one: String, other: String) -> String:
    return (one[0] + other[0], one[1] + one[2] * other[1], one[2] * other[2])


def _series(first: list[String], then: list[String]) -> list[String]:
    """Sorted strings of two parts in series: merge where the ratios are out of order."""
    left, right = list(first), list(then)
    if not left or not right or _ratio(left[-1]) < _ratio(right[0]):
        return left + right
    middle = _joined(left.pop(), right.pop(0))
    while True:
        if left and _ratio(left[-1]) >= _ratio(middle):
            middle = _joined(left.pop(), middle)
        elif right and _ratio(right[0]) <= _ratio(middle):
            middle = _joined(middle, right.pop(0))
        else:
            return [*left, middle, *right]


def _series_parallel(
    nodes: list[int], cost: list[float], keep: list[float], rng: random.Random
) -> tuple[list[String], list[tuple[int, int]]]:
    if len(nodes) == 1:
        node = nodes[0]
        return [((node,), cost[node], keep[node])], []
    cut = rng.randrange(1, len(nodes))
    one, arcs_one = _series_parallel(nodes[:cut], cost, keep, rng)
    other, arcs_other = _series_parallel(nodes[cut:], cost, keep, rng)
    arcs = arcs_one + arcs_other
    if rng.random() < 0.5:
        return sorted(one + other, key=_ratio), arcs
    arcs += [(a, b) for a in nodes[:cut] for b in nodes[cut:]]
    return _series(one, other), arcs


@pytest.mark.parametrize(("size", "seed"), [(7, 1), (7, 2), (20, 3), (40, 4), (60, 5), (60, 6)])
def test_series_parallel_orders_match_the_merging_of_strings(size: int, seed: int) -> None:
    rng = random.Random(seed)
    cost = [rng.uniform(0.5, 20) for _ in range(size)]
    keep = [1 - rng.uniform(0.001, 0.1) for _ in range(size)]
    strings, arcs = _series_parallel(list(range(size)), cost, keep, rng)
    problem = make_problem(cost, keep, arcs)
    expected = price(problem, [node for string in strings for node in string[0]])
    if size < 8:
        assert expected == pytest.approx(by_permutations(problem), rel=1e-12)
    found = solve(problem, Budget(10**6))
    assert found.optimal
    assert found.cost == pytest.approx(expected, rel=1e-10)


def test_small_chances_tend_to_weighted_completion_times() -> None:
    """Smith's rule: with p = eps w, cost differences are eps times sum c_i T_i to first order."""
    rng = random.Random(9)
    weight = [rng.randrange(1, 9) for _ in range(30)]
    cost = [float(rng.randrange(1, 50)) for _ in range(30)]
    keep = [1 - 1e-7 * w for w in weight]
    order = solve(make_problem(cost, keep, ()), Budget(10**5)).order
    ratios = [cost[node] / weight[node] for node in order]
    assert ratios == sorted(ratios)


def test_dominance_adds_arcs_that_keep_every_given_one() -> None:
    for seed in range(20):
        cost, keep, parent = _tree(12, seed)
        arcs = [(up, i) for i, up in enumerate(parent) if up >= 0]
        before, _ = closure(12, arcs)
        tight = with_dominance(make_problem(cost, keep, arcs))
        assert all(not before[i] & ~tight.before[i] for i in range(12))
        assert sum(map(int.bit_count, tight.before)) > sum(map(int.bit_count, before))


def test_what_costs_nothing_goes_first_and_what_cannot_fail_last() -> None:
    assert ratio_of(0.0, 1.0) == ratio_of(0.0, 0.5) == 0.0
    assert ratio_of(3.0, 0.25) == 4.0
    assert ratio_of(3.0, 1.0) == float("inf")
