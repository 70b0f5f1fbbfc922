"""Figures at the very edge of their rule, lists of remedies by hand, and answers held against
the runs that they are read from."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import HotPlate, Magnifier, Room, Tip, VacuumNozzle
from solderrisk.model.footprint import Lead
from solderrisk.model.kit import PlaneLink
from solderrisk.physics.acceptance import (
    _share,
    alignment,
    chance_inside,
    chip_fillet_mm,
    side_joint_mm,
    side_overhang_mm,
)
from solderrisk.physics.board import from_hub_w_k, pressure_function
from solderrisk.physics.handwork import (
    air_nozzle_fits,
    fume,
    hole_fits,
    least_hole_mm,
    least_land_mm,
    needed_power,
    sight,
    smallest_detail_mm,
    vacuum_fits,
)
from solderrisk.physics.hot_air import air_curve, air_heat, harm_radius_mm
from solderrisk.physics.iron import aged, iron_curve, iron_heat
from solderrisk.physics.joint import joint_lumps
from solderrisk.physics.low_melt import liquidus_c, low_melt_lift
from solderrisk.physics.march import segments_along
from solderrisk.physics.part_limits import (
    baking,
    body_limit,
    classification_c,
    floor_life_h,
    mass_g,
)
from solderrisk.physics.plate import hanging, plate_heat, soak_low_c
from solderrisk.physics.remedies import _air_steps, _changes, _covers, _stronger, remedies
from solderrisk.physics.results import HangingPart, Note, PlateCase
from tests.heat_joints import (
    BGA_256,
    CARTRIDGE_120,
    CHIP_0402,
    DIP_16,
    GROUND_PIN,
    PLAIN_25,
    QFP_48,
    QFP_100,
    SAC,
    SNPB,
    SOIC_8,
    STATION_60,
    TAB,
    air_on,
    board,
    iron,
    joint,
    tip_on,
)
from tests.shapes import barrel, chip, group, gull, part

DATA = physics_data()
P = DATA.parameters


# --- tools and eyes


def test_a_nozzle_is_held_against_the_land_s_narrow_side() -> None:
    """1.2 mm over the land at most: of 3 x 2 mm that is a nozzle of 3.2."""
    pin = group("through_hole", 1, 3.0, 2.0, hole_mm=1.0,
                lead={"width_mm": 0.6, "thickness_mm": 0.6, "round": True})  # fmt: skip
    for land in (pin, pin.model_copy(update={"land_w_mm": 2.0, "land_l_mm": 3.0})):
        assert vacuum_fits(VacuumNozzle(bore_mm=0.9, outer_mm=3.2), land, DATA).fits
        over = vacuum_fits(VacuumNozzle(bore_mm=0.9, outer_mm=3.21), land, DATA)
        assert over.kind == "wide_nozzle"
        assert over.figures == pytest.approx((1.21,))


def test_air_covers_from_a_quarter_to_five_millimetres_more() -> None:
    wide = chip(8.0, 4.0, 4.0)
    longest = 8.0 - 0.1 + 0.8  # from land's end to land's end
    least = longest / 4
    for nozzle, fits in ((least, True), (least - 0.01, False), (longest + 5, True),
                         (longest + 5.01, False)):  # fmt: skip
        assert air_nozzle_fits(nozzle, wide, DATA).fits is fits


@pytest.mark.parametrize(("level", "hole", "land"), [("A", 0.85, 1.55), ("B", 0.8, 1.4),
                                                     ("C", 0.75, 1.25)])  # fmt: skip
def test_holes_and_lands_by_level(level: str, hole: float, land: float) -> None:
    """IPC-2222 table 9-3 and IPC-2221 9.1 for a lead of 0.6 mm: 0.25, 0.20 or 0.15 mm more;
    round it a ring of 0.05 mm on both sides and 0.6, 0.5 or 0.4 mm for the maker."""
    assert least_hole_mm(0.6, level, DATA) == pytest.approx(hole)  # type: ignore[arg-type]
    assert least_land_mm(0.6, level, DATA) == pytest.approx(land)  # type: ignore[arg-type]


def test_slots_take_round_posts_too() -> None:
    slot = group("lug", 1, 3.0, 4.0, hole_mm=2.8, slot_w_mm=1.0)
    for width, fits in ((1.0, True), (1.01, False)):
        post = Lead(width_mm=width, thickness_mm=0.3, round=True)
        assert hole_fits(slot, DATA, lead=post).fits is fits


def test_what_must_be_seen_and_with_what() -> None:
    """A lone land is seen by its narrow side. Ten times an eye's minute of arc at 250 mm
    (0.0727 mm) asks for 3.6 times at 0.2 mm; 60 mm of room is just enough for an iron."""
    lone = part("power_tab", 4.0, 4.0, 1.0, group("tab", 1, 3.0, 2.0))
    assert smallest_detail_mm(lone) == 2.0
    minute = 250 * math.tan(math.radians(1 / 60))
    assert needed_power(0.2, 1.0, 250.0, DATA) == pytest.approx(10 * minute / 0.2)
    assert needed_power(0.2, 2.0, 125.0, DATA) == pytest.approx(10 * minute / 0.2)
    assert needed_power(1.0, 1.0, 250.0, DATA) == 1.0
    for room, have in ((60.0, 4.0), (59.9, 1.0)):
        lens = Magnifier(name="lens", power_x=4.0, distance_mm=room)
        assert sight(gull(), 1.0, 250.0, (lens,), DATA).have_x == have
    below = part("qfn", 4.0, 4.0, 1.0, group("exposed", 1, 0.4, 0.2))
    assert (
        sight(below, 1.0, 250.0, (), DATA).standard_low_x
        == sight(
            part("qfn", 4.0, 4.0, 1.0, group("no_lead", 1, 0.4, 0.2)), 1.0, 250.0, (), DATA
        ).standard_low_x
    )
    with pytest.raises(ValueError, match="0"):
        needed_power(0.0, 1.0, 250.0, DATA)


def test_fume_near_the_face_by_hand() -> None:
    """2 mg of flux a minute, of which 0.1 to 0.6 (0.3) goes into the air. The arm catches 0.85
    (0.5 to 0.99); near the face 0.7 (0.2 to 2) m3/min thin it, a fan three times as much."""
    room = Room(volume_m3=30.0, air_changes_h=2.0)
    filled = (1 - math.exp(-0.5)) / (30.0 * 2 / 60)

    def held(kind: str, capture: float | None, low: float, high: float, middle: float) -> None:
        found = fume(2.0, room, kind, capture, DATA)  # type: ignore[arg-type]
        assert found.breathing_15min_low_mg_m3 == pytest.approx(low)
        assert found.breathing_15min_high_mg_m3 == pytest.approx(high)
        assert found.room_15min_mg_m3 == pytest.approx(middle)
        assert found.steady_mg_m3 == pytest.approx(middle / (1 - math.exp(-0.5)))

    held("arm", None, 0.2 * 0.01 * (filled + 1 / 2), 1.2 * 0.5 * (filled + 1 / 0.2),
         0.6 * 0.15 * filled)  # fmt: skip
    held("arm", 0.75, 0.2 * 0.25 * (filled + 1 / 2), 1.2 * 0.25 * (filled + 1 / 0.2),
         0.6 * 0.25 * filled)  # fmt: skip
    held("fan", None, 0.2 * (filled + 1 / 6), 1.2 * (filled + 1 / 0.6), 0.6 * filled)
    # An open window changes the air at least three times an hour.
    opened = fume(2.0, room, "open_window", None, DATA)
    assert opened.steady_mg_m3 == pytest.approx(0.6 / (30.0 * 3 / 60))
    draughty = room.model_copy(update={"air_changes_h": 6.0})
    assert fume(2.0, draughty, "open_window", None, DATA).steady_mg_m3 == pytest.approx(0.2)


def test_two_pins_are_neighbours_and_a_lone_one_has_none() -> None:
    """At 2.5 mm with lands of 1.6 the next begins 1.7 mm off: a nozzle of 3.5 reaches it."""
    for count, reaches in ((2, True), (1, False)):
        row = group("through_hole", count, 1.6, 3.0, layout="single", pitch_mm=2.5, hole_mm=1.0,
                    lead={"width_mm": 0.6, "thickness_mm": 0.6})  # fmt: skip
        found = vacuum_fits(VacuumNozzle(bore_mm=1.2, outer_mm=3.5), row, DATA)
        assert (found.kind == "next_land") is reaches


# --- acceptance


def test_overhangs_and_fillets_of_the_tables() -> None:
    """IPC-A-610 table 8-5: half a lead's width, a quarter in class 3, never over 0.5 mm; chips by
    the lesser of end and land. Fillets: 25 % of the height or 0.5 mm in class 3."""
    lead, end = DATA.acceptance.side("gull_wing"), DATA.acceptance.side("chip_end")
    assert lead is not None
    assert end is not None
    assert side_overhang_mm(0.4, 0.3, lead, 2) == pytest.approx(0.2)
    assert side_overhang_mm(0.4, 0.6, lead, 3) == pytest.approx(0.1)
    assert side_overhang_mm(2.0, 3.0, lead, 2) == 0.5
    assert side_overhang_mm(0.8, 0.6, end, 2) == pytest.approx(0.3)
    assert [chip_fillet_mm(1.0, c, DATA) for c in (1, 2, 3)] == [0.0, 0.0, 0.25]
    assert chip_fillet_mm(4.0, 3, DATA) == 0.5
    assert side_joint_mm(0.3, 0.9, 2, DATA) == pytest.approx(0.9)


def test_room_of_a_chip_and_of_a_row() -> None:
    """Chip 1.6 x 0.8 on lands 0.9 wide, class 2: half of 0.8 and half of the 0.1 to spare. Ends:
    lands reach 1.15 mm, the body 0.8, so 0.35 mm of slack at 0.75 mm."""
    found = alignment(chip(), 2, DATA)
    assert found is not None
    assert found.lateral_mm == pytest.approx(0.45)
    three = alignment(chip(), 3, DATA)
    assert three is not None
    assert three.lateral_mm == pytest.approx(0.25)


def test_a_hand_that_slides_and_turns_alike() -> None:
    """Both with one sigma: |d| + |t| <= a is a square on its corner, so the chance is that of its
    two sides, erf(a / 2 sigma) squared; along both axes by plain quadrature."""
    for ratio in (0.3, 1.0, 3.0, 12.0):
        found = float(chance_inside(0.1 * ratio, 0.1, 0.02, 5.0))
        assert found == pytest.approx(math.erf(ratio / 2) ** 2, abs=1e-8)
        both, _ = quad(
            lambda t, a: math.erf((a - t) / math.sqrt(2)) ** 2 * math.exp(-0.5 * t * t),
            0.0, ratio, args=(ratio,),
        )  # fmt: skip
        twice = float(chance_inside(0.1 * ratio, 0.1, 0.02, 5.0, both_axes=True))
        assert twice == pytest.approx(both * math.sqrt(2 / math.pi), abs=1e-8)


def test_ends_of_rows_without_feet_leave_their_lands() -> None:
    """Lands of 1 mm at 3.1 mm under a body of 4: 0.05 mm to spare at 6.175 mm from the middle."""
    rows = group("no_lead", 40, 0.3, 1.0, layout="dual", pitch_mm=0.65, row_span_mm=3.1)
    found = alignment(part("qfn", 4.0, 14.0, 1.0, rows), 2, DATA)
    assert found is not None
    assert found.rotation_deg == pytest.approx(math.degrees(math.atan2(0.05, 6.175)))


def test_shares_in_an_eye_s_words() -> None:
    said = {0.25: "a quarter", 0.254: "a quarter", 0.256: "a third", 0.338: "a third",
            0.34: "half", 0.504: "half", 0.506: "two thirds", 0.67: "two thirds",
            0.68: "three quarters", 0.754: "three quarters", 0.756: "all"}  # fmt: skip
    assert {share: _share(share) for share in said} == said


# --- limits of parts


# J-STD-020D tables 4-1 and 4-2: volumes of 350 and 2000 belong to the middle column, thickness
# of 2.5 to the middle row (lead-free) and to the last (tin-lead).
@pytest.mark.parametrize(
    ("thickness", "volume", "leaded", "peak"),
    [(1.6, 350.0, False, 250.0), (1.6, 349.9, False, 260.0), (1.6, 2000.0, False, 250.0),
     (1.6, 2000.1, False, 245.0), (2.5, 350.0, False, 250.0), (2.6, 349.9, False, 250.0),
     (2.6, 350.0, False, 245.0), (2.49, 349.9, True, 235.0), (2.49, 350.0, True, 220.0),
     (2.5, 100.0, True, 220.0)],
)  # fmt: skip
def test_classes_at_their_edges(thickness: float, volume: float, leaded: bool, peak: float) -> None:
    assert classification_c(thickness, volume, leaded, DATA.heat_tables) == peak


def test_a_part_s_own_limits_go_first() -> None:
    """A class never lifts a part over where it softens; off a tin-lead board nobody knows which
    of its two classes it has; a data sheet ends the doubt."""
    doubt = body_limit(QFP_100, True, DATA)
    assert (doubt.sure_c, doubt.most_c) == (235.0, 260.0)
    new = body_limit(QFP_100, False, DATA)
    assert (new.sure_c, new.most_c) == (260.0, 260.0)
    sheet = QFP_100.model_copy(update={"heat": QFP_100.heat.model_copy(
        update={"body_c": 250.0, "source": "Data Sheet of the part"})})  # fmt: skip
    assert body_limit(sheet, True, DATA).sure_c == 250.0
    soft = QFP_100.model_copy(update={"heat": QFP_100.heat.model_copy(
        update={"softens_c": 240.0})})  # fmt: skip
    assert (body_limit(soft, True, DATA).sure_c, body_limit(soft, True, DATA).most_c) == (
        235.0, 240.0,
    )  # fmt: skip
    assert body_limit(DIP_16, True, DATA).most_c == body_limit(DIP_16, True, DATA).sure_c


def test_floor_life_and_baking_by_the_tables() -> None:
    """J-STD-020: level 3 is a week; J-STD-033: 9 h at 125 C, 33 h at 90 C, 13 d at 40 C up to
    1.4 mm."""
    assert floor_life_h("3", DATA) == 168
    assert floor_life_h("1", DATA) is None
    assert floor_life_h("6", DATA) == 0
    assert baking("3", 1.4, DATA) == {125: 9, 90: 33, 40: 312}
    assert baking("3", 2.0, DATA) == {125: 27, 90: 96, 40: 888}


def test_what_a_part_weighs_and_whether_it_hangs() -> None:
    """4.9 x 3.9 x 1.5 mm of compound (1.9 mJ/mm3K) at 0.9 J/gK, on eight lands of 0.6 x 1.5."""
    grams = 4.9 * 3.9 * 1.5 * 0.0019 / 0.9
    assert mass_g(SOIC_8.body, DATA) == pytest.approx(grams)
    assert hanging(SOIC_8, DATA).load_g_mm2 == pytest.approx(grams / 7.2)
    assert mass_g(SOIC_8.body.model_copy(update={"mass_g": 3.0}), DATA) == 3.0
    assert HangingPart(1.5, 1.0, 2.0).holds == "perhaps"


# --- what heats better


def test_every_change_that_is_tried() -> None:
    """A tip in the drawer costs 1, one to buy 3, and a tenth of its width; a preheater 6 and a
    hundredth of its temperature; an iron 10 and a hundredth of its watts."""
    offered = DATA.remedies
    made = iron(120.0, "cartridge", 1.0, 3.0, 4.0)
    case = tip_on(joint(TAB), made, 3.0, 80.0)
    found = {(c.width_mm, c.power_w, c.preheat_c): c.effort for c in _changes(case, offered)}
    tips = {None: 0.0, 4.0: 1.4, 5.0: 3.5}
    powers = {None: 0.0, 200.0: 12.0}
    # 20 K more than the 80 C that it has is not more than a preheat that is worth telling.
    preheats = {None: 0.0, 120.0: 7.2, 150.0: 7.5}
    expected = {
        (w, p, c): a + b + d
        for w, a in tips.items()
        for p, b in powers.items()
        for c, d in preheats.items()
    }
    del expected[None, None, None]
    assert found == pytest.approx(expected)


def test_which_change_makes_another_needless() -> None:
    case = tip_on(joint(TAB), STATION_60, 1.0)
    changes = list(_changes(case, DATA.remedies))
    tip, heat = (
        next(c for c in changes if (c.width_mm, c.power_w, c.preheat_c) == key)
        for key in ((2.0, None, None), (None, None, 100.0))
    )
    both = next(c for c in changes if (c.width_mm, c.power_w, c.preheat_c) == (3.0, None, 120.0))
    assert _covers(both, tip)
    assert _covers(both, heat)
    assert not _covers(tip, both)
    assert not _covers(tip, heat)


@pytest.mark.parametrize(
    ("power", "was", "drive"),
    [(99.0, "plain", "station"), (100.0, "station", "cartridge"), (60.0, "cartridge", "cartridge")],
)
def test_irons_as_the_trade_sells_them(power: float, was: str, drive: str) -> None:
    found = _stronger(iron(25.0, was, 1.0), power, DATA.remedies)  # type: ignore[arg-type]
    assert (found.power_w, found.drive) == (power, drive)


def test_at_most_six_remedies_with_tips_that_are_owned() -> None:
    found = remedies(tip_on(joint(TAB, 4, 0), iron(60.0, "station", 1.0, 3.0), 1.0), DATA)
    assert 0 < len(found) <= 6
    for remedy in found:
        assert remedy.tip_owned is (remedy.tip_width_mm == 3.0)
        assert (remedy.drive is None) is (remedy.power_w is None)


def test_steps_of_hot_air_in_their_order() -> None:
    """Preheat first, then hotter air up to 450 C, then both."""
    case = air_on(SOIC_8, 5.0, 20.0, air_c=400.0, start_c=100.0)
    assert list(_air_steps(case, DATA.remedies)) == [
        (None, 150.0), (425.0, None), (450.0, None), (425.0, 150.0), (450.0, 150.0),
    ]  # fmt: skip


# --- answers against their runs


@pytest.mark.parametrize("what", [SOIC_8, DIP_16])
def test_an_iron_s_answer_is_read_from_its_curve(what: object) -> None:
    """Wet when the joint crosses what is needed, held on for the flow: longer in a barrel; the
    margin is the hottest less what is needed."""
    case = tip_on(joint(what), STATION_60, 1.0)  # type: ignore[arg-type]
    curve, found = iron_curve(case, DATA), iron_heat([case], DATA)[0]
    assert found.reached_c == pytest.approx(max(curve.joint_c))
    assert found.needed_c == pytest.approx(217 + 3 + P["wet_over_k"], abs=3.1)
    assert found.margin_k == pytest.approx(max(curve.joint_c) - curve.needed_c)
    assert found.wet_s is not None
    assert found.dwell_s is not None
    joint_c, time_s = np.array(curve.joint_c), np.array(curve.time_s)
    upto = int(np.argmax(joint_c >= curve.needed_c)) + 1
    assert found.wet_s == pytest.approx(np.interp(curve.needed_c, joint_c[:upto], time_s[:upto]))
    flow = P["barrel_flow_s"] if what is DIP_16 else P["flow_s"]
    assert found.dwell_s == pytest.approx(found.wet_s + flow)
    assert curve.source_c[0] == 350.0
    assert curve.joint_c[0] == 25.0


def test_notes_of_tips_at_the_end_of_their_range() -> None:
    made = STATION_60
    for tip_c, told in ((made.highest_c, False), (made.highest_c + 1, True),
                        (made.lowest_c, False), (made.lowest_c - 1, True)):  # fmt: skip
        found = iron_heat([tip_on(joint(CHIP_0402), made, 1.0, tip_c=tip_c)], DATA)[0]
        assert any(note.kind == "outside_range" for note in found.notes) is told
    liquid = DATA.alloys[SNPB].liquidus_c
    for start_c, told in ((liquid, True), (liquid - 0.1, False)):
        case = tip_on(joint(CHIP_0402, alloy=SNPB), made, 1.0, start_c)
        assert (Note("all_molten") in iron_heat([case], DATA)[0].notes) is told


def test_watts_are_short_where_no_way_would_make_up_for_them() -> None:
    """A tab in four planes takes more than 25 W however it is touched; a cartridge of 120 W with a
    needle has watts enough and no way for them."""
    weak, thin = iron_heat(
        [tip_on(joint(TAB, 4, 0), PLAIN_25, 3.0), tip_on(joint(TAB, 4, 0), CARTRIDGE_120, 0.2)],
        DATA,
    )
    assert (weak.limit, thin.limit) == ("power", "path")


def test_air_s_answer_is_read_from_its_run() -> None:
    """120 s are waited for, not the handling after them: the margin is the slowest joint's
    hottest until then, and the part's top that of the same moment."""
    case = air_on(BGA_256, 10.0, 30.0, 250.0)
    curve, found = air_curve(case, DATA), air_heat([case], DATA)[0]
    assert found.molten_s is None
    time_s, joint_c = np.array(curve.time_s), np.array(curve.joint_c)
    within = joint_c[time_s <= P["air_patience_s"]]
    assert joint_c[-1] > within[-1]
    assert found.margin_k == pytest.approx(within.max() - curve.needed_c)
    assert found.top_c == pytest.approx(np.interp(P["air_patience_s"], time_s, curve.source_c))


