"""The fitting order of kits: loss, proof, groups, changes, locking, progress."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.question import Run
from solderrisk.plan.assess import precedence_of
from solderrisk.plan.order.edges import Edge, Why
from solderrisk.plan.order.fitting import fitting_order, lock
from solderrisk.plan.order.net import CyclicOrder
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.results import FittingOrder
from solderrisk.report.order import note
from solderrisk.risk.results import JobRisk, KitRisk, Range
from tests.plan import kit_builder as make
from tests.plan.kit_builder import PARAMETERS, part


def plan(kit: Kit, options=None, **more) -> FittingOrder:  # type: ignore[no-untyped-def]
    work = make.jobs(kit)
    chances = make.risk(work, options)
    edges = precedence_of(work, kit, chances, **make.RULES).edges
    about = {name: more.pop(name) for name in ("hour_value", "done") if name in more}
    run = Run(cancelled=more.pop("cancelled", None))
    task = OrderTask(work, kit, chances, PARAMETERS, **about)
    return fitting_order(task, edges, run=run, **more)


def respects(keys: Sequence[str], edges: Sequence[Edge]) -> bool:
    turn = {key: place for place, key in enumerate(keys)}
    return all(turn[e.first] < turn[e.then] for e in edges)


def small_kit(seed: int) -> tuple[Kit, dict[str, object]]:
    """Five parts and a lift with a gate over some of them; hour value 0 unless set."""
    rng = random.Random(seed)
    names = ["R", "SO", "CAN", "AXIAL"]
    placements = [
        part(f"X{i}", rng.choice(names), price_each=rng.choice([0.5, 2.0, 9.0])) for i in range(4)
    ]
    placements[0]["donor"] = "old"
    placements[3] = part("X3,X4", "DIP", price_each=3.0)  # twins
    gate = {
        "ref": "g",
        "title": "g",
        "kind": "rail",
        "after": ["X1"],
        "before": ["X2"],
        "finds": 0.7,
    }
    kit = make.kit(
        placements=placements,
        gates=[gate],
        tasks=[{"ref": "t", "title": "t", "spoils": 0.05, "minutes": 30.0}],
        extras=[{"name": "display", "price": 15.0, "committed_by": "g"}],
        boards=[{"name": "main", "price": 12.0}],
        hour_value=6.0,
    )
    options = {
        key: make.option("point_iron", lost=rng.uniform(0.01, 0.3), minutes=rng.uniform(1, 60))
        for key in ("fit:X0", "fit:X1", "fit:X2", "lift:X0")
    }
    options["fit:DIP"] = make.option("point_iron", lost=rng.uniform(0.1, 0.3))
    return kit, options  # type: ignore[return-value]


def loss_by_enumeration(
    keys: Sequence[str], kit: Kit, work: Sequence[Job], chances: KitRisk, edges: Sequence[Edge]
) -> float:
    """Walk the whole tree of what may fail, seen or unseen, and what is sunk by then."""
    jobs = {job.key: job for job in work}
    hidden_share = PARAMETERS["order_hidden_share"]
    hour = kit.hour_value or 0.0
    tested = {job.key: {e.first for e in edges if e.then == job.key} for job in work if job.gate}
    for known in tested.values():  # everything that comes before it, not only directly
        for _ in work:
            known |= {e.first for e in edges if e.then in known}

    def cost(key: str, begun: frozenset[str]) -> float:
        job = jobs[key]
        money = job.price_each if job.kind == "fit" else 0.0
        minutes = job.minutes if not job.soldered else chances.by_key[key].chosen.minutes.mid
        money += sum(e.price for e in kit.extras if e.committed_by == job.ref)
        if job.place and job.place not in begun:
            money += next((b.price for b in kit.boards if b.name == job.place), 0.0)
        return money + minutes / 60 * hour

    def walk(place: int, sunk: float, begun: frozenset[str], faults: frozenset[str]) -> float:
        if place == len(keys):
            return sunk if faults else 0.0
        key = keys[place]
        job = jobs[key]
        sunk += cost(key, begun)
        begun |= {job.place}
        if job.gate is not None:
            finds = job.gate.finds or 0.0
            missed = (1 - finds) ** len(faults & tested[key])
            return (1 - missed) * sunk + missed * walk(place + 1, sunk, begun, faults)
        lost = job.spoils if job.task else chances.by_key[key].chosen.lost.mid
        unseen = lost * hidden_share
        seen = 1 - (1 - lost) / (1 - unseen)
        return seen * sunk + (1 - seen) * (
            unseen * walk(place + 1, sunk, begun, faults | {key})
            + (1 - unseen) * walk(place + 1, sunk, begun, faults)
        )

    return walk(0, 0.0, frozenset(), frozenset())


@pytest.mark.parametrize("seed", range(6))
def test_the_loss_is_that_of_the_whole_tree_of_events_and_the_least_of_all_orders(
    seed: int,
) -> None:
    kit, options = small_kit(seed)
    work = make.jobs(kit)
    chances = make.risk(work, options)  # type: ignore[arg-type]
    edges = precedence_of(work, kit, chances, **make.RULES).edges
    found = fitting_order(OrderTask(work, kit, chances, PARAMETERS), edges)
    assert found.expected_loss == pytest.approx(
        loss_by_enumeration(found.keys, kit, work, chances, edges), rel=1e-9
    )
    keys = [job.key for job in work]
    least = min(
        loss_by_enumeration(order, kit, work, chances, edges)
        for order in permutations(keys)
        if respects(order, edges)
    )
    assert found.expected_loss * (1 - found.gap) == pytest.approx(least, rel=1e-7)


@given(st.integers(0, 100_000))
@settings(max_examples=30, deadline=None)
def test_every_order_holds_every_rule_and_every_job_once(seed: int) -> None:
    kit = make.random_kit(seed)
    work = make.jobs(kit)
    rng = random.Random(seed)
    options = {
        job.key: make.option(
            "point_iron",
            rng.uniform(0, 0.1),
            rng.uniform(0, 20),
            rng.choice([make.IRON, make.WIDE, make.AIR]),
        )
        for job in work
    }
    chances = make.risk(work, options)
    try:
        edges = precedence_of(work, kit, chances, **make.RULES).edges
    except CyclicOrder:
        return
    found = fitting_order(OrderTask(work, kit, chances, PARAMETERS), edges)
    assert sorted(found.keys) == sorted(job.key for job in work)
    assert respects(found.keys, edges)
    assert note(found).startswith(("optimal", "within", "not proved"))
    assert found.optimal == (note(found).startswith("optimal"))
    assert (found.gap == 0.0) or not found.optimal
    assert 0.0 <= found.gap <= 1.0
    again = fitting_order(OrderTask(work, kit, chances, PARAMETERS), edges)
    assert again == found


def test_identical_placements_stay_together() -> None:
    kit = make.kit(
        placements=[
            part("R1-R40", "R", price_each=0.02),
            part("U1", "SO", price_each=3.0),
            part("R50-R60", "R", price_each=0.05),
        ]
    )
    found = plan(kit)
    turns = [found.keys.index(f"fit:R{i}") for i in range(1, 41)]
    assert turns == list(range(turns[0], turns[0] + 40))
    assert found.optimal
    assert note(found).startswith("optimal")


def test_risky_work_comes_before_dear_parts() -> None:
    kit = make.kit(placements=[part("U1", "SO", price_each=50.0), part("U2", "SO", price_each=1.0)])
    options = {
        "fit:U1": make.option("point_iron", lost=0.001),
        "fit:U2": make.option("point_iron", lost=0.1),
    }
    assert plan(kit, options).keys == ("fit:U2", "fit:U1")


def test_dear_parts_wait_for_the_gate_that_finds_what_is_hidden() -> None:
    """The same risk and price; the gate makes the tested part come first."""
    gate = {"ref": "g", "title": "g", "kind": "function", "after": ["U2"], "minutes": 1.0}
    kit = make.kit(
        placements=[part("U1", "SO", price_each=9.0), part("U2", "SO", price_each=9.0)],
        gates=[gate],
    )
    options = {"fit": make.option("point_iron", lost=0.2)}
    assert plan(kit, options).keys == ("fit:U2", "gate:g", "fit:U1")
    assert plan(kit.model_copy(update={"gates": ()}), options).keys == ("fit:U1", "fit:U2")


def test_hours_count_as_money() -> None:
    kit = make.kit(placements=[part("U1", "SO"), part("U2", "SO")], hour_value=None)
    options = {
        "fit:U1": make.option("point_iron", lost=0.01, minutes=120),
        "fit:U2": make.option("point_iron", lost=0.01, minutes=3),
    }
    assert plan(kit, options, hour_value=10.0).keys == ("fit:U2", "fit:U1")
    assert plan(kit, options, hour_value=0.0).expected_loss == 0.0
    stated = kit.model_copy(update={"hour_value": 20.0})
    assert plan(stated, options, hour_value=0.0).expected_loss > 0.0


def mixed_settings(count: int, **values: object) -> tuple[Kit, dict[str, object]]:
    refs = [f"X{i}" for i in range(count)]
    kit = make.kit(placements=[part(ref, "SO", **values) for ref in refs])
    tips = [make.IRON, make.WIDE, make.AIR]
    options = {
        f"fit:{ref}": make.option("point_iron", 0.0, 2.0, tips[i % 3]) for i, ref in enumerate(refs)
    }
    return kit, options  # type: ignore[return-value]


@pytest.mark.parametrize("hour_value", [0.0, 12.0])
def test_among_equal_losses_the_fewest_changes(hour_value: float) -> None:
    kit, options = mixed_settings(15)
    found = plan(kit.model_copy(update={"hour_value": hour_value}), options)
    assert found.swaps == 2
    assert found.optimal


def test_loss_is_given_up_only_for_time_that_is_worth_more_and_it_is_said() -> None:
    rng = random.Random(3)
    kit, options = mixed_settings(30)
    tips = [make.IRON, make.WIDE, make.AIR]
    for i in range(30):
        options[f"fit:X{i}"] = make.option(  # type: ignore[assignment]
            "point_iron", rng.uniform(0.001, 0.01), rng.uniform(1, 9), tips[i % 3]
        )
    found = plan(kit, options)
    free = plan(kit.model_copy(update={"hour_value": None}), options)
    assert free.expected_loss == 0.0
    assert 0 < found.gap < 0.2
    assert "(proved)" in note(found)
    assert "fewer changes" in note(found)
    assert found.swaps < 15
    # What is given up is less than what all changes of the strict order would have cost.
    saved_minutes = (29 - found.swaps) * (
        PARAMETERS["order_change_tool_min"] + PARAMETERS["order_turn_board_min"]
    )
    assert found.expected_loss * found.gap < saved_minutes / 60 * 10.0


def test_done_work_stays_in_front_even_out_of_turn() -> None:
    kit = make.kit(placements=[part("J1", "JACK"), part("R1-R3", "R")])
    found = plan(kit, done=("fit:J1", "fit:R2"))
    assert found.keys[:2] == ("fit:J1", "fit:R2")
    assert set(found.keys[2:]) == {"fit:R1", "fit:R3"}
    with pytest.raises(KeyError):
        plan(kit, done=("fit:R9",))


def test_sunk_work_counts_in_the_loss_that_is_left() -> None:
    kit = make.kit(placements=[part("U1", "SO", price_each=40.0), part("U2", "SO")], hour_value=0.0)
    options = {
        "fit:U1": make.option("point_iron", lost=0.0),
        "fit:U2": make.option("point_iron", lost=0.1),
    }
    # Left to the end only what hides: half of 0.1, if the seen part did not strike.
    assert plan(kit, options).expected_loss == pytest.approx(40 * 0.05 * 0.9 / 0.95)
    assert plan(kit, options, done=("fit:U1",)).expected_loss == pytest.approx(4.0)


def test_a_board_begun_is_sunk_already() -> None:
    kit = make.kit(
        placements=[part("U1", "SO"), part("U2", "SO")],
        boards=[{"name": "main", "price": 50.0}],
        hour_value=0.0,
    )
    options = {
        "fit:U1": make.option("point_iron", lost=0.0),
        "fit:U2": make.option("point_iron", lost=0.1),
    }
    # The board is lost with the fault, whether seen at once or in the end.
    assert plan(kit, options).expected_loss == pytest.approx(5.0)
    assert plan(kit, options, done=("fit:U1",)).expected_loss == pytest.approx(5.0)


def test_locked_steps_keep_their_place() -> None:
    kit = make.kit(
        placements=[part("U1,U2,U3", "SO", price_each=1.0), part("U4", "SO", price_each=9.0)]
    )
    first = plan(kit)
    assert first.keys[-1] == "fit:U4"
    by_hand = FittingOrder(**{**first.__dict__, "keys": ("fit:U1", "fit:U4", "fit:U2", "fit:U3")})
    found = plan(kit, locked=lock(by_hand, "fit:U4"))
    assert found.keys[1] == "fit:U4"
    assert [e.rule for e in found.edges if "fit:U4" in (e.first, e.then)] == ["locked"] * 3


def test_easy_parts_first_is_an_option_with_a_price() -> None:
    kit = make.kit(placements=[part("U1", "SO"), part("R1", "R", price_each=5.0)])
    options = {
        "fit:U1": make.option("point_iron", lost=0.1, first_time=0.5),
        "fit:R1": make.option("point_iron", lost=0.001, first_time=0.99),
    }
    assert plan(kit, options).keys == ("fit:U1", "fit:R1")
    warm = plan(kit, options, easy_first=True)
    assert warm.keys == ("fit:R1", "fit:U1")
    assert "easy parts first adds" in note(warm)
    assert any(e.rule == "warm_up" and "warm up" in e.why.told for e in warm.edges)


def test_the_irreplaceable_part_is_no_warm_up() -> None:
    kit = make.kit(
        placements=[part("U1", "SO", irreplaceable=True), part("R1", "R"), part("R2", "R")]
    )
    options = {
        "fit:U1": make.option("point_iron", first_time=0.999),
        "fit:R1": make.option("point_iron", first_time=0.9),
        "fit:R2": make.option("point_iron", first_time=0.8),
    }
    warm = plan(kit, options, easy_first=True)
    assert {(e.first, e.then) for e in warm.edges if e.rule == "warm_up"} == {("fit:R1", "fit:R2")}


def hard_kit(count: int, seed: int) -> tuple[Kit, dict[str, object], list[dict[str, str]]]:
    rng = random.Random(seed)
    refs = [f"X{i}" for i in range(count)]
    rules = [
        {"first": refs[i], "then": refs[j]}
        for i in range(count)
        for j in range(i + 1, count)
        if rng.random() < 8 / count
    ]
    kit = make.kit(
        placements=[part(ref, "SO", price_each=rng.uniform(0.1, 20)) for ref in refs], rules=rules
    )
    options = {f"fit:{ref}": make.option("point_iron", rng.uniform(0.001, 0.1)) for ref in refs}
    return kit, options, rules  # type: ignore[return-value]


def test_cancelling_gives_an_order_with_its_gap() -> None:
    kit, options, _ = hard_kit(140, 2)
    calls = 0

    def stop() -> bool:
        nonlocal calls
        calls += 1
        return calls > 2

    found = plan(kit, options, cancelled=stop)
    assert len(found.keys) == 140
    assert respects(found.keys, found.edges)
    assert not found.optimal
    assert found.gap > 0
    assert note(found).startswith("not proved optimal: at most")
    assert note(found).endswith("stopped early")


def test_progress_runs_from_0_to_1() -> None:
    kit, options, _ = hard_kit(140, 2)
    seen: list[float] = []
    few = PARAMETERS.replaced({"order_steps": 20_000})
    work = make.jobs(kit)
    chances = make.risk(work, options)  # type: ignore[arg-type]
    edges = precedence_of(work, kit, chances, parameters=few, families=make.RULES["families"]).edges
    run = Run(lambda share, _: seen.append(share))
    found = fitting_order(OrderTask(work, kit, chances, few), edges, run=run)
    assert len(seen) > 3
    assert seen == sorted(seen)
    assert 0 <= seen[0] <= seen[-1] <= 1
    assert "stopped" not in note(found)


def test_blocked_jobs_are_ordered_too() -> None:
    kit = make.kit(placements=[part("U1", "QFP"), part("R1", "R")])
    work = make.jobs(kit)
    chances = make.risk(work)
    blocked = tuple(
        JobRisk(i.job, (), True, None, ()) if i.job.ref == "U1" else i for i in chances.jobs
    )
    chances = KitRisk(blocked, *[Range(0, 0, 0)] * 5)
    edges = precedence_of(work, kit, chances, **make.RULES).edges
    found = fitting_order(OrderTask(work, kit, chances, PARAMETERS), edges)
    assert sorted(found.keys) == ["fit:R1", "fit:U1"]


def test_a_kit_without_work_has_an_empty_order() -> None:
    found = plan(make.kit())
    assert found.keys == ()
    assert found.stages == ()
    assert found.optimal


def test_edges_in_a_circle_are_refused() -> None:
    kit = make.kit(placements=[part("R1,R2", "R")])
    work = make.jobs(kit)
    edges = [
        Edge("fit:R1", "fit:R2", "kit", Why("stated", ("a",))),
        Edge("fit:R2", "fit:R1", "kit", Why("stated", ("b",))),
    ]
    with pytest.raises(CyclicOrder, match="circle"):
        fitting_order(OrderTask(work, kit, make.risk(work), PARAMETERS), edges)


def test_the_kit_s_own_price_is_lost_with_it_and_what_is_ruined_besides() -> None:
    """20 for the kit and a part of 10 that fails in a tenth of all: seen at once or in the end, all
    that went in is lost, 0.1 x 30; 0.7 is ruined and bought again on the way."""
    kit = make.kit(placements=[part("U1", "SO", price_each=10.0)], price=20.0, hour_value=0.0)
    work = make.jobs(kit)
    risk = make.risk(work, {"fit:U1": make.option("point_iron", lost=0.1)})
    risk = replace(risk, ruined=Range(0.0, 0.7, 1.0))
    edges = precedence_of(work, kit, risk, **make.RULES).edges
    half = PARAMETERS.replaced({"order_hidden_share": 0.5})
    found = fitting_order(OrderTask(work, kit, risk, half), edges)
    assert found.fails == pytest.approx(0.1)
    assert found.sunk == pytest.approx(0.1 * 20 + 0.1 * 10)
    assert found.expected_loss == pytest.approx(found.sunk + 0.7)


def test_progress_of_easy_parts_first_is_that_of_two_searches() -> None:
    kit = make.kit(placements=[part("U1", "SO"), part("R1", "R", price_each=5.0)])
    work = make.jobs(kit)
    options = {"fit:U1": make.option("point_iron", lost=0.1, first_time=0.5),
               "fit:R1": make.option("point_iron", lost=0.001, first_time=0.99)}  # fmt: skip
    chances = make.risk(work, options)
    edges = precedence_of(work, kit, chances, **make.RULES).edges
    seen: list[float] = []
    run = Run(lambda share, _: seen.append(share))
    warm = fitting_order(OrderTask(work, kit, chances, PARAMETERS), edges, easy_first=True, run=run)
    assert seen == sorted(seen)
    assert (seen[0], seen[-1], 0.5 in seen) == (0.0, 1.0, True)
    plain = fitting_order(OrderTask(work, kit, chances, PARAMETERS), edges)
    more = warm.expected_loss - plain.expected_loss
    assert more > 0.01
    assert note(warm).endswith(f"; easy parts first adds {more:.2f} to the loss")
