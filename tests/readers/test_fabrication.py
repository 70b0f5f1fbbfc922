"""Fabrication files: pads by reference from Gerber X2 and IPC-D-356A, holes from drills."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.readers.fabrication import read_drill, read_gerber
from solderrisk.readers.formats import format_of, read_source

FILES = Path(__file__).parent / "fixtures" / "fabrication"


def test_part_attributes_in_extended_commands() -> None:
    reading = read_source(FILES / "copper_top.gbr")[1]
    assert {pad.ref for pad in reading.pads} == {"R1", "J1", "U1"}
    first = reading.pads[0]
    assert (first.pin, first.x_mm, first.y_mm) == ("1", 119.05, -70.0)
    assert (first.w_mm, first.h_mm, first.net) == (1.0, 1.45, "SIG")
    assert first.top


def test_rounded_rectangles_have_their_outer_size() -> None:
    pad = next(p for p in read_source(FILES / "copper_top.gbr")[1].pads if p.ref == "U1")
    assert (pad.w_mm, pad.h_mm) == (pytest.approx(1.55), pytest.approx(0.6))


def test_part_attributes_in_comments_and_inches() -> None:
    # 1 inch is 25.4 mm; format 2.5 means five decimals
    reading = read_source(FILES / "copper_top_comments.gbr")[1]
    assert [pad.pin for pad in reading.pads] == ["1", "2"]
    assert reading.pads[0].x_mm == pytest.approx(0.1 * 25.4)
    assert reading.pads[0].w_mm == pytest.approx(1.0, abs=1e-3)


def test_layers_without_attributes_say_so() -> None:
    reading = read_source(FILES / "no_attributes.gbr")[1]
    assert not reading.pads
    assert reading.notes


def test_an_attribute_ends_where_it_is_deleted() -> None:
    text = (
        b"%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,1*%\nD10*\n"
        b"%TO.P,R1,1*%\nX1Y1D03*\n%TD*%\nX2Y2D03*\nM02*\n"
    )
    assert [p.ref for p in read_gerber(Path("x.gbr"), text).pads] == ["R1"]


def test_drills_with_points_slots_and_plating() -> None:
    holes = read_source(FILES / "metric.drl")[1].holes
    assert [h.d_mm for h in holes] == [1.0, 1.0, 1.0, 0.8]
    assert (holes[0].x_mm, holes[0].y_mm) == (150.0, -60.0)
    assert holes[3].x_mm == 101.0  # the middle of a slot
    assert holes[0].plated


def test_drills_without_points_in_inches() -> None:
    # INCH,TZ keeps trailing zeros: 010000 is 1.0000 inch
    holes = read_source(FILES / "inch_no_points.drl")[1].holes
    assert holes[0].x_mm == pytest.approx(25.4)
    assert holes[1].y_mm == pytest.approx(-12.7)
    kept = read_drill(Path("x.drl"), b"M48\nINCH,LZ\nT1C0.04\n%\nT1\nX01Y02\nM30\n").holes
    assert kept[0].x_mm == pytest.approx(25.4)


def test_netlists_in_both_units() -> None:
    # CUST 0: 0.0001 inch; CUST 1: 0.001 mm (IPC-D-356A)
    inch = read_source(FILES / "netlist.d356")[1].pads
    assert {p.ref for p in inch} == {"R1", "J1"}  # vias have no part
    assert inch[0].x_mm == pytest.approx(2.54)
    assert (inch[0].w_mm, inch[0].h_mm) == (pytest.approx(1.0008), pytest.approx(1.4503, abs=1e-3))
    hole = next(p for p in inch if p.ref == "J1")
    assert hole.hole_mm == pytest.approx(1.0, abs=0.01)
    metric = read_source(FILES / "netlist_metric.d356")[1].pads
    assert metric[0].x_mm == pytest.approx(2.54)
    assert metric[1].pin == "2"


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("fabrication/copper_top.gbr", "gerber"),
        ("fabrication/copper_top_comments.gbr", "gerber"),
        ("fabrication/metric.drl", "drill"),
        ("fabrication/netlist.d356", "netlist"),
        ("fabrication/netlist_metric.d356", "netlist"),
        ("board/four_layers.kicad_pcb", "board"),
        ("board/older_words.kicad_pcb", "board"),
        ("board/old_module.kicad_mod", "footprint"),
        ("board/QFN-16_vias.kicad_mod", "footprint"),
        ("bom/plain.csv", "table"),
        ("bom/utf16le_tabs.csv", "table"),
        ("bom/plain.xlsx", "table"),
        ("centroid/columns.pos", "table"),
    ],
)
def test_kinds_are_told_by_content(name: str, kind: str) -> None:
    assert format_of((FILES.parent / name).read_bytes()).name == kind
