"""Orders of large kits and their bound, against every permutation and against exact answers.

Expected values come from full enumeration or plain dynamic programming in the test itself;
series of sets that wait for one another entirely are solved by the rule of Monma and Sidney
(1979) for series-parallel rules, which is exact.
"""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from solderrisk.plan.order.bounds import Problem, cost_of, make_problem
from solderrisk.plan.order.large import Relaxed, by_strings, solve_large
from solderrisk.plan.order.search import Budget
from tests.reference.order_instances import allowed, awkward, instance, price, values_of_rest


@pytest.mark.parametrize("make", [instance, awkward])
def test_the_bound_is_below_the_optimum_and_the_order_above(make) -> None:  # type: ignore[no-untyped-def]
    near = 0
    for seed in range(80):
        problem = make(random.Random(seed).randint(2, 10), seed)
        optimum = values_of_rest(problem)[0]
        found = solve_large(problem, Budget(10**6))
        assert allowed(problem, found.order)
        assert found.cost == pytest.approx(price(problem, found.order), rel=1e-12, abs=1e-12)
        assert found.bound <= optimum * (1 + 1e-12) + 1e-12
        assert found.cost >= optimum * (1 - 1e-12) - 1e-12
        near += found.cost <= optimum * 1.02 + 1e-9
    assert near >= 70


def series(sizes: list[int], seed: int, beside: int) -> Problem:
    """Sets of which each waits for all before it, and some work beside them."""
    rng = random.Random(seed)
    size = sum(sizes) + beside
    cost = [rng.uniform(0.5, 20) for _ in range(size)]
    keep = [1 - rng.uniform(0.001, 0.4) for _ in range(size)]
    names = list(range(size))
    rng.shuffle(names)
    arcs: list[tuple[int, int]] = []
    start = 0
    for one, other in pairwise(sizes):
        first, then = names[start : start + one], names[start + one : start + one + other]
        arcs += [(a, b) for a in first for b in then]
        start += one
    return make_problem(cost, keep, arcs)


@pytest.mark.parametrize("sizes", [[2, 3], [1, 4, 2], [3, 1, 3], [2, 2, 2, 2]])
@pytest.mark.parametrize("beside", [0, 2])
def test_sets_in_series_are_bounded_exactly(sizes: list[int], beside: int) -> None:
    for seed in range(6):
        problem = series(sizes, seed, beside)
        optimum = values_of_rest(problem)[0]
        assert Relaxed(problem).bound() == pytest.approx(optimum, rel=1e-12)
        assert solve_large(problem, Budget(10**6)).cost == pytest.approx(optimum, rel=1e-12)


def test_ten_times_the_work_finds_nothing_better_by_two_percent() -> None:
    problem = instance(400, 3, 5.0)
    quick = solve_large(problem, Budget(100_000))
    best = list(quick.order)
    rng = random.Random(1)
    for _ in range(20_000):
        here, there = sorted(rng.sample(range(len(best)), 2))
        trial = best[:here] + best[here + 1 : there] + [best[here]] + best[there:]
        if all(not problem.after[best[here]] >> n & 1 for n in best[here:there]):
            best = min(best, trial, key=lambda order: cost_of(problem, order))
    assert cost_of(problem, best) >= quick.cost * 0.98


def test_a_stopped_search_still_gives_an_order() -> None:
    problem = instance(300, 1, 5.0)
    budget = Budget(10**6, cancelled=lambda: True)
    found = solve_large(problem, budget)
    assert found.stopped
    assert allowed(problem, found.order)
    assert found.bound <= found.cost
    assert by_strings(problem, Budget(10**6)) != found.order


def test_strings_go_by_cost_per_risk_together_with_what_they_wait_for() -> None:
    """By hand: alone, 4 / ln 2 = 5.8 and 2 / -ln 0.9 = 19; where the second of a chain costs 1
    and halves the chance again, the chain is worth 5 / (2 ln 2) = 3.6 and goes first."""
    budget = Budget(1000)
    apart = make_problem([2.0, 4.0], [0.9, 0.5], ())
    assert by_strings(apart, budget) == (1, 0)
    chain = make_problem([2.0, 4.5, 4.0, 1.0], [0.9, 0.5, 0.5, 0.5], [(2, 3)])
    assert by_strings(chain, budget) == (2, 3, 1, 0)


def test_what_is_done_counts_no_more_for_what_waited_for_it() -> None:
    """By hand, each keeping a half (0.69 of risk): with P (1) done B costs 4 and is worth 5.8; C is
    worth 4.3 and goes before it, D 7.2 and goes after it."""
    problem = make_problem([1.0, 4.0, 3.0, 5.0], [0.5] * 4, [(0, 1)])
    assert by_strings(problem, Budget(1000)) == (0, 2, 1, 3)
    stopped = Budget(1000, stopped=True)
    assert by_strings(problem, stopped) == (0, 2, 3, 1)
    # What cannot fail may wait, what costs nothing need not.
    idle = make_problem([1.0, 0.0, 2.0], [1.0, 1.0, 0.5], ())
    assert by_strings(idle, Budget(1000)) == (1, 2, 0)
    # A whole stretch that waits goes before what is dearer than all of it.
    deep = make_problem([3.0, 2.0, 2.0, 0.1], [0.5, 0.9, 0.9, 0.1], [(1, 2), (2, 3)])
    assert by_strings(deep, Budget(1000)) == (1, 2, 3, 0)


def test_the_largest_two_sets_in_series_are_parted() -> None:
    """By hand: 2 and 3 wait for 0 and 1, 4 for 0 alone: two after two are more than three after
    one."""
    arcs = [(0, 2), (0, 3), (1, 2), (1, 3), (0, 4)]
    problem = make_problem([1.0] * 5, [0.5] * 5, arcs)
    assert Relaxed(problem)._split(problem.full) == (0b00011, 0b01100)
    assert Relaxed(problem)._split(0b10010) is None
    # Three after one are more than one after two.
    problem = make_problem([1.0] * 5, [0.5] * 5, [(0, 2), (1, 2), (0, 3), (0, 4)])
    assert Relaxed(problem)._split(problem.full) == (0b00001, 0b11100)


def test_strings_of_a_forest_by_hand() -> None:
    """0 (1, keeps 0.1) waits for 2 (2, keeps 0.9): one string of 2 + 0.9 x 1, ratio 2.9 / 0.91 =
    3.19, before 1 of ratio 3 / 0.5 = 6."""
    problem = make_problem([1.0, 3.0, 2.0], [0.1, 0.5, 0.9], [(2, 0)])
    found = Relaxed(problem)._forest(problem.full)
    assert [node for _, node, _, _ in found] == [2, 1]
    assert found[0] == pytest.approx((2.9 / 0.91, 2, 2.9, 0.09))
    assert found[1] == pytest.approx((6.0, 1, 3.0, 0.5))
