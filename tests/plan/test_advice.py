"""Advice: what it names is enough, and nothing of it can be left out."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.files.reference import load_reference, with_prices
from solderrisk.model.plan_data import with_tools
from solderrisk.model.question import Question, Run, Stopped
from solderrisk.plan.advice import advise, gains, planned
from solderrisk.plan.results import Advice, Training
from solderrisk.report.words import advice_line
from solderrisk.risk.engine import RiskEngine
from solderrisk.session import Session

REFERENCE = load_reference()
FEW = {"regulated_iron", "gel_flux", "loupe", "thin_solder", "hot_air", "microscope"}
TOOLS = tuple(tool for tool in REFERENCE.plan.tools if tool.id in FEW)
ASKED = open_inputs("rain-counter", "bare", "newcomer").but(
    reference=replace(REFERENCE, plan=replace(REFERENCE.plan, tools=TOOLS)), samples=1000
)
TARGET = 0.4  # between what the bare bench gives and what all the tools in the list give
WANTED = ASKED.but(target=TARGET)


@pytest.fixture(scope="module")
def engine() -> RiskEngine:
    return RiskEngine(REFERENCE)


@pytest.fixture(scope="module")
def advice(engine: RiskEngine) -> Advice:
    return advise(WANTED, engine)


def with_it(advice: Advice) -> Question:
    """The question with the advice followed."""
    return ASKED.but(
        bench=with_tools(ASKED.bench, advice.buys),
        practice=tuple((training.skill, float(training.joints)) for training in advice.practice),
    )


def odds(engine: RiskEngine, question: Question) -> float:
    """Share of what is not known under which the target is reached."""
    return float((engine.chances(question).samples >= TARGET).mean())


def test_following_the_advice_makes_the_verdict_a_yes(engine: RiskEngine, advice: Advice) -> None:
    assert advice.reached
    assert advice.proved
    assert advice.buys
    assert advice.judgement.answer == "yes"
    found = Session().assess(with_it(advice).but(target=TARGET))
    assert found.verdict.judgement.answer == "yes"
    assert Session().assess(WANTED).verdict.judgement.answer != "yes"


def test_nothing_of_it_can_be_left_out(engine: RiskEngine, advice: Advice) -> None:
    for item in advice.items:
        buys = tuple(tool for tool in advice.buys if tool is not item)
        practice = tuple(training for training in advice.practice if training is not item)
        less = replace(advice, buys=buys, practice=practice)
        # The search ranks with fewer samples than these.
        assert odds(engine, with_it(less)) < 0.8 + 0.02


def test_prices_and_hours_add_up(advice: Advice) -> None:
    rungs = {e.skill: e for e in REFERENCE.plan.practice.exercises}
    hours = sum(t.joints * rungs[t.skill].joint_minutes / 60 for t in advice.practice)
    price = sum(t.joints * rungs[t.skill].joint_price for t in advice.practice)
    assert advice.hours == pytest.approx(hours)
    assert advice.price == pytest.approx(price + sum(tool.price for tool in advice.buys))


def test_nothing_is_needed_only_where_the_verdict_is_yes(engine: RiskEngine) -> None:
    low = float(np.quantile(engine.chances(ASKED).samples, 0.2))
    found = advise(ASKED.but(target=0.95 * low), engine)
    assert found.reached
    assert (found.items, found.price, found.hours) == ((), 0.0, 0.0)
    assert found.judgement.answer == "yes"
    assert advice_line(found).startswith("Nothing is needed")
    close = ASKED.but(target=engine.chances(ASKED).working.mid - 0.005)
    assert Session().assess(close).verdict.judgement.answer == "open"
    assert advise(close, engine).items


def test_out_of_reach_is_told_with_the_best_there_is(engine: RiskEngine) -> None:
    found = advise(ASKED.but(target=0.99999), engine)
    assert not found.reached
    assert found.judgement.answer != "yes"
    assert advice_line(found).startswith("Nothing in the list makes it a yes")
    assert found.chance.mid > engine.chances(ASKED).working.mid


def test_caution_costs_more(engine: RiskEngine, advice: Advice) -> None:
    wanted = advice.chance.low + 0.02
    plain = advise(ASKED.but(target=wanted), engine)
    careful = advise(ASKED.but(target=wanted), engine, cautious=True)
    assert careful.price + careful.hours > plain.price + plain.hours
    assert careful.reached <= (careful.chance.low >= wanted - 0.01)


def test_single_things_by_what_they_give_for_their_cost(engine: RiskEngine) -> None:
    table = gains(ASKED, engine)
    assert {gain.item.title for gain in table} >= {"gel flux, rosin"}
    base = engine.chances(ASKED)
    for gain in table:
        if isinstance(gain.item, Training):
            continue
        alone = engine.chances(ASKED.but(bench=with_tools(ASKED.bench, [gain.item])))
        assert gain.alone == pytest.approx(alone.working.mid - base.working.mid)
        assert gain.together == gain.alone
    worth = [round(gain.alone, 4) / max(gain.cost, 0.5) for gain in table if not gain.enables]
    assert worth == sorted(worth, reverse=True)


def test_what_is_ticked_gives_nothing_more_and_changes_the_rest(engine: RiskEngine) -> None:
    alone = {gain.item.title: gain for gain in gains(ASKED, engine)}
    best = max(
        (gain for gain in alone.values() if not isinstance(gain.item, Training)),
        key=lambda gain: gain.alone,
    )
    assert not isinstance(best.item, Training)
    beside = {gain.item.title: gain for gain in gains(ASKED, engine, [best.item.id])}
    assert beside[best.item.title].together == 0.0
    assert beside[best.item.title].alone == best.alone
    assert any(gain.together != gain.alone for gain in beside.values() if gain.alone > 0.001)


def test_what_makes_work_possible_comes_first(engine: RiskEngine) -> None:
    hard = open_inputs("river-recorder", "bare", "hobbyist")
    hard = hard.but(reference=ASKED.reference, samples=300)
    table = gains(hard, engine)
    assert table[0].enables > 0
    assert table[0].helps
    assert not any(gain.enables for gain in table if gain.alone < 0)


def test_stops_when_told(engine: RiskEngine) -> None:
    calls: list[float] = []

    def progress(share: float, _: str) -> None:
        calls.append(share)

    with pytest.raises(Stopped):
        advise(WANTED, engine, run=Run(progress, lambda: len(calls) >= 5))
    assert len(calls) == 5
    assert all(0 <= a < b < 1 for a, b in pairwise(calls))


def test_practice_of_one_skill_adds_up() -> None:
    found = planned([Training(n, n, j, 1, 1) for n, j in (("a", 100), ("b", 50), ("a", 200))])
    assert found == {"a": 300, "b": 50}


def test_own_prices_take_the_place_of_the_packaged_ones(tmp_path: Path) -> None:
    file = tmp_path / "prices.yaml"
    file.write_text(
        "tools:\n  - {id: gel_flux, title: my flux, price: 1.5, source: 'assumed: a shop', "
        "adds: {name: f, fluxes: [{kind: rosin}]}}\n"
    )
    tools = {tool.id: tool for tool in with_prices(load_reference(), file).plan.tools}
    packaged = {tool.id: tool for tool in load_reference().plan.tools}
    assert (tools["gel_flux"].title, tools["gel_flux"].price) == ("my flux", 1.5)
    assert tools.keys() == packaged.keys()
    assert tools["hot_air"] == packaged["hot_air"]
