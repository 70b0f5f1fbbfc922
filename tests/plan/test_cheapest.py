"""The cheapest set against full enumeration."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.plan.advice import cheapest_set


@st.composite
def problems(draw: st.DrawFn) -> tuple[list[float], list[tuple[frozenset[int], float]], float]:
    count = draw(st.integers(1, 8))
    costs = draw(st.lists(st.floats(0.5, 50), min_size=count, max_size=count))
    groups = draw(
        st.lists(
            st.tuples(
                st.frozensets(st.integers(0, count - 1), min_size=1, max_size=3),
                st.floats(0.05, 0.5),
            ),
            max_size=5,
        )
    )
    return costs, groups, draw(st.floats(0.1, 1.2))


@settings(max_examples=150)
@given(problems())
def test_matches_full_enumeration(
    problem: tuple[list[float], list[tuple[frozenset[int], float]], float],
) -> None:
    costs, groups, target = problem

    def chance(items: frozenset[int]) -> float:
        return 0.1 + sum(gain for group, gain in groups if group <= items)

    sets = [
        frozenset(chosen)
        for size in range(len(costs) + 1)
        for chosen in combinations(range(len(costs)), size)
    ]
    good = [sum(costs[i] for i in sorted(s)) for s in sets if chance(s) >= target]
    found = cheapest_set(costs, chance, target)
    assert found.proved
    if not good:
        assert (found.chosen, found.cost) == (None, 0.0)
    else:
        assert found.chosen is not None
        assert chance(found.chosen) >= target
        assert abs(found.cost - min(good)) < 1e-9


def test_says_when_it_was_cut_short() -> None:
    costs = [1.0 + 0.01 * i for i in range(24)]
    found = cheapest_set(costs, lambda s: len(s) / 24, 0.5, most_tries=40)
    assert not found.proved
    assert found.tried == 40
    assert found.chosen is not None
    assert len(found.chosen) >= 12


Sets = list[frozenset[int]]


def by_hand(costs: list[float], *enough: set[int]) -> tuple[tuple[int, ...], float, Sets]:
    """What is chosen where these sets, and all around them, reach; its cost, and what was asked."""
    asked: Sets = []

    def chance(items: frozenset[int]) -> float:
        asked.append(items)
        return float(any(each <= items for each in enough))

    found = cheapest_set(costs, chance, 1.0)
    assert found.proved
    assert found.tried == len(asked) == len(set(asked))
    return tuple(sorted(found.chosen or ())), found.cost, asked


def test_one_dear_thing_may_be_cheaper_than_two() -> None:
    """Dropping the dearest first ends with the two of 3; the one of 5 is cheaper. The one of 7
    never helps and hides nothing."""
    assert by_hand([7.0, 5.0, 3.0, 3.0], {1}, {2, 3})[:2] == ((1,), 5.0)


def test_of_equals_the_last_stays_and_what_is_known_is_not_asked_again() -> None:
    chosen, cost, asked = by_hand([2.0, 2.0, 1.0], {0}, {1})
    assert (chosen, cost) == ((1,), 2.0)
    # Nothing, all, without the first, without both; that the last alone does not is known then.
    assert asked == [frozenset(), frozenset({0, 1, 2}), frozenset({1, 2}), frozenset({2}),
                     frozenset({1}), frozenset({0, 2})]  # fmt: skip


def test_what_is_needed_anyway_is_bought_in_any_case() -> None:
    assert by_hand([4.0, 9.0, 1.0], {0, 1})[:2] == ((0, 1), 13.0)
    assert by_hand([4.0, 9.0, 1.0], set())[:2] == ((), 0.0)
