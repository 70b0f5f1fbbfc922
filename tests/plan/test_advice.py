"""Advice: what it names is enough, and nothing of it can be left out."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.files.reference import load_reference, with_prices
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.plan_data import PricedTool, with_tools
from solderrisk.model.question import Question, Run, Stopped
from solderrisk.plan.advice import advise, gains, planned
from solderrisk.plan.results import Advice, Gain, Training
from solderrisk.report.planning import advice_line
from solderrisk.risk.engine import Chances, RiskEngine
from solderrisk.session import Session
from tests.plan import kit_builder as make

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


def test_stops_when_told(engine: RiskEngine) -> None:
    calls: list[float] = []

    def progress(share: float, _: str) -> None:
        calls.append(share)

    with pytest.raises(Stopped):
        advise(WANTED, engine, run=Run(progress, lambda: len(calls) >= 5))
    assert len(calls) == 5
    assert all(0 <= a < b < 1 for a, b in pairwise(calls))


class ByHand:
    """An engine that answers as we say. ``adds``: to a chance of a half, by tool or skill;
    ``doubt``: so much less in a tenth of the worlds; ``many``: with more samples than the search
    takes; ``opens``: the job that a tool makes possible."""

    def __init__(self, adds: dict[str, float], doubt: float = 0.0, many: float = 0.0,
                 opens: dict[str, str] | None = None) -> None:  # fmt: skip
        self.adds, self.doubt, self.many, self.opens = adds, doubt, many, opens or {}
        self.shares: dict[str, dict[str, float]] = {}

    def chances(self, question: Question) -> Chances:
        have = (*question.bench.aids, *dict(question.practice))
        mid = 0.5 + sum(self.adds.get(name, 0.0) for name in have)
        if question.samples > 500:
            mid += self.many
        samples = np.array([mid - self.doubt] + 9 * [mid])
        shut = tuple(key for tool, key in self.opens.items() if tool not in have)
        return Chances(samples, shut, {}, lambda: self.shares[have[0] if have else ""])


PARTS = [make.part(f"U{n}", "SO", price_each=float(n)) for n in range(6)]


def priced(target: float, **prices: float) -> Question:
    """A question about six sorts of work with these tools for sale, each an aid by its name; an
    hour counts for 6. One skill: ten minutes and 0.5 a joint, 12 or 30 joints."""
    tools = tuple(
        PricedTool(id=name, title=name, price=price, adds=Bench(name=name, aids=(name,)),
                   source="assumed") for name, price in prices.items()
    )  # fmt: skip
    rung = REFERENCE.plan.practice.exercises[0]
    rung = rung.model_copy(update={"joint_minutes": 10.0, "joint_price": 0.5})
    ladder = REFERENCE.plan.practice.model_copy(update={"exercises": (rung,), "amounts": (12, 30)})
    reference = replace(REFERENCE, plan=replace(REFERENCE.plan, tools=tools, practice=ladder))
    kit = make.kit(placements=PARTS, hour_value=6.0)
    return Question(kit, Bench(name="b"), Builder(name="p"), make.LIBRARY, reference, target)


SKILL = REFERENCE.plan.practice.exercises[0].skill


def bought(question: Question, engine: ByHand, **more: bool) -> tuple[str, ...]:
    found = advise(question, engine, **more)  # type: ignore[arg-type]
    return tuple(tool.id for tool in found.buys) + tuple(t.skill for t in found.practice)


def test_the_cheapest_that_reaches_by_hand() -> None:
    """Half of all builds work; 0.6 is wanted. Practice of 12 joints is 6 and two hours: 18."""
    engine = ByHand({"a": 0.11, "b": 0.2, SKILL: 0.15})
    assert bought(priced(0.6, a=17.0, b=19.0), engine) == ("a",)
    assert bought(priced(0.6, a=19.0, b=17.5), engine) == ("b",)
    assert bought(priced(0.6, a=19.0, b=19.0), engine) == (SKILL,)
    assert bought(priced(0.5, a=19.0, b=19.0), engine) == ()


def test_caution_asks_the_worst_worlds_as_well() -> None:
    """In one world of ten the chance is 0.1 lower: four fifths agree without it."""
    engine, asked = ByHand({"a": 0.11, "b": 0.22}, doubt=0.1), priced(0.6, a=5.0, b=9.0)
    assert bought(asked, engine) == ("a",)
    assert bought(asked, engine, cautious=True) == ("b",)


def test_what_few_samples_find_is_asked_with_all_of_them() -> None:
    """With all samples each is 0.006 less: what reaches 0.6 by 0.002 does not, by 0.008 does."""
    engine, asked = ByHand({"a": 0.102, "b": 0.108}, many=-0.006), priced(0.6, a=5.0, b=9.0)
    assert bought(asked, engine) == ("b",)
    assert bought(asked, ByHand({"a": 0.106, "b": 0.2}, many=-0.003)) == ("a",)


def test_out_of_reach_by_hand() -> None:
    """All of it gives 0.613; what comes within a point of that at least cost is the one of 10."""
    engine, asked = ByHand({"a": 0.105, "b": 0.008}), priced(0.9, a=10.0, b=1.0)
    found = advise(asked, engine)  # type: ignore[arg-type]
    assert (found.reached, [tool.id for tool in found.buys]) == (False, ["a"])
    assert found.chance.mid == pytest.approx(0.605)
    assert found.judgement.answer == "no"
    shut = advise(priced(0.4, a=1.0), ByHand({}, opens={"c": "fit:U1"}))  # type: ignore[arg-type]
    assert not shut.judgement.possible


def gained(question: Question, engine: ByHand, *ticked: str) -> dict[str, Gain]:
    found = gains(question, engine, ticked)  # type: ignore[arg-type]
    return {g.item.skill if isinstance(g.item, Training) else g.item.id: g for g in found}


def test_most_for_its_cost_first_and_next_to_nothing_counts_as_a_half() -> None:
    """0.06 for 10 and 0.02 for 0.1, which counts as 0.5: 0.006 and 0.04 each. Of the practice
    12 joints at 18, 0.005 each; what takes from the chance comes last."""
    engine = ByHand({"a": 0.06, "b": 0.02, "c": -0.01, SKILL: 0.09})
    engine.shares = {name: {} for name in ("", "a", "b", "c", SKILL)}
    found = gained(priced(0.6, a=10.0, b=0.1, c=0.2), engine)
    assert list(found) == ["b", "a", SKILL, "c"]
    assert found[SKILL].cost == pytest.approx(18.0)
    assert found["a"].together == found["a"].alone == pytest.approx(0.06)
    beside = gained(priced(0.6, a=10.0, b=0.1, c=0.2), engine, "b")
    assert beside["b"].together == 0.0
    assert beside["a"].together == pytest.approx(0.06)


def test_whose_part_of_the_failure_shrinks_by_hand() -> None:
    """Failing in 0.5 of all, then in 0.375: U0 fails in 0.2, then 0.15; U1 0.1, then 0.025; U2 in
    0.002 and U3 in 0.0015, then in none; U4 as before. Two thousandths are told, less is not."""
    engine = ByHand({"a": 0.125})
    engine.shares = {
        "": {"fit:U0": 0.4, "fit:U1": 0.2, "fit:U2": 0.004, "fit:U3": 0.003, "fit:U4": 0.3},
        "a": {"fit:U0": 0.4, "fit:U1": 0.025 / 0.375, "fit:U4": 0.4},
        SKILL: {},
    }
    found = gained(priced(0.6, a=10.0), engine)
    assert found["a"].helps == ("fit:U1", "fit:U0", "fit:U2")
    engine.shares[""] = {f"fit:U{n}": 0.1 + 0.01 * n for n in range(6)}
    engine.shares["a"] = {}
    most = tuple(f"fit:U{n}" for n in (5, 4, 3, 2))
    assert gained(priced(0.6, a=10.0), engine)["a"].helps == most


def test_what_becomes_possible_is_told_and_nothing_else_while_work_is_not() -> None:
    engine = ByHand({"b": 0.2}, opens={"a": "fit:U1", "c": "fit:U2"})
    engine.shares = {name: {"fit:U0": 0.5} for name in ("", "a", "c", SKILL)} | {"b": {}}
    found = gained(priced(0.6, b=1.0, a=10.0), engine)
    assert next(iter(found)) == "a"
    assert (found["a"].enables, found["a"].helps) == (1, ("fit:U1",))
    assert (found["b"].enables, found["b"].helps) == (0, ())


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
