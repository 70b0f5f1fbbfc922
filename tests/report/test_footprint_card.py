"""A definition as text: to scale, with its figures and what they rest on."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from solderrisk.files.loading import load_library
from solderrisk.report.to_scale import (
    HOLE,
    LAND,
    PIN_ONE,
    WIDTH,
    footprint_card,
    footprint_svg,
    found_text,
)

LIBRARY = load_library()


def card(name: str) -> list[str]:
    footprint = LIBRARY.get(name)
    assert footprint is not None
    return footprint_card(footprint).splitlines()


def test_every_card_fits_the_screen_and_says_what_it_rests_on() -> None:
    for footprint in LIBRARY:
        text = footprint_card(footprint)
        assert max(map(len, text.splitlines())) <= WIDTH, footprint.name
        assert footprint.name in text
        assert "rests on" in text
        assert text.count(PIN_ONE)
        assert footprint.drawing is None or "drawing" in text


def test_lands_are_drawn_to_scale() -> None:
    # Two lands of 0.95 x 0.9 mm, 0.65 mm apart: by hand, 0.9 : 0.65 along the row
    picture = [line for line in card("CHIP-0603") if LAND in line and "land" not in line]
    runs = [re.findall(f"{LAND}+", line.replace(PIN_ONE, LAND)) for line in picture]
    assert all(len(run) == 2 for run in runs)
    row = picture[0].replace(PIN_ONE, LAND)
    land = len(runs[0][0])
    gap = row.rindex(LAND) + 1 - row.index(LAND) - len(runs[0][0]) - len(runs[0][1])
    assert land / gap == pytest.approx(0.9 / 0.65, rel=0.12)
    # A cell is twice as high as wide: 0.95 mm over the rows, 0.9 mm over the columns
    assert 2 * len(picture) / land == pytest.approx(0.95 / 0.9, rel=0.15)


def test_holes_figures_and_others_are_named() -> None:
    text = "\n".join(card("DIP-8"))
    assert HOLE in text
    assert "hole 0.8" in text or "hole 0.9" in text
    assert "rows 7.62 mm apart" in text
    assert "JEDEC MS-001" in text
    found = LIBRARY.search("0603").found
    assert "LED-0603" in footprint_card(found[0], found)


def test_a_list_says_which_word_it_had_to_leave_out() -> None:
    lines = found_text(LIBRARY.search("frobnicated rotary encoder")).splitlines()
    assert "'frobnicated'" in lines[0]
    assert lines[1].startswith("ROTARY-ENCODER ")


def test_the_picture_is_also_a_drawing_in_millimetres() -> None:
    footprint = LIBRARY.get("DIP-8")
    assert footprint is not None
    svg = ElementTree.fromstring(footprint_svg(footprint))
    circles = [c for c in svg if c.tag.endswith("circle")]
    # Eight lands and eight holes; rows 7.62 mm apart, pins 2.54 mm
    assert len(circles) == 16
    assert {abs(float(c.attrib["cx"])) for c in circles} == {3.81}
    assert {abs(float(c.attrib["cy"])) for c in circles} == {1.27, 3.81}
    assert svg.attrib["width"].endswith("mm")
