"""Advice: what it names is enough, and nothing of it can be left out."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.files.reference import load_reference, with_prices
from solderrisk.model.plan_data import with_tools
from solderrisk.model.question import Run, Stopped
from solderrisk.plan.advice import Training, advise, planned
from solderrisk.plan.results import Advice
from solderrisk.risk.engine import RiskEngine

REFERENCE = load_reference()
ASKED = open_inputs("rain-counter", "bare", "newcomer")
TOOLS = {tool.title: tool for tool in REFERENCE.plan.tools}
SKILLS = {skill.title: skill.id for skill in REFERENCE.risk.levels.skills}
TARGET = 0.65  # between what the bare bench gives and what all the tools in the list give
WANTED = ASKED.but(target=TARGET)


@pytest.fixture(scope="module")
def engine() -> RiskEngine:
    return RiskEngine(REFERENCE)


@pytest.fixture(scope="module")
def advice(engine: RiskEngine) -> Advice:
    return advise(WANTED, engine)


def chance(engine: RiskEngine, buys: tuple[str, ...], practice: tuple[str, ...]) -> float:
    """The chance with the advice followed, asked for as a face would: by its words."""
    joints: dict[str, float] = {}
    for item in practice:
        number, _, skill = item.partition(" joints: ")
        joints[SKILLS[skill]] = float(number)
    bench = with_tools(ASKED.bench, [TOOLS[title] for title in buys])
    return engine.assess(ASKED.but(bench=bench, practice=tuple(joints.items()))).working.mid


def test_following_the_advice_reaches_the_target(engine: RiskEngine, advice: Advice) -> None:
    assert advice.reached
    assert advice.proved
    assert advice.buys
    # The search ranks with fewer samples: within a point of the target.
    assert chance(engine, advice.buys, advice.practice) >= TARGET - 0.01
    assert chance(engine, (), ()) < TARGET - 0.02


def test_nothing_of_it_can_be_left_out(engine: RiskEngine, advice: Advice) -> None:
    parts = [(b, None) for b in advice.buys] + [(None, p) for p in advice.practice]
    for buy, exercise in parts:
        less = chance(
            engine,
            tuple(b for b in advice.buys if b != buy),
            tuple(p for p in advice.practice if p != exercise),
        )
        assert less < TARGET + 0.005


def test_prices_and_hours_add_up(advice: Advice) -> None:
    tools = sum(TOOLS[title].price for title in advice.buys)
    rungs = {e.skill: e for e in REFERENCE.plan.practice.exercises}
    hours = joints_price = 0.0
    for item in advice.practice:
        number, _, skill = item.partition(" joints: ")
        rung = rungs[SKILLS[skill]]
        hours += float(number) * rung.joint_minutes / 60
        joints_price += float(number) * rung.joint_price
    assert advice.hours == pytest.approx(hours)
    assert advice.price == pytest.approx(tools + joints_price)


def test_nothing_is_needed_where_the_chance_is_there(engine: RiskEngine) -> None:
    found = advise(ASKED.but(target=0.3), engine)
    assert found.reached
    assert (found.buys, found.practice, found.price, found.hours) == ((), (), 0.0, 0.0)
    assert found.text.startswith("Nothing is needed")


def test_out_of_reach_is_told_with_the_best_there_is(engine: RiskEngine) -> None:
    found = advise(ASKED.but(target=0.99999), engine)
    assert not found.reached
    assert "No set of tools and practice in the list reaches" in found.text
    assert found.chance.mid > chance(engine, (), ())


def test_caution_costs_more(engine: RiskEngine, advice: Advice) -> None:
    low = advice.chance.low
    assert low < TARGET
    wanted = low + 0.05
    plain = advise(ASKED.but(target=wanted), engine)
    careful = advise(ASKED.but(target=wanted), engine, cautious=True)
    assert careful.price + careful.hours > plain.price + plain.hours
    assert careful.reached <= (careful.chance.low >= wanted - 0.01)


def test_stops_when_told(engine: RiskEngine) -> None:
    calls: list[float] = []

    def progress(share: float, _: str) -> None:
        calls.append(share)

    with pytest.raises(Stopped):
        advise(WANTED, engine, run=Run(progress, lambda: len(calls) >= 5))
    assert len(calls) == 5
    assert all(0 <= a < b < 1 for a, b in pairwise(calls))


def test_practice_of_one_skill_adds_up() -> None:
    found = planned([Training("a", 100, 1, 1), Training("b", 50, 1, 1), Training("a", 200, 1, 1)])
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
