"""Skill against textbook tables, scipy and statsmodels."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate, stats

from solderrisk.files.reference import risk_data
from solderrisk.model.bench import LEVELS, Level
from solderrisk.model.risk_data import RiskData
from solderrisk.risk.skill import (
    GRID,
    Belief,
    Reading,
    beliefs_at,
    hand_of,
    practised,
    prior_of,
    psi_of,
    updated,
)
from solderrisk.risk.worlds import Worlds
from tests.risk.risk_scene import REFERENCE
from tests.risk.risk_tables import fixed, worlds

DATA = risk_data()


# Beta posterior (any Bayesian textbook): faults add to a, good joints to b.
def test_update_is_conjugate() -> None:
    always = without_forgetting()
    found = updated(Belief(1.5, 35), (Reading(40, 2),), always)
    assert (found.a, found.b) == pytest.approx((3.5, 73))


# Table of the conjugate mean: "few" (1.5, 35) after 0 in 20, 0 in 100, 5 in 50.
@pytest.mark.parametrize(
    ("joints", "faults", "mean"), [(20, 0, 0.02655), (100, 0, 0.01099), (50, 5, 0.07514)]
)
def test_short_records_are_conjugate(joints: int, faults: int, mean: float) -> None:
    """With the forgetting as packaged, which hardly touches so few joints."""
    found = updated(Belief(1.5, 35), (Reading(joints, faults),), DATA)
    assert found.mean == pytest.approx(mean, rel=0.05)


@pytest.mark.parametrize("level", LEVELS)
def test_long_records_outvote_the_description(level: str) -> None:
    prior = prior_of(DATA.levels.prior(level))  # type: ignore[arg-type]
    assert updated(prior, (Reading(10_000, 500),), DATA).mean == pytest.approx(0.05, rel=0.1)


def test_a_record_as_predicted_changes_the_width_alone() -> None:
    prior = Belief(1.5, 35)
    found = updated(prior, (Reading(400, 400 * prior.mean),), DATA)
    assert found.mean == pytest.approx(prior.mean, rel=1e-9)
    one, other = (stats.beta(b.a, b.b) for b in (prior, found))
    assert other.std() < 0.5 * one.std()


def test_undated_records_are_forgotten_by_later_joints() -> None:
    """Sum of a geometric series: two batches of joints, the older one weighs less."""
    rate = DATA.parameters["forgetting"]
    older = sum(rate**k for k in range(300, 500))  # 200 joints before the last 300
    newer = sum(rate**k for k in range(300))
    prior = Belief(1, 10)
    found = updated(prior, (Reading(200, 50), Reading(300, 0)), DATA)
    described = rate**500
    assert found.a == pytest.approx(max(described, 0.5) + older * 0.25, rel=2e-3)
    assert found.b == pytest.approx(10 * described + older * 0.75 + newer, rel=2e-3)


# Half after 6.5 months (Tatel and Ackerman): 198 days.
def test_dated_records_are_forgotten_by_time() -> None:
    (fresh,) = (updated(Belief(1, 1e9), (Reading(100, 10, 0.0),), DATA).a - 1,)
    old = updated(Belief(1, 1e9), (Reading(100, 10, 198.0),), DATA).a - 1
    assert old + 1 - 0.9512 == pytest.approx((fresh + 1 - 0.9512) / 2, rel=1e-3)


def without_forgetting() -> RiskData:
    known = DATA.parameters.replaced({"forgetting": 1.0})
    return replace(DATA, parameters=known)


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


# Practice and levels agree: the joints of the next level make the hand of the next level.
@pytest.mark.parametrize(("one", "other"), pairwise(LEVELS))
def test_practice_leads_from_level_to_level(one: Level, other: Level) -> None:
    levels = DATA.levels
    at, to = levels.prior(one), levels.prior(other)
    found = practised(prior_of(at), at.joints_done, to.joints_done - at.joints_done, levels)
    assert found.mean == pytest.approx(to.faults_mean, rel=1e-9)
    assert found.a == at.faults_a


def test_levels_are_ordered() -> None:
    means = [beliefs_at(level, DATA)["hot_air"].mean for level in LEVELS]  # type: ignore[arg-type]
    assert means == sorted(means, reverse=True)


# First classes (reports): 50 to 66 % good joints by a teacher's eye, which judges looks, and 34
# of 34 guided kits that worked in the end: the middle lies above the one, below the other.
def test_first_class() -> None:
    assert 0.66 <= 1 - beliefs_at("never", DATA)["iron_surface"].mean <= 0.95
