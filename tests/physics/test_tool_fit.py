"""Tool fit: nozzles, tips and air against the shapes they must suit."""

from __future__ import annotations

import math
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.bench import Tip, VacuumNozzle
from solderrisk.model.footprint import Lead
from solderrisk.physics.handwork import (
    air_nozzle_fits,
    hole_fits,
    lead_diagonal_mm,
    tip_fits,
    vacuum_fits,
)
from solderrisk.physics.results import FitKind
from solderrisk.words import FITS, fit_words
from tests.shapes import barrel, group, gull

DATA = physics_data()


def nozzle(bore: float, outer: float) -> VacuumNozzle:
    return VacuumNozzle(bore_mm=bore, outer_mm=outer)


def test_ordinary_pins_are_drawn_by_ordinary_nozzles() -> None:
    pins = barrel().pads[0]  # 0.46 x 0.25 mm, land 1.6
    assert vacuum_fits(nozzle(0.8, 1.8), pins, DATA).fits
    assert vacuum_fits(nozzle(1.0, 2.3), pins, DATA).fits


def test_a_wide_lug_asks_for_more_than_any_nozzle() -> None:
    lug = group("lug", 2, 3.0, 4.0, layout="explicit", hole_mm=2.8, slot_w_mm=1.0,
                lead={"width_mm": 2.4, "thickness_mm": 0.5}, at=[[-5, 0], [5, 0]])  # fmt: skip
    found = vacuum_fits(nozzle(1.5, 2.9), lug, DATA)
    assert not found.fits
    assert "asks for a bore" in fit_words(found)
    assert found.measure_mm == pytest.approx(math.hypot(2.4, 0.5) + 0.2)


@given(st.floats(0.2, 2.0), st.floats(0.1, 1.0))
def test_bore_decides_at_the_lead_and_its_clearance(width: float, thickness: float) -> None:
    diagonal = math.hypot(width, thickness)
    lone = group("through_hole", 1, 8.0, 8.0, hole_mm=diagonal + 0.3,
                 lead={"width_mm": width, "thickness_mm": thickness})  # fmt: skip
    assert vacuum_fits(nozzle(diagonal + 0.201, 4.0), lone, DATA).fits
    assert not vacuum_fits(nozzle(diagonal + 0.199, 4.0), lone, DATA).fits


def test_a_nozzle_must_leave_the_neighbours_alone() -> None:
    near = group("through_hole", 10, 0.9, 0.9, layout="single", pitch_mm=1.27, hole_mm=0.6,
                 lead={"width_mm": 0.3, "thickness_mm": 0.3})  # fmt: skip
    found = vacuum_fits(nozzle(0.8, 1.8), near, DATA)
    assert not found.fits
    assert "next land" in fit_words(found)
    assert vacuum_fits(nozzle(0.8, 1.6), near, DATA).fits


@pytest.mark.parametrize(
    ("bore", "outer", "fits", "word"),
    [(1.0, 1.6, True, "stays on the land"), (1.0, 2.0, True, "keep it level"),
     (1.0, 2.9, False, "wider than the land"), (2.2, 2.6, False, "too loose")],
)  # fmt: skip
def test_nozzle_against_its_land(bore: float, outer: float, fits: bool, word: str) -> None:
    found = vacuum_fits(nozzle(bore, outer), barrel().pads[0], DATA)
    assert (found.fits, word in fit_words(found)) == (fits, True), fit_words(found)


def test_flat_lands_have_no_hole_to_draw_from() -> None:
    assert not vacuum_fits(nozzle(1.0, 2.0), gull().pads[0], DATA).fits


def test_tips_against_fine_rows() -> None:
    row = gull(0.5, 0.22, 0.3).pads[0]
    assert tip_fits(Tip(width_mm=0.5), row, row.gap_mm, DATA).fits
    wide = tip_fits(Tip(width_mm=2.4), row, row.gap_mm, DATA)
    assert not wide.fits
    assert wide.measure_mm == pytest.approx(0.7)  # land and the gap on either side
    assert tip_fits(Tip(width_mm=2.4), row, None, DATA).fits


def test_a_narrow_tip_on_a_wide_land_is_told() -> None:
    tab = group("tab", 1, 6.0, 6.0)
    found = tip_fits(Tip(width_mm=0.5), tab, None, DATA)
    assert found.fits
    assert "slowly" in fit_words(found)


def test_air_nozzles_for_a_large_pack() -> None:
    pack = gull()  # 16.9 mm over its lands
    assert not air_nozzle_fits(3.0, pack, DATA).fits
    assert air_nozzle_fits(5.0, pack, DATA).fits
    assert air_nozzle_fits(10.0, pack, DATA).fits
    assert not air_nozzle_fits(30.0, pack, DATA).fits
    assert air_nozzle_fits(3.0, pack, DATA).measure_mm == pytest.approx(16.9 / 4)


def test_a_donor_lead_may_not_enter_the_new_hole() -> None:
    pins = barrel(hole=0.8).pads[0]
    assert hole_fits(pins, DATA).fits
    assert not hole_fits(pins, DATA, lead=Lead(width_mm=0.64, thickness_mm=0.64)).fits


def test_lugs_are_held_against_both_sides_of_their_slot() -> None:
    slot = group("lug", 1, 3.0, 4.0, hole_mm=2.8, slot_w_mm=1.0)
    assert hole_fits(slot, DATA, lead=Lead(width_mm=2.6, thickness_mm=0.8)).fits
    assert not hole_fits(slot, DATA, lead=Lead(width_mm=2.9, thickness_mm=0.8)).fits
    assert not hole_fits(slot, DATA, lead=Lead(width_mm=2.6, thickness_mm=1.1)).fits
    assert not hole_fits(slot, DATA).fits  # no lead at all


def test_a_round_lead_has_no_diagonal() -> None:
    assert lead_diagonal_mm(Lead(width_mm=0.6, thickness_mm=0.6, round=True)) == 0.6


def test_every_packaged_hole_takes_its_own_lead() -> None:
    for footprint in load_library(()):
        for pads in footprint.pads:
            if pads.through_board and pads.lead is not None:
                found = hole_fits(pads, DATA)
                assert found.fits, f"{footprint.name}: {fit_words(found)}"


def test_the_long_side_asks_for_the_nozzle() -> None:
    # 20 mm over its leads and 12 mm wide (JEDEC MO-142): a quarter of the 20 at least.
    tsop = load_library().get("TSOP-48")
    assert tsop is not None
    asked = air_nozzle_fits(3.0, tsop, DATA).measure_mm
    assert asked is not None
    assert asked >= 20.0 / 4


def test_every_way_of_fitting_has_words() -> None:
    assert set(FITS) == set(get_args(FitKind))
