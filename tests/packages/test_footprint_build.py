"""Footprints built from names against the published outlines they are built after."""

from __future__ import annotations

import pytest

from solderrisk.files.loading import load_library
from solderrisk.model.footprint import Footprint
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.packages.match import build_footprint, match
from solderrisk.packages.names import read_package
from solderrisk.packages.tables import usual


def built(name: str) -> Footprint:
    footprint = build_footprint(read_package(name))
    assert footprint is not None, name
    return footprint


@pytest.mark.parametrize(
    ("name", "pins", "pitch", "gap_low", "gap_high"),
    [
        # land gaps as such parts are usually laid out (IPC-7351B nominal, gull-wing, no-lead)
        ("SOIC-8", 8, 1.27, 0.5, 0.9),
        ("TSSOP-20", 20, 0.65, 0.15, 0.35),
        ("LQFP-48_7x7mm_P0.5mm", 48, 0.5, 0.15, 0.3),
        ("QFN-32-1EP_5x5mm_P0.5mm_EP3.1x3.1mm", 32, 0.5, 0.15, 0.3),
        ("DIP-14", 14, 2.54, 0.8, 1.2),
        ("PinHeader_2x05_P2.54mm_Vertical", 10, 2.54, 0.7, 1.2),
        ("SOT-23-5", 5, 0.95, 0.25, 0.5),
    ],
)
def test_built_rows(name: str, pins: int, pitch: float, gap_low: float, gap_high: float) -> None:
    footprint = built(name)
    assert footprint.pin_count == pins
    assert footprint.pitch_mm == pytest.approx(pitch)
    gap_mm = smallest_gap_mm(footprint)
    assert gap_mm is not None
    assert gap_low <= gap_mm <= gap_high


def test_chip_lands_follow_the_zero_tolerance_land_pattern() -> None:
    # IPC-7351B: Z = L + 2 toe; 0603 nominal toe 0.35 mm, body 1.6 mm
    group = built("R_0603_1608Metric").pads[0]
    assert group.row_span_mm is not None
    assert group.row_span_mm + group.land_l_mm == pytest.approx(1.6 + 2 * 0.35)


def test_sot23_leads_stand_where_the_outline_puts_them() -> None:
    # JEDEC TO-236: two leads 1.9 mm apart on one side, one in their middle on the other
    group = built("SOT-23").pads[0]
    left = [spot for spot in group.at if spot[0] < 0]
    right = [spot for spot in group.at if spot[0] > 0]
    assert len(left) == 2
    assert abs(left[0][1] - left[1][1]) == pytest.approx(1.9)
    assert right[0][1] == pytest.approx(0.0)


def test_exposed_pads_and_tabs_are_tied_to_copper() -> None:
    assert built("QFN-16-1EP_3x3mm_P0.5mm_EP1.7x1.7mm").has_exposed_pad
    tab = next(g for g in built("SOT-223").pads if g.kind == "tab")
    assert tab.tied


def test_sources_say_what_was_assumed() -> None:
    footprint = built("TQFP-32")
    assert footprint.source.startswith("assumed: built from the package name 'TQFP-32'")
    assert "0.8 mm" in footprint.source
    assert footprint.heat.source.startswith("assumed")


@pytest.mark.parametrize(
    "name", ["BatteryHolder_1x18mm", "Relay_SPDT", "Potentiometer_single", "ZORK-77"]
)
def test_what_a_count_of_pins_cannot_draw_is_not_drawn(name: str) -> None:
    assert build_footprint(read_package(name)) is None


def test_every_family_has_its_usual_figures() -> None:
    from typing import get_args

    from solderrisk.model.footprint import Family

    for family in get_args(Family):
        facts = usual(family)
        assert facts.smd or facts.hole
        assert facts.source


@pytest.mark.parametrize(
    ("name", "exposed"),
    [
        ("QFN-16 3x3", True),
        ("QFN-32", True),
        ("DFN-8 2x2", True),
        ("LGA-12", False),
        ("DFN1006-3", False),
    ],
)
def test_no_lead_parts_have_a_pad_below_unless_they_are_land_grids(
    name: str, exposed: bool
) -> None:
    """JEDEC MO-220 and MO-229 show an exposed pad; a name that is silent about it is no proof."""
    found = match(read_package(name), load_library())
    assert found is not None
    assert found.footprint.has_exposed_pad is exposed
    assert any("exposed pad" in item for item in found.assumed) is exposed


def test_a_body_that_comes_in_one_pitch_settles_it() -> None:
    found = match(read_package("QFN-16 3x3"), load_library())
    assert found is not None
    assert found.footprint.pitch_mm == 0.5
    assert any("pitch 0.5 mm" in item for item in found.assumed)
