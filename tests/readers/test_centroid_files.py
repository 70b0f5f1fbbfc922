"""Centroid files: units bare, as suffix or in the header, sides, and y that points down."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.readers.centroid import centroid_of
from solderrisk.readers.formats import read_source
from solderrisk.readers.reading import Placed, text_table

FILES = Path(__file__).parent / "fixtures" / "centroid"


def placed(name: str) -> tuple[dict[str, Placed], tuple[str, ...]]:
    _, reading = read_source(FILES / name)
    return {row.ref: row for row in reading.placed}, reading.notes


@pytest.mark.parametrize(
    ("name", "x", "y", "side"),
    [
        ("bare_mm.csv", 10.5, 20.25, "bottom"),
        ("with_units.csv", 75.18, 20.0, "bottom"),
        ("mils.csv", 1850.4 * 0.0254, 25.4, "bottom"),
        ("y_down.csv", 10.5, 20.25, "bottom"),
        ("columns.pos", 10.5, 20.25, "bottom"),
    ],
)
def test_positions_in_mm(name: str, x: float, y: float, side: str) -> None:
    rows, _ = placed(name)
    assert rows["R1"].x_mm == pytest.approx(x, abs=1e-3)
    assert rows["R1"].y_mm == pytest.approx(y, abs=1e-3)
    assert rows["R1"].side == "top"
    assert rows["U1"].side == side


def test_what_was_decided_is_told() -> None:
    assert any("y points down" in note for note in placed("y_down.csv")[1])
    rows, notes = placed("inches.csv")
    assert rows["R1"].x_mm == pytest.approx(25.4)
    assert any("25.4" in note for note in notes)


def test_a_parts_list_is_no_centroid_file() -> None:
    bom = Path(__file__).parent / "fixtures" / "bom" / "plain.csv"
    _, reading = read_source(bom)
    assert reading.listed
    assert not reading.placed


def test_rows_without_a_position_are_left_out() -> None:
    table = text_table("Ref,X,Y\nR1,1,2\nR2,,\nR3,far,away\nR4,1e9,0\n", "p.csv")
    rows, notes = centroid_of(table)
    assert [row.ref for row in rows] == ["R1"]
    assert any("3 rows" in note for note in notes)
