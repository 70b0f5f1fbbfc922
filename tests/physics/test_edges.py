"""Rules at their edges, and parts of unlike groups, metals and sizes in one question.

A bound that a rule names is held from both sides and at the figure itself.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import HotPlate, Tip, VacuumNozzle
from solderrisk.model.footprint import Body, Lead, PadGroup
from solderrisk.physics.acceptance import acceptance_lines, alignment, chance_inside, side_joint_mm
from solderrisk.physics.board import EULER_TERM, LATE, pressure_function
from solderrisk.physics.handwork import (
    hole_fits,
    seen_mm,
    sight,
    standard_power,
    tip_factor,
    tip_fits,
    vacuum_fits,
)
from solderrisk.physics.hot_air import air_curve, air_heat
from solderrisk.physics.iron import aged, decide, iron_heat
from solderrisk.physics.joint import joint_lumps, rod_of
from solderrisk.physics.low_melt import low_melt_lift
from solderrisk.physics.march import first_crossing, segments_along
from solderrisk.physics.part_limits import baking, body_thickness_mm, shock_limit, surfaces
from solderrisk.physics.remedies import air_remedies, remedies
from solderrisk.physics.results import Fume, HangingPart, PlateCase
from solderrisk.physics.solder_volume import joint_volume_mm3
from tests.heat_joints import (
    CARTRIDGE_120,
    CHIP_0402,
    DIP_16,
    GROUND_PIN,
    JACK,
    QFP_48,
    SAC,
    SNPB,
    SOIC_8,
    TAB,
    air_on,
    board,
    footprint,
    joint,
    tip_on,
)
from tests.shapes import barrel, chip, group, gull, part

DATA = physics_data()
P = DATA.parameters
HAND = DATA.handwork


def wire(length_mm: float | None, width_mm: float = 0.5) -> PadGroup:
    lead = Lead(
        width_mm=width_mm, thickness_mm=width_mm, length_mm=3.0, round=True, wire_mm=length_mm
    )
    return PadGroup(kind="wire", count=1, land_w_mm=2.0, land_l_mm=2.0, lead=lead)


def wired(length_mm: float | None, width_mm: float = 0.5):  # type: ignore[no-untyped-def]
    body = Body(length_mm=2.0, width_mm=2.0, height_mm=1.0, material="pvc")
    return footprint("wire", "wire_pad", body, wire(length_mm, width_mm))


# --- what fits


def test_a_tip_as_wide_as_two_gaps_and_the_land_still_fits() -> None:
    lands = SOIC_8.pads[0]
    assert tip_fits(Tip(width_mm=lands.land_w_mm + 0.5), lands, 0.25, DATA).fits
    assert not tip_fits(Tip(width_mm=lands.land_w_mm + 0.51), lands, 0.25, DATA).fits


def test_nozzles_at_their_clearance_and_overhang() -> None:
    pin = group("through_hole", 1, 2.0, 2.0, layout="explicit", hole_mm=1.0, at=[[0, 0]],
                lead={"width_mm": 0.5, "thickness_mm": 0.5, "round": True})  # fmt: skip
    least = 0.5 + HAND["nozzle_clearance_mm"]
    most = 0.5 + HAND["nozzle_looseness_mm"]
    widest = 2.0 + HAND["nozzle_over_land_mm"]

    def fits(bore: float, outer: float = 2.0) -> bool:
        return vacuum_fits(VacuumNozzle(bore_mm=bore, outer_mm=outer), pin, DATA).fits

    assert fits(least)
    assert not fits(least - 0.01)
    assert fits(most, most + 0.5)
    assert not fits(most + 0.01, most + 0.5)
    assert fits(1.0, widest)
    assert not fits(1.0, widest + 0.01)
    level = vacuum_fits(VacuumNozzle(bore_mm=1.0, outer_mm=2.0), pin, DATA)
    assert level.kind == "bore_clears"
    over = vacuum_fits(VacuumNozzle(bore_mm=1.0, outer_mm=2.1), pin, DATA)
    assert over.kind == "press_lightly"


def test_a_nozzle_between_neighbours() -> None:
    """2.54 mm apart with lands of 1.6: the next land begins 1.74 mm off."""
    pins = barrel().pads[0]
    assert vacuum_fits(VacuumNozzle(bore_mm=1.0, outer_mm=2.5), pins, DATA).fits
    found = vacuum_fits(VacuumNozzle(bore_mm=1.0, outer_mm=3.6), pins, DATA)
    assert not found.fits
    assert found.kind == "next_land"


def test_holes_at_their_clearance_and_excess() -> None:
    pin = barrel(lead_w=0.8, lead_t=0.8, hole=1.0, round_lead=True).pads[0]
    # IPC-2222, table 9-3, level B: 0.20 mm over the lead at least, 0.70 mm at most.
    for hole, kind in ((0.99, "tight"), (1.0, "hole_suits"), (1.5, "hole_suits"), (1.51, "loose")):
        found = hole_fits(pin.model_copy(update={"hole_mm": hole}), DATA)
        assert found.fits
        assert found.kind == kind
    assert not hole_fits(pin.model_copy(update={"hole_mm": 0.79}), DATA).fits
    square = barrel(lead_w=0.64, lead_t=0.64, hole=0.92).pads[0]
    # A square post of 0.64 mm is 0.905 mm across.
    assert hole_fits(square, DATA).fits
    assert not hole_fits(square.model_copy(update={"hole_mm": 0.9}), DATA).fits


# --- what an eye sees


def test_the_smallest_land_that_is_not_a_pad_below_sets_the_standard_s_power() -> None:
    wide = group("gull_wing", 2, 1.5, 2.0, layout="dual", pitch_mm=5.0, row_span_mm=9.0)
    fine = group("gull_wing", 8, 0.3, 1.5, layout="dual", pitch_mm=0.5, row_span_mm=9.0, name="b")
    below = group("exposed", 1, 0.2, 0.2, layout="explicit", at=[[0, 0]], name="c")
    mixed = part("soic", 8.0, 6.0, 1.5, wide, fine, below)
    found = sight(mixed, 1.0, 250.0, (), DATA)
    row = standard_power(0.3, DATA)
    assert (found.standard_low_x, found.standard_high_x) == (row.low_x, row.high_x)
    assert row != standard_power(0.2, DATA) != standard_power(1.5, DATA)


def test_power_beyond_the_useful_one_adds_nothing() -> None:
    most = HAND["useful_power_x"]
    assert seen_mm(2 * most, DATA) == seen_mm(most, DATA) < seen_mm(most / 2, DATA)
    with pytest.raises(ValueError, match="more than 0"):
        seen_mm(0.0, DATA)


# --- limits of parts and surfaces


def test_a_body_lower_than_its_seat_keeps_half_of_its_height() -> None:
    flat = part("soic", 4.0, 4.0, 0.3, SOIC_8.pads[0])
    assert body_thickness_mm(flat, DATA) == 0.15
    tall = part("soic", 4.0, 4.0, 1.6, SOIC_8.pads[0])
    # JEDEC MS-026: 1.6 mm over the board is a body of 1.4.
    assert body_thickness_mm(tall, DATA) == 1.4


def test_the_slowest_metal_of_a_part_sets_its_wetting() -> None:
    leads = DATA.materials.leads
    slow = sorted(
        (metal for metal in leads if leads[metal].wetting > 1), key=lambda m: leads[m].wetting
    )
    assert leads[slow[0]].wetting < leads[slow[-1]].wetting
    groups = [
        group("lug", 1, 3.0, 3.0, layout="explicit", at=[[x, 0]], hole_mm=2.0, name=metal,
              lead={"width_mm": 1.0, "thickness_mm": 1.0, "material": metal})
        for x, metal in enumerate((slow[0], slow[-1]))
    ]  # fmt: skip
    both = part("dc_jack", 9.0, 9.0, 9.0, *groups)
    plain = surfaces(SOIC_8, board(1), False, DATA)
    found = surfaces(both, board(1), False, DATA)
    assert found.wetting / plain.wetting == pytest.approx(leads[slow[-1]].wetting)
    assert found.slow == tuple(sorted((slow[0], slow[-1])))


def test_ceramic_capacitors_are_told_of_from_1210_on() -> None:
    def told(length: float, width: float) -> bool | None:
        body = chip(length, width).model_copy(update={"ceramic_capacitor": True})
        limit = shock_limit(body, DATA)
        return limit and limit.told

    assert shock_limit(chip(), DATA) is None
    assert told(3.2, 2.5) is True
    assert told(3.2, 2.49) is False
    assert told(2.5, 3.2) is True


def test_baking_rows_hold_their_own_thickness() -> None:
    rows = DATA.heat_tables.bake
    edge = rows[0].thickness_to_mm
    assert baking("3", edge, DATA) == dict(
        zip(DATA.heat_tables.bake_ovens_c, rows[0].hours["3"], strict=True)
    )
    assert baking("3", edge + 0.01, DATA) != baking("3", edge, DATA)
    assert baking("3", rows[-1].thickness_to_mm + 0.1, DATA) == {}
    assert baking("1", edge, DATA) == {}


def test_results_count_their_own_limit_as_within() -> None:
    assert HangingPart(1.0, 1.0, 2.0).holds == "yes"
    assert HangingPart(2.0, 1.0, 2.0).holds == "perhaps"
    assert HangingPart(2.1, 1.0, 2.0).holds == "no"

    def fume(low: float, high: float) -> str:
        return Fume(0.0, low, high, 1.0, 1.0, 0.0, "none").near_passes

    assert fume(1.0, 1.0) == "no"
    assert fume(1.0, 1.1) == "perhaps"
    assert fume(1.1, 1.2) == "yes"
    assert [decide(margin, 5.0) for margin in (5.1, 0.0, -5.1)] == ["wets", "undecided", "fails"]


# --- the iron


def test_wires_and_chips_asked_together_answer_as_alone() -> None:
    """A wire's insulation is all that it can hurt; what has none keeps its own limits."""
    cases = [
        tip_on(joint(what), CARTRIDGE_120, 2.0)
        for what in (CHIP_0402, wired(40.0), JACK, wired(None), wired(200.0, 1.5))
    ]
    together = iron_heat(cases, DATA)
    for case, found in zip(cases, together, strict=True):
        alone = iron_heat([case], DATA)[0]
        assert found.margin_k == pytest.approx(alone.margin_k, abs=1e-6)
        assert found.limit == alone.limit
        assert found.safe_s == pytest.approx(alone.safe_s, abs=1e-6)
        assert found.dwell_s == pytest.approx(alone.dwell_s, abs=1e-6)