def test_a_board_that_is_hot_all_over_is_so_to_its_edge() -> None:
    case = air_on(SOIC_8, 5.0, 25.0, on=board(1, length_mm=90.0, width_mm=60.0))
    assert harm_radius_mm(case, 21.9, DATA) == pytest.approx(math.sqrt(5400 / math.pi))


def test_what_a_plate_is_set_to() -> None:
    """Dials show steps of 5 K; a plate goes no hotter than it goes; soak and peak as far below
    and above the paste's as the stated gap costs."""
    cases = [
        PlateCase(SOIC_8, board(1), SNPB, HotPlate(name="p", highest_c=top))
        for top in (400.0, 228.0)
    ]
    free, held = plate_heat(cases, DATA)
    assert free.soak_plate_c % 5 == pytest.approx(0.0)
    assert free.peak_plate_c % 5 == pytest.approx(0.0)
    assert held.peak_plate_c == 228.0
    # The joints settle where the plate's share of the rise puts them.
    share = (held.settles_c - 22.0) / (228.0 - 22.0)
    assert free.settles_c == pytest.approx(22.0 + share * (free.peak_plate_c - 22.0))
    assert abs(22.0 + share * (free.soak_plate_c - 22.0) - P["soak_leaded_c"]) <= 2.5
    assert free.molten_s is not None
    assert free.molten_s_low is not None
    assert free.molten_s_high is not None
    assert free.molten_s_low <= free.molten_s <= free.molten_s_high
    assert P["plate_hold_s"] < free.above_s < P["plate_hold_s"] + 60.0
    assert 0.2 < free.ramp_k_s < 3.0
    assert free.limit_c == 260.0


