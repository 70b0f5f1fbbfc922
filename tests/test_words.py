"""Figures and names in words."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.physics.results import Note, NoteKind
from solderrisk.report.words import grouped
from solderrisk.risk.results import Range
from solderrisk.words import (
    HEAT_NOTES,
    chance,
    folded,
    likely,
    money,
    note_words,
    one_line,
    percent,
    rate,
    short_list,
)


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "0 %"),
        (0.0004, "<0.1 %"),
        (0.004, "0.4 %"),
        (0.344, "34 %"),
        (0.9931, "99.3 %"),
        (0.99961, ">99.9 %"),
        (1.0, "100 %"),
    ],
)
def test_no_false_certainty(share: float, text: str) -> None:
    assert percent(share) == text


@settings(max_examples=200)
@given(st.floats(0, 1))
def test_no_estimate_is_told_as_certain(share: float) -> None:
    assert likely(share) not in {"100 %", "100.0 %"}
    assert "100.0" not in percent(share) + rate(share)
    assert share == 0 or percent(share) not in {"0 %", "0.0 %"}


def test_a_list_of_references_is_cut() -> None:
    assert short_list(["A", "B", "C"], 2) == "A, B and 1 more"
    assert short_list(["A", "B"], 2) == "A, B"
    assert rate(0.0005) == "0.05 %"


def test_a_chance_carries_its_range() -> None:
    assert chance(Range(0.48, 0.62, 0.74)) == "62 % (48..74)"
    assert chance(Range(0.0, 0.0, 0.0)) == "0 %"
    assert chance(Range(0.9996, 0.9997, 0.9999)) == ">99.9 %"
    assert chance(Range(0.9, 1.0, 1.0)) == ">99.9 % (90..>99.9)"


def test_runs_are_folded() -> None:
    assert folded(["R1", "R2", "R3", "R5", "C1", "C2"]) == "R1-R3, R5, C1, C2"
    assert folded(["R08", "R09", "R10"]) == "R08, R09, R10"  # R09 is another name than R9
    assert folded(["TP", "TP"]) == "TP, TP"
    assert grouped(["fit:R1", "lift:U1", "fit:R2", "fit:R3"]) == "fit R1-R3; lift U1"


@settings(max_examples=50)
@given(st.lists(st.tuples(st.sampled_from("RCU"), st.integers(0, 30)), max_size=20))
def test_folding_loses_no_reference(refs: list[tuple[str, int]]) -> None:
    names = [f"{letter}{number}" for letter, number in refs]
    back: list[str] = []
    for item in filter(None, folded(names).split(", ")):
        first, _, last = item.partition("-")
        start, stop = int(first[1:]), int((last or first)[1:])
        back += [f"{first[0]}{number}" for number in range(start, stop + 1)]
    assert back == names


def test_money_and_lines() -> None:
    assert money(104.953, "EUR") == "104.95 EUR"
    assert one_line("a\n b\x1b[31m\tc") == "a b [31m c"
    assert one_line("abcdef", 4) == "abc…"


def test_every_note_of_the_heat_model_has_words() -> None:
    assert set(HEAT_NOTES) == set(get_args(NoteKind))
    assert note_words(Note("steep", 4.25, 3.0)).startswith("heats at 4.2 K/s, above the 3 K/s")