def test_life_left_after_the_last_look_goes_on_at_the_last_pace() -> None:
    """Cold for a second, then at the rated temperature: 0.5 of 4 s used in the crossing to
    it, which leaves 3.5 s at full pace (trapezium; halves every 10 K, 1000 K below: none)."""
    time_s = np.array([0.0, 1.0, 2.0])
    temp_c = np.array([[-800.0], [200.0], [200.0]])
    found = aged(time_s, temp_c, 200.0, 4.0, 10.0)
    # Half a second's worth from 0 to 1, one second from 1 to 2: 1.5 of 4 used at 2 s.
    assert found[0] == pytest.approx(2.0 + 2.5)


def test_when_a_level_is_crossed() -> None:
    time_s = np.array([0.0, 1.0, 2.0])
    value = np.array([[0.0, 5.0, 0.0], [10.0, 5.0, 1.0], [20.0, 5.0, 2.0]])
    found = first_crossing(time_s, value, np.array([15.0, 5.0, 3.0]))
    assert found.tolist() == [1.5, 0.0, math.inf]


def test_a_rod_of_no_length_takes_no_heat() -> None:
    length = np.array([0.0, 0.05])
    one = np.ones(2)
    rings = segments_along(length, one * 1e-3, one * 4, one * 30, one * 2, 6)
    assert rings.link[:, 0].tolist() == [0.0] * 6
    assert rings.link[:, 1].min() > 0.0
    assert rings.capacity[:, 1].sum() == pytest.approx(0.05 * 30)
    assert rings.loss[:, 1].sum() == pytest.approx(0.05 * 2)
    assert (np.diff(rings.edge_m[:, 1]) > 0).all()
    assert rings.edge_m[-1, 1] - rings.edge_m[0, 1] == pytest.approx(0.05)


