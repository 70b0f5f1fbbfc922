"""What jobs put at stake, how they end the work, and what changes take."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from solderrisk.plan.order.edges import Edges
from solderrisk.plan.order.task import OrderTask, _gap
from solderrisk.plan.order.values import (
    COLD,
    change_minutes,
    count_changes,
    fatal_chances,
    job_values,
    minutes_of,
    spot_of,
    starts,
)
from solderrisk.plan.results import FittingOrder, Search
from solderrisk.report.order import note
from solderrisk.risk.results import JobRisk, Range
from tests.plan import kit_builder as make
from tests.plan.kit_builder import PARAMETERS, part


def spot(settings, side: str = "top", name: str = "R"):  # type: ignore[no-untyped-def]
    work = make.jobs(make.kit(placements=[part("X1", name, side=side)]))
    item = make.risk(work, {"fit:X1": make.option("point_iron", settings=settings)}).jobs[0]
    return spot_of(work[0], item)


def at(place: str):  # type: ignore[no-untyped-def]
    return replace(spot(make.IRON), place=(place, "top"))


@pytest.mark.parametrize(
    ("one", "other", "parts"),
    [
        (spot(make.IRON), spot(make.IRON), ()),
        (at("main"), at("front"), ("order_change_board_min",)),
        (at("main"), at("donor:old"), ("order_change_donor_min",)),
        (at("donor:old"), at("donor:older"), ("order_change_donor_min",)),
        (spot(make.IRON), spot(make.AIR), ("order_change_tool_min",)),
        (spot(make.IRON), spot(replace(make.IRON, tip_width_mm=3.0)), ("order_change_tip_min",)),
        (spot(make.IRON), spot(replace(make.IRON, tip_c=360.0)), ("order_change_heat_min",)),
        (spot(make.IRON), spot(make.WIDE), ("order_change_tip_min", "order_change_heat_min")),
        (spot(make.IRON), spot(make.IRON, "bottom"), ("order_turn_board_min",)),
        # A through-hole part on top is soldered from below.
        (spot(make.IRON), spot(make.IRON, "top", "DIP"), ("order_turn_board_min",)),
        (spot(make.IRON, "bottom"), spot(make.IRON, "top", "DIP"), ()),
        (
            spot(make.IRON),
            spot(make.AIR, "bottom"),
            ("order_change_tool_min", "order_turn_board_min"),
        ),
        (spot(make.IRON), spot(replace(make.IRON, alloy="SAC305", power_x=10.0)), ()),
    ],
)
def test_minutes_of_a_change(one, other, parts) -> None:  # type: ignore[no-untyped-def]
    expected = sum(PARAMETERS[name] for name in parts)
    assert change_minutes(one, other, PARAMETERS) == pytest.approx(expected)
    assert change_minutes(other, one, PARAMETERS) == pytest.approx(expected)
    assert count_changes(["a", "b"], {"a": one, "b": other}) == (1 if parts else 0)


def test_tasks_and_gates_need_no_change() -> None:
    spots = {"a": spot(make.IRON), "gate": None, "b": spot(make.IRON), "c": spot(make.AIR)}
    assert count_changes(["a", "gate", "b", "c"], spots) == 1


def test_a_lifted_parts_price_is_at_stake_only_once_it_is_fitted() -> None:
    kit = make.kit(placements=[part("U1", "SO", donor="old", price_each=30.0)], hour_value=0.0)
    work = make.jobs(kit)
    values, _ = job_values(work, (0, 1), kit, make.risk(work), PARAMETERS, 0.0)
    assert [v.cost for v in values] == [0.0, 30.0]


def test_what_nobody_sells_is_at_stake_once_it_is_fitted_though_it_costs_nothing() -> None:
    kit = make.kit(placements=[part("U1", "SO", donor="old", price_each=0.0)], hour_value=0.0)
    work = make.jobs(kit)
    risk = make.risk(work)
    table = {
        key: replace(item, worth=50.0 if item.job.kind == "lift" else 0.0)
        for key, item in risk.by_key.items()
    }
    values, _ = job_values(work, (0, 1), kit, replace(risk, by_key=table), PARAMETERS, 0.0)
    assert [v.cost for v in values] == [0.0, 50.0]


def test_waiting_counts_a_little_and_lets_the_bench_get_cold() -> None:
    """By hand: 20 minutes at 12 an hour are 4, 30 h of waiting 30 x 12 x the share."""
    bake = {"ref": "bake", "title": "Bake", "kind": "bake", "minutes": 20.0, "wait_hours": 30.0}
    kit = make.kit(placements=[part("R1,R2", "R")], tasks=[bake], hour_value=12.0)
    work = make.jobs(kit)
    place = [job.key for job in work].index("task:bake")
    values, _ = job_values(work, (0, 0, 0), kit, make.risk(work), PARAMETERS, 12.0)
    assert values[place].cost == pytest.approx(4.0 + 360.0 * PARAMETERS["order_wait_share"])
    cold, warm = spot_of(work[place], None), spot(make.IRON)
    assert cold is not None
    assert change_minutes(warm, cold, PARAMETERS) == 0.0
    again = PARAMETERS["order_change_tool_min"] + PARAMETERS["order_change_board_min"]
    assert change_minutes(cold, warm, PARAMETERS) == pytest.approx(again)
    assert count_changes(["a", "b", "c"], {"a": warm, "b": cold, "c": warm}) == 0


def test_boards_and_donors_are_sunk_with_the_first_job_on_them() -> None:
    kit = make.kit(
        placements=[part("R1", "R"), part("U1", "SO", donor="old")],
        boards=[{"name": "main", "price": 12.0}, {"name": "spare", "price": 9.0}],
        donors=[{"name": "old", "price": 7.0, "board": {"name": "b"}}],
    )
    assert starts(make.jobs(kit), kit) == {"main": 12.0, "donor:old": 7.0}


def test_spoiling_a_case_of_its_own_does_not_end_the_work() -> None:
    tasks = [
        {"ref": "notch", "title": "Cut", "kind": "cut", "spoils": 0.2, "minutes": 30.0},
        {"ref": "drill", "title": "Drill the board", "kind": "other", "spoils": 0.2},
    ]
    kit = make.kit(tasks=tasks, extras=[{"name": "case", "price": 24.0, "committed_by": "notch"}])
    work = make.jobs(kit)
    values, clear = job_values(work, (0, 0), kit, make.risk(work), PARAMETERS, 10.0)
    assert values[0].cost == pytest.approx(24.0 + 5.0)
    assert values[0].chance == 0.0
    hidden = 0.2 * PARAMETERS["order_hidden_share"]
    assert values[1].chance == pytest.approx(1 - 0.8 / (1 - hidden))
    assert clear == pytest.approx(1 - hidden)


def test_a_gate_ends_the_work_with_what_it_finds_and_leaves_the_rest_hidden() -> None:
    """By hand, halves hidden: 0.1 and 0.2 lost hide 0.05 and 0.1; a test finding 0.8 of
    them fails with 1 - 0.96 x 0.92 = 0.1168."""
    gate = {"ref": "g", "title": "g", "after": ["R1", "R2"], "finds": 0.8}
    kit = make.kit(placements=[part("R1,R2", "R")], gates=[gate])
    work = make.jobs(kit)
    options = {
        "fit:R1": make.option("point_iron", lost=0.1),
        "fit:R2": make.option("point_iron", lost=0.2),
    }
    half = PARAMETERS.replaced({"order_hidden_share": 0.5})
    values, clear = job_values(work, (0, 0, 3), kit, make.risk(work, options), half, 0.0)
    assert values[2].chance == pytest.approx(0.1168)
    assert clear == pytest.approx((1 - 0.05 * 0.2 / 0.96) * (1 - 0.1 * 0.2 / 0.92))


def test_all_chances_of_ending_the_work_make_up_the_kits_own() -> None:
    """By hand: works in 0.72 of all builds, of which a task leaves 0.9 sound; soldering then
    works in 0.8, split by shares of one and three quarters."""
    task = {"ref": "t", "title": "t", "spoils": 0.1, "minutes": 1.0}
    kit = make.kit(placements=[part("R1,R2", "R")], tasks=[task])
    work = make.jobs(kit)
    told = replace(
        make.risk(work),
        working=Range(0.5, 0.72, 0.9),
        fail_share={"fit:R1": 0.25, "fit:R2": 0.75},
    )
    found = dict(zip([job.key for job in work],
                     fatal_chances(work, kit, told, PARAMETERS), strict=True))  # fmt: skip
    assert found["fit:R1"] == pytest.approx(1 - 0.8**0.25)
    assert found["fit:R2"] == pytest.approx(1 - 0.8**0.75)
    assert math.prod(1 - chance for chance in found.values()) == pytest.approx(0.72)


def test_what_the_bench_cannot_do_is_what_ends_the_work() -> None:
    kit = make.kit(placements=[part("R1,R2", "R")])
    work = make.jobs(kit)
    told = make.risk(work, {"fit:R2": make.option("point_iron", lost=0.5)})
    blocked = replace(told, jobs=(JobRisk(work[0], (), True, None, ()), told.jobs[1]))
    assert fatal_chances(work, kit, blocked, PARAMETERS) == [
        PARAMETERS["order_blocked_fatal"], 0.0
    ]  # fmt: skip


def test_chances_stay_between_none_and_nearly_sure() -> None:
    work = make.jobs(make.kit(placements=[part("R1,R2", "R")]))
    whole = replace(make.risk(work), fail_share={"fit:R1": 1.0})
    kit = make.kit()
    for works, told in ((0.0, 0.99), (0.4, 0.6), (1.0, 0.0), (1.2, 0.0), (-0.1, 0.99)):
        risk = replace(whole, working=Range(works, works, works))
        assert fatal_chances(work, kit, risk, PARAMETERS) == pytest.approx([told, 0.0])
    # What cannot be done at all ends it; then nothing else counts, and a spoilt case never does.
    for shut in ({"blocked": True}, {"options": ()}):
        items = (replace(whole.jobs[0], **shut), whole.jobs[1])
        risk = replace(whole, jobs=items)
        fatal = PARAMETERS["order_blocked_fatal"]
        assert fatal_chances(work, kit, risk, PARAMETERS) == pytest.approx([fatal, 0.0])
    cases = make.kit(tasks=[{"ref": t, "title": t, "spoils": 0.2} for t in ("a", "b")],
                     extras=[{"name": "case", "price": 1.0, "committed_by": "a"},
                             {"name": "display", "price": 1.0, "committed_by": "c"}])  # fmt: skip
    doomed = make.kit(
        placements=[part("R1", "R")], tasks=[{"ref": "t", "title": "t", "spoils": 1.0}]
    )
    work = make.jobs(doomed)
    risk = replace(make.risk(work), fail_share={"fit:R1": 1.0})
    assert fatal_chances(work, doomed, risk, PARAMETERS) == [0.99, 0.99]
    tasks = make.jobs(cases)
    assert fatal_chances(tasks, cases, make.risk(tasks), PARAMETERS) == [0.0, 0.2]


def test_minutes_of_what_is_known_and_what_is_not() -> None:
    gate = {"ref": "g", "title": "g", "after": ["R1"], "minutes": 3.0}
    work = make.jobs(make.kit(placements=[part("R1", "R")], gates=[gate]))
    fit, test = work
    (item,) = make.risk(work, {"fit:R1": make.option("point_iron", minutes=7.0)}).jobs
    usual = PARAMETERS["order_default_min"]
    assert minutes_of(test, item, PARAMETERS) == 3.0
    assert minutes_of(fit, item, PARAMETERS) == 7.0
    assert minutes_of(fit, None, PARAMETERS) == usual
    assert minutes_of(fit, replace(item, options=()), PARAMETERS) == usual
    idle = replace(item, options=(make.option("point_iron", minutes=0.0),))
    assert minutes_of(fit, idle, PARAMETERS) == usual


def test_what_nobody_assessed_is_worth_its_price() -> None:
    kit = make.kit(placements=[part("R1", "R"), part("U1", "SO", price_each=3.0)], hour_value=0.0)
    work = make.jobs(kit)
    risk = replace(make.risk(work), jobs=(), by_key={})
    values, _ = job_values(work, (0, 0), kit, risk, PARAMETERS, 0.0)
    assert [value.cost for value in values] == [0.0, 3.0]


def test_what_is_set_up_where_nothing_can_be_done_or_nothing_is_soldered() -> None:
    tasks = [{"ref": "t", "title": "t", "kind": "other"},
             {"ref": "w", "title": "w", "kind": "other", "wait_hours": 0.5}]  # fmt: skip
    gate = {"ref": "g", "title": "g", "after": ["R1"]}
    work = make.jobs(make.kit(placements=[part("R1", "R")], tasks=tasks, gates=[gate]))
    by_ref = {job.ref: job for job in work}
    (item,) = make.risk(work).jobs
    assert spot_of(by_ref["t"], None) is spot_of(by_ref["g"], None) is None
    assert spot_of(by_ref["w"], None) == COLD
    open_ = spot_of(by_ref["R1"], item)
    assert open_ is not None
    assert (open_.technique, open_.tool[0]) == ("point_iron", "station")
    for shut in (None, replace(item, blocked=True), replace(item, options=())):
        found = spot_of(by_ref["R1"], shut)
        assert found is not None
        assert (found.technique, set(found.tool), found.place) == ("", {None}, ("main", "top"))


def test_what_costs_nothing_is_not_begun() -> None:
    kit = make.kit(placements=[part("R1", "R")], boards=[{"name": "main", "price": 0.0}])
    assert starts(make.jobs(kit), kit) == {}


def test_what_another_order_could_save_at_most() -> None:
    assert _gap(10.0, 9.0) == pytest.approx(0.1)
    assert _gap(10.0, -5.0) == 1.0
    assert _gap(10.0, 10.0) == _gap(10.0, 11.0) == _gap(10.0, 10.0 - 1e-10) == 0.0


def test_what_a_search_says_of_its_order() -> None:
    def said(gap: float, *made: Any) -> str:
        return note(FittingOrder((), (), Edges((), ()), 5.0, False, gap, 0, Search(*made)))

    fewer = "; 2 fewer changes of tool, tip, heat or side are worth more"
    assert said(0.0, True, 2).endswith("no order has a lower expected loss")
    assert said(0.1, True, 2).endswith("expected loss (proved)" + fewer)
    assert said(0.1, True, 0, True).endswith(
        "(proved); with the time for changes counted no order is cheaper (proved)"
    )
    assert said(0.2, False, -1, False, True) == (
        "not proved optimal: at most 20.00 % of its expected loss could be saved; stopped early"
    )
    assert said(0.0, False, 1).endswith("could be saved")


def test_a_change_costs_its_minutes_of_the_hour() -> None:
    """At 60 an hour a minute is 1; what costs no time is a hair, so that fewer are still better."""
    kit = make.kit(placements=[part("R1", "R"), part("U1", "SO")], hour_value=60.0)
    work = make.jobs(kit)
    for way in (make.option("point_iron", settings=make.AIR), make.option("tack")):
        task = OrderTask(work, kit, make.risk(work, {"fit:U1": way}), PARAMETERS)
        one, other = (task.spots[job.key] for job in work)
        assert one is not None
        assert other is not None
        found = task._changes([one, other, None])
        minutes = change_minutes(one, other, PARAMETERS)
        assert found.spot == (0, 1, -1)
        assert (found.cost[0][0], found.cost[1][1]) == (0.0, 0.0)
        assert found.cost[0][1] == pytest.approx(minutes, abs=1e-6)
        assert found.cost[0][1] > minutes
