"""Moving a step by hand, locking it, planning anew after work and faults."""

from __future__ import annotations

import random
from typing import Any

import pytest

from solderrisk.plan.assess import precedence_of
from solderrisk.plan.order.edges import Edge, Why
from solderrisk.plan.order.fitting import (
    MoveRefused,
    fitting_order,
    lock,
    move,
    moved_keys,
    replan,
    still_done,
)
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.results import FittingOrder
from solderrisk.report.order import note
from tests.plan import kit_builder as make
from tests.plan.kit_builder import PARAMETERS, part

KIT = make.kit(
    placements=[
        part("R1-R3", "R"),
        part("U1", "SO", donor="old", price_each=9.0),
        part("J1", "JACK"),
    ],
    gates=[{"ref": "works", "title": "Works", "kind": "function", "after": ["all"]}],
    tasks=[{"ref": "case", "title": "Case", "kind": "fit_case"}],
)
WORK = make.jobs(KIT)
CHANCES = make.risk(WORK)
EDGES = precedence_of(WORK, KIT, CHANCES, **make.RULES).edges


@pytest.fixture(scope="module")
def order() -> FittingOrder:
    return fitting_order(OrderTask(WORK, KIT, CHANCES, PARAMETERS), EDGES)


def task(**more: Any) -> OrderTask:
    return OrderTask(WORK, KIT, CHANCES, PARAMETERS, **more)


def moved(order: FittingOrder, key: str, before: str | None, **more: Any) -> FittingOrder:
    return move(task(**more), order, EDGES, key, before)


def test_a_move_is_made_and_priced(order: FittingOrder) -> None:
    last_chip = next(k for k in reversed(order.keys) if k.startswith("fit:R"))
    first = next(k for k in order.keys if k.startswith("fit:R"))
    found = moved(order, last_chip, first)
    assert found.keys.index(last_chip) + 1 == found.keys.index(first)
    assert sorted(found.keys) == sorted(order.keys)
    assert "by hand" in note(found)
    assert found.expected_loss == pytest.approx(order.expected_loss)
    assert found.stages[0].number == 1
    costly = moved(order, "fit:U1", order.keys[0] if order.keys[0] != "lift:U1" else order.keys[1])
    assert costly.expected_loss > order.expected_loss
    assert "more expected loss" in note(costly)
    assert not costly.optimal
    assert costly.gap > 0


def test_the_price_of_the_order_as_it_is_is_its_own_loss(order: FittingOrder) -> None:
    same = moved(order, order.keys[0], order.keys[0])
    assert same.keys == order.keys
    assert same.expected_loss == pytest.approx(order.expected_loss, rel=1e-9)
    assert same.gap == pytest.approx(order.gap, abs=1e-9)


def test_a_move_that_breaks_a_rule_is_refused_with_the_reason(order: FittingOrder) -> None:
    with pytest.raises(MoveRefused, match="no longer lies flat") as caught:
        moved(order, "fit:J1", "fit:R1")
    assert caught.value.edge is not None
    assert caught.value.edge.rule == "side"
    with pytest.raises(MoveRefused, match="lifted, then fitted"):
        moved(order, "lift:U1", None)
    with pytest.raises(MoveRefused, match="closes the work in"):
        moved(order, "task:case", order.keys[0])


def test_moves_are_refused_exactly_when_they_break_a_rule() -> None:
    refused = 0
    for seed in range(12):
        kit = make.random_kit(seed)
        work = make.jobs(kit)
        chances = make.risk(work)
        try:
            edges = precedence_of(work, kit, chances, **make.RULES).edges
        except ValueError:
            continue
        order = fitting_order(OrderTask(work, kit, chances, PARAMETERS), edges)
        rng = random.Random(seed)
        for _ in range(40):
            key, before = rng.choice(order.keys), rng.choice([*order.keys, None])
            rest = [k for k in order.keys if k != key]
            place = (
                len(rest)
                if before is None
                else (rest.index(before) if before != key else order.keys.index(key))
            )
            wanted = (*rest[:place], key, *rest[place:])
            turn = {k: i for i, k in enumerate(wanted)}
            legal = all(turn[e.first] < turn[e.then] for e in edges)
            if legal:
                assert moved_keys(order, edges, key, before) == wanted
            else:
                refused += 1
                with pytest.raises(MoveRefused):
                    moved_keys(order, edges, key, before)
    assert refused > 30


def test_done_steps_do_not_move(order: FittingOrder) -> None:
    with pytest.raises(MoveRefused, match="done already"):
        moved(order, order.keys[0], None, done=order.keys[:1])
    with pytest.raises(MoveRefused, match="done already"):
        moved(order, order.keys[3], order.keys[0], done=order.keys[:1])
    with pytest.raises(KeyError):
        moved(order, "fit:R9", None)


def test_a_locked_step_stays_when_planned_anew(order: FittingOrder) -> None:
    by_hand = moved(order, "fit:U1", "fit:R1") if order.keys.index("fit:U1") else order
    place = by_hand.keys.index("fit:U1")
    again = replan(task(), EDGES, locked=lock(by_hand, "fit:U1"))
    assert again.keys.index("fit:U1") == place
    with pytest.raises(KeyError):
        lock(order, "fit:R9")


def test_planning_anew_keeps_what_is_done_in_front(order: FittingOrder) -> None:
    done = order.keys[:4]
    again = replan(task(done=done), EDGES)
    assert again.keys[:4] == done
    assert sorted(again.keys) == sorted(order.keys)


def test_after_a_fault_the_work_its_gates_and_the_case_are_done_anew(order: FittingOrder) -> None:
    kept = still_done(WORK, EDGES, order.keys, ["fit:R2"])
    again = replan(task(done=kept), EDGES)
    assert again.keys[-3:] == ("fit:R2", "gate:works", "task:case")


def test_gates_that_do_not_test_the_faulty_part_stay_passed() -> None:
    edges = [
        Edge("fit:R1", "gate:a", "gate", Why("stated", ("",))),
        Edge("fit:R2", "gate:b", "gate", Why("stated", ("",))),
        Edge("gate:b", "fit:U1", "gate", Why("stated", ("",))),
    ]
    kit = make.kit(
        placements=[part("R1,R2", "R"), part("U1", "SO")],
        gates=[{"ref": r, "title": r, "after": [s]} for r, s in (("a", "R1"), ("b", "R2"))],
    )
    work = make.jobs(kit)
    done = ("fit:R1", "fit:R2", "gate:a", "gate:b", "fit:U1")
    assert still_done(work, edges, done, ["fit:R2"]) == ("fit:R1", "gate:a", "fit:U1")
