"""Fumes: how figures move, and what is said about them."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import Room
from solderrisk.physics.handwork import fume, room_mg_m3, tip_factor
from solderrisk.report.findings import fume_line

DATA = physics_data()
KINDS = ("none", "open_window", "fan", "filter_box", "arm", "tip")


def room(volume: float = 30.0, changes: float = 0.5) -> Room:
    return Room(volume_m3=volume, air_changes_h=changes)


@settings(max_examples=60, deadline=None)
@given(
    flux=st.floats(0.001, 20.0),
    volume=st.floats(5.0, 500.0),
    changes=st.floats(0.1, 15.0),
    kind=st.sampled_from(KINDS),
    more=st.floats(1.01, 4.0),
)
def test_more_flux_is_worse_more_air_is_better(
    flux: float, volume: float, changes: float, kind: str, more: float
) -> None:
    found = fume(flux, room(volume, changes), kind, None, DATA)
    assert 0 < found.breathing_15min_low_mg_m3 < found.breathing_15min_high_mg_m3
    assert found.room_15min_mg_m3 <= found.steady_mg_m3 * (1 + 1e-12)
    assert found.room_15min_mg_m3 <= found.breathing_15min_high_mg_m3
    worse = fume(flux * more, room(volume, changes), kind, None, DATA)
    assert worse.room_15min_mg_m3 == pytest.approx(more * found.room_15min_mg_m3)
    larger = fume(flux, room(volume * more, changes), kind, None, DATA)
    assert larger.breathing_15min_high_mg_m3 < found.breathing_15min_high_mg_m3
    aired = fume(flux, room(volume, changes * more), kind, None, DATA)
    assert aired.steady_mg_m3 <= found.steady_mg_m3


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_what_is_caught_is_gone(one: float, two: float) -> None:
    low, high = sorted((one, two))
    a = fume(1.0, room(), "arm", low, DATA)
    b = fume(1.0, room(), "arm", high, DATA)
    assert b.breathing_15min_high_mg_m3 <= a.breathing_15min_high_mg_m3
    assert fume(1.0, room(), "arm", 1.0, DATA).breathing_15min_high_mg_m3 == 0.0


def test_better_kinds_catch_more() -> None:
    high = [fume(1.0, room(), k, None, DATA).steady_mg_m3 for k in KINDS]
    none, window, _fan, box, arm, tip = high
    assert none > window
    assert none > box > arm > tip


def test_a_fan_thins_the_plume_but_not_the_room() -> None:
    without, with_fan = (fume(1.0, room(), kind, None, DATA) for kind in ("none", "fan"))
    assert with_fan.steady_mg_m3 == without.steady_mg_m3
    assert with_fan.breathing_15min_high_mg_m3 < without.breathing_15min_high_mg_m3


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("flux", [0.0, 1e-4, 0.05, 5.0, 100.0])
def test_nothing_is_ever_called_harmless(kind: str, flux: float) -> None:
    caution = fume_line(fume(flux, room(), kind, None, DATA))
    assert not re.search(r"\bsafe|harmless|permi|allowed|no risk", caution)
    assert "no level of rosin fume is known to do no harm" in caution
    assert "no measurement" in caution


def test_words_follow_the_range() -> None:
    found = [fume(flux, room(), "none", None, DATA) for flux in (50.0, 0.5, 1e-4)]
    assert [each.near_passes for each in found] == ["yes", "perhaps", "no"]
    assert "may pass the 15-minute limit" in fume_line(found[1])


def test_hotter_tips_make_more_up_to_the_published_range() -> None:
    factors = [tip_factor(t, DATA) for t in (200, 250, 300, 350, 400, 450)]
    assert factors == sorted(factors)
    assert factors[0] == factors[1]
    assert factors[-1] == factors[-2]
    hot = fume(1.0, room(), "none", None, DATA, tip_c=400)
    assert hot.steady_mg_m3 > fume(1.0, room(), "none", None, DATA).steady_mg_m3


@pytest.mark.parametrize(("volume", "changes"), [(0.0, 1.0), (30.0, 0.0)])
def test_a_room_needs_size_and_air(volume: float, changes: float) -> None:
    with pytest.raises(ValueError, match="more than 0"):
        room_mg_m3(1.0, volume, changes, 15.0)
