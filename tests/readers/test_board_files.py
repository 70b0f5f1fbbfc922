"""Board and footprint files: pads to geometry, planes, sides and positions."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.boards import PlaneTies, Tie, inside
from solderrisk.files.text import FileProblems
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.model.library import Library
from solderrisk.packages.drawn import footprint_of
from solderrisk.packages.pads import Drawing, PadGeometry, geometry
from solderrisk.readers.board import measured, polygon_area, read_board
from solderrisk.readers.drawing import Malformed, parse, parse_quick
from solderrisk.readers.formats import read_source
from solderrisk.readers.reading import DrawnBoard

FILES = Path(__file__).parent / "fixtures" / "board"


@pytest.fixture(scope="module")
def board() -> DrawnBoard:
    return board_of("four_layers")


def board_of(name: str) -> DrawnBoard:
    found = read_source(FILES / f"{name}.kicad_pcb")[1].board
    assert found is not None
    return found


def drawing(name: str) -> Drawing:
    found = read_source(FILES / f"{name}.kicad_mod")[1].footprint
    assert found is not None
    return found


def shape(name: str, *, one_row: bool = False) -> PadGeometry:
    return geometry(drawing(name).pads, one_row=one_row)


def test_vias_of_an_exposed_pad_make_no_through_hole_part() -> None:
    found = shape("QFN-16_vias")
    assert (found.pins, found.pitch, found.vias) == (16, 0.5, 4)
    assert not found.through_hole
    assert len(found.exposed) == 1
    assert found.exposed[0].w == pytest.approx(1.7)


def test_zigzag_rows_have_the_pitch_across_both_rows() -> None:
    assert shape("PinHeader_1x07_zigzag").pitch == pytest.approx(1.27)


def test_staggered_transistors_have_the_pitch_of_one_row() -> None:
    assert shape("TO-220-5_staggered", one_row=True).pitch == pytest.approx(3.4)


def test_mounting_pads_are_no_pins() -> None:
    found = shape("Plug_1x06-1MP")
    assert (found.pins, len(found.mounts)) == (6, 2)
    assert found.pitch == pytest.approx(1.0)
    assert found.gap == pytest.approx(0.4)


def test_slots_holes_and_rings() -> None:
    found = shape("Jack_slots")
    assert found.through_hole
    assert len(found.bare_holes) == 1
    assert found.ring == pytest.approx((2.0 - 1.0) / 2)  # land less the narrow side of the slot
    drawn = footprint_of(drawing("Jack_slots"), Library.of([]))
    assert drawn is not None
    group = drawn.footprint.pads[0]
    assert group.kind == "lug"
    assert (group.hole_mm, group.slot_w_mm) == (3.0, 1.0)


def test_joined_pins_custom_pads_and_old_words() -> None:
    assert shape("PowerSO-8_merged").pins == 5
    assert shape("custom_pad").pin_pads[0].w == pytest.approx(2.0)
    assert shape("old_module").pins == 3


def test_board_size_layers_and_planes(board: DrawnBoard) -> None:
    found = board.board
    assert (found.length_mm, found.width_mm, found.thickness_mm) == (60.0, 40.0, 1.2)
    assert (found.copper_layers, found.plane_layers) == (4, 2)
    assert found.plane_cover == pytest.approx((1.0 + 0.875) / 2, abs=0.01)
    assert (found.finish, found.copper_um) == ("enig", 70.0)


def test_pads_on_planes_by_spokes_solid_copper_and_vias(board: DrawnBoard) -> None:
    ties = PlaneTies(board)
    by_ref = {d.ref: ties.ties(d) for d in board.drawings}
    assert by_ref["J1"] == {"2": Tie(2, 4, 0.35, 0.4)}  # the zone's own relief
    assert by_ref["J2"]["1"].spokes == 0  # the pad asks for solid copper
    assert by_ref["C1"]["1"] == Tie(2, 4, 0.8, 0.25)  # the pad's own spokes
    assert by_ref["U2"] == {"17": Tie(2, 0, 0.35, 0.4)}  # through its vias
    assert by_ref["U1"] == {}  # a land on the outer layer, planes inside
    assert by_ref["R1"] == {}


def test_rotated_parts_keep_their_own_shape(board: DrawnBoard) -> None:
    turned = next(d for d in board.drawings if d.ref == "U2")
    found = geometry(turned.pads)
    assert (found.pins, found.pitch) == (16, 0.5)
    drawn = footprint_of(turned, Library.of([]), frozenset({"17"}))
    assert drawn is not None
    assert drawn.footprint.has_exposed_pad
    assert drawn.footprint.pads[0].gap_mm == pytest.approx(0.25, abs=0.01)
    # Pins end 1.05 mm off the middle, the pad 0.85 mm.
    assert smallest_gap_mm(drawn.footprint) == pytest.approx(0.20, abs=0.001)


def test_sides_flags_and_lines(board: DrawnBoard) -> None:
    by_ref = {d.ref: d for d in board.drawings}
    assert by_ref["R3"].side == "bottom"
    assert "dnp" in by_ref["R9"].flags
    lines = (FILES / "four_layers.kicad_pcb").read_text().splitlines()
    assert "R_0805" in lines[by_ref["R3"].line - 1]


def test_older_files_read_alike() -> None:
    reading = board_of("older_words")
    assert reading.board.copper_layers == 2
    assert reading.board.plane_layers == 1
    by_ref = {d.ref: d for d in reading.drawings}
    assert by_ref["IC1"].value == "amp (dual)"  # brackets inside quotes are no structure
    tie = PlaneTies(reading).ties(by_ref["IC1"])
    assert tie == {"4": Tie(1, 0, 0.5, 0.5)}  # connect_pads yes: solid


def test_polygons() -> None:
    square = ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0))
    assert abs(polygon_area(square)) == 12.0
    assert inside(square, 1, 1)
    assert not inside(square, 5, 1)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("(kicad_pcb (general)", "cut short"),
        ("no board at all", "no list"),
        ("(" * 5000, "deep"),
        ("(footprint X)", "no board"),
    ],
)
def test_damaged_boards_are_told_with_their_place(tmp_path: Path, text: str, word: str) -> None:
    path = tmp_path / "b.kicad_pcb"
    with pytest.raises(FileProblems, match=word) as caught:
        read_board(path, text.encode())
    assert len(caught.value.problems) == 1
    assert str(path) in str(caught.value)


def test_expressions() -> None:
    text = '(a "b (c" (d 1 2.5) \n (e "x\\"y"))'
    for node in (parse(text), parse_quick(text)):
        assert node.text(1) == "b (c"
        assert node.first("d").number(2) == 2.5  # type: ignore[union-attr]
        assert node.first("e").text(1) == 'x"y'  # type: ignore[union-attr]
    assert parse(text).first("e").line == 2  # type: ignore[union-attr]
    assert parse("(a (skip (b (c))) (d))", frozenset({"skip"})) == parse("(a (d))")
    for bad in ("(a", "a)", "", "(" * 400):
        with pytest.raises(Malformed):
            parse(bad)
        with pytest.raises(Malformed):
            parse_quick(bad)


ZONE = """(kicad_pcb (general (thickness 1.6)) (layers (0 "F.Cu" signal) (31 "B.Cu" signal))
(gr_rect (start 0 0) (end 100 50) (layer "Edge.Cuts"))
(zone (net 1) (net_name "GND") (layer "B.Cu")
(polygon (pts (xy 0 0) (xy 100 0) (xy 100 50) (xy 0 50))) {fill}))
"""
HALF = """(filled_polygon
  (layer "B.Cu")
  (pts (xy 0 0) (xy 30 0)
    (xy 30 50) (xy 0 50)
  )
) (filled_polygon (layer "B.Cu") (pts (xy 40 0) (xy 60 0) (xy 60 50) (xy 40 50)))"""


def test_what_is_filled_is_the_cover(tmp_path: Path) -> None:
    path = tmp_path / "b.kicad_pcb"
    for fill, cover, told in ((HALF, 0.5, False), ("", 1.0, True)):
        found = read_board(path, ZONE.format(fill=fill).encode())
        assert found.board is not None
        assert found.board.board.plane_cover == cover
        assert any("1 of 1 copper zones are not filled" in note for note in found.notes) == told


@pytest.mark.parametrize(
    "bad",
    [
        "(pts (xy 1 1)",
        "(pts (xy a b))",
        "(pts (xy 1e999 1) (xy 1 2))",
        "(pts (xy e e) (xy - 2))",
        "(layer",
        "(pts))",
        "",
    ],
)
def test_odd_fills_are_no_fault(bad: str) -> None:
    text = measured(f"(a (filled_polygon {bad})\n (b))\n{HALF}")
    assert text.count("\n") == 2 + HALF.count("\n")


def test_many_open_fills_take_no_time() -> None:
    text = "(filled_polygon (pts (xy 1 1) " * 200_000
    assert measured(text) == text


def test_a_list_without_a_word_is_passed_over(tmp_path: Path) -> None:
    """A bracket too many, as a broken file has it."""
    path = tmp_path / "part.kicad_mod"
    path.write_text(
        '(footprint "P" ((fp_text value "P" (layer "F.Fab")))\n'
        '(pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu")))'
    )
    found = read_source(path)[1].footprint
    assert found is not None
    assert geometry(found.pads).pins == 1