def test_the_soak_of_a_paste_at_the_border_of_low_melting() -> None:
    paste = DATA.alloys["Sn42Bi58"].model_copy(update={"liquidus_c": P["low_melt_below_c"]})
    usual = P["soak_low_leaded_c" if paste.leaded else "soak_low_lead_free_c"]
    assert soak_low_c(paste, DATA) == usual != P["soak_low_melt_c"]


def test_lives_are_added_up_step_by_step() -> None:
    """Halves every 10 K: paces of 1, 2, 4 and 1 in seconds of life. Trapezia give 1.5, 3 and
    2.5; of ten seconds' life three are left at the last pace."""
    temp = np.array([200.0, 210.0, 220.0, 200.0])[:, None]
    found = aged(np.arange(4.0), temp, 200.0, 10.0, 10.0)
    assert found[0] == pytest.approx(3.0 + 3.0)
    assert aged(np.arange(4.0), temp, 200.0, 3.0, 10.0)[0] == pytest.approx(1.5)


def test_a_rod_shorter_than_its_first_segment_is_cut_evenly() -> None:
    one = np.ones(1)
    rings = segments_along(0.01 * one, 0.02 * one, 4 * one, 30 * one, 2 * one, 5)
    assert rings.capacity[:, 0] == pytest.approx(np.full(5, 0.06), rel=0.03)
    steps = segments_along(0.1 * one, 0.002 * one, 4 * one, 30 * one, 2 * one, 5)
    wide = np.diff(steps.edge_m[:, 0])
    assert steps.link[1:, 0] == pytest.approx(8 / (wide[1:] + wide[:-1]))


