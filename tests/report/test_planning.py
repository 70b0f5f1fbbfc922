"""Advice, difficulty statement and ladder as text."""

from __future__ import annotations

import re

from solderrisk.files.loading import load_builder
from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Bench, Level
from solderrisk.model.plan_data import PricedTool
from solderrisk.plan.practice import ladder
from solderrisk.plan.results import Advice, Assessment, Gain, Judgement, StatementCell, Training
from solderrisk.report.people import counting_words, mark_words
from solderrisk.report.planning import advice_text, gains_table, ladder_text, statement_text
from solderrisk.risk.results import Range
from tests.report.samples import around, statement_sample
from tests.report.samples import cell as made_cell

CHANCE = Range(0.7, 0.8, 0.9)


def tool(title: str, price: float) -> PricedTool:
    adds = Bench(name="x")
    return PricedTool(id="x", title=title, price=price, adds=adds, source="assumed")


def advice(**changes: object) -> Advice:
    values = {
        "reached": True, "buys": (tool("gel flux", 9.0), tool("head loupe", 30.0)),
        "practice": (Training("hot_air", "hot air and reflow", 60, 4.66, 4.0),),
        "chance": CHANCE, "judgement": Judgement("yes", 0.85), "wanted": 0.7, "tried": 31,
    }  # fmt: skip
    return Advice(**{**values, **changes})  # type: ignore[arg-type]


def test_advice() -> None:
    assert advice_text(advice(), (), "EUR").splitlines()[:6] == [
        "With this it is a yes: 80 % (70..90), 70 % wanted; no cheaper set does.",
        "  + gel flux, 9.00 EUR",
        "  + head loupe, 30.00 EUR",
        "  + practise hot air and reflow, 60 joints, 4.00 EUR, 4.7 h",
        "  together 43.00 EUR, 4.7 h of practice",
        "  31 combinations tried",
    ]


def test_advice_that_asks_for_nothing() -> None:
    none = advice_text(advice(buys=(), practice=()), (), "EUR")
    assert none.startswith("Nothing is needed: 80 % (70..90)")
    assert "together" not in none


def test_the_table_cuts_no_name_and_no_price() -> None:
    long = "hot-air station with three nozzles, a stand and a tin of everything else that one needs"
    table = (
        Gain(tool(long, 12345.0), 0.113, 0.02, 12345.0, ("lift:U1", "lift:U2", "fit:U3")),
        Gain(Training("hot_air", "hot air", 100, 0.7, 2.0), 0.02, 0.02, 4.0),
        Gain(tool("a lamp", 5.0), 0.0, 0.0, 5.0),
    )
    told = gains_table(table, "EUR")
    assert max(map(len, told)) <= 80
    flat = " ".join(" ".join(told).split())
    assert long in flat
    assert "12,345 EUR - +11.3 +2.0 helps lift U1, U2; fit U3" in flat
    assert "practise hot air, 100 joints 2.00 EUR 0.7 +2.0 +2.0" in flat
    assert "1 other thing in the list" in flat


def test_statement(easy: Assessment) -> None:
    told = statement_text(easy.kit, statement_sample(), 0.7)
    row = next(line for line in told.splitlines() if line.startswith("never soldered"))
    assert re.split(r"\s{2,}", row) == [
        "never soldered",
        "10 (0..20) ✘",
        "15 (5..25) ✘",
        "20 (10..30) ✘",
    ]
    assert "everywhere: fit U1; lift U1" in told  # one line where all say the same
    assert "'Works' means" in told
    assert max(map(len, told.splitlines())) <= 80


def test_many_benches_make_more_tables(easy: Assessment) -> None:
    benches = [f"a bench with a long name, number {n}" for n in range(7)]
    cells = tuple(
        made_cell(level, bench, around(0.5))
        for level in ("never", "trained") for bench in benches
    )  # fmt: skip
    told = statement_text(easy.kit, cells, 0.7)
    assert max(map(len, told.splitlines())) <= 80
    assert told.count("never soldered") == 3  # of seven benches, three to a table
    assert "everywhere: nothing stands out" in " ".join(told.split())


def test_columns_of_a_statement_never_touch(easy: Assessment) -> None:
    widest = Range(0.998, 0.9991, 0.9999)  # the longest figure there is
    cells = tuple(
        made_cell("trained", bench, widest) for bench in ("bare", "decent", "well-equipped")
    )
    rows = statement_text(easy.kit, cells, 0.7).splitlines()
    row = next(row for row in rows if row.startswith("trained"))
    assert len(re.split(r"(?<=✔) +", row.removeprefix("trained").strip())) == 3


def test_equal_work_is_told_once_whatever_its_order(easy: Assessment) -> None:
    def cell(level: Level, bench: str, *decisive: str) -> StatementCell:
        return made_cell(level, bench, around(0.5), *decisive)

    cells = (
        cell("never", "bare", "fit:U1", "wire:W1"),
        cell("never", "decent", "wire:W1", "fit:U1"),
        cell("few", "bare", "wire:W1", "fit:U1"),
        cell("few", "decent", "fit:U2"),
    )
    told = statement_text(easy.kit, cells, 0.7)
    assert "never soldered on any bench; a kit or two on bare: fit U1; wire W1" in told
    assert "a kit or two on decent: fit U2" in told


def test_a_bench_says_what_it_is(easy: Assessment) -> None:
    bench = Bench(name="bare", title="one plain iron")
    assert "bare: one plain iron" in statement_text(easy.kit, statement_sample(), 0.7, [bench])


def test_ladder() -> None:
    steps = ladder(load_builder("newcomer"), load_reference())
    told = ladder_text(steps)
    assert max(map(len, told.splitlines())) <= 80
    flat = " ".join(told.split())
    for step in steps:
        assert step.title in flat
        assert f"pass mark: {mark_words(step.marks[0])}" in flat
        assert counting_words(step) in flat
        assert all(" ".join(line.split()) in flat for line in step.steps)
    assert "joints with no fault" in flat  # single joints are counted as before
    assert "5 parts with none spoiled" in flat
