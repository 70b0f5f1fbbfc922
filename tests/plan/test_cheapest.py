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
        assert found.chosen is None
    else:
        assert found.chosen is not None
        assert chance(found.chosen) >= target
        assert abs(found.cost - min(good)) < 1e-9


def test_says_when_it_was_cut_short() -> None:
    costs = [1.0 + 0.01 * i for i in range(24)]
    found = cheapest_set(costs, lambda s: len(s) / 24, 0.5, most_tries=40)
    assert not found.proved
    assert found.chosen is not None
    assert len(found.chosen) >= 12