def test_a_metal_of_no_share_changes_nothing() -> None:
    pair = {"Sn": 61.9, "Pb": 38.1}
    assert liquidus_c({**pair, "Bi": 0.0}, DATA.alloys) == liquidus_c(pair, DATA.alloys)


def test_a_hub_in_a_sheet_by_its_dimensionless_time() -> None:
    """k t = 0.02 W/K over 300 J/m2K for 3 s round 10 mm: t_D is 2."""
    found = from_hub_w_k(0.02, 300.0, 0.01, 3.0)
    assert found == pytest.approx(2 * math.pi * 0.02 / pressure_function(2.0))


def test_notes_of_a_joint_by_its_board() -> None:
    """More planes than layers, and a land wider than a quarter of its board."""
    link = PlaneLink(group=GROUND_PIN.pads[0].name, planes=4, spokes=4)
    kinds = [
        note.kind
        for note in joint_lumps(replace(joint(GROUND_PIN), links=(link,)), DATA).notes
        if note == Note("more_planes", 4, 2) or note.kind == "wide_land"
    ]
    assert kinds == ["more_planes"]
    small = joint_lumps(joint(TAB, on=board(0, length_mm=12.0, width_mm=12.0)), DATA)
    assert Note("wide_land") in small.notes
    even = joint_lumps(joint(TAB, on=board(0, length_mm=20.0, width_mm=20.0)), DATA)
    assert Note("wide_land") not in even.notes


