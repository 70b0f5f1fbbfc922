"""The search against every permutation, and its bounds against every sub-state.

Expected values come from full enumeration or plain dynamic programming in the test itself.
"""

from __future__ import annotations

import random

import pytest

from solderrisk.plan.order.bounds import Forest, best_forest, bits, cost_of, with_dominance
from solderrisk.plan.order.changes import Changes, exact_changes, fewer_changes
from solderrisk.plan.order.search import Budget, Walk, beam, best_first, reinsert, solve
from tests.reference.order_instances import (
    allowed,
    awkward,
    by_permutations,
    instance,
    price,
    values_of_rest,
)


def ranks_of(forest: Forest, rest: int) -> int:
    """The ranks left for a set of nodes still to do."""
    ranks, done = forest.root_ranks, forest.problem.full & ~rest
    for node in sorted(bits(done), key=lambda node: forest.problem.before[node].bit_count()):
        ranks = forest.after_node(ranks, node)
    return ranks


@pytest.mark.parametrize("seed", range(12))
def test_the_optimum_is_that_of_all_permutations(seed: int) -> None:
    problem = instance(7, seed) if seed % 2 else awkward(7, seed)
    found = solve(problem, Budget(100_000))
    assert found.optimal
    assert allowed(problem, found.order)
    assert found.cost == pytest.approx(by_permutations(problem), rel=1e-12, abs=1e-12)
    assert price(problem, found.order) == pytest.approx(found.cost, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("make", [instance, awkward])
def test_every_bound_is_at_most_the_optimum_of_its_sub_state(make) -> None:  # type: ignore[no-untyped-def]
    for seed in range(60):
        problem = make(random.Random(seed).randint(3, 9), seed)
        tight = with_dominance(problem)
        exact, kept = values_of_rest(problem), values_of_rest(tight)
        assert kept[0] == pytest.approx(exact[0], rel=1e-12, abs=1e-12)
        for case, values in ((problem, exact), (tight, kept)):
            forest = best_forest(case)
            for done, value in values.items():
                bound = forest.bound(ranks_of(forest, case.full & ~done))
                assert bound <= value * (1 + 1e-12) + 1e-12


def test_steps_left_out_of_the_search_cost_nothing_in_any_sub_state() -> None:
    """Forced blocks and dominated choices are checked as identities on the exact value."""
    forced = dominated = 0
    for seed in range(60):
        problem = awkward(8, seed) if seed % 3 == 0 else instance(8, seed)
        values = values_of_rest(problem)
        forest = best_forest(problem)
        walk = Walk(problem, forest)
        for done, value in values.items():
            if done == problem.full:
                continue
            free = sum(
                1 << n
                for n in range(problem.size)
                if not done >> n & 1 and not problem.before[n] & ~done
            )
            kept = walk.choices(free)
            dominated += len(kept) < free.bit_count()
            best = min(problem.cost[n] + problem.keep[n] * values[done | 1 << n] for n in kept)
            assert best == pytest.approx(value, rel=1e-12, abs=1e-12)
            block = walk.forced(done, ranks_of(forest, problem.full & ~done))
            if block:
                forced += 1
                after = done | sum(1 << n for n in block)
                tail = cost_of(problem, block)
                for n in block:
                    after |= 1 << n
                alive = 1.0
                for n in block:
                    alive *= problem.keep[n]
                assert tail + alive * values[after] == pytest.approx(value, rel=1e-12, abs=1e-12)
    assert forced > 100
    assert dominated > 100


def test_a_narrow_beam_misses_optima_and_its_bound_says_so() -> None:
    missed = 0
    for seed in range(80):
        problem = instance(9, seed, arcs_per_node=4.0, top=0.6)
        optimum = values_of_rest(problem)[0]
        walk = Walk(problem, best_forest(problem, rounds=0, passes=0))
        order, low = beam(walk, 1, Budget(10**6))
        cost = price(problem, order)
        assert allowed(problem, order)
        assert low <= optimum * (1 + 1e-12) <= cost * (1 + 2e-12)
        if cost > optimum * (1 + 1e-9):
            missed += 1
            assert low < cost
        better = reinsert(problem, order, Budget(10**6))
        assert allowed(problem, better)
        assert price(problem, better) <= cost * (1 + 1e-12)
    assert missed >= 3, "the beam was never put to the test"


def test_a_search_cut_short_gives_a_true_bound() -> None:
    cut = 0
    for seed in range(30):
        problem = instance(10, seed, arcs_per_node=4.0, top=0.6)
        optimum = values_of_rest(problem)[0]
        for steps in (1, 10, 40):
            found = solve(problem, Budget(steps), passes=0, narrow=1)
            assert allowed(problem, found.order)
            assert found.bound <= optimum * (1 + 1e-12) <= found.cost * (1 + 2e-12)
            cut += not found.optimal
            if found.optimal:
                assert found.cost == pytest.approx(optimum, rel=1e-9)
    assert cut >= 3, "the budget never cut a search"


def test_best_first_alone_proves_from_a_bad_start() -> None:
    for seed in range(20):
        problem = instance(10, seed, top=0.5)
        walk = Walk(problem, best_forest(problem))
        start = beam(walk, 1, Budget(10**6))[0]
        bad = solve(problem, Budget(1), narrow=1)
        found = best_first(walk, bad, Budget(10**6), 1.0)
        assert found.optimal
        assert found.cost == pytest.approx(values_of_rest(problem)[0], rel=1e-12)
        assert found.cost <= price(problem, start) * (1 + 1e-12)


def _with_changes(problem, changes: Changes) -> float:  # type: ignore[no-untyped-def]
    """Least cost with changes over (done set, last set-up), by plain dynamic programming."""
    layer: dict[tuple[int, int], tuple[float, float]] = {(0, -1): (0.0, 1.0)}
    for _ in range(problem.size):
        following: dict[tuple[int, int], tuple[float, float]] = {}
        for (done, last), (cost, alive) in layer.items():
            for node in range(problem.size):
                if done >> node & 1 or problem.before[node] & ~done:
                    continue
                spot = changes.spot[node] if changes.spot[node] >= 0 else last
                change = changes.cost[last][spot] if last >= 0 and spot != last else 0.0
                new = (done | 1 << node, spot)
                value = cost + alive * problem.cost[node] + change
                if value < following.get(new, (float("inf"), 0.0))[0]:
                    following[new] = (value, alive * problem.keep[node])
        layer = following
    return min(cost for cost, _ in layer.values())


@pytest.mark.parametrize("seed", range(15))
def test_changes_are_weighed_exactly_on_small_lists(seed: int) -> None:
    rng = random.Random(seed)
    problem = instance(9, seed, arcs_per_node=rng.choice([0.5, 2.0]))
    spot = tuple(rng.randrange(-1, 3) for _ in range(9))
    table = tuple(tuple(0.0 if a == b else rng.uniform(0.1, 4) for b in range(3)) for a in range(3))
    changes = Changes(spot, table)
    start = solve(problem, Budget(10**5)).order
    expected = _with_changes(problem, changes)
    order, proved = fewer_changes(problem, changes, start, Budget(10**6))
    assert allowed(problem, order)
    if len({s for s in spot if s >= 0}) > 1:
        assert proved
        assert changes.total(problem, order) == pytest.approx(expected, rel=1e-12)
    worst = tuple(bits(problem.full))
    if allowed(problem, worst):
        exact, _ = exact_changes(problem, changes, worst, Budget(10**6))
        assert changes.total(problem, exact) == pytest.approx(expected, rel=1e-12)
