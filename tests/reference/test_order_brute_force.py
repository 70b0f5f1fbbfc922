"""The search against every permutation, and its bounds against every sub-state.

Expected values come from full enumeration or plain dynamic programming in the test itself.
"""

from __future__ import annotations

import random

import pytest

from solderrisk.plan.order.bounds import (
    Forest,
    Problem,
    _leaves_first,
    best_forest,
    bits,
    cost_of,
    make_problem,
    with_dominance,
)
from solderrisk.plan.order.changes import (
    Changes,
    _by_setup,
    _improve,
    _moves,
    exact_changes,
    fewer_changes,
)
from solderrisk.plan.order.large import Relaxed, solve_large
from solderrisk.plan.order.search import (
    Budget,
    Found,
    Walk,
    _best_place,
    beam,
    best_first,
    reinsert,
    solve,
)
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


def bound_of(problem: Problem, **how: int) -> float:
    forest = best_forest(problem, **how)
    return forest.bound(forest.root_ranks)


def test_each_waits_for_the_heavier_of_two() -> None:
    """By hand: C (0.1, keeps 0.1) waits for A (1, ratio 2) and B (5, ratio 10), which keep a half.
    Hung on B all is 1 + 0.5 (5 + 0.5 x 0.1) = 3.525, as it is; on A it would be 1.3."""
    problem = make_problem([1.0, 5.0, 0.1], [0.5, 0.5, 0.1], [(0, 2), (1, 2)])
    assert by_permutations(problem) == pytest.approx(3.525)
    assert bound_of(problem, rounds=0, passes=0) == pytest.approx(3.525)
    assert sorted(_leaves_first([-1, 0, 0, 1], [[1, 2], [3], [], []])) == [0, 1, 2, 3]


@pytest.mark.parametrize(("seed", "less", "more"), [
    (40, {"rounds": 0, "passes": 0}, {"rounds": 1, "passes": 0}),
    (53, {"rounds": 0, "passes": 0}, {"rounds": 1, "passes": 0}),
    (15, {"rounds": 1, "passes": 0}, {"rounds": 4, "passes": 0}),
    (58, {"rounds": 4, "passes": 0}, {"rounds": 4, "passes": 1}),
    (11, {"rounds": 0, "passes": 1}, {"rounds": 0, "passes": 2}),
])  # fmt: skip
def test_looking_longer_for_a_forest_lifts_the_bound(
    seed: int, less: dict[str, int], more: dict[str, int]
) -> None:
    problem = instance(9, seed, 4.0, 0.6)
    optimum = values_of_rest(problem)[0]
    assert bound_of(problem, **less) * 1.001 < bound_of(problem, **more) <= optimum * (1 + 1e-12)


@pytest.mark.parametrize(("cost", "keep"), [
    ((1.0, -1.0), (0.5, 0.5)), ((1.0, float("nan")), (0.5, 0.5)), ((1.0, 1.0), (0.0, 0.5)),
    ((1.0, 1.0), (0.5, 1.1)),
])  # fmt: skip
def test_amounts_out_of_their_range_are_refused(
    cost: tuple[float, ...], keep: tuple[float, ...]
) -> None:
    with pytest.raises(ValueError, match="costs must be"):
        make_problem(cost, keep, ())
    assert make_problem((0.0, 1.0), (1.0, 0.5), ()).full == 3
    with pytest.raises(ValueError, match="cycle"):
        make_problem((1.0, 1.0), (0.5, 0.5), [(0, 1), (1, 0)])


FLAT = ((0.0, 1.0), (1.0, 0.0))


