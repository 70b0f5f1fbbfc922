"""Choices of a question come from the one search that all faces use."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.drafting import draft
from solderrisk.draft.lookup import near_names
from solderrisk.files.loading import load_library
from solderrisk.model.draft import LEAVE_OUT, Draft, Part

LIBRARY = load_library()


@pytest.mark.parametrize(
    ("part", "offered"),
    [
        (Part("SW1", "bom", package="tact switch"), "TACT-SWITCH-6"),
        (Part("X1", "bom", package="ZZ-77", description="screw terminal"), "TERMINAL-1X2-5.08"),
        (Part("D1", "bom", value="1N4148"), "DO-35"),
        (Part("U1", "bom", package="SOIC-9"), "SOIC-8"),
    ],
)
def test_words_of_the_line_offer_parts(part: Part, offered: str) -> None:
    found = near_names(part, LIBRARY)
    assert len(found) <= 3
    assert any(name.split("-5")[0] == offered.split("-5")[0] for name in found), found


def test_a_line_that_says_nothing_known_offers_nothing() -> None:
    assert near_names(Part("U1", "bom", package="QQXX"), LIBRARY) == ()


@pytest.mark.parametrize(
    ("said", "footprint"),
    [
        ("microcontroller 44 pin TQFP 0.8 mm", "TQFP-44-10X10"),
        ("48-LQFP MCU", "LQFP-48-7X7"),
        ("TSSOP, 20 pins, shift register", "TSSOP-20"),
        ("eeprom 8 pin SO", "SOIC-8"),
        ("PLCC 44 pins", "PLCC-44"),
        ("28 pin DIP micro", "DIP-28-15.24"),
    ],
)
def test_a_family_and_its_pins_said_apart_are_a_package(
    tmp_path: Path, said: str, footprint: str
) -> None:
    assert one_of(tmp_path, f'U1,"{said}"').lines[0].footprint == footprint


def test_offers_have_the_pins_that_the_line_says(tmp_path: Path) -> None:
    made = one_of(tmp_path, "U1,8 pin op-amp", "U2,14-pin logic", "U3,40 pin header DIP board")
    offered = {q.refs: q.choices for q in made.questions}
    assert offered["U1",] == ("DIP-8", "SOIC-8", LEAVE_OUT)
    assert offered["U2",] == ("DIP-14", "SOIC-14", LEAVE_OUT)
    assert "DIP-8" not in offered["U3",]


def one_of(tmp_path: Path, *rows: str) -> Draft:
    path = tmp_path / "list.csv"
    path.write_text("\n".join(["Reference,Description", *rows]) + "\n", encoding="utf-8")
    return draft([path], load_library())
