"""Roll-up: exact where a formula exists, and the same whatever the order."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.risk.outcomes import outcome
from solderrisk.risk.roll_up import Share, failure_shares, fault_range, ranges, roll_up
from solderrisk.risk.skill import GRID, Belief, Hand, hazard_of
from tests.risk.risk_scene import REFERENCE
from tests.risk.risk_tables import SHAPE, hand, table_with, told, worlds

DATA = REFERENCE.risk
SKILL = "iron_surface"


@pytest.fixture(scope="module")
def hands() -> Mapping[str, Hand]:
    return {SKILL: hand(Belief(1.5, 35), 500)}


def share(count: int = 1, price: float = 0.0, **hazards: float) -> Share:
    table = outcome(table_with(**hazards), False, 0, 1, worlds())
    return Share(table, SKILL, count, price)


def test_one_mode_without_mending_is_the_dpmo_formula(hands: Mapping[str, Hand]) -> None:
    """IPC-9261 style yield: 100 DPMO x 1000 joints and 2000 DPMO x 250 give 0.54853."""
    shares = [
        share(1000, fault_hazard=float(hazard_of(1e-4))),
        share(250, fault_hazard=float(hazard_of(2e-3))),
    ]
    totals = roll_up(shares, hands)
    assert totals.first_time == pytest.approx(0.90483 * 0.60623, abs=1e-5)
    assert totals.first_time == pytest.approx((1 - 1e-4) ** 1000 * (1 - 2e-3) ** 250, rel=1e-12)


def test_mean_of_the_product_is_not_the_product_of_means(hands: Mapping[str, Hand]) -> None:
    """Joints of one hand share its psi: E[exp(-n h psi)] exceeds E[exp(-h psi)]^n."""
    sloped = told(table_with(), np.broadcast_to(0.01 * GRID, SHAPE))
    one = Share(outcome(sloped, False, 0, 1, worlds()), SKILL, 1, 0.0)
    ten = Share(one.outcome, SKILL, 10, 0.0)

    single = roll_up([one], hands).first_time.mean()
    whole = roll_up([ten], hands).first_time.mean()

    psi = hands[SKILL].psi
    assert whole == pytest.approx(np.exp(-0.1 * psi).mean(), rel=1e-9)
    assert whole > single**10


@settings(max_examples=20, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 30), st.floats(0, 0.05), st.floats(0, 0.02)),
        min_size=2,
        max_size=8,
    ),
    st.randoms(use_true_random=False),
)
def test_order_does_not_matter(
    jobs: list[tuple[int, float, float]],
    shuffle: st.randoms,  # type: ignore[valid-type]
) -> None:
    hands = {SKILL: hand(Belief(1.5, 35), 200)}
    shares = [share(n, fault_hazard=f, board_hazard=b) for n, f, b in jobs]
    mixed = list(shares)
    shuffle.shuffle(mixed)  # type: ignore[attr-defined]

    one, other = roll_up(shares, hands), roll_up(mixed, hands)

    assert one.working == pytest.approx(other.working, rel=1e-12)
    assert one.minutes == pytest.approx(other.minutes, rel=1e-12)
    split = roll_up([s for s in shares for s in [Share(s.outcome, SKILL, 1, 0.0)] * s.count], hands)
    assert split.working == pytest.approx(one.working, rel=1e-9)


def test_failure_shares_sum_to_one_and_follow_the_hazard(hands: Mapping[str, Hand]) -> None:
    shares = [share(3, board_hazard=0.02), share(1, board_hazard=0.06), share(2)]
    working = roll_up(shares, hands).working
    found = failure_shares(shares, hands, working)
    assert sum(f * s.count for f, s in zip(found, shares, strict=True)) == pytest.approx(1)
    assert found[1] == pytest.approx(3 * found[0])
    assert found[2] == 0


def test_nothing_can_fail(hands: Mapping[str, Hand]) -> None:
    shares = [share(3)]
    totals = roll_up(shares, hands)
    assert np.all(totals.working == 1)
    assert failure_shares(shares, hands, totals.working) == [0.0]


def test_spoiled_work_counts(hands: Mapping[str, Hand]) -> None:
    totals = roll_up([share(2, board_hazard=0.1)], hands, spoiled=0.25)
    assert totals.working == pytest.approx(np.exp(-0.2) * 0.75)


def test_money_and_hours(hands: Mapping[str, Hand]) -> None:
    """Ten parts of 3.0, each lost with 10 %: 1/9 of a part more each, and its minutes."""
    shares = [share(10, 3.0, part_hazard=float(hazard_of(0.1)))]
    totals = roll_up(shares, hands)
    found = ranges(totals)
    lost = 0.1 / 0.9
    assert totals.money == pytest.approx(10 * 3.0 * lost)
    assert totals.minutes == pytest.approx(10 * (2 + 2 * lost))
    assert found["ruined"].mid == pytest.approx(10 * 3.0 * lost)
    assert found["hours"].mid == pytest.approx(totals.minutes.mean() / 60)


def test_fault_range_of_equal_joints_is_binomial(hands: Mapping[str, Hand]) -> None:
    """200 joints at 2 %: binomial quantiles 1 and 7 (binomial table, mean 4)."""
    totals = roll_up([share(200, fault_hazard=float(hazard_of(0.02)))], hands)
    found = fault_range(totals)
    assert (found.low, found.mid, found.high) == (1, pytest.approx(4), 7)


def test_no_faults_no_count(hands: Mapping[str, Hand]) -> None:
    found = fault_range(roll_up([share(5)], hands))
    assert (found.low, found.mid, found.high) == (0, 0, 0)


def test_irreplaceable_part_ends_the_kit(hands: Mapping[str, Hand]) -> None:
    table = table_with(part_hazard=0.3)
    once = outcome(table, True, 0, 1, worlds())
    spare = outcome(table, True, 1, 1, worlds())
    bought = outcome(table, False, 0, 1, worlds())
    redo = np.exp(-DATA.parameters["redo_fatal"] * (1 - np.exp(-0.3)) / np.exp(-0.3))
    assert once.works[0, 0] == pytest.approx(np.exp(-0.3) * redo)
    assert spare.works[0, 0] == pytest.approx((1 - (1 - np.exp(-0.3)) ** 2) * redo)
    assert bought.works[0, 0] == pytest.approx(redo)
