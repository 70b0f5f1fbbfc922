"""Sight: what is needed, what the bench has, how still a hand is."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.bench import Magnifier
from solderrisk.physics.handwork import (
    end_sigma_mm,
    needed_power,
    sight,
    smallest_detail_mm,
    standard_power,
)
from tests.shapes import barrel, chip, gull

DATA = physics_data()
LOUPE = Magnifier(name="loupe", power_x=3.5, distance_mm=200)
SCOPE = Magnifier(name="scope", power_x=10, distance_mm=100)
PROBE = Magnifier(name="camera on the part", power_x=50, distance_mm=15)


@given(st.floats(0.01, 5.0), st.floats(0.4, 5.0), st.floats(1.0, 3.0))
def test_smaller_details_and_weaker_eyes_need_more(
    detail: float, acuity: float, more: float
) -> None:
    power = needed_power(detail, acuity, 250.0, DATA)
    assert power >= 1.0
    assert needed_power(detail / more, acuity, 250.0, DATA) >= power
    assert needed_power(detail, acuity * more, 250.0, DATA) >= power


def test_gap_is_what_must_be_seen() -> None:
    assert smallest_detail_mm(gull(0.5, 0.22, 0.3)) == pytest.approx(0.2)
    assert smallest_detail_mm(chip()) == pytest.approx(0.7)  # 1.5 between centres, 0.8 land
    assert smallest_detail_mm(barrel(land=1.6)) == pytest.approx(0.94)


def test_fine_pitch_is_beyond_the_bare_eye_but_not_a_loupe_that_is_strong_enough() -> None:
    bare = sight(gull(), 1.0, 250.0, (), DATA)
    assert not bare.enough
    assert bare.have_x == 1.0
    assert (bare.standard_low_x, bare.standard_high_x) == (7.5, 10.0)
    assert sight(gull(), 1.0, 250.0, (LOUPE, SCOPE), DATA).enough
    assert sight(barrel(), 1.0, 250.0, (), DATA).enough


def test_a_lens_without_room_for_the_iron_does_not_count() -> None:
    assert sight(gull(), 1.0, 250.0, (PROBE,), DATA).have_x == 1.0
    assert sight(gull(), 1.0, 250.0, (PROBE, LOUPE), DATA).have_x == 3.5


def test_eyes_that_cannot_come_near_have_less_than_one() -> None:
    far = sight(barrel(), 1.0, 500.0, (), DATA)
    assert far.have_x == pytest.approx(0.5)
    assert not far.enough
    # Seeing nearer than the reading distance is no magnifier: the iron needs its room.
    assert sight(barrel(), 1.0, 120.0, (), DATA).have_x == 1.0
    assert sight(barrel(), 1.0, 500.0, (LOUPE,), DATA).have_x == 3.5


def test_steadier_hands_spread_less_at_any_power() -> None:
    for power in (0.5, 1.0, 3.0, 10.0):
        spread = [
            end_sigma_mm(DATA.handwork[f"hand_{h}_mm"], power, DATA)
            for h in ("steady", "braced", "novice", "unbraced")
        ]
        assert spread == sorted(spread)
        assert len(set(spread)) == 4


def test_power_helps_until_the_hand_is_the_limit() -> None:
    spread = [
        end_sigma_mm(DATA.handwork["hand_steady_mm"], power, DATA)
        for power in (0.5, 1.0, 2.0, 5.0, 10.0)
    ]
    assert all(a > b for a, b in itertools.pairwise(spread))
    assert end_sigma_mm(DATA.handwork["hand_steady_mm"], 40.0, DATA) == spread[-1]


def test_impossible_sizes_are_refused() -> None:
    with pytest.raises(ValueError, match="detail_mm"):
        needed_power(0.0, 1.0, 250.0, DATA)
    with pytest.raises(ValueError, match="land_w_mm"):
        standard_power(0.0, DATA)
    with pytest.raises(ValueError, match="power_x"):
        end_sigma_mm(DATA.handwork["hand_steady_mm"], 0.0, DATA)


def test_every_packaged_footprint_can_be_judged() -> None:
    for footprint in load_library(()):
        found = sight(footprint, 1.0, 250.0, (SCOPE,), DATA)
        assert found.detail_mm > 0, footprint.name
        assert 1.0 <= found.needed_x < 20.0, footprint.name
        assert found.standard_low_x <= found.standard_high_x
