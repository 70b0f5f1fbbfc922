"""The packaged definitions as a whole: names, families, geometry, marks, limits, sources."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest

from solderrisk.files.loading import load_library
from solderrisk.model.footprint import Family, Footprint
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.model.library import name_key
from solderrisk.model.outline import pad_rects

LIBRARY = load_library()
ALL = tuple(LIBRARY)

MOULDED = ("sot", "power_tab", "soic", "ssop", "tsop", "qfp", "qfn", "bga", "plcc")
SOFT = ("polyamide", "pbt", "abs", "phenolic", "pvc", "high_temp_polymer")

# Copper closer than this is not made by ordinary board makers (IPC-2221 class B, common practice).
SOURCES = ("open footprint library", "from memory", "common practice", "assumed")
LEAST_GAP_MM = 0.1  # the smallest chips; lands of opposite rows stand 0.2 apart or more


def part(name: str) -> Footprint:
    footprint = LIBRARY.get(name)
    assert footprint is not None, f"no footprint {name}"
    return footprint


def test_there_are_plenty() -> None:
    assert len(ALL) == len(LIBRARY) >= 140


def test_every_family_has_a_definition() -> None:
    assert set(get_args(Family)) == {footprint.family for footprint in ALL}


def test_no_name_stands_for_two_parts() -> None:
    owner: dict[str, str] = {}
    for footprint in ALL:
        for name in {name_key(n) for n in footprint.names}:
            assert owner.setdefault(name, footprint.name) == footprint.name


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("0603", "CHIP-0603"), ("R_0603", "CHIP-0603"), ("c_0402_1005Metric", "CHIP-0402"),
        ("0402M", "CHIP-01005"), ("1608M", "CHIP-0603"), ("6432M", "CHIP-2512"),
        ("L-1210", "CHIP-1210"),
        ("SO-8", "SOIC-8"), ("SOP-8", "SOIC-8"), ("soic8", "SOIC-8"), ("SOIC-20", "SOIC-20W"),
        ("SOIC-8_3.9x4.9mm_P1.27mm", "SOIC-8"), ("SOT-23-3", "SOT-23"), ("TO-236AB", "SOT-23"),
        ("SC-70", "SOT-323"), ("SOT-223-3", "SOT-223"), ("TO-252", "DPAK"), ("DO-214AC", "SMA"),
        ("QFP-32", "TQFP-32"), ("TQFP-32-0.8", "TQFP-32"), ("LQFP-48_7x7mm_P0.5mm", "LQFP-48"),
        ("QFP-100-0.5", "LQFP-100"), ("QFN-24-0.5-EP", "QFN-24"), ("VQFN-32", "QFN-32"),
        ("TSOP-48", "TSOP-I-48"), ("TSOP-54", "TSOP-II-54"), ("PDIP-8", "DIP-8"),
        ("DIP-28_W15.24mm", "DIP-28-15.24"), ("TO-220-3", "TO-220"), ("TO-92-3", "TO-92"),
        ("CP_Radial_5.0", "ELCO-RADIAL-5"), ("CP_Radial_D6.3mm_P2.50mm", "ELCO-RADIAL-6.3"),
        ("LED-5mm", "LED-5MM"), ("CASE-B", "TANTALUM-B"), ("LL34", "DIODE-MINIMELF"),
        ("PinHeader_1x05_P2.54mm_Vertical", "HEADER-1X5-2.54"), ("HEADER-2X10", "HEADER-2X10-2.54"),
        ("Barrel Jack", "DC-JACK-2.1"), ("DB9", "DSUB-9"), ("screw_terminal_2", "TERMINAL-2-5.08"),
    ],
)  # fmt: skip
def test_common_spellings(written: str, meant: str) -> None:
    assert part(written).name == part(meant).name


def test_names_say_pins_then_pitch_then_size_and_older_names_stay_valid() -> None:
    for older, name in (
        ("TQFP-32", "TQFP-32-7X7"), ("QFN-24", "QFN-24-4X4"), ("PQFP-100", "PQFP-100-14X20"),
        ("WIRE-BOARD-2.5-4", "WIRE-BOARD-1X4-2.5"), ("WIRE-BOARD-1-4-SMD", "WIRE-BOARD-1X4-1-SMD"),
        ("FFC-0.5-24", "FFC-1X24-0.5"), ("TERMINAL-2-5.08", "TERMINAL-1X2-5.08"),
        ("BOX-HEADER-2X5", "BOX-HEADER-2X5-2.54"), ("ELCO-RADIAL-10", "ELCO-RADIAL-5-D10"),
        ("RESISTOR-AXIAL-0.25W", "RESISTOR-AXIAL-10.16-0.25W"), ("CAP-DISC-5", "CAP-DISC-5-D5"),
        ("INDUCTOR-100", "INDUCTOR-1010"), ("CABLE-LAND-10-1.27", "CABLE-LAND-1X10-1.27"),
    ):  # fmt: skip
        assert part(older).name == name


@pytest.mark.parametrize(
    "name",
    [
        "TQFP-64",  # 10 x 10 at 0.5 or 14 x 14 at 0.8
        "QFP-44",  # span 12 or 13.2
        "QFP-64", "QFP-80", "QFP-100", "QFP-208",  # several pitches or spans
        "QFN-16", "DFN-8",  # several sizes
        "DIP-24", "DIP-28",  # rows 7.62 or 15.24 apart
        "TSOP-28", "TSOP-32",  # type I or II
        "3225", "3216", "1005",  # metric chip, crystal, tantalum case; metric or imperial
        "SOP-20", "VSSOP-8",  # several body widths
    ],
)  # fmt: skip
def test_names_of_several_parts_are_not_guessed(name: str) -> None:
    assert LIBRARY.get(name) is None


def test_wires_and_connectors_of_kits_are_there() -> None:
    names = """WIRE-LAND-1.0 WIRE-LAND-1.5 WIRE-LAND-2.5 WIRE-HOLE-0.8 WIRE-HOLE-1.0 SHIELDED-12
    DC-JACK-2.1 AUDIO-JACK-3.5 THUMBWHEEL-POT EDGE-SLOT-2X18 BATTERY-CONTACT USB-A USB-B USB-C-16
    USB-MINI-B USB-MICRO-B RJ45 FFC-0.5-24 FFC-1.0-10 TERMINAL-4-5.08 CHOKE-4PAD-7060 HC-49U"""
    for name in names.split():
        part(name)


@pytest.mark.parametrize("pitch", ["2.54", "2", "1.27"])
def test_headers_reach_two_rows_of_twenty(pitch: str) -> None:
    assert part(f"HEADER-1X2-{pitch}").pin_count == 2
    assert part(f"HEADER-2X20-{pitch}").pin_count == 40


def test_lands_keep_apart_and_the_smallest_gap_is_the_drawn_one() -> None:
    for footprint in ALL:
        rects = pad_rects(footprint)
        sides = np.array([(r.x_mm, r.y_mm, r.w_mm / 2, r.h_mm / 2) for r in rects])
        x, y, half_w, half_h = (sides[:, None, k] for k in range(4))
        # A round land's edge is half its width from its centre whichever way one comes.
        circle = np.array([r.round for r in rects])[:, None]
        radius = np.where(circle, half_w, 0.0)
        half_w, half_h = np.where(circle, 0.0, half_w), np.where(circle, 0.0, half_h)
        gap_x = np.maximum(np.abs(x - x.T) - half_w - half_w.T, 0.0)
        gap_y = np.maximum(np.abs(y - y.T) - half_h - half_h.T, 0.0)
        gap = np.hypot(gap_x, gap_y) - radius - radius.T
        np.fill_diagonal(gap, np.inf)
        assert gap.min() >= LEAST_GAP_MM - 1e-9, footprint.name
        reckoned = smallest_gap_mm(footprint)
        if len(rects) > 1:
            assert reckoned == pytest.approx(gap.min(), abs=1e-4), footprint.name


def test_opposite_rows_stand_apart() -> None:
    # Solder mask between lands needs 0.2 mm (common practice of board makers).
    for footprint in ALL:
        for group in footprint.pads:
            if group.layout in ("dual", "quad"):
                assert (group.row_span_mm or 9) - group.land_l_mm >= 0.2, footprint.name


def test_round_parts_hold_the_heat_of_round_bodies() -> None:
    # Volumes by hand: DO-35 pi/4 x 1.9^2 x 3.9 = 11.06; a 5 mm LED of 8.7 mm, cylinder of
    # 5 x 6.2 high and half a sphere: 121.7 + 32.7 = 154.5 mm3
    assert part("DO-35").body.volume_mm3 == pytest.approx(11.06, abs=0.01)
    assert part("LED-5MM").body.volume_mm3 == pytest.approx(154.5, abs=0.1)


def test_counts_divide_by_their_rows() -> None:
    for footprint in ALL:
        for group in footprint.pads:
            divisor = {"quad": 4, "dual": 2}.get(group.layout, group.rows)
            three_or_five = footprint.family == "sot" and group.count in (3, 5)
            assert group.count % divisor == 0 or three_or_five, footprint.name


def test_exposed_pads_stay_inside_the_lands() -> None:
    seen = 0
    for footprint in ALL:
        rects = pad_rects(footprint)
        exposed = {group.name for group in footprint.pads if group.kind == "exposed"}
        for pad in (rect for rect in rects if rect.group in exposed):
            others = [rect.bounds for rect in rects if rect.group not in exposed]
            left, bottom, right, top = pad.bounds
            for a, b, c, d in others:
                assert c < left or a > right or d < bottom or b > top, footprint.name
            assert part(footprint.name).has_exposed_pad
            seen += 1
    assert seen >= 30


def test_a_lead_lies_along_its_land() -> None:
    for footprint in ALL:
        for group in footprint.pads:
            lead = group.lead
            if lead is None or group.through_board or footprint.family in ("can_cap", "bga"):
                continue
            assert lead.width_mm * 0.9 <= group.land_w_mm, footprint.name
            assert lead.foot_mm <= group.land_l_mm, footprint.name
            if group.kind == "gull_wing" and group.count > 2:
                assert group.land_w_mm <= lead.width_mm + 0.61, footprint.name


def test_what_can_be_turned_round_says_how_it_is_marked() -> None:
    for footprint in ALL:
        assert footprint.mark or footprint.orientation == "none", footprint.name
    for name in ("LED-0603", "SMA", "TANTALUM-A", "CAN-6.3X5.4", "ELCO-RADIAL-10", "DO-41"):
        assert part(name).orientation == "polarity"
    for name in ("SOIC-8", "LQFP-100", "DIP-40", "SIP-8", "TO-92"):
        assert part(name).orientation == "pin_one"
    for name in ("CHIP-0603", "DC-JACK-2.1", "USB-A", "HEADER-1X5"):
        assert part(name).orientation == "none"


def j_std_020_c(thickness_mm: float, volume_mm3: float) -> float:
    """Peak package temperature of the lead-free classes: J-STD-020 table 4-2."""
    column = 0 if volume_mm3 < 350 else 1 if volume_mm3 <= 2000 else 2
    if thickness_mm < 1.6:
        return 260.0
    return ((260.0, 250.0, 245.0) if thickness_mm <= 2.5 else (250.0, 245.0, 245.0))[column]


def test_moulded_packages_have_their_class_temperature_and_moisture_level() -> None:
    for footprint in ALL:
        if footprint.family in MOULDED:
            body = footprint.body
            # Package thickness and volume: without the gap below, at most 0.2 mm under leads
            # (JEDEC MS-013: A 2.65, A2 2.05-2.55; MS-026: A 1.60, A2 1.40), more under balls.
            thick_mm = body.height_mm - max(body.stand_off_mm, 0.2)
            volume_mm3 = body.length_mm * body.width_mm * thick_mm
            assert footprint.heat.body_c == j_std_020_c(thick_mm, volume_mm3), footprint.name
            assert footprint.moisture_level is not None, footprint.name


def test_no_part_that_makers_rate_lower_claims_to_bear_any_air() -> None:
    # Makers rate most no-lead parts, and parts of many pins, at level 3 (J-STD-020): level 1
    # would ask for no baking.
    for footprint in ALL:
        many = footprint.family in ("soic", "ssop", "tsop", "qfp", "plcc") and (
            footprint.pin_count >= 16
        )
        if footprint.family == "qfn" or many:
            assert footprint.moisture_level not in ("1", None), footprint.name


def test_plastics_have_the_temperature_at_which_they_soften() -> None:
    for footprint in ALL:
        if footprint.body.material in SOFT and footprint.family != "led_smd":
            softens = footprint.heat.softens_c
            assert softens is not None, footprint.name
            assert softens <= 300


def test_only_ball_grids_are_out_of_an_irons_reach() -> None:
    assert {footprint.family for footprint in ALL if not footprint.hand_iron} == {"bga"}
    assert all(not footprint.hand_iron for footprint in ALL if footprint.family == "bga")


def test_shells_and_heat_tabs_are_joined_to_planes() -> None:
    for footprint in ALL:
        for group in footprint.pads:
            if group.kind == "exposed" or group.name.startswith(("shell", "tab")):
                assert group.tied, footprint.name
    heavy = [g for g in part("SHIELDED-12").pads if g.kind == "lug"]
    assert sum(group.count for group in heavy) == 4
    assert part("SHIELDED-12").pin_count == 12


def test_every_definition_names_its_source() -> None:
    for footprint in ALL:
        for source in (footprint.source, footprint.heat.source):
            assert source.startswith(SOURCES), footprint.name
        assert footprint.title, footprint.name
