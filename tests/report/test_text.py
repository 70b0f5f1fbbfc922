"""The report as plain text."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.plan.results import Assessment, Finding, Judgement
from solderrisk.report.findings import finding_text
from solderrisk.report.groups import part_cards
from solderrisk.report.order import title
from solderrisk.report.text import SECTIONS, text
from solderrisk.report.words import assumption_lines, headline, job_name
from solderrisk.session import Session
from solderrisk.words import wrapped
from tests.report.conftest import Assessed
from tests.report.samples import renamed

COLUMNS = 80


def columns(line: str) -> int:
    """Cells of a terminal; Unicode's East Asian wide characters take two (UAX 11)."""
    return sum(2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in line)


@pytest.mark.parametrize("kit", ["river-recorder", "rain-counter", "water-lamp"])
@pytest.mark.parametrize("bench", ["bare", "well-equipped"])
def test_fits_a_terminal(demo: Assessed, kit: str, bench: str) -> None:
    told = text(demo(kit, bench, "hobbyist"), show=["all"])
    assert max(map(columns, told.splitlines())) <= COLUMNS
    assert told.endswith("\n")
    assert not told.endswith("\n\n")


@pytest.mark.parametrize(
    "name", ["水位計" * 60, "x" * 300, "a " * 150], ids=["wide letters", "one word", "many words"]
)
def test_fits_whatever_people_write(easy: Assessment, name: str) -> None:
    told = text(renamed(easy, name), show=["all"])
    assert max(map(columns, told.splitlines())) <= COLUMNS


def test_names_cannot_steer_the_terminal(easy: Assessment) -> None:
    told = text(renamed(easy, "a\x1b[2J\x07b\rc\nd"), show=["all"])
    assert all(c == "\n" or c.isprintable() for c in told)
    assert "a [2J b c d" in told  # controls leave a gap, they are not swallowed


def test_says_it_all(hard: Assessment) -> None:
    told = flat(text(hard, show=["all"]))
    assert headline(hard.verdict.judgement).upper() in told
    for finding in hard.findings:
        assert flat(finding_text(finding)) in told
    for key in hard.verdict.top:
        assert job_name(hard.risk.by_key[key].job) in told
    for stage in hard.order.stages:
        assert flat(title(stage)) in told
    for job in hard.jobs:
        if job.gate is not None:
            assert flat(job.gate.title) in told
    for card in hard.cards.values():
        assert all(flat(step) in told for step in card.steps)
        assert all(flat(caution) in told for caution in card.cautions)
    for note in hard.safety:
        assert all(flat(line) in told for line in note.text)
    for assumed in assumption_lines(hard):
        assert flat(assumed) in told


def flat(item: str) -> str:
    return " ".join(item.split())


@pytest.mark.parametrize(
    ("kit", "bench"),
    [("river-recorder", "bare"), ("river-recorder", "well-equipped"), ("water-lamp", "bare")],
)
def test_the_answer_stands_on_one_screen(demo: Assessed, kit: str, bench: str) -> None:
    """24 rows of 80 columns: verdict, what changes it, what decides it, what is lost."""
    asked = open_inputs(kit, bench, "hobbyist").but(samples=300)
    found, session = demo(kit, bench, "hobbyist"), Session()
    told = text(found, session.gains(asked))
    rows = told.splitlines()
    assert len(rows) <= 24
    assert max(map(columns, rows)) <= COLUMNS
    assert headline(found.verdict.judgement).upper() in told
    assert "builder hobbyist" in rows[1]
    assert f"bench {bench}" in rows[1]
    for words in ("IF IT FAILS", "BEFORE YOU START", "NOT KNOWN", "MORE"):
        assert words in told
    assert ("WHAT WOULD CHANGE IT" in told) == (found.verdict.judgement.answer != "yes")
    assert ("WHAT DECIDES IT" in told) == found.verdict.judgement.possible


def test_copper_that_is_not_known_is_said_at_once(easy: Assessment) -> None:
    planes = Finding("caution", "ties_unknown", names=("main",), figures=(9.0, 3.0, 19.0))
    said = "NOT KNOWN  which pins lie on copper planes; "
    assert said in text(replace(easy, findings=(planes,)))
    assert said not in text(easy)


def test_the_answer_fits_whatever_people_write(easy: Assessment) -> None:
    for name in ("水位計" * 60, "x" * 300, "a " * 150):
        rows = text(renamed(easy, name)).splitlines()
        assert len(rows) <= 24
        assert max(map(columns, rows)) <= COLUMNS


@pytest.mark.parametrize("name", SECTIONS)
def test_sections_come_by_name(hard: Assessment, name: str) -> None:
    plain, more = text(hard), text(hard, show=[name])
    assert len(more.splitlines()) > len(plain.splitlines())
    assert len(more) < len(text(hard, show=["all"]))


def test_a_kit_without_prices_is_never_told_as_a_small_sum(easy: Assessment) -> None:
    costs = replace(easy.costs, unpriced=("R1", "R2", "R3"))
    told = flat(text(replace(easy, costs=costs), show=["costs"]))
    assert told.count("price of 3 parts not known") >= 3
    assert "price not known: R1-R3" in told


def test_with_many_parts_not_counted_no_percentage_is_told(easy: Assessment) -> None:
    judgement = Judgement("open", 0.9, True, missing=252, counted=20)
    found = replace(easy, verdict=replace(easy.verdict, judgement=judgement))
    told = text(found)
    assert "NOT DECIDED: 252 OF 272 PARTS ARE NOT COUNTED" in told
    assert "in 100" not in told
    assert "works 9" not in told


def test_a_card_names_its_twins_but_not_itself(hard: Assessment) -> None:
    told = flat(text(hard, show=["all"]))
    part = next(p for p in part_cards(hard) if p.keys[0] == "fit:R1")
    assert len(part.keys) == 36
    assert f"Fit R1: {part.risk.job.title} (also fit R2-R36)" in told


def test_blocked_work_says_what_it_takes(lacking: Assessment) -> None:
    told = flat(text(lacking, show=["all"]))
    assert "NOT MANAGEABLE" in told
    assert "blocker: U1, U2" in told
    assert "Not possible on this bench" in told


def test_folding_keeps_its_indents() -> None:
    rows = wrapped("one two " * 20, 4, 8)
    assert rows[0].startswith("    one")
    assert all(row.startswith((" " * 8 + "o", " " * 8 + "t")) for row in rows[1:])
    assert wrapped("") == []


@pytest.mark.parametrize(("own", "told"), [("CHF", True), ("EUR", False), ("", False)])
def test_prices_in_another_currency_are_said_to_be(easy: Assessment, own: str, told: bool) -> None:
    mine = replace(easy, builder=easy.builder.model_copy(update={"currency": own}))
    assert ("prices are in EUR, not CHF" in " ".join(text(mine).split())) is told