# IEC 60227: PVC walls of 0.4 mm at 0.14 mm2 and 1.0 mm at 16 mm2.
@pytest.mark.parametrize(("section_mm2", "wall_mm"), [(0.14, 0.4), (16.0, 1.0)])
def test_walls_of_wires(section_mm2: float, wall_mm: float) -> None:
    core = math.sqrt(4 * section_mm2 / math.pi)
    found = rod_of(joint(wired(100.0, core)), DATA)
    assert found is not None
    assert found.bare_m == pytest.approx(
        max(3.0, P["wire_bare_share"] * (core + 2 * wall_mm)) * 1e-3, rel=0.03
    )


def test_thin_boards_are_told_of_where_the_ladder_was_made_for_them() -> None:
    def notes(**more: object) -> set[str]:
        on = board(1, **more)
        return {note.kind for note in joint_lumps(joint(SOIC_8, on=on), DATA).notes}

    thin = P["thin_board_mm"]
    assert "thin_board" in notes(thickness_mm=thin - 0.1)
    assert "thin_board" not in notes(thickness_mm=thin)
    assert "thin_board" not in notes(
        thickness_mm=thin - 0.1, material="aluminium_core", copper_layers=1, plane_layers=0
    )
    assert "thin_board" not in notes(thickness_mm=1.6, material="fr4")


# --- hot air


