"""Advice, difficulty statement and ladder as text."""

from __future__ import annotations

import re

from solderrisk.files.loading import load_builder
from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Bench
from solderrisk.model.builder import Level
from solderrisk.plan.practice import ladder
from solderrisk.plan.results import Advice, Assessment, StatementCell
from solderrisk.report.planning import advice_text, ladder_text, statement_text
from solderrisk.risk.results import Range
from tests.report.samples import around, statement_sample

CHANCE = Range(0.7, 0.8, 0.9)


def advice(**changes: object) -> Advice:
    values = {
        "reached": True, "buys": ("gel flux", "head loupe"), "practice": ("60 joints of hot air",),
        "price": 43.0, "hours": 4.66, "chance": CHANCE, "text": "With this the chance is 80 %",
        "tried": 31,
    }  # fmt: skip
    return Advice(**{**values, **changes})  # type: ignore[arg-type]


def test_advice() -> None:
    assert advice_text(advice(), "EUR").splitlines() == [
        "With this the chance is 80 %.",
        "  buy: gel flux",
        "  buy: head loupe",
        "  practise: 60 joints of hot air",
        "  together 43.00 EUR, 4.7 h of practice",
        "  chance then 80 % (70..90); 31 sets looked at",
        "  prices are invented round figures; give your own with --prices FILE",
    ]


def test_one_set_is_one_set() -> None:
    assert "; 1 set looked at" in advice_text(advice(tried=1), "EUR")


def test_advice_that_asks_for_nothing() -> None:
    none = advice_text(advice(buys=(), practice=(), price=0.0, hours=0.0), "EUR")
    assert "together" not in none
    assert "prices" not in none


def test_statement(easy: Assessment) -> None:
    told = statement_text(easy.kit, statement_sample())
    row = next(line for line in told.splitlines() if line.startswith("never soldered"))
    assert re.split(r"\s{2,}", row) == [
        "never soldered",
        "10 % (0..20)",
        "15 % (5..25)",
        "20 % (10..30)",
    ]
    assert "everywhere: fit U1; lift U1" in told  # one line where all say the same
    assert "'Works' means" in told
    assert max(map(len, told.splitlines())) <= 80


def test_many_benches_make_more_tables(easy: Assessment) -> None:
    benches = [f"a bench with a long name, number {n}" for n in range(7)]
    cells = tuple(
        StatementCell(level, bench, around(0.5), ())
        for level in ("never", "trained") for bench in benches
    )  # fmt: skip
    told = statement_text(easy.kit, cells)
    assert max(map(len, told.splitlines())) <= 80
    assert told.count("never soldered") == 3  # of seven benches, three to a table
    assert "everywhere: nothing stands out" in " ".join(told.split())


def test_columns_of_a_statement_never_touch(easy: Assessment) -> None:
    widest = Range(0.998, 0.9991, 0.9999)  # the longest figure there is
    cells = tuple(
        StatementCell("trained", bench, widest, ()) for bench in ("bare", "decent", "well-equipped")
    )
    row = next(r for r in statement_text(easy.kit, cells).splitlines() if r.startswith("trained"))
    assert len(re.split(r"(?<=\)) +", row.removeprefix("trained").strip())) == 3


def test_equal_work_is_told_once_whatever_its_order(easy: Assessment) -> None:
    def cell(level: Level, bench: str, *decisive: str) -> StatementCell:
        return StatementCell(level, bench, around(0.5), decisive)

    cells = (
        cell("never", "bare", "fit:U1", "wire:W1"),
        cell("never", "decent", "wire:W1", "fit:U1"),
        cell("few", "bare", "wire:W1", "fit:U1"),
        cell("few", "decent", "fit:U2"),
    )
    told = statement_text(easy.kit, cells)
    assert "never soldered on any bench; a kit or two on bare: fit U1; wire W1" in told
    assert "a kit or two on decent: fit U2" in told


def test_a_bench_says_what_it_is(easy: Assessment) -> None:
    bench = Bench(name="bare", title="one plain iron")
    assert "bare: one plain iron" in statement_text(easy.kit, statement_sample(), [bench])


def test_ladder() -> None:
    steps = ladder(load_builder("newcomer"), load_reference())
    told = ladder_text(steps)
    assert max(map(len, told.splitlines())) <= 80
    flat = " ".join(told.split())
    for step in steps:
        assert step.title in flat
        assert f"pass mark: {step.marks[0].told}" in flat
        assert step.counting in flat
        assert all(" ".join(line.split()) in flat for line in step.steps)
    assert "joints with no faults" in flat  # single joints are counted as before
    assert "parts (40 joints) with none of them spoiled" in flat
