"""The demo kits end to end: what a bench hand would say of them (common practice)."""

from __future__ import annotations

from functools import lru_cache

import pytest

from solderrisk.files.loading import load_bench, open_inputs
from solderrisk.model.bench import Bench, Builder, Level
from solderrisk.plan.results import Assessment
from solderrisk.session import Session

HARD = "river-recorder"


SESSION = Session()


@lru_cache(maxsize=16)
def assessed(kit: str, bench: str, builder: str) -> Assessment:
    return SESSION.assess(open_inputs(kit, bench, builder))


def chance(bench: Bench, level: Level) -> float:
    asked = open_inputs(HARD, "decent", "hobbyist")
    builder = Builder(name=level, level=level)
    return SESSION.chances(asked.but(bench=bench, builder=builder)).working.mid


def test_the_hard_kit_is_no_first_project() -> None:
    bench = load_bench("well-equipped")
    target = open_inputs(HARD, "decent", "hobbyist").kit.target_chance
    assert target is not None
    assert chance(bench, "few") < target - 0.1
    assert chance(bench, "trained") > target - 0.15


def test_hot_air_helps_the_hard_kit_but_is_not_strictly_required() -> None:
    with_air = load_bench("well-equipped")
    aids = (*with_air.aids, "hot_plate")
    without = with_air.model_copy(update={"hot_air": (), "aids": aids})
    both = with_air.model_copy(update={"aids": aids})
    assert 0.3 < chance(without, "trained") <= chance(both, "trained") + 1e-9


def test_order_of_the_hard_kit_is_a_bench_hands() -> None:
    found = assessed(HARD, "well-equipped", "bench-hand")
    at = {key: place for place, key in enumerate(found.order.keys)}
    # The leaked cell's traces first, then lifts; small parts before the heavy ones.
    assert at["task:neutralise"] < at["lift:U1"] < at["fit:U1"]
    assert at["task:wash"] < at["fit:R1"]
    assert max(at[f"fit:R{n}"] for n in range(1, 37)) < min(at["fit:J1"], at["fit:J2"])
    # A current-limited first power-up before the irreplaceable chips, a check before the case.
    assert at["gate:first-power"] < min(at["fit:U1"], at["fit:U2"])
    assert at["gate:works"] < at["task:casing"]
    assert at["fit:U1"] < at["gate:wakes"] < at["fit:J1"]


def test_every_edge_is_kept_and_can_say_why() -> None:
    found = assessed(HARD, "well-equipped", "bench-hand")
    at = {key: place for place, key in enumerate(found.order.keys)}
    assert set(at) == {job.key for job in found.jobs}
    for edge in found.order.edges:
        assert at[edge.first] < at[edge.then]
        assert edge.why


def test_stages_are_a_list_a_person_can_follow() -> None:
    found = assessed(HARD, "well-equipped", "bench-hand")
    assert 8 <= len(found.order.stages) <= 32
    staged = [key for stage in found.order.stages for key in stage.keys]
    gates = [stage.gate for stage in found.order.stages if stage.gate]
    assert sorted(staged + gates) == sorted(found.order.keys)


def test_every_soldered_job_has_a_whole_card() -> None:
    found = assessed(HARD, "well-equipped", "bench-hand")
    for job in found.risk.jobs:
        card = found.cards[job.job.key]
        assert card.settings, card.title
        assert card.steps, card.title
        assert card.look_for, card.title
        heated = job.chosen.settings
        assert heated.iron or heated.air or heated.desolderer or "plate" in job.chosen.technique


def test_hot_air_low_melt_and_fumes_ask_to_be_acknowledged() -> None:
    found = assessed(HARD, "well-equipped", "bench-hand")
    notes = {note.id: note for note in found.safety}
    assert notes["fumes"].acknowledge
    assert notes["hot_air"].acknowledge
    assert "leaked_cell" in notes


def test_costs_count_what_is_bought_and_what_is_used() -> None:
    found = assessed("water-lamp", "bare", "newcomer")
    lines = {line.what: line for line in found.costs.lines}
    parts = sum(line.amount for line in found.costs.lines if line.kind == "part")
    # 10 x 0.02 + 4 x 0.05 + 2 x 0.10 + 4 x 0.08 + 2 x 0.10 + 0.60 + 0.50 + wire 0.20, by hand.
    assert parts == pytest.approx(2.42)
    assert found.costs.to_buy == pytest.approx(sum(line.amount for line in lines.values()))
    # About 60 joints of 0.5 to 2 mm3 each and the usual waste: a gram or so of solder.
    assert 0.2 < found.costs.solder_g < 4


def test_beginners_kit_for_a_beginner() -> None:
    found = assessed("water-lamp", "bare", "newcomer")
    assert found.verdict.chance.high > 0.9
    assert found.verdict.chance.mid > 0.6
    assert not [f for f in found.findings if f.level == "blocker"]


def test_assess_is_a_function_of_its_inputs() -> None:
    asked = open_inputs("rain-counter", "decent", "hobbyist")
    first, second = (Session().assess(asked) for _ in range(2))
    assert first.verdict == second.verdict
    assert first.order.keys == second.order.keys
    assert first.costs == second.costs
