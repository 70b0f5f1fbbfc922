"""Lands against IPC-7351B and an open library; holes against IPC-2222 and IPC-2221.

Sources stand beside each table. Lead sizes are those of the named outlines, in mm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import pytest

from solderrisk.files.loading import load_library
from solderrisk.model.footprint import Footprint, Lead, PadGroup

LIBRARY = load_library()

Range = tuple[float, float]

FABRICATION, PLACEMENT = 0.10, 0.05  # tolerances that IPC-7351 takes, mm


class Goals(NamedTuple):
    """Solder fillet goals at toe, heel and side, mm."""

    toe: float
    heel: float
    side: float


# IPC-7351B, nominal density
GULL_WING = Goals(0.35, 0.35, 0.03)  # pitch above 0.625
FINE_GULL_WING = Goals(0.35, 0.35, -0.02)  # pitch up to 0.625
NO_LEAD = Goals(0.30, 0.0, -0.04)
CHIP = Goals(0.35, 0.0, 0.0)  # 0603 and larger
SMALL_CHIP = Goals(0.20, 0.0, 0.0)


class Lands(NamedTuple):
    outer: float
    inner: float
    width: float


def spread(low_high: Range) -> float:
    return low_high[1] - low_high[0]


def ipc_7351(length: Range, terminal: Range, width: Range, goals: Goals) -> Lands:
    """Z = Lmin + 2 Jt + rms, G = Smax - 2 Jh - rms, X = Wmin + 2 Js + rms, where S is the
    distance between the terminals with its tolerance taken as a root of squares."""
    rms_length = math.hypot(spread(length), FABRICATION, PLACEMENT)
    outer = length[0] + 2 * goals.toe + rms_length
    widest = length[1] - 2 * terminal[0]
    narrowest = length[0] - 2 * terminal[1]
    tolerance = math.hypot(spread(length), spread(terminal), spread(terminal))
    likely_widest = widest - (widest - narrowest - tolerance) / 2
    inner = likely_widest - 2 * goals.heel - math.hypot(tolerance, FABRICATION, PLACEMENT)
    x = width[0] + 2 * goals.side + math.hypot(spread(width), FABRICATION, PLACEMENT)
    return Lands(outer, inner, x)


def part(name: str) -> Footprint:
    footprint = LIBRARY.get(name)
    assert footprint is not None, f"no footprint {name}"
    return footprint


def lands(name: str) -> Lands:
    group = part(name).pads[0]
    assert group.row_span_mm is not None
    return Lands(
        group.row_span_mm + group.land_l_mm, group.row_span_mm - group.land_l_mm, group.land_w_mm
    )


def test_formula_on_a_worked_example() -> None:
    # Lmin 1.5, tolerance 0.2, toe 0.35, F 0.1, P 0.05: Z = 1.5 + 0.7 + sqrt(0.0525) = 2.429
    found = ipc_7351((1.5, 1.7), (0.3, 0.3), (0.8, 0.8), CHIP)
    assert found.outer == pytest.approx(2.429, abs=5e-4)
    # no tolerance on the terminals: G = 1.7 - 0.6 - sqrt(0.0525), X = 0.8 + sqrt(0.0125)
    assert found.inner == pytest.approx(1.1 - 0.2291, abs=5e-4)
    assert found.width == pytest.approx(0.8 + 0.1118, abs=5e-4)


# Lead span, foot and width: MS-012, MS-013, MO-150, MO-153, MO-187, MO-142, MS-024, MS-026,
# MS-022, MS-029, MO-178, TO-236, MO-220; chips: IEC 60115-8
LEADS = [
    ("SOIC-8", (5.8, 6.2), (0.40, 1.27), (0.31, 0.51), GULL_WING),
    ("SOIC-20W", (9.97, 10.63), (0.40, 1.27), (0.31, 0.51), GULL_WING),
    ("SSOP-20", (7.4, 8.2), (0.55, 0.95), (0.22, 0.38), GULL_WING),
    ("TSSOP-16", (6.2, 6.6), (0.45, 0.75), (0.19, 0.30), GULL_WING),
    ("TSSOP-56", (7.9, 8.3), (0.45, 0.75), (0.17, 0.27), FINE_GULL_WING),
    ("MSOP-10", (4.75, 5.05), (0.40, 0.80), (0.17, 0.27), FINE_GULL_WING),
    ("TSOP-I-48", (19.8, 20.2), (0.50, 0.70), (0.17, 0.27), FINE_GULL_WING),
    ("TSOP-II-54", (11.56, 11.96), (0.40, 0.60), (0.30, 0.45), GULL_WING),
    ("TQFP-32", (8.8, 9.2), (0.45, 0.75), (0.30, 0.45), GULL_WING),
    ("LQFP-100", (15.8, 16.2), (0.45, 0.75), (0.17, 0.27), FINE_GULL_WING),
    ("TQFP-128", (15.8, 16.2), (0.45, 0.75), (0.13, 0.23), FINE_GULL_WING),
    ("SOT-23", (2.1, 2.64), (0.40, 0.60), (0.30, 0.50), GULL_WING),
    ("SOT-23-5", (2.6, 3.0), (0.30, 0.60), (0.30, 0.50), GULL_WING),
    ("QFN-32", (4.9, 5.1), (0.30, 0.50), (0.18, 0.30), NO_LEAD),
    ("QFN-64", (8.9, 9.1), (0.30, 0.50), (0.18, 0.30), NO_LEAD),
    ("DFN-8-3X3", (2.9, 3.1), (0.30, 0.50), (0.25, 0.35), NO_LEAD),
    ("CHIP-0402", (0.95, 1.05), (0.15, 0.35), (0.45, 0.55), SMALL_CHIP),
    ("CHIP-0603", (1.5, 1.7), (0.20, 0.50), (0.7, 0.9), CHIP),
    ("CHIP-0805", (1.8, 2.2), (0.25, 0.75), (1.05, 1.45), CHIP),
    ("CHIP-1206", (3.0, 3.4), (0.25, 0.75), (1.4, 1.8), CHIP),
    ("CHIP-2512", (6.1, 6.5), (0.35, 0.85), (3.0, 3.4), CHIP),
]


@pytest.mark.parametrize(
    ("name", "span", "foot", "width", "goals"), LEADS, ids=[row[0] for row in LEADS]
)
def test_lands_meet_the_nominal_goals(
    name: str, span: Range, foot: Range, width: Range, goals: Goals
) -> None:
    # span and length of a land are rounded to 0.05 each, widths to 0.05, or 0.01 when fine
    asked, found = ipc_7351(span, foot, width, goals), lands(name)
    assert found.outer == pytest.approx(asked.outer, abs=0.051)
    assert found.inner == pytest.approx(asked.inner, abs=0.051)
    assert found.width == pytest.approx(asked.width, abs=0.026)


# Leads of 0.22 to 0.38 mm at 0.65 mm: the formula's width leaves a smaller gap than parts at
# 0.5 mm have. Drawings of these parts take 0.40 to 0.45 (open library: LQFP-52, PQFP-100, MSOP-8).
WIDE_SPREAD = [
    ("MSOP-8", (4.75, 5.05), (0.40, 0.80)),
    ("LQFP-52", (11.8, 12.2), (0.45, 0.75)),
    ("PQFP-100", (16.95, 17.45), (0.73, 1.03)),
]


@pytest.mark.parametrize(("name", "span", "foot"), WIDE_SPREAD)
def test_lands_for_leads_of_wide_spread(name: str, span: Range, foot: Range) -> None:
    asked, found = ipc_7351(span, foot, (0.22, 0.38), GULL_WING), lands(name)
    assert found.outer == pytest.approx(asked.outer, abs=0.17)
    assert found.inner == pytest.approx(asked.inner, abs=0.17)
    assert 0.40 <= found.width <= asked.width


# An open library of s-expression footprints (.kicad_mod, release 6): distance of a land from
# the middle, its length and its width. Both follow IPC-7351 from outlines of other makers.
OPEN_LIBRARY = [
    ("SOIC-8", 2.475, 1.95, 0.60), ("SOIC-28W", 4.65, 2.05, 0.60), ("SSOP-20", 3.5, 1.9, 0.50),
    ("TSSOP-16", 2.8625, 1.475, 0.40), ("TSSOP-48", 3.7125, 1.475, 0.30),
    ("MSOP-8", 2.1125, 1.625, 0.40), ("TSOP-I-48", 9.6875, 1.575, 0.30),
    ("TSOP-II-44", 5.5875, 1.525, 0.55), ("TQFP-32", 4.25, 1.60, 0.55),
    ("LQFP-48", 4.1625, 1.475, 0.30), ("LQFP-64", 5.675, 1.55, 0.30),
    ("LQFP-144", 10.6625, 1.475, 0.30), ("LQFP-208", 14.675, 1.50, 0.30),
    ("PQFP-208", 14.9625, 1.475, 0.30), ("QFN-24", 1.9375, 0.825, 0.25),
    ("QFN-32", 2.4375, 0.875, 0.25), ("QFN-64", 4.4375, 0.875, 0.25),
    ("CHIP-01005", 0.25, 0.40, 0.30), ("CHIP-0201", 0.32, 0.46, 0.40),
    ("CHIP-0402", 0.51, 0.54, 0.64), ("CHIP-0603", 0.825, 0.80, 0.95),
    ("CHIP-0805", 0.9125, 1.025, 1.40), ("CHIP-1206", 1.4625, 1.125, 1.75),
    ("CHIP-2512", 2.9625, 1.225, 3.35), ("SOT-23", 0.9375, 1.475, 0.60),
    ("SOT-23-5", 1.1375, 1.325, 0.60), ("TANTALUM-A", 1.35, 1.40, 1.35),
    ("TANTALUM-D", 3.1125, 2.075, 2.55), ("CAN-4X5.4", 1.8, 2.6, 1.6),
    ("CRYSTAL-3225-4", 1.1, 1.4, 1.2),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "centre", "length", "width"), OPEN_LIBRARY, ids=[row[0] for row in OPEN_LIBRARY]
)
def test_lands_agree_with_an_open_library(
    name: str, centre: float, length: float, width: float
) -> None:
    group = part(name).pads[0]
    assert group.row_span_mm is not None
    assert group.row_span_mm / 2 == pytest.approx(centre, abs=0.08)
    assert group.land_l_mm == pytest.approx(length, abs=0.15)
    assert group.land_w_mm == pytest.approx(width, abs=0.11)


# Largest lead of the outline, as width and thickness (round ones: diameter and None), mm
LARGEST_LEADS = [
    ("DIP-8", 0.56, 0.36),  # JEDEC MS-001
    ("DIP-40", 0.56, 0.38),  # JEDEC MS-011
    ("TO-92", 0.533, None),  # JEDEC TO-226
    ("TO-220", 0.88, 0.40),  # JEDEC TO-220: widest lead with the thinnest sheet; boards have 1.1
    ("TO-247", 1.20, 0.60),  # usual lead; boards have 1.5 (open library)
    ("HC-49U", 0.48, None),  # IEC 60122-3
    ("DO-35", 0.56, None),  # JEDEC DO-204
    ("DO-41", 0.86, None),
    ("DO-201AD", 1.32, None),  # JEDEC DO-201
    ("HEADER-1X5-2.54", 0.64, 0.64),  # square post, 0.905 mm corner to corner
]


@pytest.mark.parametrize(("name", "width", "thickness"), LARGEST_LEADS)
def test_holes_take_the_largest_lead(name: str, width: float, thickness: float | None) -> None:
    # IPC-2222 table 9-3: hole at least 0.15 (level C) over the largest lead, best 0.25 (A)
    hole = part(name).pads[0].hole_mm
    largest = math.hypot(width, thickness or 0.0)
    assert hole is not None
    assert largest + 0.15 - 1e-9 <= hole <= largest + 0.45


def in_holes() -> list[tuple[str, PadGroup, Lead]]:
    return [
        (footprint.name, group, group.lead)
        for footprint in LIBRARY
        for group in footprint.pads
        if group.through_board and group.lead is not None
    ]


def test_every_hole_takes_its_lead_and_still_holds_solder() -> None:
    # IPC-2222: 0.15 or more over the lead, and not over 0.7 more than the thinnest one
    for name, group, lead in in_holes():
        assert group.hole_mm is not None
        if group.slot_w_mm is not None:
            assert group.hole_mm >= lead.width_mm + 0.15 - 1e-9, name
            assert group.slot_w_mm >= lead.thickness_mm + 0.15 - 1e-9, name
            continue
        lead_mm = lead.width_mm if lead.round else math.hypot(lead.width_mm, lead.thickness_mm)
        # Headers with a lock sit tight: 0.75 mm for a 0.5 mm post, 0.95 for 0.64 (open library).
        play_mm = 0.04 if name.startswith("WIRE-BOARD") else 0.15
        assert lead_mm + play_mm - 1e-9 <= group.hole_mm <= lead_mm + 0.7, name


def test_every_hole_has_its_ring() -> None:
    # IPC-2221 9.1: land = hole + 2 x 0.05 ring + 0.40 (level C) at the least. At steps under
    # 2 mm there is no room for that between neighbours: 0.1 mm of ring, the rest lengthwise.
    for name, group, _ in in_holes():
        small, large = sorted((group.land_w_mm, group.land_l_mm))
        hole = group.hole_mm or 0.0
        fine = group.pitch_mm is not None and group.pitch_mm < 2.0
        assert large >= hole + (0.25 if fine else 0.5) - 1e-9, name
        narrow = group.slot_w_mm or hole
        assert small >= narrow + 0.2 - 1e-9, name
