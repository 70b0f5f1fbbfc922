"""Bills of materials with the quirks of real ones: encodings, headers, references, rows."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from solderrisk.files.text import FileProblems
from solderrisk.readers.bom import bom_of, read_quantity
from solderrisk.readers.columns import clean_ref, read_refs, role_of
from solderrisk.readers.formats import read_source
from solderrisk.readers.reading import Reading, Row, find_delimiter, text_table

BOMS = Path(__file__).parent / "fixtures" / "bom"


def listed(name: str) -> Reading:
    return read_source(BOMS / name)[1]


def pairs(name: str) -> list[tuple[str, str]]:
    return [(ref, line.package) for line in listed(name).lines for ref in line.refs]


TWO = [("R1", "R_0805_2012Metric"), ("Q1", "SOT-23")]
THREE = [("R1", "R_0805_2012Metric"), ("R2", "R_0805_2012Metric"), ("U1", "SOIC-14")]
BOOK = [("R1", "R_0805_2012Metric"), ("R2", "R_0805_2012Metric"), ("U1", "SOIC-8")]
WIDE = [("R1", "R_0603_1608Metric"), ("D1", "SMB")]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("utf8_mark.csv", [("R1", "0805 (2012 Metric)"), ("C1", "1206 (3216 Metric)")]),
        (
            "semicolon_comma_decimals.csv",
            [("R1", "R_0805_2012Metric"), ("C1", "C_1206_3216Metric")],
        ),
        (
            "utf16le_tabs.csv",
            [("R1", "R_0603_1608Metric"), ("R2", "R_0603_1608Metric"), ("U1", "SOT-23-5")],
        ),
        ("utf16be_tabs.csv", WIDE),
        ("utf16le_no_mark.csv", WIDE),
        ("sep_line.csv", TWO),
        ("blanks_before_commas.csv", TWO),
        ("tape_column.csv", [("R1", ""), ("U1", "")]),
        (
            "wide_export.txt",
            [
                ("JP1", "1X05"),
                *((f"R{i}", "0207/10") for i in range(1, 5)),
                *((f"D{i}", "DO35") for i in range(1, 3)),
                *((f"T{i}", "TO92") for i in range(1, 4)),
            ],
        ),
        ("old_mac_lines.csv", TWO),
        ("pipes.csv", TWO),
        ("german.csv", [*THREE[:2], ("IC1", "SOIC-14")]),
        ("french.csv", THREE),
        ("chinese.csv", THREE),
        ("misspelled.csv", [("R1", "R_0805_2012Metric"), ("U1", "SOIC-8")]),
        ("size_column.csv", [("C1", "0805"), ("C2", "0805"), ("R1", "1206")]),
        ("part_is_reference.csv", [("R1", "R0805"), ("IC1", "SO08"), ("JP1", "1X02")]),
        ("part_is_number.csv", [("R1", "R_0805_2012Metric"), ("U1", "TQFP-32_7x7mm_P0.8mm")]),
        ("preamble.csv", BOOK),
        ("plain.xlsx", BOOK),
        ("plain.ods", BOOK),
        ("workbook_named.csv", BOOK),
        ("cover_sheet.xlsx", BOOK),
        ("far_styled_cell.xlsx", BOOK),
        (
            "no_header_tabs.tsv",
            [
                ("R1", "R_0805_2012Metric"),
                ("R2", "R_0805_2012Metric"),
                ("C1", "C_0603_1608Metric"),
                ("C2", "C_0603_1608Metric"),
                ("U1", "SOIC-14"),
            ],
        ),
        (
            "stray_inch_mark.csv",
            [("U1", '8-DIP (0.300")'), ("R1", "R_0805_2012Metric"), ("R2", "R_0805_2012Metric")],
        ),
        (
            "fixed_width.txt",
            [
                ("C1", "C0805"),
                ("C2", "E2,5-6"),
                ("IC1", "TQFP44"),
                ("R1", "0207/10"),
                ("X1", "HC49/S"),
            ],
        ),
        (
            "designation.csv",
            [
                ("C1", "C_0805_2012Metric"),
                ("C2", "C_0805_2012Metric"),
                ("U1", "SOIC-8_3.9x4.9mm_P1.27mm"),
            ],
        ),
    ],
)
def test_references_and_packages(name: str, expected: list[tuple[str, str]]) -> None:
    assert pairs(name) == expected


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("utf16le_tabs.csv", "UTF-16"),
        ("windows1252.csv", "Windows-1252"),
        ("mojibake.csv", "mended"),
        ("no_header.csv", "no header"),
        ("preamble.csv", "above the header"),
        ("fixed_width.txt", "width"),
        ("cover_sheet.xlsx", "not read: Cover"),
        ("date_cell.xlsx", "is a date"),
        ("no_references.csv", "no column of references"),
    ],
)
def test_what_had_to_be_done_is_told(name: str, word: str) -> None:
    assert any(word in note for note in listed(name).notes), listed(name).notes


def test_mended_letters() -> None:
    values = {line.refs[0]: line.value for line in listed("mojibake.csv").lines}
    assert values == {"C1": "100µF", "R1": "10kΩ"}


def test_ranges_spaces_and_lists() -> None:
    assert len(listed("ranges.csv").lines[0].refs) == 90
    assert listed("ranges.csv").lines[1].refs == ("R1", "R2", "R3", "R4", "R7")
    assert listed("ranges.csv").lines[2].refs == ("C1", "C2", "C3")
    assert listed("spaces.csv").lines[0].refs == ("R1", "R2", "R3")
    assert listed("semicolon_refs.csv").lines[0].refs == ("R1", "R2", "R3")
    assert not any(line.count_open for line in listed("ranges.csv").lines)


def test_names_that_are_no_usual_references() -> None:
    refs = [line.refs for line in listed("free_names.csv").lines]
    assert refs[0] == ("Cell_Holder",)
    assert refs[1] == ("U3A", "U3B")
    assert refs[2] == ("C18_2",)
    assert refs[3][0].startswith("LINE5")  # REF** names nothing
    assert refs[4] == ("PSU_C5",)


def test_a_quantity_that_contradicts_is_kept_open() -> None:
    lines = listed("quantity_mismatch.csv").lines
    assert [line.count_open for line in lines] == [True, False]
    assert not any(line.count_open for line in listed("per_boards.csv").lines)


def test_marks_before_references_are_no_part_of_them() -> None:
    refs = [line.refs for line in listed("marks_before.csv").lines]
    assert refs == [("R1",), ("R2", "R3"), ("C1", "C2", "C3")]


def test_text_with_commas_of_its_own_is_put_together() -> None:
    line = listed("commas_in_text.csv").lines[1]
    assert line.refs == ("X_IN", "X_OUT", "X_REF")
    assert (line.description, line.quantity, line.value) == ("Plug, female, panel edge", 3, "AB")


def test_every_column_that_describes_is_read() -> None:
    described = [line.description for line in listed("tape_column.csv").lines]
    assert described[0] == "Resistor 10k 1% 0805, thick film"
    assert described[1] == "gauge input; Operational amplifier SOIC-8"


def test_headings_and_totals_name_no_part() -> None:
    lines = listed("headings_and_totals.csv").lines
    assert [line.refs for line in lines] == [("R1",), (), ("C1",), ()]
    assert [line.ignored for line in lines if not line.refs] == [
        "a heading",
        "a total or a remark",
    ]


def test_a_shop_list_is_read_by_its_names() -> None:
    reading = listed("shop_list.csv")
    assert [len(line.refs) for line in reading.lines] == [2, 8, 1]
    assert "Diode Schottky DO-201AD" in (reading.lines[0].value, reading.lines[0].description)


def test_a_head_wider_than_any_row_is_no_fault() -> None:
    table = text_table("MPN,Description,Extra,Reference\nA1,Resistor 0805,,\n", "wide.csv")
    narrow = replace(table, rows=(table.rows[0], Row(2, ("A1", "Resistor 0805"))))
    assert bom_of([narrow], "wide.csv").lines


def test_rows_that_carry_on_the_row_above() -> None:
    assert listed("continued_rows.csv").lines[0].refs == ("R1", "R2", "R3", "R4")
    assert not listed("continued_rows.csv").lines[0].count_open


def test_not_fitted_by_column_value_and_heading() -> None:
    told = {line.refs[0]: bool(line.ignored) for line in listed("not_fitted.csv").lines}
    assert told == {"R1": False, "R2": True, "R3": True, "C1": True}
    told = {line.refs: bool(line.ignored) for line in listed("section_heading.csv").lines}
    assert told == {("R1",): False, (): True, ("R2",): True}


def test_workbook_traps() -> None:
    assert [p for _, p in pairs("zeros_kept_by_format.xlsx")] == ["0402", "0603", "0805"]
    assert [p for _, p in pairs("zeros_on_second_sheet.xlsx")] == ["0402", "0603", "0805"]
    assert [p for _, p in pairs("zeros_eaten.xlsx")] == ["402", "603", "0805"]
    assert [line.numeric_package for line in listed("zeros_eaten.xlsx").lines] == [
        True,
        True,
        False,
    ]
    assert [p for _, p in pairs("merged.xlsx")][:2] == ["R_0805_2012Metric"] * 2
    assert [r for r, _ in pairs("hidden_row.xlsx")] == ["R1", "R2", "R3", "U1"]
    assert listed("formula.xlsx").lines[0].quantity is None  # never calculated


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("empty.csv", "no parts list"),
        ("header_only.csv", "no parts below"),
        ("nul.csv", "NUL"),
        ("prose.csv", "no parts list"),
        ("far_value.xlsx", "far outside"),
        ("missing.csv", "no such file"),
        (".", "folder"),
    ],
)
def test_what_cannot_be_read_is_told_in_one_line(name: str, word: str) -> None:
    with pytest.raises(FileProblems, match=word) as caught:
        listed(name)
    assert len(caught.value.problems) == 1
    assert "\n" not in str(caught.value.problems[0])


@pytest.mark.parametrize(
    ("cell", "quantity", "refs"),
    [
        ("R1", 1, ("R1",)),
        ("C1, C2", 2, ("C1", "C2")),
        ("R1 R2  R3", None, ("R1", "R2", "R3")),
        ("R1;R2", 2, ("R1", "R2")),
        ("R1-R4,R7", 5, ("R1", "R2", "R3", "R4", "R7")),
        ("D1..D3", 3, ("D1", "D2", "D3")),
        ("R1 – R3", 3, ("R1", "R2", "R3")),
        ("SW1-2", 1, ("SW1_2",)),  # one part, so no range
        ("R9-R2", None, ("R9_R2",)),  # runs backwards: one name
        ("R1, R1", None, ("R1",)),
        ("U1A/U1B", None, ("U1A", "U1B")),
        ("Cell Holder", 1, ("Cell_Holder",)),
        ("REF**", 1, ()),
        ("R1, R2 (either)", 2, ("R1", "R2")),
        ("Ｒ１，Ｒ２", 2, ("R1", "R2")),
    ],
)
def test_reference_cells(cell: str, quantity: int | None, refs: tuple[str, ...]) -> None:
    assert read_refs(cell, quantity).refs == refs


def test_long_ranges_are_bounded() -> None:
    assert len(read_refs("R1-R999999").refs) == 1
    assert len(read_refs(",".join(f"R{i}" for i in range(1, 20000))).refs) <= 5000
    assert clean_ref("a b;c") == "a_b_c"


@pytest.mark.parametrize(
    ("header", "role"),
    [
        ("Designator", "refs"),
        ("Reference(s)", "refs"),
        ("Schematic Reference", "refs"),
        ("Package / Case", "package"),
        ("Qty.", "quantity"),
        ("Size", "package"),
        ("Designation", "value"),
        ("Mfr. Part #", "number"),
        ("Exact MPN/value", "number"),
        ("Gehäuse", "package"),
        ("Manufacturer", None),
        ("Unit Price", None),
        ("Datasheet", None),
    ],
)
def test_header_words(header: str, role: str | None) -> None:
    found = role_of(header)
    assert (found[0] if found else None) == role


@pytest.mark.parametrize(
    ("text", "number"),
    [("3", 3), ("3.0", 3), ("2 pcs", 2), ("", None), ("0", None), ("many", None), ("99999", None)],
)
def test_quantities(text: str, number: int | None) -> None:
    assert read_quantity(text) == number


def test_delimiters_are_counted_not_sniffed() -> None:
    assert find_delimiter('a;b;c\n"x,y";2,5;3\n') == ";"
    assert find_delimiter("a\tb\n1,5\t2\n") == "\t"
    assert find_delimiter("one word\nanother\n") == ""
    assert text_table("a;b\n1,5;2\n", "x.csv").decimal_comma


PROSE = [
    "10k 0805      R1\n100n 1206     C1,C2,C3\nNE555 SOIC-8  U1\n",
    "1. R1 10k 0805\n2. C1-C3 100n 1206\n3. U1 NE555 SOIC-8\n",
    "1) R1: 10k 0805\n2) C1, C2, C3 = 100n 1206\n3) U1 - NE555 SOIC-8\n",
    "- 10k 0805 (R1)\n- 100n 1206: C1, C2, C3\n* NE555 SOIC-8 (U1)\n",
    "1,R1,10k,0805\n2,C1 C2 C3,100n,1206\n3,U1,NE555,SOIC-8\n",
    "1;R1;10k;0805\n2;C1,C2,C3;100n;1206\n3;U1;NE555;SOIC-8\n",
    "R1 | 10k | 0805\nC1 C2 C3 | 100n | 1206\nU1 | NE555 | SOIC-8\n",
]


@pytest.mark.parametrize("text", PROSE)
def test_numbered_and_headless_rows(tmp_path: Path, text: str) -> None:
    path = tmp_path / "list.txt"
    path.write_text(text, "utf-8")
    reading = read_source(path)[1]
    assert [line.refs for line in reading.lines] == [("R1",), ("C1", "C2", "C3"), ("U1",)]
    ends = [f"{line.value} {line.package}".split()[-1] for line in reading.lines]
    assert ends == ["0805", "1206", "SOIC-8"]


def test_the_rule_below_a_head_is_no_row(tmp_path: Path) -> None:
    path = tmp_path / "list.md"
    path.write_text("| # | Ref | Package |\n|---|:---|--:|\n| 1 | R1 | 0805 |\n", "utf-8")
    (line,) = read_source(path)[1].lines
    assert line.refs == ("R1",)


def test_a_story_is_no_list(tmp_path: Path) -> None:
    path = tmp_path / "story.txt"
    path.write_text("1. Begin with R1.\n2. Wait a day\n3. Turn it over\n", "utf-8")
    with pytest.raises(FileProblems, match="no parts list"):
        read_source(path)


def test_order_numbers_are_no_references(tmp_path: Path) -> None:
    path = tmp_path / "list.md"
    path.write_text(
        "| LCSC Part | Package | Description | Quantity |\n|-|-|-|-|\n"
        "| C1234 | 0805 | chip capacitor | 3 |\n| C5678 | 0805 | chip resistor | 2 |\n"
    )
    lines = read_source(path)[1].lines
    assert [len(line.refs) for line in lines] == [3, 2]


def test_ranges_with_wide_or_double_dashes(tmp_path: Path) -> None:
    path = tmp_path / "list.md"
    path.write_text(
        "| Component | Value | Description |\n|-|-|-|\n| R1 - R3 | 1k | resistor |\n"
        "| C1 -- C2 | 1u | capacitor |\n"
    )
    lines = read_source(path)[1].lines
    assert [line.refs for line in lines] == [("R1", "R2", "R3"), ("C1", "C2")]


def test_words_in_a_column_without_a_head_and_remarks_are_read(tmp_path: Path) -> None:
    path = tmp_path / "list.md"
    path.write_text(
        "| Ref | Description | Remarks | |\n|---|---|---|---|\n| U1 | op amp | quad | SMD |\n"
    )
    (line,) = read_source(path)[1].lines
    assert line.description == "op amp; quad; SMD"


@pytest.mark.parametrize("head", ["Item", "No", "Line"])
def test_references_under_an_odd_head_are_references(tmp_path: Path, head: str) -> None:
    path = tmp_path / "list.csv"
    path.write_text(f"{head},Component,Description\nR1,resistor,1/4 W\nD1,diode,1N4007\n")
    assert [line.refs for line in read_source(path)[1].lines] == [("R1",), ("D1",)]


def test_items_are_words_where_nothing_else_describes(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("Item,Part number,Qty\npin header 1x8,ZZ-1,5\nresistor 0805,ZZ-2,1\n")
    lines = read_source(path)[1].lines
    assert [line.description for line in lines] == ["pin header 1x8", "resistor 0805"]
