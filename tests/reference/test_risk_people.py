"""Slips, inspection and mending against published human-error and inspection figures."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from solderrisk.files.reference import risk_data
from solderrisk.risk.detection import Looks, either, found_by_eye, mending
from solderrisk.risk.outcomes import outcome
from solderrisk.risk.skill import GRID, by_skill, hazard_of, psi_of, slip_chance
from solderrisk.risk.worlds import Worlds
from tests.risk.risk_scene import REFERENCE
from tests.risk.risk_tables import fixed, table_with

DATA = risk_data()


# HEART (Williams 1986), the worked example of the method: generic task F, 0.003, with
# inexperience 3 (0.4), opposite technique 6 (1.0), risk misperception 4 (0.8), conflict of
# objectives 2.5 (0.8), low morale 1.2 (0.6): 0.27.
def test_heart_worked_example() -> None:
    conditions = [(3, 0.4), (6, 1.0), (4, 0.8), (2.5, 0.8), (1.2, 0.6)]
    assert float(slip_chance(0.003, conditions)) == pytest.approx(0.27, abs=0.005)


def test_heart_never_exceeds_one() -> None:
    assert float(slip_chance(0.2, [(17, 1.0), (11, 1.0)])) == 1.0


# Swain and Guttmann 1983 (NUREG/CR-1278): 0.003 for a slip of commission; HEART's
# inexperience of 3 makes 0.009 of it for the wholly inexperienced.
def test_orientation_slip() -> None:
    effect = DATA.parameters["inexperience_effect"]
    rate = DATA.parameters["orientation_marked"]
    assert rate == 0.003
    assert float(slip_chance(rate, [(effect, 1.0)])) == pytest.approx(0.009)


# Two inspectors of 10 000 joints found 724 and 751, together 1159 (textbook data of
# capture-recapture). Their overlap gives what each saw of all; two independent looks of
# those shares must find the 1159 again.
def test_two_inspectors() -> None:
    first, second, union = 724, 751, 1159
    overlap = first + second - union
    total = first * second / overlap  # Lincoln and Petersen
    shares = overlap / second, overlap / first

    assert shares == pytest.approx((0.42, 0.44), abs=0.005)
    assert either(*shares) * total == pytest.approx(union)
    # Their blemishes counted: faults that matter are seen more often.
    known = DATA.parameters.at("second_person_finds")
    assert known.low is not None
    assert known.low < min(shares) < max(shares) < known.value


# Published study of chip inspection: about 0.23 missed.
def test_orientation_is_seen_as_published() -> None:
    assert DATA.faults["orientation"].seen == pytest.approx(1 - 0.23)


# Studies of Visual Inspection 1973: inspectors miss 23 %.
def test_single_look() -> None:
    sure = Worlds(fixed(REFERENCE.assuming({"faults.bridge.seen": 1.0})), 20, 1)
    assert found_by_eye("bridge", Looks(), sure)[0, 0] == pytest.approx(0.77)


# At most K tries, each independent: geometric (scipy.stats.geom).
@pytest.mark.parametrize("tries", [1, 2, 3, 5])
def test_mending_without_damage_is_geometric(tries: int) -> None:
    found = mending(0.7, 0.0, tries)
    assert float(found.fixed) == pytest.approx(stats.geom.cdf(tries, 0.7))


def test_mending_by_brute_force() -> None:
    """F = s sum (1 - s - d)^k, against walking through every try."""
    success, damage, tries = 0.85, 0.03, 3
    fixed = destroyed = 0.0
    still = 1.0
    for _ in range(tries):
        fixed += still * success
        destroyed += still * damage
        still *= 1 - success - damage

    found = mending(success, damage, tries)

    assert float(found.fixed) == pytest.approx(fixed)
    assert float(found.destroyed) == pytest.approx(destroyed)


def test_impossible_tries_are_refused() -> None:
    with pytest.raises(ValueError, match="exceed 1"):
        mending(0.9, 0.2, 3)


# Spares: n good parts before spares + 1 losses, a negative binomial (scipy.stats.nbinom).
@pytest.mark.parametrize(("alike", "spares", "lost"), [(1, 1, 0.1), (4, 2, 0.2), (10, 3, 0.05)])
def test_spares_are_negative_binomial(alike: int, spares: int, lost: float) -> None:
    table = table_with(part_hazard=float(hazard_of(lost)))
    known = Worlds(fixed(REFERENCE, redo_fatal=0.0), 20, 1)
    found = outcome(table, True, spares, alike, known)
    expected = stats.nbinom.cdf(spares, alike, 1 - lost)
    assert float(np.exp(-alike * found.fails)[0, 0]) == pytest.approx(expected, abs=1e-9)
    assert found.works[0, 0] == pytest.approx(expected ** (1 / alike), abs=1e-9)


# Levels' own values come back at their own psi (interpolation passes through its points).
def test_levels_come_back() -> None:
    for prior in DATA.levels.levels:
        at = np.atleast_1d(psi_of(prior.faults_mean, DATA))
        assert by_skill(at, "dwell_spread", DATA)[0] == pytest.approx(prior.dwell_spread)


def test_worse_hands_have_wider_dwell() -> None:
    assert np.all(np.diff(by_skill(GRID, "dwell_spread", DATA)) >= 0)