def test_flooding_by_hand() -> None:
    """The bead covers 8 x 1.27 mm of rows, and the mixture keeps what the wick leaves."""
    found = low_melt_lift(SOIC_8, board(1), SAC, "Sn42Bi58", DATA, 22.0)
    assert found.alloy_g == pytest.approx(8 * 1.27 * 1.6 * 0.8 * 8.56e-3, rel=1e-3)
    assert found.old_liquidus_c == DATA.alloys[SAC].liquidus_c
    both = low_melt_lift(QFP_48, board(1), SNPB, "In51Bi32.5Sn16.5", DATA, 22.0)
    assert both.mix_doubt_down_k == 40.0
    assert both.trap == "bi_pb_sn"


def test_a_tip_is_looked_up_by_its_width() -> None:
    bevel = Tip(width_mm=3.0, shape="bevel")
    made = STATION_60.model_copy(update={"tips": (bevel,)})
    case = tip_on(joint(TAB, 1, 4), made, 1.0)
    owned = [r for r in remedies(case, DATA) if r.tip_owned and not r.power_w and not r.preheat_c]
    for remedy in owned:
        applied = iron_heat([replace(case, tip=bevel)], DATA)[0]
        assert remedy.margin_k == pytest.approx(applied.margin_k)
    assert [r.tip_width_mm for r in owned] == [3.0]


def test_a_barrel_of_a_header_holds_its_pin() -> None:
    pins = barrel(lead_w=0.64, lead_t=0.64, hole=1.0).pads[0]
    found = hole_fits(pins, DATA)
    assert found.measure_mm == pytest.approx(math.hypot(0.64, 0.64) + 0.2)