def test_air_on_a_thin_board_is_a_doubt() -> None:
    def doubts(thickness_mm: float) -> set[str]:
        case = air_on(SOIC_8, 5.0, 25.0, on=board(1, thickness_mm=thickness_mm))
        return {note.kind for note in air_heat([case], DATA)[0].doubts}

    assert "thin_board" in doubts(P["thin_board_mm"] - 0.01)
    assert "thin_board" not in doubts(P["thin_board_mm"])


def test_a_board_above_the_soak_rises_from_where_it_is() -> None:
    """Above the soak the rise is counted from the start: over the whole time."""
    hot = air_on(QFP_48, 8.0, 45.0, start_c=P["soak_leaded_c"] + 10.0)
    found = air_heat([hot], DATA)[0]
    assert found.molten_s is not None
    assert found.ramp_k_s == pytest.approx((found.top_c - hot.start_c) / found.molten_s, rel=0.01)
    # From cold only the part above the soak counts, as the curve shows it.
    cold = air_on(QFP_48, 8.0, 45.0)
    found = air_heat([cold], DATA)[0]
    assert found.molten_s is not None
    curve = air_curve(cold, DATA)
    at = float(np.interp(P["soak_leaded_c"], curve.source_c, curve.time_s))
    expected = (found.top_c - P["soak_leaded_c"]) / (found.molten_s - at)
    assert found.ramp_k_s == pytest.approx(expected, rel=0.05)


def test_hotter_air_is_offered_up_to_the_highest() -> None:
    case = air_on(SOIC_8, 5.0, 20.0, air_c=325.0, alloy=SAC)
    for remedy in air_remedies(case, DATA):
        if remedy.air_c is not None:
            assert remedy.air_c - case.air_c in DATA.remedies.offers["hotter_air_k"].values
            assert remedy.air_c <= DATA.remedies["air_highest_c"]
        if remedy.preheat_c is not None:
            assert remedy.preheat_c > case.start_c + DATA.remedies["preheat_gain_k"]
    assert any(remedy.air_c is not None for remedy in air_remedies(case, DATA))
    assert all(remedy.air_c is None for remedy in air_remedies(replace(case, air_c=430.0), DATA))


# --- low-melt alloy


def test_planes_of_one_group_are_told_with_the_alloy() -> None:
    tab = TAB.pads[0].model_copy(update={"name": "tab"})
    legs = SOIC_8.pads[0].model_copy(update={"name": "legs"})
    both = footprint("both", "soic", SOIC_8.body, legs, tab)
    kinds = {
        note.kind for note in low_melt_lift(both, board(1), SNPB, "Sn42Bi58", DATA, 22.0).notes
    }
    assert "planes_cool_first" in kinds
    kinds = {
        note.kind for note in low_melt_lift(SOIC_8, board(1), SNPB, "Sn42Bi58", DATA, 22.0).notes
    }
    assert "planes_cool_first" not in kinds


def test_two_lone_lands_are_covered_each_by_itself() -> None:
    """Two lands far apart take a bead as long as they are wide, not one over the gap."""
    far = chip(6.0, 2.0).pads[0].model_copy(update={"pitch_mm": 5.0})
    near = far.model_copy(update={"pitch_mm": None})
    alloy = [
        low_melt_lift(
            part("chip", 6.0, 2.0, 1.0, pads), board(1), SNPB, "Sn42Bi58", DATA, 22.0
        ).alloy_g
        for pads in (far, near)
    ]
    assert alloy[0] == alloy[1]


# --- lands and solder


def test_the_tightest_group_guides_a_part() -> None:
    wide = group("gull_wing", 4, 2.0, 2.0, layout="dual", pitch_mm=4.0, row_span_mm=9.0,
                 lead={"width_mm": 1.0, "thickness_mm": 0.3})  # fmt: skip
    fine = group("gull_wing", 8, 0.3, 1.5, layout="dual", pitch_mm=0.5, row_span_mm=9.0, name="b",
                 lead={"width_mm": 0.2, "thickness_mm": 0.1})  # fmt: skip
    alone = alignment(part("soic", 8.0, 6.0, 1.5, fine), 2, DATA)
    assert alone is not None
    for groups in ((wide, fine), (fine, wide)):
        found = alignment(part("soic", 8.0, 6.0, 1.5, *groups), 2, DATA)
        assert found is not None
        assert found.lateral_mm == pytest.approx(alone.lateral_mm)


