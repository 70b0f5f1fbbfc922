"""Figures worked out by hand beside each, and the edges of tables as the tables say.

They hold every term and every bound in its place; how things move is tested elsewhere.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import Bench, HotPlate, Room, Tip, VacuumNozzle
from solderrisk.model.footprint import HeatLimit, Lead
from solderrisk.model.kit import Board
from solderrisk.physics.board import pressure_function
from solderrisk.physics.handwork import (
    fume,
    hole_fits,
    kit_fume,
    room_mg_m3,
    standard_power,
    tip_fits,
    vacuum_fits,
)
from solderrisk.physics.joint import rod_of
from solderrisk.physics.march import SLAB_LINKS, SLAB_SHARES, segments_along
from solderrisk.physics.part_limits import body_limit, classification_c
from solderrisk.physics.plate import hanging, plate_heat, soak_low_c
from solderrisk.physics.results import JointCase, PlateCase
from solderrisk.physics.solder_volume import flux_volume_share, joint_volume_mm3, solder_need
from tests.heat_joints import SAC, SNPB, SOIC_8, board
from tests.shapes import barrel, chip, group, gull, part

DATA = physics_data()


# J-STD-020D, table 4-2 (lead-free): the row of 1.6 to 2.5 mm holds 1.6 itself; over 2000 mm3
# it says 245.
@pytest.mark.parametrize(
    ("thickness", "volume", "peak"),
    [(1.59, 1000.0, 260.0), (1.6, 300.0, 260.0), (1.6, 1000.0, 250.0), (2.0, 3000.0, 245.0),
     (3.0, 300.0, 250.0), (3.0, 3000.0, 245.0)],
)  # fmt: skip
def test_classes_of_moulded_packages(thickness: float, volume: float, peak: float) -> None:
    assert classification_c(thickness, volume, False, DATA.heat_tables) == peak


def test_no_class_lifts_a_part_over_its_own_limit() -> None:
    own = HeatLimit(body_c=225.0, body_s=10.0, iron_c=350.0, iron_s=3.0, source="assumed")
    limit = body_limit(gull().model_copy(update={"heat": own}), True, DATA)
    assert limit.most_c == 225.0
    assert limit.sure_c <= 225.0


# IPC-A-610, table 1-2: over 1.0 mm, over 0.5 to 1.0, 0.25 to 0.5, under 0.25.
def test_lands_at_the_edge_of_a_row_of_magnifications() -> None:
    wide, one, half, small = (standard_power(w, DATA) for w in (1.01, 1.0, 0.5, 0.2))
    assert one == standard_power(0.51, DATA) != wide
    assert half == standard_power(0.3, DATA) != one
    assert small not in (wide, one, half)
    assert small == standard_power(0.05, DATA)


# 6.6 mg/h in 30 m3 at one change an hour: 0.22 mg/m3 in the end, 1 - 1/e of it in an hour.
def test_a_room_fills_with_its_change_of_air() -> None:
    assert room_mg_m3(0.11, 30.0, 1.0, 60.0) == pytest.approx(0.22 * (1 - math.exp(-1)))
    found = fume(1.0, Room(volume_m3=30.0, air_changes_h=2.0), "none", None, DATA)
    # A quarter of an hour at two changes an hour: 1 - exp(-0.5).
    assert found.room_15min_mg_m3 / found.steady_mg_m3 == pytest.approx(1 - math.exp(-0.5))
    assert kit_fume(0.0, 5.0, Bench(name="b"), DATA) is None
    assert kit_fume(5.0, 0.0, Bench(name="b"), DATA) is None


def test_tools_that_fit_to_the_edge() -> None:
    wide = group("chip_end", 2, 2.0, 2.0, layout="ends", row_span_mm=4.0)
    # Half the land's width is the least that heats it well.
    assert tip_fits(Tip(width_mm=1.0), wide, None, DATA).kind == "tip_suits"
    assert tip_fits(Tip(width_mm=0.9), wide, None, DATA).kind == "narrow_tip"
    pin = barrel(lead_w=0.8, lead_t=0.8, hole=0.8, round_lead=True).pads[0]
    assert hole_fits(pin, DATA).fits
    lug = group("lug", 2, 3.0, 4.0, layout="explicit", hole_mm=2.4, slot_w_mm=0.5,
                lead={"width_mm": 2.4, "thickness_mm": 0.5}, at=[[-5, 0], [5, 0]])  # fmt: skip
    assert hole_fits(lug, DATA).fits
    assert not hole_fits(lug.model_copy(update={"hole_mm": 2.3}), DATA).fits
    # Without a lead the nozzle asks for the slot's width and its clearance.
    bare = lug.model_copy(update={"lead": None})
    found = vacuum_fits(VacuumNozzle(bore_mm=1.5, outer_mm=2.6), bare, DATA)
    assert found.measure_mm == pytest.approx(0.5 + DATA.handwork["nozzle_clearance_mm"])


# 2.2 % by mass in a wire of 8.4 g/cm3 with flux of 1.07: 0.02056 / (0.02056 + 0.11643).
def test_flux_by_mass_and_by_volume() -> None:
    by_volume = 0.022 / DATA.handwork["flux_density_g_cm3"]
    expected = by_volume / (by_volume + 0.978 / 8.4)
    assert flux_volume_share(8.4, 2.2, DATA) == pytest.approx(expected)
    need = solder_need(chip(), Board(name="b"), 8.4, None, 2.2, DATA)
    assert need.flux_mg == pytest.approx(1000 * need.mass_g * 0.022 / 0.978)
    assert need.mass_g == pytest.approx(need.volume_mm3 * 8.4e-3)


def test_an_empty_hole_is_a_cylinder_of_solder() -> None:
    bare = group("through_hole", 1, 1.6, 1.6, layout="explicit", hole_mm=0.8, at=[[0, 0]])
    one = part("header", 2.5, 2.5, 8.0, bare)
    board_16 = Board(name="b", thickness_mm=1.6)
    filled = math.pi / 4 * 0.8**2 * 1.6 * DATA.handwork["barrel_fill"]
    assert joint_volume_mm3(one, bare, board_16, DATA) == pytest.approx(filled)


# For short times a disc in a sheet is a wall: p = 2 sqrt(t / pi).
def test_the_sheet_just_after_the_start() -> None:
    assert pressure_function(1e-4) == pytest.approx(2 * math.sqrt(1e-4 / math.pi))
    assert pressure_function(0.0099) == pytest.approx(pressure_function(0.0101), rel=0.12)


# Carslaw and Jaeger 3.4: all the heat, and a mean lag of depth^2 / 3a.
def test_a_slab_in_two_stores_keeps_heat_and_lag() -> None:
    assert SLAB_SHARES.sum() == pytest.approx(1.0)
    assert (SLAB_SHARES**2 / SLAB_LINKS).sum() == pytest.approx(1.0 / 3.0)


def test_a_rod_is_cut_into_segments_that_make_it_up() -> None:
    one = np.array([0.1])
    rings = segments_along(one, np.array([0.002]), one * 4, one * 30, one * 0, 8)
    steps = rings.capacity[:, 0] / 3.0
    assert steps.sum() == pytest.approx(0.1)
    assert steps[0] == pytest.approx(0.002, rel=1e-6)
    ratios = steps[1:] / steps[:-1]
    assert ratios == pytest.approx(np.full(7, ratios[0]))
    # Heat enters at the near end and goes from middle to middle.
    assert rings.link[0, 0] == pytest.approx(2 * 0.4 / steps[0])
    assert rings.link[1, 0] == pytest.approx(2 * 0.4 / (steps[0] + steps[1]))


def test_a_wire_behind_its_joint() -> None:
    """By hand from the data: core of the round lead, wall by its share, the longer length."""
    lead = Lead(width_mm=1.0, thickness_mm=1.0, length_mm=3.0, round=True, wire_mm=200.0)
    pad = group("wire", 1, 2.0, 3.0, layout="explicit", lead=lead, at=[[0, 0]])
    joint = JointCase(part("wire_pad", 3.0, 2.0, 1.0, pad), pad, Board(name="b"), SNPB)
    rod = rod_of(joint, DATA)
    assert rod is not None
    assert rod.length_m == pytest.approx(0.2)
    metal = DATA.materials.leads[lead.material]
    section = math.pi / 4
    assert rod.k_area == pytest.approx(metal.conductivity_w_mk * section * 1e-6)
    p, stuff = DATA.parameters, DATA.materials.bodies[joint.footprint.body.material]
    wall = min(p["wire_wall_mm"] + p["wire_wall_share"] * 1.0, p["wire_wall_most_mm"])
    wall *= stuff.wall_share
    lag = wall**2 * stuff.heat_j_mm3_k / (3 * stuff.conductivity_w_mk * 1e-3)
    assert rod.lag_s == pytest.approx(lag)
    assert rod_of(JointCase(SOIC_8, SOIC_8.pads[0], Board(name="b"), SNPB), DATA) is None


def test_soaks_of_pastes() -> None:
    """J-STD-020, table 5-2: 100 C for tin-lead, 150 for lead-free; tin-bismuth has its own."""
    assert soak_low_c(DATA.alloys[SNPB], DATA) == 100.0
    assert soak_low_c(DATA.alloys[SAC], DATA) == 150.0
    assert soak_low_c(DATA.alloys["Sn42Bi58"], DATA) == DATA.parameters["soak_low_melt_c"]


def test_a_part_that_hangs_has_a_sure_and_a_most_mass() -> None:
    found = hanging(SOIC_8, DATA)
    safe = DATA.parameters.at("hangs_g_mm2")
    assert (found.safe_g_mm2, found.most_g_mm2) == (safe.value, safe.high)


def test_a_board_beyond_the_plate_takes_no_more_from_it() -> None:
    """Only what lies on the plate is heated: a board larger than it counts as large as it."""
    plate = HotPlate(name="p", length_mm=60.0, width_mm=50.0)
    just, beyond = (
        board(1).model_copy(update={"length_mm": x, "width_mm": y})
        for x, y in ((60.0, 50.0), (120.0, 80.0))
    )
    one, other = plate_heat(
        [PlateCase(SOIC_8, each, SNPB, plate, None) for each in (just, beyond)], DATA
    )
    assert other.margin_k == pytest.approx(one.margin_k, rel=1e-6)
