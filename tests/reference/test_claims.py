"""Practice claims against published sampling tables and reference libraries."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from solderrisk.plan.practice import SequentialTest, joints_for_claim, upper_bound

# Zero-failure (success-run) table of reliability handbooks: confidence, quality, samples.
ZERO_FAILURE = [
    (0.90, 0.90, 22),
    (0.95, 0.90, 29),
    (0.90, 0.95, 45),
    (0.95, 0.95, 59),
    (0.90, 0.99, 230),
    (0.95, 0.99, 299),
    (0.99, 0.99, 459),
    (0.99, 0.95, 90),
]


@pytest.mark.parametrize(("confidence", "quality", "samples"), ZERO_FAILURE)
def test_zero_failure_table(confidence: float, quality: float, samples: int) -> None:
    assert joints_for_claim(1 - quality, confidence) == samples


# One failure allowed, same kind of handbook table.
@pytest.mark.parametrize(
    ("confidence", "quality", "samples"), [(0.95, 0.90, 46), (0.95, 0.95, 93), (0.90, 0.90, 38)]
)
def test_one_failure_table(confidence: float, quality: float, samples: int) -> None:
    assert joints_for_claim(1 - quality, confidence, allowed=1) == samples


@pytest.mark.parametrize("joints", [30, 100, 300, 1000])
def test_rule_of_three(joints: int) -> None:
    """Hanley and Lippman-Hand 1983: with no event in n the 95 % bound is about 3/n."""
    assert upper_bound(0, joints, 0.95) == pytest.approx(3 / joints, rel=0.05)


@pytest.mark.parametrize(("faults", "joints"), [(0, 20), (1, 40), (3, 120), (17, 60)])
def test_clopper_pearson_against_statsmodels(faults: int, joints: int) -> None:
    """statsmodels proportion_confint(method='beta') is two-sided: alpha 0.1 per pair."""
    _, high = proportion_confint(faults, joints, alpha=0.1, method="beta")
    assert upper_bound(faults, joints, 0.95) == pytest.approx(high, abs=1e-9)


@pytest.mark.parametrize(("faults", "joints"), [(3, 120), (10, 40), (0, 59)])
@pytest.mark.parametrize("confidence", [0.90, 0.95])
def test_clopper_pearson_against_scipy(faults: int, joints: int, confidence: float) -> None:
    """scipy binomtest(...).proportion_ci(method='exact'), two-sided: twice the tail."""
    other = stats.binomtest(faults, joints).proportion_ci(2 * confidence - 1, method="exact")
    assert upper_bound(faults, joints, confidence) == pytest.approx(other.high, abs=1e-9)


def test_clopper_pearson_is_the_binomial_tail() -> None:
    """Definition (Clopper and Pearson 1934): at the bound, P(X <= k) is 1 - confidence."""
    bound = upper_bound(3, 120, 0.9)
    assert stats.binom.cdf(3, 120, bound) == pytest.approx(0.1, abs=1e-9)


def test_wald_intercepts_by_hand() -> None:
    """Wald 1947, Sequential Analysis, section 5.3, worked by hand for p0 .01, p1 .05."""
    test = SequentialTest(good=0.01, bad=0.05, miss=0.10, harsh=0.05)
    scale = math.log(0.05 * 0.99 / (0.01 * 0.95))
    assert scale == pytest.approx(1.6506, abs=1e-4)
    assert test.slope == pytest.approx(0.02499, abs=1e-5)
    assert test.pass_intercept == pytest.approx(1.3639, abs=1e-3)
    assert test.fail_intercept == pytest.approx(1.7510, abs=1e-3)


def test_wald_acceptance_numbers_by_hand() -> None:
    """The same test: (1.3639 + k) / 0.02499 joints, rounded up, for k faults."""
    test = SequentialTest(good=0.01, bad=0.05, miss=0.10, harsh=0.05)
    assert [test.passes_at(faults) for faults in (0, 1, 2)] == [55, 95, 135]
    assert test.decide(0, 54) == "go on"
    assert test.decide(0, 55) == "pass"


def test_wald_errors_stay_near_what_was_asked() -> None:
    """The test's error rates, by exact recursion over its paths, keep Wald's bound
    miss/(1-harsh) and harsh/(1-miss)."""
    test = SequentialTest(good=0.02, bad=0.12, miss=0.1, harsh=0.1)
    for rate, wrong, bound in ((0.02, "fail", 0.1 / 0.9), (0.12, "pass", 0.1 / 0.9)):
        alive = {0: 1.0}
        error = 0.0
        for joints in range(1, 600):
            after: dict[int, float] = {}
            for faults, chance in alive.items():
                for more, p in ((0, 1 - rate), (1, rate)):
                    verdict = test.decide(faults + more, joints)
                    if verdict == wrong:
                        error += chance * p
                    elif verdict == "go on":
                        after[faults + more] = after.get(faults + more, 0.0) + chance * p
            alive = after
        assert error <= bound
        assert sum(alive.values()) < 0.01


@settings(max_examples=60)
@given(st.floats(0.005, 0.4), st.floats(0.5, 0.99), st.integers(0, 4))
def test_claim_is_the_fewest_joints(rate: float, confidence: float, allowed: int) -> None:
    joints = joints_for_claim(rate, confidence, allowed)
    assert stats.binom.cdf(allowed, joints, rate) <= 1 - confidence + 1e-9
    if joints > allowed + 1:
        assert stats.binom.cdf(allowed, joints - 1, rate) > 1 - confidence - 1e-9


def test_refuses_nonsense() -> None:
    with pytest.raises(ValueError, match="no claim"):
        joints_for_claim(0.0, 0.9)