def test_a_foot_longer_than_its_land_ends_with_the_land() -> None:
    lead = Lead(width_mm=0.4, thickness_mm=0.2, foot_mm=2.0)
    long = group("gull_wing", 1, 0.6, 1.0, layout="explicit", at=[[0, 0]], lead=lead)
    short = long.model_copy(update={"lead": lead.model_copy(update={"foot_mm": 1.0})})
    one = part("soic", 4.0, 4.0, 1.0, long)
    assert joint_volume_mm3(one, long, board(1), DATA) == joint_volume_mm3(
        one, short, board(1), DATA
    )


def test_the_sheet_s_two_laws_meet_where_one_hands_over() -> None:
    """Van Everdingen and Hurst: half of the logarithm and 0.8091 for late times."""
    late = 0.5 * (math.log(LATE * 1.01) + EULER_TERM)
    assert pressure_function(LATE * 1.01) == pytest.approx(late, rel=2e-3)
    assert pressure_function(LATE * 0.99) == pytest.approx(
        0.5 * (math.log(LATE * 0.99) + 0.80907), rel=0.01
    )
    with pytest.raises(ValueError, match="0"):
        pressure_function(0.0)


@pytest.mark.parametrize("acceptance_class", [1, 2, 3])
def test_criteria_are_told_for_every_kind_of_joint(acceptance_class: int) -> None:
    for what in (CHIP_0402, SOIC_8, DIP_16, GROUND_PIN, QFP_48, gull()):
        assert acceptance_lines(what, board(1), acceptance_class, DATA)  # type: ignore[arg-type]


# --- more at the edges


def test_fume_grows_with_the_tip_between_the_two_temperatures() -> None:
    """HSE INDG248: a factor between its two temperatures, none beyond them; 1 at ours."""
    low, high = HAND["fume_tip_low_c"], HAND["fume_tip_high_c"]
    assert tip_factor(HAND["fume_reference_tip_c"], DATA) == pytest.approx(1.0)
    assert tip_factor(high, DATA) / tip_factor(low, DATA) == pytest.approx(HAND["fume_tip_ratio"])
    assert tip_factor(high + 50, DATA) == tip_factor(high, DATA)
    assert tip_factor(low - 50, DATA) == tip_factor(low, DATA)


def test_feet_of_gull_wings() -> None:
    """IPC-A-610 table 8-5, classes 2 and 3: three widths or three quarters of a long foot,
    whichever is more; a short foot is wetted whole."""
    assert side_joint_mm(0.2, 1.0, 2, DATA) == pytest.approx(0.75)
    assert side_joint_mm(0.3, 1.0, 3, DATA) == pytest.approx(0.9)
    assert side_joint_mm(0.5, 1.0, 2, DATA) == pytest.approx(1.0)
    assert side_joint_mm(0.4, 1.2, 2, DATA) == pytest.approx(1.2)


def test_a_hand_that_cannot_turn_goes_by_the_normal_law() -> None:
    """Abramowitz and Stegun, table 26.1: one sigma holds 0.6827, two 0.9545."""
    found = chance_inside([0.1, 0.2, 0.0, -1.0], 0.1, 0.0, 5.0)
    assert found.tolist() == pytest.approx([0.682689, 0.954500, 0.0, 0.0], abs=1e-5)
    # Only the turn: the same law in the angle.
    assert chance_inside(0.1, 0.0, 0.02, 5.0) == pytest.approx(0.682689, abs=1e-5)


def test_an_end_beyond_its_lands_has_no_toe() -> None:
    """A body longer than its lands reach leaves solder under it alone: its film."""
    lands = group("chip_end", 2, 0.8, 0.5, layout="ends", row_span_mm=2.0)
    long = part("chip", 3.0, 0.8, 0.5, lands)
    found = joint_volume_mm3(long, lands, board(1), DATA)
    assert found == pytest.approx(0.8 * 0.5 * HAND["solder_film_mm"])


def test_remedies_are_more_than_what_is_there() -> None:
    case = tip_on(joint(TAB, planes=4), CARTRIDGE_120, 2.0)
    weak = replace(case, iron=case.iron.model_copy(update={"power_w": 60.0, "drive": "station"}))
    found = remedies(weak, DATA)
    assert found
    for remedy in found:
        assert remedy.power_w is None or remedy.power_w > 60.0
        assert remedy.tip_width_mm is None or remedy.tip_width_mm > 2.0
        if remedy.preheat_c is not None:
            assert remedy.preheat_c > case.start_c + DATA.remedies["preheat_gain_k"]


def test_cases_start_at_the_temperature_of_a_room() -> None:
    """J-STD-020 and the heat tables count from 22 to 25 C."""
    assert PlateCase(SOIC_8, board(1), SNPB, HotPlate(name="p")).start_c == 22.0
    assert air_on(SOIC_8, 5.0, 20.0).start_c == 22.0
