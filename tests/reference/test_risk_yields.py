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
    dpmo_of,
    hazard_of,
)

newer_scipy = pytest.mark.skipif(
    not hasattr(stats, "poisson_binom"), reason="this scipy has no sum of unequal chances yet"
)


# IPC-7912 style: DPMO = 1e6 x defects / opportunities.
def test_dpmo() -> None:
    assert dpmo_of(3, 12_000) == pytest.approx(250)


@given(st.floats(0, 0.999))
def test_hazard_and_chance_undo_each_other(chance: float) -> None:
    assert float(chance_of(hazard_of(chance))) == pytest.approx(chance, abs=1e-12)


# Textbook exercise (engineering statistics): a board of 285 joints, 0.01 faulty each: 5.7 % of
# boards free of faults, 77.9 % with two or more.
def test_board_of_285_joints() -> None:
    at_most = count_at_most(np.arange(3), 2.85, 0.0285)
    assert at_most[0] == pytest.approx(0.057, abs=5e-4)
    assert 1 - at_most[1] == pytest.approx(0.779, abs=5e-4)


# Table 1 of any binomial table: P(at most 2 of 20 at 0.1) = 0.6769 (e.g. Abramowitz-Stegun
# style cumulative tables).
def test_cumulative_binomial_table() -> None:
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
