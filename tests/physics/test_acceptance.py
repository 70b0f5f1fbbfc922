"""Acceptance limits as a builder reads them, tolerances of parts, and how chances move with
hand and tolerance."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import Lead
from solderrisk.model.kit import Board
from solderrisk.physics.acceptance import (
    acceptance_lines,
    alignment,
    chance_inside,
    chance_two_ends,
    chance_with_tries,
    half_length_mm,
)
from tests.shapes import barrel, chip, group, gull, part

DATA = physics_data()
BOARD = Board(name="b")


def test_barrels_in_the_board_at_hand() -> None:
    (line,) = acceptance_lines(barrel(count=8), BOARD, 2, DATA)
    assert "three quarters of the hole full" in line
    assert "half round the lead on the far side" in line
    (many,) = acceptance_lines(barrel(count=40), BOARD, 2, DATA)
    assert "at least half of the hole full" in many
    (relaxed,) = acceptance_lines(barrel(count=8), BOARD, 1, DATA)
    assert "lead seen in the solder" in relaxed
    assert "far side" not in relaxed


def test_leads_on_lands() -> None:
    (line,) = acceptance_lines(gull(), BOARD, 2, DATA)
    assert "at most half of the lead's width beside the land" in line
    assert "none past its end" not in line
    assert "along all of the foot" in line  # a foot shorter than three widths: all of it
    assert "up the heel by half of the lead's thickness" in line


def test_chips() -> None:
    two, three = (acceptance_lines(chip(), BOARD, c, DATA)[0] for c in (2, 3))
    assert "at most half of the end's width" in two
    assert "none past its end" in two
    assert "fillet seen" in two
    assert "at most a quarter of the end's width" in three
    assert "fillet a quarter up the end" in three


def test_each_kind_of_joint_is_called_by_its_name() -> None:
    """A tab and the leads of one part are held against different shares (IPC-A-610 8.3.14, 8-5)."""
    library = load_library(())
    said = {}
    for name in ("SOT-223", "QFN-24-4X4", "MODULE-CASTELLATED-16"):
        footprint = library.get(name)
        assert footprint is not None
        said[name] = acceptance_lines(footprint, BOARD, 2, DATA)
    lead, tab = sorted(said["SOT-223"], key=lambda line: "tab's" in line)
    assert "at most half of the lead's width" in lead
    assert "at most a quarter of the tab's width" in tab
    assert any("contact's width" in line for line in said["QFN-24-4X4"])
    assert "castellation's width" in said["MODULE-CASTELLATED-16"][0]


def test_what_the_tables_do_not_cover_says_nothing() -> None:
    wire = part("wire_pad", 2, 2, 1, group("wire", 1, 2.0, 2.0))
    assert acceptance_lines(wire, BOARD, 2, DATA) == ()


@pytest.mark.parametrize("acceptance_class", [1, 2, 3])
def test_every_packaged_footprint_can_be_told(acceptance_class: int) -> None:
    for footprint in load_library(()):
        for line in acceptance_lines(footprint, BOARD, acceptance_class, DATA):
            assert line.startswith(f"IPC-A-610 class {acceptance_class} accepts: "), footprint.name
            assert "None" not in line
            assert len(line) < 220


def test_a_hole_without_a_barrel_is_judged_on_one_side() -> None:
    """IPC-A-610: unsupported holes have no fill to ask for."""
    paper = Board(name="b", material="phenolic_paper")
    (line,) = acceptance_lines(barrel(count=8), paper, 2, DATA)
    assert "far side" not in line
    assert "full" not in line
    assert "three quarters round" in line


tolerances = st.floats(0.01, 2.0)
sigmas = st.floats(0.005, 1.0)
turns = st.floats(0.0, 0.5)
levers = st.floats(0.0, 20.0)


@settings(max_examples=80, deadline=None)
@given(tolerances, sigmas, turns, levers, st.floats(1.0, 3.0))
def test_chances_move_the_right_way(
    tol: float, slide: float, turn: float, lever: float, more: float
) -> None:
    chance = float(chance_inside(tol, slide, turn, lever))
    both = float(chance_inside(tol, slide, turn, lever, both_axes=True))
    assert 0.0 <= both <= chance + 1e-9 <= 1.0 + 1e-9
    assert float(chance_inside(tol * more, slide, turn, lever)) >= chance - 1e-9
    assert float(chance_inside(tol, slide * more, turn, lever)) <= chance + 1e-9
    assert float(chance_inside(tol, slide, turn, lever * more)) <= chance + 1e-9


@settings(max_examples=40, deadline=None)
@given(tolerances, sigmas, turns, levers)
def test_only_the_ratio_counts(tol: float, slide: float, turn: float, lever: float) -> None:
    # Twice as large and twice as unsteady is the same task.
    once = float(chance_inside(tol, slide, turn, lever))
    assert float(chance_inside(2 * tol, 2 * slide, turn, 2 * lever)) == pytest.approx(once)


def test_arrays_broadcast_to_the_values_of_single_cases() -> None:
    tol = np.array([0.1, 0.2])[:, None]
    slide = np.array([0.05, 0.1, 0.25])
    table = chance_inside(tol, slide, 0.01, 8.0)
    assert table.shape == (2, 3)
    assert table[1, 2] == pytest.approx(float(chance_inside(0.2, 0.25, 0.01, 8.0)), abs=1e-12)


def test_no_room_means_no_chance() -> None:
    assert float(chance_inside(0.0, 0.1, 0.01, 8.0)) == 0.0
    assert float(chance_inside(-0.1, 0.1, 0.01, 8.0)) == 0.0
    assert float(chance_two_ends(-0.1, 0.1)) == 0.0


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(1, 8))
def test_more_tries_never_harm(once: float, seen: float, tries: int) -> None:
    now = float(chance_with_tries(once, seen, tries))
    assert once - 1e-12 <= now <= float(chance_with_tries(once, seen, tries + 1)) + 1e-12
    assert now <= 1.0 + 1e-12


def test_zero_tries_are_refused() -> None:
    with pytest.raises(ValueError, match="tries"):
        chance_with_tries(0.5, 0.5, 0)


def test_holes_guide_by_themselves() -> None:
    assert alignment(barrel(), 2, DATA) is None


def test_finer_pitch_leaves_less_room() -> None:
    coarse = alignment(gull(0.8, 0.37, 0.5, 32, 7.0), 2, DATA)
    fine = alignment(gull(0.5, 0.22, 0.3, 48, 7.0), 2, DATA)
    assert coarse is not None
    assert fine is not None
    assert fine.lateral_mm < coarse.lateral_mm
    assert fine.rotation_deg < coarse.rotation_deg


def test_a_lead_wider_than_its_land_is_told() -> None:
    found = alignment(gull(0.5, 0.30, 0.12), 3, DATA)
    assert found is not None
    assert found.lateral_mm == 0.0
    assert found.no_play


def test_the_lever_ties_turn_to_slide() -> None:
    # A chip's ends are 0.75 mm from its centre: 0.45 mm of room is atan(0.45 / 0.75).
    found = alignment(chip(), 2, DATA)
    assert found is not None
    assert found.rotation_deg == pytest.approx(math.degrees(math.atan2(0.45, 0.75)))
    assert half_length_mm(found) == pytest.approx(0.45 / math.radians(found.rotation_deg))


def test_every_packaged_footprint_has_a_sensible_tolerance() -> None:
    for footprint in load_library(()):
        found = [alignment(footprint, c, DATA) for c in (1, 2, 3)]
        assert len({a is None for a in found}) == 1, footprint.name
        kept = [a.lateral_mm for a in found if a is not None]
        assert kept == sorted(kept, reverse=True), footprint.name
        for a in found:
            if a is not None:
                assert 0 < a.lateral_mm <= 5, footprint.name
                assert 0 <= a.rotation_deg <= 90, footprint.name


def test_the_ends_of_long_rows_leave_their_lands_lengthwise() -> None:
    """Two rows of 40 at 0.65 mm, 5 mm apart: lands 1.5 mm for feet of 0.6 mm leave 0.45 mm
    at 12.7 mm from the middle, 2.0 degrees; sideways play (0.15 mm at 2.5 mm) allows 3.4."""
    lead = Lead(width_mm=0.22, thickness_mm=0.15, length_mm=1.0, foot_mm=0.6)
    rows = group("gull_wing", 80, 0.3, 1.5, layout="dual", pitch_mm=0.65, row_span_mm=5.0,
                 lead=lead)  # fmt: skip
    found = alignment(part("ssop", 27.0, 4.0, 1.0, rows), 2, DATA)
    assert found is not None
    assert found.rotation_deg == pytest.approx(math.degrees(math.atan2(0.45, 39 * 0.65 / 2)))
