"""Acceptance limits as a builder reads them."""

from __future__ import annotations

import pytest

from solderrisk.files.library import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.kit import Board
from solderrisk.physics.acceptance import acceptance_lines
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