@pytest.mark.parametrize(("arcs", "spot", "expected"), [
    # Two runs brought together, what stands between before or after; then every single shift.
    ((), (0, 1, 0), [[1, 0, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [1, 0, 2], [0, 2, 1], [2, 0, 1],
                     [0, 2, 1]]),
    (((0, 1),), (0, 1, 0), [[0, 2, 1], [0, 2, 1], [2, 0, 1], [0, 2, 1]]),
    (((1, 2),), (0, 1, 0), [[1, 0, 2], [1, 0, 2], [1, 2, 0], [1, 0, 2]]),
    (((0, 1), (1, 2)), (0, 1, 0), []),
    # A run moves as one; what needs no set-up joins nothing.
    ((), (0, 0, 1), [[2, 0, 1], [2, 0, 1]]),
    (((0, 1), (1, 2)), (-1, 1, -1), []),
    ((), (-1, 1, -1), [[1, 0, 2], [1, 2, 0], [1, 0, 2], [0, 2, 1], [2, 0, 1], [0, 2, 1]]),
])  # fmt: skip
def test_the_moves_of_three_by_hand(
    arcs: list[tuple[int, int]], spot: tuple[int, ...], expected: list[list[int]]
) -> None:
    problem = make_problem([1.0] * 3, [0.9] * 3, arcs)
    assert list(_moves(problem, Changes(spot, FLAT), [0, 1, 2])) == expected


@pytest.mark.parametrize(("cost", "spot", "arcs", "expected"), [
    # Keeping a half each, the cost says what pays first; a set-up stays while it has work.
    ((1, 2, 3), (1, 0, 1), (), [0, 2, 1]),
    ((1, 2, 3), (0, 1, 0), (), [0, 2, 1]),
    ((2, 1, 3), (1, 0, 1), (), [1, 0, 2]),
    # What needs no set-up goes before all others, later as soon as it pays; what is set up stays.
    ((1, 4, 2, 3), (0, 0, -1, 1), (), [2, 0, 1, 3]),
    ((1, 4, 2, 3), (0, 0, -1, 1), ((0, 2),), [0, 2, 1, 3]),
    ((1, 2, 3, 4), (0, -1, 1, 0), ((0, 1),), [0, 1, 3, 2]),
    ((1, 4, 2, 3), (0, -1, 1, 0), ((0, 1),), [0, 3, 2, 1]),
    # The last waits for both others, whichever comes last.
    ((3, 2, 1), (0, 0, 0), ((0, 2), (1, 2)), [1, 0, 2]),
    ((2, 3, 1), (0, 0, 0), ((0, 2), (1, 2)), [0, 1, 2]),
])  # fmt: skip
def test_staying_with_a_set_up_by_hand(
    cost: list[float], spot: tuple[int, ...], arcs: list[tuple[int, int]], expected: list[int]
) -> None:
    problem = make_problem(cost, [0.5] * len(cost), arcs)
    assert _by_setup(problem, Changes(spot, FLAT)) == expected


def test_all_moves_are_tried_until_one_is_better() -> None:
    """By hand, each keeping a half, a change costing 1: the dear one between costs 8.25, first
    11.75, last 5."""
    problem = make_problem([1.0, 10.0, 1.0], [0.5] * 3, ())
    changes = Changes((0, 1, 0), FLAT)
    assert changes.total(problem, (0, 1, 2)) == 8.25
    assert _improve(problem, changes, [0, 1, 2], Budget(100)) == [0, 2, 1]
    assert _improve(problem, changes, [0, 1, 2], Budget(1)) == [0, 1, 2]


def test_which_set_up_is_first_is_free_and_the_dear_change_is_left_out() -> None:
    """From set-up 0 to 1 costs 1, back 3: the other way round all would cost 5."""
    problem = make_problem([1.0, 1.0], [1.0, 1.0], ())
    changes = Changes((0, 1), ((0.0, 1.0), (3.0, 0.0)))
    assert changes.total(problem, (1, 0)) == 5.0
    assert exact_changes(problem, changes, (1, 0), Budget(100)) == ((0, 1), True)
    assert exact_changes(problem, changes, (1, 0), Budget(0)) == ((1, 0), False)
    one = Changes((0, 0), ((0.0,),))
    assert exact_changes(problem, one, (1, 0), Budget(100)) == ((1, 0), True)


def test_of_equal_bounds_the_deepest_goes_on() -> None:
    """Ten alike jobs on two set-ups: 10 + 9 + ... + 1 looks show 11 where 19 was known."""
    problem = make_problem([1.0] * 10, [1.0] * 10, ())
    changes = Changes((0, 1) * 5, FLAT)
    budget = Budget(100)
    order, proved = exact_changes(problem, changes, range(10), budget)
    assert (changes.total(problem, order), proved, budget.used) == (11.0, True, 55)


@pytest.mark.parametrize("size", [22, 23])
def test_changes_of_short_lists_are_proved(size: int) -> None:
    chain = make_problem([1.0] * size, [0.9] * size, [(n, n + 1) for n in range(size - 1)])
    changes = Changes((0, 1) * (size // 2) + (0,) * (size % 2), FLAT)
    order, proved = fewer_changes(chain, changes, range(size), Budget(10**5))
    assert (order, proved) == (tuple(range(size)), size == 22)


def test_of_two_starts_the_better_is_kept() -> None:
    better = set()
    for seed in range(12):
        rng = random.Random(seed)
        problem = instance(24, seed, arcs_per_node=4.0, top=0.5)
        changes = Changes(tuple(rng.randrange(3) for _ in range(24)), (
            (0.0, 1.0, 2.0), (2.0, 0.0, 1.0), (1.0, 1.0, 0.0)))  # fmt: skip
        start = solve(problem, Budget(3000)).order
        both = [
            changes.total(problem, _improve(problem, changes, list(order), Budget(300)))
            for order in (start, _by_setup(problem, changes))
        ]
        found, _ = fewer_changes(problem, changes, start, Budget(600))
        assert changes.total(problem, found) <= min(both) * (1 + 1e-12)
        better.add(both[0] < both[1])
    assert better == {True, False}


def test_a_budget_tells_its_share_and_ends_for_good() -> None:
    seen: list[float] = []
    budget = Budget(4096, progress=seen.append)
    budget.spend(1023)
    assert seen == []
    budget.spend(1)
    budget.spend(1023)
    assert budget.left(0.5)
    budget.spend(1)
    assert (seen, budget.left(0.5), budget.left()) == ([0.25, 0.5], False, True)
    budget.spend(9000)
    assert (seen[-1], budget.left()) == (1.0, False)
    none = Budget(0, progress=seen.append)
    none.spend(2048)
    assert (seen[-1], none.left()) == (1.0, False)
    gone = Budget(10**6, cancelled=lambda: True)
    assert gone.left()
    gone.spend(1024)
    assert not gone.left()
    late = Budget(10**6, deadline=0.0)
    late.spend(1024)
    assert late.stopped


@pytest.mark.parametrize(
    ("seed", "steps", "wider"),
    [(1, 300, True), (23, 800, True), (23, 300, False), (34, 300, False)],
)
def test_what_is_left_of_the_budget_goes_into_a_wide_beam(
    seed: int, steps: int, wider: bool
) -> None:
    """Never worse than the narrow one, with the better of the two bounds, within the budget."""
    problem = instance(26, seed, 5.0, 0.6)
    tight = with_dominance(problem)
    walk, budget = Walk(tight, best_forest(tight, passes=0)), Budget(steps)
    order, low = beam(walk, 1, budget)
    order = reinsert(problem, order, budget)
    narrow = Found(order, price(problem, order), low, 0)
    exact = best_first(walk, narrow, budget, share=0.5)
    spent = Budget(steps)
    found = solve(problem, spent, passes=0, narrow=1)
    assert not found.optimal
    assert steps / 2 < spent.used <= steps
    assert found.bound == pytest.approx(max(low, exact.bound), rel=1e-12)
    assert found.bound > low
    assert (found.cost < exact.cost * (1 - 1e-9)) is wider
    assert found.cost <= exact.cost * (1 + 1e-12)


def test_where_little_is_left_no_beam_is_begun() -> None:
    problem = instance(26, 1, 5.0, 0.6)
    budget = Budget(70)
    found = solve(problem, budget, passes=0, narrow=1)
    assert budget.left()
    assert allowed(problem, found.order)
    assert Found((), 0.0, 0.0, 0).optimal
    assert not Found((), 1.0, 0.999, 0).optimal


def test_no_single_step_can_be_moved_to_a_better_place() -> None:
    for seed in range(30):
        problem = instance(9, seed, arcs_per_node=1.5, top=0.6) if seed % 3 else awkward(9, seed)
        start = tuple(bits(problem.full))
        start = tuple(sorted(start, key=lambda node: (problem.before[node].bit_count(), node)))
        found = reinsert(problem, start, Budget(10**6), rounds=50)
        least = price(problem, found)
        assert allowed(problem, found)
        assert least <= price(problem, start) * (1 + 1e-12)
        for place, node in enumerate(found):
            rest = [*found[:place], *found[place + 1 :]]
            for target in range(9):
                trial = [*rest[:target], node, *rest[target:]]
                assert not allowed(problem, trial) or least <= price(problem, trial) + 1e-11


def test_where_a_step_goes_and_how_many_places_are_tried() -> None:
    """By hand, each keeping a half: the cheap ones first; equals stay; rules end the look."""
    cost, keep = [4.0, 2.0, 2.0, 1.0], [0.5] * 4
    free = make_problem(cost, keep, ())
    order = (0, 1, 2, 3)
    assert [_best_place(free, order, place) for place in range(4)] == [
        (3, 4),
        (0, 4),
        (0, 4),
        (0, 4),
    ]
    tied = make_problem(cost, keep, [(0, 1), (2, 3)])
    assert [_best_place(tied, order, place) for place in range(4)] == [
        (0, 1),
        (3, 3),
        (0, 3),
        (3, 1),
    ]
    assert reinsert(free, order, Budget(100)) == (3, 2, 1, 0)
    assert reinsert(free, order, Budget(0)) == order
    # Each goes behind what is cheaper and passes its equals on the way; once round is enough.
    assert reinsert(free, order, Budget(100), rounds=1) == (3, 2, 1, 0)
    long = make_problem([1.0] * 33, [0.5] * 33, ())
    budget = Budget(100)
    assert reinsert(long, range(33), budget) == tuple(range(33))
    assert budget.used == 33 * (33 // 16)


def test_the_better_of_two_bounds_holds_for_large_lists() -> None:
    forest_better = 0
    for seed in range(20):
        problem = instance(9, seed, 4.0, 0.6)
        forest = best_forest(with_dominance(problem, rounds=1), passes=0)
        both = Relaxed(problem).bound(), forest.bound(forest.root_ranks)
        assert solve_large(problem, Budget(10**6)).bound == max(both)
        forest_better += both[1] > both[0] * (1 + 1e-9)
    assert 0 < forest_better < 20


@pytest.mark.parametrize("seed", range(4))
def test_of_equal_sets_the_one_with_most_done_goes_on(seed: int) -> None:
    """Where every order costs the same, twelve sets lead to the end; in breadth more would."""
    rules = instance(12, seed, 3.0)
    problem = Problem((1.0,) * 12, (1.0,) * 12, rules.before, rules.after)
    walk = Walk(problem, best_forest(problem))
    found = best_first(walk, Found(tuple(range(12)), 1e9, 0.0, 0), Budget(10**6), 1.0)
    assert (found.cost, found.states) == (12.0, 12)
