"""Drafts: states, questions and answers, joined sources, the kit file and the command."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from solderrisk.draft.drafting import answer, draft, draft_command
from solderrisk.draft.write import kit_yaml, report_text, round_trip
from solderrisk.files.loading import load_kit, load_library
from solderrisk.files.text import FileProblems
from solderrisk.files.yaml_source import parse_model
from solderrisk.model.draft import LEAVE_OUT, Draft, DraftLine, ref_prefix
from solderrisk.model.kit import Kit
from solderrisk.model.kit_check import kit_problems
from solderrisk.model.library import Library

FILES = Path(__file__).parents[1] / "readers" / "fixtures"
LIBRARY = load_library()


def drafted(*names: str, library: Library = LIBRARY) -> Draft:
    return draft([FILES / name for name in names], library)


def drafted_or_refused(name: str) -> Draft | None:
    """None where the file is refused, in lines of their own."""
    refusals: list[str] = []
    made = None
    try:
        made = drafted(name)
    except FileProblems as error:
        refusals = [str(problem) for problem in error.problems]
    assert made is not None or refusals
    assert not any("\n" in line for line in refusals)
    return made


def states(made: Draft) -> dict[str, str]:
    return {line.ref: line.state for line in made.lines}


def question(made: Draft, ref: str):  # type: ignore[no-untyped-def]
    return next(q for q in made.questions if ref in q.refs)


ALL = sorted(
    str(path.relative_to(FILES))
    for folder in ("bom", "board", "centroid", "fabrication")
    for path in (FILES / folder).iterdir()
)


def test_there_are_enough_fixtures_of_our_own() -> None:
    assert len(ALL) >= 40


@pytest.mark.parametrize("name", ALL)
def test_every_fixture_is_drafted_or_refused_in_plain_words(name: str) -> None:
    made = drafted_or_refused(name)
    if made is None:
        return
    assert report_text(made).startswith("Draft of ")
    if made.placements:
        kit = round_trip(kit_yaml(made))
        assert kit.model_copy(update={"title": ""}) == made.kit()
        assert kit_problems(kit, LIBRARY) == []


def test_a_plain_list_is_recognised() -> None:
    made = drafted("bom/plain.csv")
    assert set(states(made).values()) == {"recognised"}
    by_ref = {line.ref: line for line in made.lines}
    assert by_ref["C1"].footprint == "CHIP-0603"
    assert by_ref["C1"].source.endswith("plain.csv:2")
    assert not made.questions


def test_without_a_library_footprints_are_built_and_put_into_the_kit() -> None:
    made = drafted("bom/plain.csv", library=Library())
    assert len(made.footprints) == 4
    assert all(f.source.startswith("assumed: built") for f in made.footprints)
    assert kit_problems(made.kit(), Library()) == []


@pytest.mark.parametrize(
    ("package", "footprint"),
    [
        ("SO16W", "SOIC-16W"),  # JEDEC MS-013, 7.5 mm wide
        ('16-SOIC (0.295", 7.50mm Width)', "SOIC-16W"),
        ("SOIC-16", "SOIC-16"),
        ("TSSOP20", "TSSOP-20"),  # and not the quarter-size outline of 0.635 mm
        ("1x06", "HEADER-1X6-2.54"),  # and not a box header of two rows
        ("DO-214AC", "SMA"),
        ("CP_Radial_D5.0mm_P2.00mm", "ELCO-RADIAL-2-D5"),  # and not a light-emitting diode
    ],
)
def test_the_librarys_own_part_is_found(tmp_path: Path, package: str, footprint: str) -> None:
    path = tmp_path / "b.csv"
    quoted = package.replace('"', '""')
    path.write_text(f'Ref,Value,Package\nX1,x,"{quoted}"\n')
    assert draft([path], LIBRARY).lines[0].footprint == footprint


def test_references_that_differ_in_case_are_two_parts(tmp_path: Path) -> None:
    path = tmp_path / "b.csv"
    path.write_text("Ref,Value,Package\nRV1,a,R_0805_2012Metric\nRv1,b,R_1206_3216Metric\n")
    made = draft([path], LIBRARY)
    assert [line.footprint for line in made.lines] == ["CHIP-0805", "CHIP-1206"]


def test_bare_codes_are_asked_about_and_answers_change_the_kit() -> None:
    made = drafted("bom/bare_codes.csv")
    assert states(made) == {"R1": "guessed", "C1": "guessed", "C2": "guessed", "R3": "recognised"}
    asked = question(made, "R1")
    assert asked.default == "0603 (1608 metric)"
    assert asked.choices == ("0603 (1608 metric)", "0201 (0603 metric)")
    settled = answer(made, asked.id, "0201 (0603 metric)")
    line = next(line for line in settled.lines if line.ref == "R1")
    assert (line.state, line.footprint) == ("recognised", "CHIP-0201")
    assert "your answer" in line.from_what
    again = answer(settled, asked.id, "")
    assert states(again) == states(made)
    with pytest.raises(KeyError):
        answer(made, "no such question", "x")


def test_unknown_packages_stay_out_until_they_are_answered() -> None:
    made = drafted("bom/unknown_packages.csv")
    assert states(made)["U1"] == "unknown"
    assert "U1" not in {p.refs for p in made.placements}
    assert '# - refs: "U1"' in kit_yaml(made)
    asked = question(made, "U1")
    assert asked.default is None
    named = answer(made, asked.id, "SOIC-14")
    assert states(named)["U1"] == "recognised"
    free = answer(made, asked.id, "TSSOP-20_4.4x6.5mm_P0.65mm")  # any readable name will do
    assert states(free)["U1"] == "recognised"
    out = answer(made, asked.id, LEAVE_OUT)
    assert states(out)["U1"] == "ignored"
    nonsense = answer(made, asked.id, "ZORK-78")
    assert states(nonsense)["U1"] == "unknown"


def test_choices_fit_the_kind_of_part(tmp_path: Path) -> None:
    path = tmp_path / "b.csv"
    path.write_text("Ref,Value,Package\nRV1,potentiometer 10k,See drawing\nU1,core,ZORK\n")
    asked = question(draft([path], LIBRARY), "RV1")
    found = [LIBRARY.get(choice) for choice in asked.choices[:-1]]
    assert {f.family for f in found if f is not None} == {"potentiometer"}
    assert len(found) == sum(f.family == "potentiometer" for f in LIBRARY)
    assert asked.choices[-1] == LEAVE_OUT


def test_eaten_zeros_and_quantities_are_never_settled_silently() -> None:
    made = drafted("bom/zeros_eaten.csv")
    assert states(made) == {"C1": "guessed", "R1": "guessed", "R2": "recognised"}
    counted = drafted("bom/quantity_mismatch.csv")
    asked = question(counted, "R1")
    assert "quantity 4" in asked.text
    more = answer(counted, asked.id, asked.choices[1])
    assert [line.ref for line in more.lines] == ["R1", "R2", "R3", "R3_2", "U1"]
    assert kit_problems(more.kit(), LIBRARY) == []


def test_packages_in_other_fields_are_guesses_with_their_source() -> None:
    made = drafted("bom/package_in_description.csv")
    by_ref = {line.ref: line for line in made.lines}
    assert by_ref["U1"].state == "guessed"
    assert "description" in by_ref["U1"].from_what
    assert by_ref["J1"].footprint == "HEADER-1X4-2.54"
    assert by_ref["Q1"].state == "unknown"  # two packages are named
    numbered = {line.ref: line for line in drafted("bom/package_in_number.csv").lines}
    assert numbered["R1"].footprint == "CHIP-0805"
    assert numbered["C1"].footprint == "CHIP-0603"  # 1608 is metric
    assert numbered["U1"].state == "unknown"


def test_rows_that_nobody_solders_are_ignored_with_a_reason() -> None:
    made = drafted("bom/no_placements.csv")
    ignored = {line.ref: line.from_what for line in made.lines if line.state == "ignored"}
    assert set(ignored) == {"LOGO1", "H1", "H2", "FID1", "PCB", "BOX1", "W1", "SJ1", ""}
    assert all(ignored.values())


def test_leds_and_electrolytics_are_polarised_whatever_their_chip(tmp_path: Path) -> None:
    path = tmp_path / "b.csv"
    path.write_text(
        "Ref,Value,Package,Description\nD1,red,C_0805_2012Metric,\n"
        "C1,10u,C_1206_3216Metric,tantalum\nR1,1k,R_0805_2012Metric,\n"
    )
    polarised = {p.refs: p.polarised for p in draft([path], LIBRARY).placements}
    assert polarised == {"D1": True, "C1": True, "R1": None}


def test_lists_and_positions_are_joined_on_the_reference(tmp_path: Path) -> None:
    bom = tmp_path / "list.csv"
    bom.write_text("Ref,Value,Package\nR1,10k,R_0805_2012Metric\nU1,core,SOIC-8\n")
    made = draft([FILES / "centroid/bare_mm.csv", bom], LIBRARY)
    placed = {p.refs: p for p in made.placements}
    assert placed["R1"].positions[0].x_mm == 10.5
    assert placed["U1"].side == "bottom"
    assert set(states(made).values()) == {"recognised"}


def test_a_board_file_gives_footprints_positions_and_plane_links() -> None:
    made = drafted("board/four_layers.kicad_pcb")
    placed = {ref.strip(): p for p in made.placements for ref in p.refs.split(",")}
    assert made.boards[0].copper_layers == 4
    assert placed["R3"].side == "bottom"
    assert placed["J1"].links[0].spokes == 4
    assert placed["J2"].links[0].spokes == 0
    assert placed["U2"].links[0].group == "exposed"
    assert states(made)["R9"] == "ignored"  # marked as not fitted
    position = placed["U1"].positions[0]
    assert (position.x_mm, position.y_mm) == (10.0, 30.0)  # from the board's corner, y up


def test_what_only_the_board_shows_is_asked_about(tmp_path: Path) -> None:
    bom = tmp_path / "list.csv"
    bom.write_text("Ref,Value,Package\nU1,core,SOIC-8\nR1,10k,R_0805_2012Metric\n")
    made = draft([FILES / "board/four_layers.kicad_pcb", bom], LIBRARY)
    assert states(made)["R2"] == "ignored"
    asked = question(made, "R2")
    assert asked.default == LEAVE_OUT
    fitted = answer(made, asked.id, asked.choices[0])
    assert states(fitted)["R2"] == "recognised"


def test_one_reference_on_two_boards_gets_the_boards_name(tmp_path: Path) -> None:
    text = (FILES / "board/older_words.kicad_pcb").read_text()
    for name in ("left", "right"):
        (tmp_path / f"{name}.kicad_pcb").write_text(text)
    made = draft([tmp_path / "left.kicad_pcb", tmp_path / "right.kicad_pcb"], LIBRARY)
    assert {"R1", "right_R1"} <= set(states(made))
    assert kit_problems(made.kit(), LIBRARY) == []


def test_footprint_files_answer_for_packages_of_their_name(tmp_path: Path) -> None:
    bom = tmp_path / "list.csv"
    bom.write_text("Ref,Value,Package\nJ1,plug,Own:Plug_1x06-1MP_P1.00mm_Horizontal\n")
    made = draft([bom, FILES / "board/Plug_1x06-1MP.kicad_mod"], LIBRARY)
    assert states(made) == {"J1": "recognised"}
    footprint = made.footprints[0]
    assert footprint.pin_count == 6
    assert footprint.joint_count == 8


def test_fabrication_files_settle_and_check_packages(tmp_path: Path) -> None:
    files = [FILES / "fabrication/copper_top.gbr", FILES / "fabrication/metric.drl"]
    bom = tmp_path / "list.csv"
    bom.write_text("Ref,Value,Package\nR1,10k,R_0805_2012Metric\nJ1,plug,ZORK-3\nU1,core,SOIC-14\n")
    made = draft([*files, bom], LIBRARY)
    by_ref = {line.ref: line for line in made.lines}
    assert by_ref["R1"].state == "recognised"
    assert by_ref["J1"].state == "guessed"  # three holes, no name that says so
    assert "8 pads" in by_ref["U1"].from_what  # 14 pins do not fit 8 pads
    seen = {f.name: f for f in made.footprints}
    assert seen[by_ref["J1"].footprint or ""].through_hole


def test_listed_twice_is_told() -> None:
    assert any("listed twice" in note for note in drafted("bom/listed_twice.csv").notes)


def test_the_report_names_states_sources_and_choices() -> None:
    text = report_text(drafted("bom/unknown_packages.csv"))
    assert "Unknown, not in the kit yet (4)" in text
    assert "unknown_packages.csv:2" in text
    assert "choices:" in text


def test_the_command_writes_once_and_never_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "kit.yaml"
    assert draft_command([FILES / "bom/plain.csv"], out) == 0
    first = out.read_bytes()
    assert "5 recognised" in capsys.readouterr().out
    assert load_kit(out, LIBRARY).name == "kit"
    assert draft_command([FILES / "bom/plain.csv"], out) == 2
    assert out.read_bytes() == first
    assert "exists already" in capsys.readouterr().err


def test_the_command_tells_every_faulty_source_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "kit.yaml"
    sources = [tmp_path / "gone.csv", FILES / "bom/prose.csv", FILES / "bom/plain.csv"]
    assert draft_command(sources, out) == 2
    err = capsys.readouterr().err.splitlines()
    assert len(err) == 2
    assert not out.exists()
    assert draft_command([FILES / "bom/header_only.csv"], out) == 2
    assert draft_command([FILES / "fabrication/no_attributes.gbr"], out) == 2
    assert not out.exists()


@pytest.mark.parametrize(
    ("ref", "letters"),
    [
        ("R12", "R"),
        ("PSU_C5", "C"),
        ("LED3", "LED"),
        ("R1_EP", "R"),
        ("Voltmeter", "VOLTMETER"),
        ("7", ""),
    ],
)
def test_letters_of_references(ref: str, letters: str) -> None:
    assert ref_prefix(ref) == letters


def test_unknown_references_stay_in_the_kit_as_not_counted(tmp_path: Path) -> None:
    """A kit with holes in it says so with every verdict."""
    listing = tmp_path / "list.csv"
    listing.write_text(
        "Designator,Package,Value\nR1,0805,1k\nJ1,weird-thing,conn\nBattery Holder,odd,cell\n",
        encoding="utf-8",
    )
    made = draft([listing], load_library())
    written = parse_model(kit_yaml(made), Kit, name="kit.yaml").value
    assert written.not_counted == made.kit().not_counted == ("J1", "Battery_Holder")
    assert written.title == "kit drafted from list.csv"
    abroad = parse_model(kit_yaml(made, "CHF"), Kit, name="kit.yaml").value
    assert (written.currency, abroad.currency) == ("EUR", "CHF")


def one_line(tmp_path: Path, ref: str, **cells: str) -> DraftLine:
    """The drafted line of a list with this one part."""
    path = tmp_path / "one.csv"
    head = ",".join(["Reference", *cells])
    path.write_text(head + "\n" + ",".join([ref, *(f'"{c}"' for c in cells.values())]) + "\n")
    return draft([path], LIBRARY).lines[0]


@pytest.mark.parametrize(
    ("ref", "package", "ignored"),
    [
        ("H1", "MountingHole:MountingHole_3.2mm_M3", True),
        ("H2", "3.2mm_Mounting_Hole", True),
        (
            "J1",
            "Connector_Dsub:DSUB-9_Female_Horizontal_P2.77x2.84mm_MountingHolesOffset9mm",
            False,
        ),
        ("U1", "Module:Nano_WithMountingHoles", False),
        ("J2", "Jack_Panel_Mount", False),
        ("Q1", "Package_DirectFET:DirectFET_SJ", False),
        ("SJ1", "SJ_2", True),
        ("H3", "LED_0603_1608Metric", False),
        ("H4", "ABX-4711-2230", False),
        ("D7", "LED_SMD:LED_0603_1608Metric,TestPoint:TestPoint_Pad_1.0x1.0mm", False),
        ("TP6", "TestPoint:TestPoint_Pad_1.0x1.0mm", True),
    ],
)
def test_only_what_nobody_solders_is_ignored(
    tmp_path: Path, ref: str, package: str, ignored: bool
) -> None:
    line = one_line(tmp_path, ref, Value="x", Footprint=package)
    assert (line.state == "ignored") is ignored


@pytest.mark.parametrize(
    ("ref", "text", "footprint"),
    [
        ("X9", "1x10P 2mm female vertical black", "HEADER-1X10-2"),
        ("J1", "Pin header 1x06 vertical", "HEADER-1X6-2.54"),
        ("J2", "Conn_01x06", None),  # a symbol: poles without a pitch
        ("J3", "01x02 terminal block, screws", None),
        ("U4", "8DIP 8 way DIP switch", "DIP-SWITCH-8"),  # and no chip of eight pins
        ("F1", "plug with fuse and red light", None),
    ],
)
def test_texts_give_a_footprint_only_where_they_say_enough(
    tmp_path: Path, ref: str, text: str, footprint: str | None
) -> None:
    line = one_line(tmp_path, ref, Value="x", Description=text)
    assert line.footprint == footprint


def test_a_symbol_of_a_connector_offers_rows_of_its_poles(tmp_path: Path) -> None:
    path = tmp_path / "one.csv"
    path.write_text("Reference,Value\nJ2,Conn_01x06\n")
    assert "1x06_P2.54mm" in draft([path], LIBRARY).questions[0].choices


def test_a_name_with_several_positions_is_several_parts() -> None:
    made = drafted("centroid/same_name_twice.csv")
    assert [line.ref for line in made.lines] == ["R1", "PAD", "PAD_2"]
    assert any("PAD has several positions" in note for note in made.notes)


def test_a_loose_name_with_a_quantity_is_so_many_parts(tmp_path: Path) -> None:
    path = tmp_path / "loose.csv"
    path.write_text("References,Qty,Description\nR1,1,Resistor 0805\nJack,2,jack 3.5 mm\n")
    assert [line.ref for line in draft([path], LIBRARY).lines] == ["R1", "Jack_1", "Jack_2"]


def test_the_draft_as_data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "kit.yaml"
    assert draft_command([FILES / "bom/unknown_packages.csv"], out, as_data=True) in (0, 2)
    told = json.loads(capsys.readouterr().out)
    assert told["counts"]["unknown"] == 4
    assert {line["ref"] for line in told["lines"]} >= {
        ref for question in told["questions"] for ref in question["refs"]
    }
    assert all(question["answer"] is None for question in told["questions"])
    assert sum(told["counts"].values()) == len(told["lines"])


def test_the_kit_to_stdout_and_over_an_old_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert draft_command([FILES / "bom/plain.csv"], Path("-")) == 0
    told = capsys.readouterr()
    assert "5 recognised" in told.err
    out = tmp_path / "kit.yaml"
    out.write_text(told.out)
    assert len(load_kit(out, LIBRARY).placements) == 4
    out.write_text("old")
    assert draft_command([FILES / "bom/plain.csv"], out, force=True) == 0
    assert load_kit(out, LIBRARY).name == "kit"


def test_the_donor_lines_of_a_draft_work_once_their_marks_are_off(tmp_path: Path) -> None:
    text = kit_yaml(drafted("bom/plain.csv"))
    head, donors, tail = text.partition("# donors:\n")
    assert donors
    opened = head + "donors:\n" + re.sub(r"(?m)^# ", "", tail)
    opened = opened.replace('refs: "U1"\n', 'refs: "U1"\n    donor: old-set\n', 1)
    out = tmp_path / "kit.yaml"
    out.write_text(opened)
    kit = load_kit(out, LIBRARY)
    assert [donor.name for donor in kit.donors] == ["old-set"]
    assert {placement.refs for placement in kit.placements if placement.donor} == {"U1"}


def test_a_list_says_nothing_of_the_copper_and_a_board_does(tmp_path: Path) -> None:
    """Only the drawn fill tells which pins lie on planes."""
    path = tmp_path / "parts.csv"
    path.write_text("Ref,Value,Package\nJ1,row,PinHeader_1x03_P2.54mm\n")
    listed = draft([path], LIBRARY)
    assert [board.ties_known for board in listed.kit().boards] == [False]
    assert "ties_known: false" in kit_yaml(listed)
    assert [board.ties_known for board in drafted("board/four_layers.kicad_pcb").boards] == [True]
