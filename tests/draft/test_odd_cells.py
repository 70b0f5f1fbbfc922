"""One odd cell costs one part, never the draft of the others."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.drafting import draft
from solderrisk.draft.write import kit_yaml, round_trip
from solderrisk.files.loading import load_library
from solderrisk.files.text import FileProblems
from solderrisk.model.draft import Draft

LIBRARY = load_library()
PAD = '(pad "{}" smd rect (at {} 0) (size 0.6 0.6) (layers F.Cu))'


def drafted(path: Path, text: str | bytes) -> Draft:
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    made = draft([path], LIBRARY)
    assert round_trip(kit_yaml(made)).model_copy(update={"title": ""}) == made.kit()
    return made


def test_a_chip_without_a_length_is_unknown(tmp_path: Path) -> None:
    made = drafted(tmp_path / "b.csv", "Reference,Footprint\nR1,R_0603\nU1,08500012M\n")
    assert {line.ref: line.state for line in made.lines} == {"R1": "guessed", "U1": "unknown"}


@pytest.mark.parametrize("numbers", ["①②③", "½¾²", "٣٤٥"])
def test_pads_numbered_in_other_digits(tmp_path: Path, numbers: str) -> None:
    pads = "".join(PAD.format(number, i) for i, number in enumerate(numbers))
    made = drafted(tmp_path / "f.kicad_mod", f"(footprint X {pads})")
    assert made.placements[0].footprint == "X"


def test_a_list_where_a_key_is_wanted(tmp_path: Path) -> None:
    board = "(kicad_pcb (module R (fp_text reference R1) (pad 1 smd rect ((x)) (at 0 0) (size 1 1))"
    made = drafted(tmp_path / "b.kicad_pcb", board + "(pad 2 smd rect (at 2 0) (size 1 1))))")
    assert [line.ref for line in made.lines] == ["R1"]
    with pytest.raises(FileProblems):
        drafted(tmp_path / "c.kicad_pcb", "(kicad_pcb(((())()))()(module(())(pad()d t(())))")


@pytest.mark.parametrize("mark", ["\x03", "\x07", "\x1b", "\x7f", "\x9f", "￾"])
def test_control_characters_are_dropped_and_their_row_is_told(tmp_path: Path, mark: str) -> None:
    made = drafted(tmp_path / "b.csv", f'Ref,Value,Package\nR1,10k,R_0805\nR2,"1{mark}k",R_0805\n')
    assert {p.value for p in made.placements} == {"10k", "1k"}
    assert any("row 3" in note for note in made.notes)


def test_control_characters_of_a_board_are_dropped(tmp_path: Path) -> None:
    pads = PAD.format(1, 0) + PAD.format(2, 2)
    text = f'(kicad_pcb\n(module R (fp_text reference R1) (fp_text value "1\x07k") {pads}))'
    made = drafted(tmp_path / "b.kicad_pcb", text)
    assert made.placements[0].value == "1k"
    assert any("row 2" in note for note in made.notes)


def test_a_part_beyond_any_board_has_no_place(tmp_path: Path) -> None:
    pads = PAD.format(1, 0) + PAD.format(2, 2)
    text = f"(kicad_pcb (module R (at 900000 1) (fp_text reference R1) {pads})"
    made = drafted(
        tmp_path / "b.kicad_pcb", text + f"(module R (fp_text reference R2) (at 1 1) {pads}))"
    )
    assert len(made.placements) == 1


def test_a_stray_mark_of_quotation_does_not_swallow_the_rest(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text('Ref,Value,Package\nR1,1k,0805\nJ1,"2.8 in display,QQ\nR3,1k,0805\n', "utf-8")
    assert [line.ref for line in draft([path], load_library()).lines] == ["R1", "J1", "R3"]
