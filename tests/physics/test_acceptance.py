"""Acceptance limits as a builder reads them."""

from __future__ import annotations

import pytest

from solderrisk.files.library import load_library
from solderrisk.files.reference import physics_data
from solderrisk.physics.acceptance import acceptance_lines
from tests.shapes import barrel, chip, group, gull, part

DATA = physics_data()


def test_barrels_in_the_board_at_hand() -> None:
    (line,) = acceptance_lines(barrel(count=8), 1.6, 2, DATA)
    assert "75% of the barrel" in line
    assert "1.2 of 1.6 mm" in line
    assert "180 degrees on the far side" in line
    (many,) = acceptance_lines(barrel(count=40), 1.6, 2, DATA)
    assert "0.8 of 1.6 mm" in many
    (relaxed,) = acceptance_lines(barrel(count=8), 1.6, 1, DATA)
    assert "not specified" in relaxed
    assert "far side" not in relaxed


def test_leads_on_lands() -> None:
    (line,) = acceptance_lines(gull(), 1.6, 2, DATA)
    assert "at most 0.11 mm beside the land" in line
    assert "none past its end" not in line
    assert "wetted along 0.60 mm" in line  # a foot shorter than three widths: all of it
    assert "heel fillet 0.07 mm" in line or "heel fillet 0.08 mm" in line


def test_chips() -> None:
    two, three = (acceptance_lines(chip(), 1.6, c, DATA)[0] for c in (2, 3))
    assert "at most 0.40 mm" in two
    assert "none past its end" in two
    assert "fillet seen" in two
    assert "at most 0.20 mm" in three
    assert "fillet 0.11 mm up the end" in three


def test_what_the_tables_do_not_cover_says_nothing() -> None:
    wire = part("wire_pad", 2, 2, 1, group("wire", 1, 2.0, 2.0))
    assert acceptance_lines(wire, 1.6, 2, DATA) == ()


@pytest.mark.parametrize("acceptance_class", [1, 2, 3])
def test_every_packaged_footprint_can_be_told(acceptance_class: int) -> None:
    for footprint in load_library(()):
        for line in acceptance_lines(footprint, 1.6, acceptance_class, DATA):
            assert line.startswith(f"IPC-A-610 class {acceptance_class} accepts: "), footprint.name
            assert "None" not in line
            assert len(line) < 220
