"""The report as plain text."""

from __future__ import annotations

import unicodedata

import pytest

from solderrisk.plan.results import Assessment
from solderrisk.report.groups import part_cards
from solderrisk.report.text import text, wrapped
from tests.report.conftest import Assessed
from tests.report.samples import renamed

COLUMNS = 80


def columns(line: str) -> int:
    """Cells of a terminal; Unicode's East Asian wide characters take two (UAX 11)."""
    return sum(2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in line)


@pytest.mark.parametrize("kit", ["river-recorder", "rain-counter", "water-lamp"])
@pytest.mark.parametrize("bench", ["bare", "well-equipped"])
def test_fits_a_terminal(demo: Assessed, kit: str, bench: str) -> None:
    told = text(demo(kit, bench, "hobbyist"), cards=True)
    assert max(map(columns, told.splitlines())) <= COLUMNS
    assert told.endswith("\n")
    assert not told.endswith("\n\n")


@pytest.mark.parametrize(
    "name", ["水位計" * 60, "x" * 300, "a " * 150], ids=["wide letters", "one word", "many words"]
)
def test_fits_whatever_people_write(easy: Assessment, name: str) -> None:
    told = text(renamed(easy, name), cards=True)
    assert max(map(columns, told.splitlines())) <= COLUMNS


def test_names_cannot_steer_the_terminal(easy: Assessment) -> None:
    told = text(renamed(easy, "a\x1b[2J\x07b\rc\nd"), cards=True)
    assert all(c == "\n" or c.isprintable() for c in told)
    assert "a [2J b c d" in told  # controls leave a gap, they are not swallowed


def test_says_it_all(hard: Assessment) -> None:
    told = flat(text(hard, cards=True))
    assert hard.verdict.headline.upper() in told
    for finding in hard.findings:
        assert flat(finding.text) in told
    for key in hard.verdict.top:
        assert key.replace(":", " ") in told
    for stage in hard.order.stages:
        assert flat(stage.title) in told
    for job in hard.jobs:
        if job.gate is not None:
            assert flat(job.gate.title) in told
    for card in hard.cards.values():
        assert all(flat(step) in told for step in card.steps)
        assert all(flat(caution) in told for caution in card.cautions)
    for note in hard.safety:
        assert all(flat(line) in told for line in note.text)
    for assumed in hard.assumptions:
        assert flat(assumed) in told


def flat(item: str) -> str:
    return " ".join(item.split())


def test_cards_only_on_demand(hard: Assessment) -> None:
    assert "TECHNIQUE CARDS" not in text(hard)


def test_a_card_names_its_twins_but_not_itself(hard: Assessment) -> None:
    told = flat(text(hard, cards=True))
    part = next(p for p in part_cards(hard) if p.keys[0] == "fit:R1")
    assert len(part.keys) == 36
    assert f"Fit R1: {part.risk.job.title} (also fit R2-R36)" in told


def test_blocked_work_says_what_it_takes(lacking: Assessment) -> None:
    told = flat(text(lacking, cards=True))
    assert "NOT MANAGEABLE" in told
    assert "blocker: U1, U2" in told
    assert "Not possible on this bench" in told


def test_folding_keeps_its_indents() -> None:
    rows = wrapped("one two " * 20, 4, 8)
    assert rows[0].startswith("    one")
    assert all(row.startswith((" " * 8 + "o", " " * 8 + "t")) for row in rows[1:])
    assert wrapped("") == []
