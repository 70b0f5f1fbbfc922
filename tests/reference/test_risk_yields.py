"""Yields and counts of faults against published formulas, tables and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from solderrisk.risk.skill import (
    chance_of,
    count_at_most,
    count_chances,
    dpmo_of,
    first_time_yield,
    hazard_of,
    sigma_level,
)

newer_scipy = pytest.mark.skipif(
    not hasattr(stats, "poisson_binom"), reason="this scipy has no sum of unequal chances yet"
)


# IPC-9261 style: yield = product of (1 - DPMO/1e6)^opportunities; worked by hand from it.
@pytest.mark.parametrize(
    ("dpmo", "opportunities", "expected"),
    [
        ([100], [1000], 0.90483),
        ([1000], [100], 0.90479),
        ([2000], [250], 0.60623),
        ([100, 1000], [1000, 100], 0.90483 * 0.90479),
        ([0], [5000], 1.0),
    ],
)
def test_yield_from_dpmo(dpmo: list[float], opportunities: list[int], expected: float) -> None:
    assert first_time_yield(dpmo, opportunities) == pytest.approx(expected, abs=1e-5)


# IPC-7912 style: DPMO = 1e6 x defects / opportunities.
def test_dpmo() -> None:
    assert dpmo_of(3, 12_000) == pytest.approx(250)


# The customary six-sigma table, one tail with a shift of 1.5 sigma.
@pytest.mark.parametrize(
    ("dpmo", "level"), [(3.4, 6.0), (233, 5.0), (6210, 4.0), (66_807, 3.0), (308_538, 2.0)]
)
def test_sigma_table(dpmo: float, level: float) -> None:
    assert sigma_level(dpmo) == pytest.approx(level, abs=0.003)


@given(st.floats(0, 0.999))
def test_hazard_and_chance_undo_each_other(chance: float) -> None:
    assert float(chance_of(hazard_of(chance))) == pytest.approx(chance, abs=1e-12)


# Equal chances: the binomial distribution (scipy.stats.binom).
@pytest.mark.parametrize(("n", "p"), [(10, 0.1), (50, 0.02), (120, 0.3)])
def test_equal_chances_are_binomial(n: int, p: float) -> None:
    expected = stats.binom.pmf(np.arange(n + 1), n, p)
    np.testing.assert_allclose(count_chances([p] * n), expected, atol=1e-12)


# Textbook exercise (engineering statistics): a board of 285 joints, 0.01 faulty each: mean
# 2.85, standard deviation 1.68, 5.7 % of boards free of faults, 77.9 % with two or more.
def test_board_of_285_joints() -> None:
    table = count_chances([0.01] * 285)
    counts = np.arange(286)
    mean = float(table @ counts)
    assert mean == pytest.approx(2.85)
    assert np.sqrt(table @ (counts - mean) ** 2) == pytest.approx(1.68, abs=0.005)
    assert table[0] == pytest.approx(0.057, abs=5e-4)
    assert first_time_yield([10_000], [285]) == pytest.approx(0.057, abs=5e-4)
    assert 1 - table[:2].sum() == pytest.approx(0.779, abs=5e-4)


# Unequal chances: scipy.stats.poisson_binom.
@newer_scipy
def test_poisson_binomial_against_scipy() -> None:
    chances = np.random.default_rng(3).uniform(0, 0.4, 40)
    expected = stats.poisson_binom.pmf(np.arange(41), chances)
    np.testing.assert_allclose(count_chances(chances), expected, atol=1e-12)


# Table 1 of any binomial table: P(at most 2 of 20 at 0.1) = 0.6769 (e.g. Abramowitz-Stegun
# style cumulative tables).
def test_cumulative_binomial_table() -> None:
    assert count_chances([0.1] * 20)[:3].sum() == pytest.approx(0.6769, abs=5e-5)
    assert float(count_at_most(2, 2.0, 0.2)) == pytest.approx(0.6769, abs=5e-5)


@newer_scipy
@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.001, 0.3), min_size=20, max_size=120))
def test_fast_count_is_close_to_the_exact_one(chances: list[float]) -> None:
    p = np.array(chances)
    exact = stats.poisson_binom.cdf(np.arange(len(p) + 1), p)
    fast = count_at_most(np.arange(len(p) + 1), p.sum(), (p**2).sum())
    assert np.max(np.abs(exact - fast)) < 0.012


# A thousand rare faults: Poisson (scipy.stats.poisson), whose limit it is.
def test_rare_faults_are_poisson() -> None:
    p = np.full(4000, 0.0005)
    counts = np.arange(8)
    fast = count_at_most(counts, p.sum(), (p**2).sum())
    np.testing.assert_allclose(fast, stats.poisson.cdf(counts, 2.0), atol=2e-4)
