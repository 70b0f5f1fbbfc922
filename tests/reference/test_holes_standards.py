"""Holes and lands against IPC-2222 table 9-3 and IPC-2221 9.1."""

from __future__ import annotations

import pytest

from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import Lead
from solderrisk.physics.handwork import (
    hole_fits,
    lead_diagonal_mm,
    least_hole_mm,
    least_land_mm,
)
from solderrisk.words import fit_words
from tests.shapes import barrel

DATA = physics_data()


@pytest.mark.parametrize(("level", "hole", "land"), [("A", 0.89, 1.59), ("B", 0.84, 1.44),
                                                    ("C", 0.79, 1.29)])  # fmt: skip
def test_worked_hole_and_land(level: str, hole: float, land: float) -> None:
    # Largest lead 0.64 mm: hole + 0.25 / 0.20 / 0.15 (IPC-2222 table 9-3); land = hole + 0.1
    # + 0.60 / 0.50 / 0.40 (IPC-2221 9.1)
    assert least_hole_mm(0.64, level, DATA) == pytest.approx(hole)
    assert least_land_mm(0.64, level, DATA) == pytest.approx(land)


def test_a_square_post_is_as_thick_as_its_diagonal() -> None:
    # 0.64 mm square post: 0.905 mm corner to corner (0.64 x sqrt 2)
    assert lead_diagonal_mm(Lead(width_mm=0.64, thickness_mm=0.64)) == pytest.approx(
        0.905, abs=5e-4
    )


@pytest.mark.parametrize(
    ("hole", "fits", "word"),
    [(0.90, False, "does not enter"), (0.91, True, "tight"), (1.104, True, "tight"),
     (1.11, True, "suits"), (1.40, True, "suits"), (1.80, True, "loose")],
)  # fmt: skip
def test_holes_for_a_square_post(hole: float, fits: bool, word: str) -> None:
    # IPC-2222 table 9-3, level B, for 0.905 mm: 1.105 at least. The upper end is from memory
    # only, so nothing near it is tried.
    post = barrel(lead_w=0.64, lead_t=0.64, hole=hole, land=hole + 0.7).pads[0]
    found = hole_fits(post, DATA)
    assert (found.fits, word in fit_words(found)) == (fits, True)
