"""Costs from hand-made kits: every sum is worked out beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.files.reference import load_reference, plan_data
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Board, Donor, Kit
from solderrisk.model.plan_data import PricedTool
from solderrisk.model.question import Question
from solderrisk.physics.results import LowMeltLift, SolderNeed
from solderrisk.plan.results import Costs, SolderUse
from solderrisk.plan.verdict import consumables, costs, expected_loss, group_needs
from solderrisk.report.words import bad_case, cost_note, to_buy
from solderrisk.risk.results import KitRisk, Range
from solderrisk.session import Session
from tests.plan.kit_builder import LIBRARY, jobs, kit, part, risk

DATA = plan_data().costs.replaced(
    {"solder_waste": 2.0, "solder_price": 0.1, "flux_price": 0.5, "removal_alloy_price": 1.0}
)
BENCH, BUILDER = Bench(name="b"), Builder(name="p")
HOT_AIR = PricedTool(id="hot_air", title="hot air", price=60.0, adds=BENCH, source="assumed")
NEED = SolderNeed(volume_mm3=1.0, mass_g=0.01, wire_mm=5.0, flux_mg=2.0)


def asked(of: Kit, least_worth: float = 0.0) -> Question:
    """With prices of our own, an hour that counts for 10 and one tool for sale."""
    reference = load_reference()
    numbers = {"hour_value": 10.0, "irreplaceable_worth": least_worth}
    risk = replace(reference.risk, parameters=reference.risk.parameters.replaced(numbers))
    plan = replace(reference.plan, costs=DATA, tools=(HOT_AIR,))
    own = replace(reference, risk=risk, plan=plan)
    return Question(of, BENCH, BUILDER, LIBRARY, own)


def used_by(work: Sequence[Job]) -> dict[str, tuple[SolderUse, ...]]:
    return {job.key: (SolderUse(None, (), NEED),) for job in work if job.soldered}


def worked(found: KitRisk, of: Kit) -> Costs:
    needs = used_by(jobs(of))
    return costs(asked(of), found, needs, 0.0)


def test_parts_boards_donors_and_extras() -> None:
    of = kit(
        placements=[
            part("R1-R4", "R", price_each=0.5),
            part("X", "SO", quantity=3, price_each=2.0),
            part("C1, C2", "CAN", price_each=3.0, owned=True),
            part("U1", "QFP", price_each=9.0, donor="old"),
        ],
        donors=[
            Donor(name="old", board=Board(name="o"), price=7.0, owned=True),
            Donor(name="new", board=Board(name="n"), price=4.0, owned=False),
        ],
        wires=[{"ref": "W1", "board": "main", "connections": 2, "price": 1.0}],
        extras=[{"name": "case", "price": 11.0}, {"name": "cells", "price": 8.0, "owned": True}],
    )
    found = worked(risk(jobs(of)), of)
    amounts = {line.what: line.amount for line in found.lines}
    consumed = {k: v for k, v in amounts.items() if k in ("solder", "flux")}
    bought = {k: v for k, v in amounts.items() if k not in consumed}
    # Lifted parts cost nothing by themselves; owned ones are not bought.
    assert bought == {"donor new": 4.0, "R1-R4 R": 2.0, "X SO": 6.0, "wire W1": 1.0, "case": 11.0}
    assert found.to_buy == pytest.approx(24.0 + sum(consumed.values()))
    # Gone as well: the owned donor, and the owned parts, 2 x 3.0.
    assert found.bad_money == pytest.approx(found.to_buy + 7.0 + 6.0)
    # The lifted part is worth its price; an hour at 10.0 goes into the work.
    assert (found.bad_worth, found.bad_hours) == (9.0, 10.0)
    assert found.bad_case == pytest.approx(found.bad_money + 19.0)


def test_the_bad_case_is_never_below_the_expected_loss() -> None:
    of = kit(placements=[part("U1", "SO", irreplaceable=True, price_each=3.0)], donors=[])
    dear = replace(risk(jobs(of)), ruined=Range(80.0, 90.0, 100.0))
    needs = used_by(jobs(of))
    told = costs(asked(of, 50.0), dear, needs, 10.0)
    assert told.bad_worth == 47.0  # 50 at least, of which 3 are paid
    assert told.bad_case == pytest.approx(100.0)
    assert told.bad_case >= told.expected_loss.high


def test_the_loss_is_what_is_ruined_and_what_is_sunk_where_it_fails() -> None:
    """By hand: works in .8, .6 and .1, so in .5 of all; 6 sunk in the mean are 12 a failure:
    2.4, 4.8 and 10.8, and 1, 2 and 3 for what is ruined."""
    work = jobs(kit(placements=[part("U1", "SO")]))
    told = replace(
        risk(work),
        working_samples=np.array([0.8, 0.6, 0.1]),
        ruined_samples=np.array([1.0, 2.0, 3.0]),
    )
    found = expected_loss(told, 6.0)
    assert found.mid == pytest.approx(8.0)
    assert found.low == pytest.approx(3.4 + 0.1 * 3.4)  # a tenth of the way to 6.8
    assert found.high == pytest.approx(13.8 - 0.1 * 7.0)


@pytest.mark.parametrize(
    ("name", "bench"),
    [("rain-counter", "bare"), ("river-recorder", "decent"), ("water-lamp", "bare")],
)
def test_verdict_and_order_tell_one_loss(name: str, bench: str) -> None:
    found = Session().assess(open_inputs(name, bench, "newcomer"))
    assert found.costs.expected_loss.mid == pytest.approx(found.order.expected_loss, rel=1e-6)
    assert 0 < found.order.sunk <= found.order.expected_loss <= found.costs.bad_case


def test_boards_are_bought_or_at_stake() -> None:
    boards = [Board(name="main", price=10.0, owned=False), Board(name="front", price=5.0)]
    of = kit(placements=[part("R1", "R")], donors=[]).model_copy(update={"boards": tuple(boards)})
    found = worked(risk(jobs(of)), of)
    assert {line.what for line in found.lines} == {"board main", "solder", "flux"}
    assert found.bad_money - found.to_buy == pytest.approx(5.0)


def test_an_owned_placement_of_many_counts_each() -> None:
    of = kit(placements=[part("X", "SO", quantity=4, price_each=2.0, owned=True)], donors=[])
    found = worked(risk(jobs(of)), of)
    assert found.bad_money - found.to_buy == pytest.approx(8.0)


def test_consumables_are_summed_with_waste() -> None:
    of = kit(placements=[part("R1-R4", "R"), part("U1", "SO", donor="old")])
    found = risk(jobs(of))
    used = consumables(found, used_by(jobs(of)), DATA)
    # Five fits of 0.01 g, 5 mm and 2 mg; the lift takes none. Waste doubles the solder.
    assert used.solder_g == pytest.approx(5 * 0.01 * 2)
    assert used.solder_wire_m == pytest.approx(5 * 0.005 * 2)
    assert used.flux_g == pytest.approx(5 * 0.002)
    assert used.removal_alloy_g == 0.0
    lines = {line.what: line.amount for line in worked(found, of).lines}
    assert lines["solder"] == pytest.approx(0.1 * 0.1)
    assert lines["flux"] == pytest.approx(0.01 * 0.5)


def test_a_low_melt_lift_takes_alloy() -> None:
    of = kit(placements=[part("U1", "SO", donor="old")])
    found = risk(jobs(of))
    flooded = LowMeltLift(100, 5, 30, 1.5, 20, 3, 1.0, 183, "bi_sn", 139)
    items = tuple(
        replace(item, options=(replace(item.chosen, low_melt=flooded),))
        if item.job.kind == "lift"
        else item
        for item in found.jobs
    )
    told = worked(replace(found, jobs=items), of)
    assert told.removal_alloy_g == pytest.approx(1.5)
    assert {line.what: line.amount for line in told.lines}["removal alloy"] == pytest.approx(1.5)


def test_missing_tools_are_bought_but_not_lost() -> None:
    of = kit(placements=[part("R1", "R"), part("U1", "QFP")], donors=[])
    found = risk(jobs(of))
    items = tuple(
        replace(item, blocked=True, tooling_needed=("hot_air", "odd_tool")) for item in found.jobs
    )
    told = worked(replace(found, jobs=items), of)
    tools = {
        line.what: (line.amount, cost_note(line)) for line in told.lines if line.kind == "tool"
    }
    # Both parts need the same two tools; they are bought once.
    assert tools == {"hot air": (60.0, "invented price"), "odd tool": (None, "price not known")}
    assert told.to_buy - told.bad_money == pytest.approx(60.0)


def test_tools_at_hand_are_not_bought() -> None:
    of = kit(placements=[part("R1", "R")], donors=[])
    found = risk(jobs(of))
    items = tuple(replace(item, tooling_needed=("hot_air",)) for item in found.jobs)
    told = worked(replace(found, jobs=items), of)
    assert [line for line in told.lines if line.kind == "tool"] == []


def test_alike_jobs_are_computed_once() -> None:
    of = kit(placements=[part("R1-R30", "R"), part("R31", "R", price_each=1.0)])
    assert len(group_needs(jobs(of))) == 2  # the price tells the last from the others


def test_a_price_that_nobody_said_is_no_small_sum() -> None:
    parts = [part("R1-R4", "R"), part("U1", "SO", price_each=2.0), part("C1", "CAN", owned=True)]
    of = kit(placements=[*parts, part("U2", "QFP", donor="old")])
    found = worked(risk(jobs(of)), of)
    assert found.unpriced == ("R1", "R2", "R3", "R4")
    assert to_buy(found).startswith("price of 4 parts not known; the rest 2.0")
    assert "price of 4 parts not known" in bad_case(found)
    whole = of.model_copy(update={"price": 90.0})
    found = worked(risk(jobs(whole)), whole)
    assert found.unpriced == ()
    assert found.to_buy > 92.0
