"""Skill against textbook tables, scipy and statsmodels."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from solderrisk.files.reference import risk_data
from solderrisk.model.builder import LEVELS, Record
from solderrisk.risk.hands import GRID, hand_of, psi_of
from solderrisk.risk.skill import Belief, beliefs_at, practised, prior_of, updated
from solderrisk.risk.worlds import Worlds
from solderrisk.risk.yields import learning_factor
from tests.risk.risk_scene import REFERENCE
from tests.risk.risk_tables import fixed, worlds

DATA = risk_data()


# Wright's 80 % curve: 100, 80, 64, 51.2 at every doubling (textbook example).
@pytest.mark.parametrize(("repeats", "hours"), [(1, 100), (2, 80), (4, 64), (8, 51.2)])
def test_learning_curve(repeats: int, hours: float) -> None:
    assert 100 * learning_factor(1, repeats - 1, 0.8) == pytest.approx(hours)


def test_learning_exponent() -> None:
    """b = 0.322 for 80 % (the textbook's -log2 0.8)."""
    assert learning_factor(1, math.e - 1, 0.8) == pytest.approx(math.exp(-0.322), abs=1e-4)


# Beta posterior without forgetting: conjugate update (any Bayesian textbook).
def test_update_is_conjugate() -> None:
    found = updated(Belief(1.5, 35), (Record(skill="s", joints=40, faults=2),), 1.0)
    assert (found.a, found.b) == pytest.approx((3.5, 73))


def test_update_forgets_geometrically() -> None:
    """Sum of a geometric series: two batches of joints, the older one weighs less."""
    older = sum(0.99**k for k in range(30, 50))  # 20 joints before the last 30
    newer = sum(0.99**k for k in range(30))
    records = (Record(skill="s", joints=20, faults=5), Record(skill="s", joints=30, faults=0))

    found = updated(Belief(1, 10), records, 0.99)

    assert found.a == pytest.approx(1 + older * 0.25)
    assert found.b == pytest.approx(10 + older * 0.75 + newer)


@pytest.mark.parametrize("level", LEVELS)
def test_samples_follow_the_beta(level: str) -> None:
    """Without the day's factor the samples are the prior's (scipy.stats.beta)."""
    prior = DATA.levels.prior(level)  # type: ignore[arg-type]
    calm = Worlds(fixed(REFERENCE, day_spread=0.0), 20, 10)

    hand = hand_of(prior_of(prior), 0, 2000, calm)

    law = stats.beta(prior.faults_a, prior.faults_b)
    for share in (0.05, 0.25, 0.5, 0.75, 0.95):
        expected = max(float(psi_of(law.ppf(share), DATA)), GRID[0])
        assert np.quantile(hand.psi, share) == pytest.approx(expected, rel=0.02)


def test_mean_chance_is_the_integral() -> None:
    """E[exp(-h psi)] from the grid against numerical integration over Beta and lognormal."""
    belief, hazard = Belief(1.5, 35), 0.02
    hand = hand_of(belief, 2, 4000, worlds())
    spread = DATA.parameters["day_spread"]

    def inner(q: float) -> float:
        psi = float(psi_of(q, DATA))
        nodes = stats.norm.ppf((np.arange(200) + 0.5) / 200)
        day = np.exp(spread * nodes - spread**2 / 2)
        return float(np.exp(-hazard * psi * day).mean()) * stats.beta.pdf(q, 1.5, 35)

    expected, _ = integrate.quad(inner, 0, 1, limit=200)
    found = float(np.exp(-hazard * hand.psi).mean())
    assert found == pytest.approx(expected, abs=0.003)


def test_day_has_mean_one_and_is_shared() -> None:
    """Lognormal with mean 1; it is shared by all skills of a person."""
    belief = Belief(150, 18_000)  # hardly any doubt: what varies is the day
    one, two = (hand_of(belief, n, 4000, worlds()) for n in (0, 1))

    assert one.psi.mean() == pytest.approx(float(psi_of(belief.mean, DATA)), rel=0.02)
    assert np.corrcoef(np.log(one.psi), np.log(two.psi))[0, 1] > 0.8


def test_practice_moves_along_the_curve() -> None:
    belief = Belief(1.5, 35)
    found = practised(belief, 150, 150, 0.8)
    assert found.mean == pytest.approx(0.8 * belief.mean)
    assert found.a == belief.a


def test_levels_are_ordered() -> None:
    means = [beliefs_at(level, DATA)["hot_air"].mean for level in LEVELS]  # type: ignore[arg-type]
    assert means == sorted(means, reverse=True)


# One report of a first class: 50 to 66 % good joints; the prior's mean lies there or above.
def test_first_class() -> None:
    assert 0.5 <= 1 - beliefs_at("never", DATA)["iron_surface"].mean <= 0.75
