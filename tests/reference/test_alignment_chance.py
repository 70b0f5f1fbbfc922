"""Chances of a placement against scipy's bivariate normal, closed forms and quadrature."""

from __future__ import annotations

import math

import mpmath
import pytest
from scipy import stats
from scipy.integrate import dblquad

from solderrisk.physics.acceptance import chance_inside, chance_two_ends, chance_with_tries

CASES = [
    (0.15, 0.05, 0.004, 8.0),
    (0.15, 0.10, 0.004, 8.0),
    (0.095, 0.15, 0.02, 8.0),
    (0.45, 0.25, 0.20, 0.75),
    (0.15, 0.001, 0.02, 8.0),
    (0.15, 0.15, 1e-6, 8.0),
    (0.05, 2.0, 0.5, 10.0),
]


@pytest.mark.parametrize(("tol", "slide", "turn", "lever"), CASES)
def test_against_the_bivariate_normal(tol: float, slide: float, turn: float, lever: float) -> None:
    # |x| + |y| <= t is the square |u|, |v| <= t for u = x + y, v = x - y, whose joint law is
    # bivariate normal: scipy.stats integrates that rectangle.
    a, b = slide**2, (turn * lever) ** 2
    square = stats.multivariate_normal(cov=[[a + b, a - b], [a - b, a + b]], allow_singular=True)
    expected = square.cdf([tol, tol], lower_limit=[-tol, -tol])
    assert float(chance_inside(tol, slide, turn, lever)) == pytest.approx(expected, abs=2e-5)


@pytest.mark.parametrize(("tol", "slide", "turn", "lever"), CASES[:4])
def test_against_double_quadrature(tol: float, slide: float, turn: float, lever: float) -> None:
    swing = turn * lever
    half, _ = dblquad(
        lambda x, y: stats.norm.pdf(x, scale=slide) * stats.norm.pdf(y, scale=swing),
        0, tol, 0, lambda y: tol - y, epsabs=1e-11,
    )  # fmt: skip
    assert float(chance_inside(tol, slide, turn, lever)) == pytest.approx(4 * half, abs=1e-9)


@pytest.mark.parametrize("ratio", [0.2, 1.0, 3.0, 9.0])
def test_equal_spreads_have_a_closed_form(ratio: float) -> None:
    # Turned by 45 degrees the diamond is a square: erf(t / (2 sigma)) squared.
    expected = math.erf(ratio / 2) ** 2
    assert float(chance_inside(ratio, 1.0, 0.5, 2.0)) == pytest.approx(expected, abs=1e-12)


def test_without_turn_it_is_the_error_function() -> None:
    # One axis: erf(t / (sigma sqrt 2)); both axes: its square. 68.27 % within one sigma.
    one = float(chance_inside(0.1, 0.1, 0.0, 8.0))
    both = float(chance_inside(0.1, 0.1, 0.0, 8.0, both_axes=True))
    assert one == pytest.approx(0.682689492, abs=1e-9)
    assert both == pytest.approx(0.682689492**2, abs=1e-9)


@pytest.mark.parametrize(("tol", "slide", "turn", "lever"), CASES)
def test_four_sided_against_mpmath(tol: float, slide: float, turn: float, lever: float) -> None:
    swing = turn * lever
    cuts = sorted({0.0, *(min(k * s, tol) for s in (slide, swing) for k in (1, 4, 9)), tol,
                   *(max(tol - k * slide, 0.0) for k in (1, 4, 9))})  # fmt: skip
    expected = 2 * mpmath.quad(
        lambda y: mpmath.npdf(y, 0, swing) * mpmath.erf((tol - y) / (slide * mpmath.sqrt(2))) ** 2,
        cuts,
    )
    found = float(chance_inside(tol, slide, turn, lever, both_axes=True))
    assert found == pytest.approx(float(expected), abs=1e-8)


def test_two_ends_set_one_by_one() -> None:
    # scipy.stats: within 0.2 mm at sigma 0.1 is 95.45 % an end
    once = stats.norm.cdf(2) - stats.norm.cdf(-2)
    assert float(chance_two_ends(0.2, 0.1)) == pytest.approx(once**2, rel=1e-12)


def test_tries_until_it_sits() -> None:
    # Every miss seen: 1 - (1 - p)^k. None seen: one try. Half of 0.7 seen, geometric series.
    assert float(chance_with_tries(0.5, 1.0, 3)) == pytest.approx(1 - 0.5**3)
    assert float(chance_with_tries(0.5, 0.0, 3)) == pytest.approx(0.5)
    assert float(chance_with_tries(0.3, 0.5, 3)) == pytest.approx(0.3 * (1 + 0.35 + 0.1225))
