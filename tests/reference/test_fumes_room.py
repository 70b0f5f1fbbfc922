"""Rooms against an independent integration, figures against what was measured elsewhere."""

from __future__ import annotations

import dataclasses
import math

import pytest
from scipy.integrate import solve_ivp

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import Room
from solderrisk.physics.handwork import fume, room_mg_m3, tip_factor

DATA = physics_data()


def flux_rate_mg_min(wire_g_h: float, flux_percent: float) -> float:
    """Flux in the wire used: 1 g/h with 2.2 % is 22 mg/h."""
    return wire_g_h * 1000 * flux_percent / 100 / 60


@pytest.mark.parametrize("changes", [0.5, 1.0, 3.0])
@pytest.mark.parametrize("minutes", [1.0, 15.0, 480.0])
def test_mixed_room_against_an_ode(changes: float, minutes: float) -> None:
    emission, volume = 0.11, 30.0
    solved = solve_ivp(
        lambda _t, c: [emission / volume - changes / 60 * c[0]],
        (0, minutes), [0.0], rtol=1e-10, atol=1e-14, method="DOP853",
    )  # fmt: skip
    expected = float(solved.y[0, -1])
    assert room_mg_m3(emission, volume, changes, minutes) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(("changes", "steady"), [(0.5, 0.44), (1.0, 0.22), (3.0, 0.0733)])
def test_steady_state_is_emission_over_flow(changes: float, steady: float) -> None:
    # 6.6 mg/h into 30 m3 at so many changes an hour: E / (changes x V)
    assert room_mg_m3(6.6 / 60, 30.0, changes, math.inf) == pytest.approx(steady, abs=5e-4)


@pytest.mark.parametrize(("volume", "mass"), [(20.0, 3.0), (30.0, 4.5)])
def test_still_room_reaches_the_short_limit(volume: float, mass: float) -> None:
    # HSE EH40: 0.15 mg/m3 over 15 minutes is 3.0 mg in still 20 m3, 4.5 mg in 30 m3
    assert room_mg_m3(mass / 15, volume, 1e-6, 15.0) == pytest.approx(0.15, rel=1e-6)


def test_limits_are_the_published_ones() -> None:
    # HSE EH40, rosin-based solder flux fume: 0.05 mg/m3 8 h, 0.15 mg/m3 15 min
    found = fume(1.0, Room(), "none", None, DATA)
    assert (found.limit_8h_mg_m3, found.limit_15min_mg_m3) == (0.05, 0.15)


def test_face_against_two_coupled_zones() -> None:
    # Two-zone model (Nicas 1996): V_N C_N' = G - b (C_N - C_F), V_F C_F' = b (C_N - C_F) - Q C_F
    fixed = {"fume_airborne_share": 0.3, "near_flow_m3_min": 0.7, "capture_none": 0.0}
    data = dataclasses.replace(DATA, handwork=DATA.handwork.replaced(fixed))
    room = Room(volume_m3=30.0, air_changes_h=2.0)
    made, b, q, v_near = 0.3 * 0.5, 0.7, 1.0, 0.1

    def zones(_t: float, c: list[float]) -> list[float]:
        near, far = c
        return [
            (made - b * (near - far)) / v_near,
            (b * (near - far) - q * far) / (room.volume_m3 - v_near),
        ]

    solved = solve_ivp(zones, (0, 15), [0.0, 0.0], rtol=1e-9, atol=1e-12, method="LSODA")
    near, far = solved.y[:, -1]
    found = fume(0.5, room, "none", None, data)
    assert found.breathing_15min_low_mg_m3 == found.breathing_15min_high_mg_m3
    assert found.breathing_15min_low_mg_m3 == pytest.approx(float(near), rel=0.02)
    assert found.room_15min_mg_m3 == pytest.approx(float(far), rel=0.03)


def test_uncontrolled_soldering_is_bracketed() -> None:
    # HSE RR900: moderate soldering without control, breathing zone over 30 times the
    # 15-minute limit (4.5 mg/m3) and over 50 times the 8-hour one (2.5 mg/m3). Ten grams of
    # cored wire an hour is taken as moderate.
    found = fume(flux_rate_mg_min(10.0, 2.2), Room(), "none", None, DATA)
    assert found.breathing_15min_low_mg_m3 < 2.5
    assert found.breathing_15min_high_mg_m3 > 4.5
    # A room average alone would have missed it by far.
    assert found.room_15min_mg_m3 < 2.5


def test_site_survey_is_bracketed() -> None:
    # Pengelly et al. 1998: below 1 to 2289 ug/m3 over 26 sites, with and without extraction.
    light = fume(flux_rate_mg_min(0.3, 2.2), Room(), "tip", None, DATA)
    heavy = fume(flux_rate_mg_min(10.0, 2.2), Room(), "none", None, DATA)
    assert light.breathing_15min_low_mg_m3 * 1000 < 1
    assert heavy.breathing_15min_high_mg_m3 * 1000 > 2289


def test_extraction_well_used_comes_close_to_nothing() -> None:
    # HSE RR900: all five kinds tested could cut exposure to about zero when used correctly.
    flux = flux_rate_mg_min(10.0, 2.2)
    for kind in ("arm", "tip"):
        without = fume(flux, Room(), "none", None, DATA).breathing_15min_low_mg_m3
        best = fume(flux, Room(), kind, None, DATA).breathing_15min_low_mg_m3
        assert best <= 0.02 * without


def test_hotter_tip_makes_up_to_three_times_the_fume() -> None:
    # HSE INDG248: particulate can triple between 250 and 400 C
    ratio = tip_factor(400.0, DATA) / tip_factor(250.0, DATA)
    assert 1.0 < ratio <= 3.0 + 1e-12
    assert tip_factor(350.0, DATA) == 1.0
