"""Choices of a question come from the one search that all faces use."""

from __future__ import annotations

import pytest

from solderrisk.draft.lookup import near_names
from solderrisk.files.loading import load_library
from solderrisk.model.draft import Part

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
