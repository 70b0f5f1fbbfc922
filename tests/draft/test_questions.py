"""Choices of a question come from the one search that all faces use."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.draft.drafting import answer, draft
from solderrisk.draft.lookup import ASK_EACH
from solderrisk.draft.resolve import near_names
from solderrisk.files.loading import load_library
from solderrisk.model.draft import LEAVE_OUT, Draft, Part, Question
from solderrisk.packages.match import by_name

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


# A through-hole controller of our own making, 252 references and no column of packages. What a
# builder takes each for: value or words, how many, footprint; the last where the list asks.
LARGE = [
    *[
        (f"R:{value},", count, "RESISTOR-AXIAL-0.25W")
        for value, count in (("100", 14), ("470", 6), ("1k", 22), ("2k2", 5), ("4k7", 12))
    ],
    *[
        (f"R:{value},", count, "RESISTOR-AXIAL-0.25W")
        for value, count in (("10k", 30), ("22k", 6), ("47k", 5), ("100k", 15), ("1M", 4))
    ],
    *[
        (f"C:{value},", count, "CAP-DISC-5")
        for value, count in (("22p", 4), ("100p", 3), ("1n", 4), ("10n", 5), ("100n", 32))
    ],
    ("C:1u,", 6, "CAP-FILM-5"),
    ("C:10uF,electrolytic", 4, "ELCO-RADIAL-5"),
    ("C:470uF,electrolytic", 2, "ELCO-RADIAL-8"),
    ("C:100uF,electrolytic", 1, "ELCO-RADIAL-6.3"),
    ("D:1N4148,", 12, "DO-35"),
    ("D:1N4007,", 2, "DO-41"),
    ("D:red,LED 3 mm", 8, "LED-3MM"),
    ("Q:BC547,", 8, "TO-92"),
    ("Q:BC557,", 2, "TO-92"),
    ("Q:IRFZ44N,", 1, "TO-220"),
    ("U:ATmega328P-PU,", 1, "DIP-28-7.62"),
    ("U:TL072,", 4, "DIP-8"),
    ("U:CD4051BE,", 2, "DIP-16"),
    ("U:LM7805,", 1, "TO-220"),
    ("U:74HC595,", 1, "DIP-16"),
    ("U:NE555,", 1, "DIP-8"),
    ("U:QZ-77,", 1, "DIP-8"),
    ("Y:16MHz,crystal HC-49", 1, "HC-49U"),
    ("J:power,2.1 mm barrel jack", 1, "DC-JACK-2.1"),
    ("J:out,3.5 mm audio jack", 4, "AUDIO-JACK-3.5"),
    ("J:program,pin header 2x3", 1, "HEADER-2X3-2.54"),
    ("J:supply,screw terminal 2 pin 5.08", 1, "TERMINAL-1X2-5.08"),
    ("J:Conn_01x04,", 2, "HEADER-1X4-2.54"),
    ("SW:key,tactile switch 6x6", 4, "TACT-SWITCH-6"),
    ("SW:on,SPDT slide switch", 1, "SLIDE-SWITCH-SPDT"),
    ("SW:turn,rotary encoder with switch", 1, "ROTARY-ENCODER"),
    ("RV:100k,potentiometer", 4, "POT-9MM"),
    ("RV:10k,trimmer", 1, "TRIMMER-6"),
    ("K:5V,relay SPDT", 1, "RELAY-SPDT-5"),
    ("L:100uH,", 1, "INDUCTOR-AXIAL"),
    ("F:500mA,", 1, "FUSE-CLIP-5X20"),
    ("BZ:tone,buzzer 12mm", 1, "BUZZER-12"),
    ("DS:,16x2 LCD", 1, "DISPLAY-16X2"),
    ("H:M3,mounting hole", 2, ""),
]


def test_a_large_list_without_packages_is_done_in_fifteen_answers(tmp_path: Path) -> None:
    rows: list[str] = []
    truth: dict[str, str] = {}
    next_of: dict[str, int] = {}
    for said, count, name in LARGE:
        letters, _, words = said.partition(":")
        first = next_of.get(letters, 1)
        next_of[letters] = first + count
        refs = [f"{letters}{n}" for n in range(first, first + count)]
        truth |= dict.fromkeys(refs, name)
        rows.append(f"{' '.join(refs)},{words}")
    assert len(truth) == 252
    path = tmp_path / "list.csv"
    path.write_text("\n".join(["Reference,Value,Description", *rows]) + "\n", encoding="utf-8")
    made = draft([path], LIBRARY)
    while (asked := open_question(made)) is not None:
        assert len(made.answers) < 15
        wanted = {name_of(truth[ref]) for ref in asked.refs}
        same = next((c for c in asked.choices if {name_of(c)} == wanted), "")
        choice = same or (ASK_EACH if ASK_EACH in asked.choices else truth[asked.refs[0]])
        made = answer(made, asked.id, choice)
    given = {line.ref: line.footprint for line in made.lines if line.footprint}
    right = sum(given.get(ref) == name_of(name) for ref, name in truth.items() if name)
    parts = sum(bool(name) for name in truth.values())
    assert right >= 0.9 * parts, (right, parts)
    assert all(name_of(truth[ref]) == name for ref, name in given.items())


def open_question(made: Draft) -> Question | None:
    told = dict(made.answers)
    return next((q for q in made.questions if q.id not in told), None)


def name_of(said: str) -> str:
    known = by_name(said, LIBRARY)
    return known.name if known else said
