"""The grammar of package names against truths stated by hand.

``fixtures/outside_names.tsv`` holds the truths: EIA chip codes, JEDEC outline names,
IPC-7351 names and the habits of distributors and layout programs.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.packages.names import read_package
from solderrisk.packages.reading import Hint

NAMES = Path(__file__).parent / "fixtures" / "outside_names.tsv"


def outside_names() -> list[tuple[str, str, int | None, float | None]]:
    rows = []
    for line in NAMES.read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            name, letters, pins, pitch = line.split("\t")
            rows.append(
                (
                    name,
                    letters,
                    None if pins == "?" else int(pins),
                    None if pitch == "-" else float(pitch),
                )
            )
    return rows


def test_names_outside_any_library_are_answered_and_right() -> None:
    rows = outside_names()
    answered, wrong = 0, []
    for name, letters, pins, pitch in rows:
        reading = read_package(name, letters)
        if reading.state == "unknown" or reading.pins is None:
            continue
        answered += 1
        off = (
            pitch is not None
            and reading.pitch_mm is not None
            and abs(reading.pitch_mm - pitch) > 0.02
        )
        if reading.pins != pins or off:
            wrong.append((name, reading.pins, reading.pitch_mm))
    assert len(rows) >= 150
    assert answered >= 0.85 * len(rows)
    assert len(wrong) <= 0.01 * answered, wrong


@pytest.mark.parametrize("name", [n for n, _, pins, _ in outside_names() if pins is None])
def test_what_nobody_can_know_is_unknown(name: str) -> None:
    assert read_package(name).state == "unknown"


@pytest.mark.parametrize("code", ["0402", "0603", "1210", "0201", "C0603", "r_0402"])
def test_bare_codes_of_both_systems_are_ambiguous_and_read_as_imperial(code: str) -> None:
    reading = read_package(code, "C")
    assert reading.state == "ambiguous"
    assert len(reading.choices) == 2
    assert reading.choices[0].body != reading.choices[1].body
    assert reading.chip is not None
    assert reading.chip in code


@pytest.mark.parametrize(
    ("name", "body"),
    [
        # EIA codes: imperial CCDD is 0.CC x 0.DD inch, metric AABB is A.A x B.B mm
        ("R_0603_1608Metric", (1.6, 0.8)),
        ("0603M", (0.6, 0.3)),
        ("0402 metric", (0.4, 0.2)),
        ("0805 (2012 Metric)", (2.0, 1.25)),
        ("2512", (6.3, 3.2)),
        ("3216", (3.2, 1.6)),
    ],
)
def test_chip_codes_give_their_body(name: str, body: tuple[float, float]) -> None:
    reading = read_package(name, "R")
    assert reading.state == "known"
    assert reading.body == body


@pytest.mark.parametrize("code", ["603", "402", "201"])
def test_eaten_zeros_are_asked_about(code: str) -> None:
    reading = read_package(code, "C")
    assert reading.state == "ambiguous"
    assert "eaten" in reading.why
    assert reading.chip == f"0{code}"


def test_contradicting_codes_are_ambiguous() -> None:
    assert read_package("R_0603_3216Metric", "R").state == "ambiguous"


@pytest.mark.parametrize(
    ("name", "pins"),
    [
        ("SOT-23", 3),  # the number after SOT- is no pin count
        ("SOT-353", 5),
        ("SOT-363", 6),
        ("SOT-223", 4),
        ("SOT-323_SC-70", 3),
        ("DFN1006-3", 3),  # the digits are the body
        ("R_Array_Convex_4x0402", 8),
        ("QFN-40-32-2EP_6x8mm_P0.5mm", 32),
        ("TO-5-2", 2),  # and no TO-52
        ("SOT95P280X145-5N", 5),
        ("QFN50P500X500X100-33N", 33),  # IPC-7351: the last number counts the exposed pad
        ("SW_DIP_SPSTx08_Slide_W7.62mm_P2.54mm", 16),
        ("CP_Elec_10x10", 2),  # no rows x columns
    ],
)
def test_numbers_that_mislead(name: str, pins: int) -> None:
    assert read_package(name).pins == pins


@pytest.mark.parametrize(
    "name",
    [
        "Layout11x11",
        "SOT-1234-1",
        "PowerXY_SO-8",
        "R_Shunt_2512",
        "DIP-8-N7_W7.62mm",
        "Plug_2x05_P1.27mm_Polarized",
    ],
)
def test_names_whose_pins_are_not_sure_stay_unknown(name: str) -> None:
    assert read_package(name).state == "unknown"


def test_what_is_only_usual_is_said_to_be_assumed() -> None:
    assert read_package("TQFP-32").assumed
    assert not read_package("TQFP-32_7x7mm_P0.8mm").assumed


def test_a_hint_settles_only_what_the_name_leaves_open() -> None:
    assert read_package("0805-XYZ").state == "unknown"
    assert read_package("0805-XYZ", "R").chip == "0805"
    assert read_package("3225", Hint("Y")).family == "crystal_smd"
    assert read_package("3225", Hint("C")).family == "chip"


def test_libraries_and_odd_letters_do_not_matter() -> None:
    for text in ("Caps:C_0805_2012Metric", "ｃ_０８０５_２０１２Metric", "'C_0805_2012Metric'"):
        assert read_package(text).chip == "0805"


@given(st.text(max_size=60))
@settings(max_examples=150, deadline=None)
def test_any_text_gets_an_answer(text: str) -> None:
    reading = read_package(text)
    assert reading.state in ("known", "unknown", "ambiguous")
    if reading.state == "ambiguous":
        assert reading.choices


@given(st.from_regex(r"(SOIC|QFN|TQFP|DIP|BGA|0603|SOT|TO)[-_ x0-9PEWM.m]{0,20}", fullmatch=True))
@settings(max_examples=150, deadline=None)
def test_names_that_nearly_fit_never_give_silly_sizes(text: str) -> None:
    reading = read_package(text)
    if reading.pins is not None:
        assert 0 <= reading.pins <= 2500
    if reading.pitch_mm is not None:
        assert 0.2 <= reading.pitch_mm <= 60


@pytest.mark.parametrize(
    ("name", "hint", "pins"),
    [
        # JEDEC names against coaxial plugs, crystals against chips, displays against rows
        ("SMA", Hint("D"), 2),
        ("SMA", Hint("J"), None),
        ("SMA", Hint("REF", "coax jack, board edge"), None),
        ("SMD3225-4P", Hint("U", "25MHz"), 4),
        ("SMD3225-4P", Hint("U"), None),
        ("LCD_16x02_Backlight", Hint("U"), None),
        ("2x 1x15 headers, 15.24 mm apart", Hint("A"), None),
        ("1220-SMD", Hint("B", "CR1220 holder"), None),
        ("bornier3", Hint("J"), 3),
        ("MA06-2", Hint("X"), 12),
        ("Resistor_Horizontal_RM7mm", Hint("R"), 2),
    ],
)
def test_the_line_around_a_name_decides_what_it_is(name: str, hint: Hint, pins: int | None) -> None:
    reading = read_package(name, hint)
    assert (reading.pins if reading.state != "unknown" else None) == pins


def test_connectors_with_mounting_pads_are_surface_mounted() -> None:
    assert read_package("JST_GH_SM02B_1x02-1MP_P1.25mm_Horizontal").through_hole is False
    assert read_package("SOIC-16 wide").named == "SOIC-16W"  # JEDEC MS-013


def test_several_footprints_in_one_cell_are_ambiguous() -> None:
    reading = read_package("Diode_SMD:D_SOD-123,Diode_SMD:D_SOD-323_HandSoldering", "D")
    assert reading.state == "ambiguous"
    assert [choice.outline for choice in reading.choices] == ["SOD-123", "SOD-323"]
    same = read_package("Diode_SMD:D_SMA,Diode_SMD:D_SMA_Handsoldering", "D")
    assert (same.state, same.outline) == ("known", "SMA")
