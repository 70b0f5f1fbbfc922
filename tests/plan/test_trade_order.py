"""What a good bench hand would say about the order, as a table (common practice).

Each row is a situation, the order expected of it (first before then), and words that the
reason must hold.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.model.kit import Kit
from solderrisk.plan.assess import precedence_of
from solderrisk.plan.order.fitting import fitting_order
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.results import FittingOrder
from solderrisk.report.order import inspect, note, why_here
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import Option
from tests.plan import kit_builder as make
from tests.plan.kit_builder import PARAMETERS, part

CHIP = part("U1", "QFP", donor="old", irreplaceable=True, price_each=20.0)
PASSIVES = part("R1-R40", "R", price_each=0.02, spares=10)
POWER = {
    "ref": "power",
    "title": "First power-up with a current limit",
    "kind": "power_up",
    "after": ["U3", "J1"],
    "before": ["U1"],
}
WORKS = {
    "ref": "works",
    "title": "Display connected, reading taken",
    "kind": "function",
    "after": ["all"],
}
CASE = {"ref": "case", "title": "Fit into the case", "kind": "fit_case"}
DISPLAY = {"name": "display", "price": 30.0, "committed_by": "works"}
OPTIONS: dict[str, Option] = {
    "fit:QFN": make.option("paste_and_air", 0.02, 6, make.AIR, make.air_heat()),
    "fit:QFP": make.option("tack_align_sweep", 0.05, 30),
    "lift:QFP": make.option("hot_air_lift", 0.06, 15, make.AIR, make.air_heat()),
    "fit:JACK": make.option("barrel_iron", 0.01, 4, make.WIDE),
    "fit:SHIELD": make.option("heavy_tab_iron", 0.03, 10, make.WIDE),
    "fit:CELL": make.option("heavy_tab_iron", 0.02, 5, make.WIDE),
    "fit:R": make.option("tack_and_solder", 0.0003, 1.0),
    "wire": make.option("wire_tack", 0.005, 6, make.WIDE),
}


@dataclass(frozen=True)
class Row:
    situation: str
    parts: Mapping[str, Any]
    first: tuple[str, ...]
    then: tuple[str, ...]
    reason: str = ""
    options: Mapping[str, Option] = field(default_factory=dict)


ROWS = [
    Row(
        "dozens of passives before the tall parts",
        {"placements": [part("C1,C2", "CAN"), part("J3", "HEADER"), PASSIVES]},
        ("fit:R1", "fit:R40"),
        ("fit:C1", "fit:J3"),
        "room for hand and iron",
    ),
    Row(
        "heavy jacks, shielded connectors, battery contacts after the small parts",
        {
            "placements": [
                part("J1", "JACK"),
                part("J2", "SHIELD"),
                part("B1", "CELL"),
                PASSIVES,
                part("U3", "SO"),
            ]
        },
        ("fit:R1", "fit:U3"),
        ("fit:J1", "fit:J2", "fit:B1"),
        "lies flat",
    ),
    Row(
        "lifts early: nothing is sunk while they may still fail",
        {"placements": [PASSIVES, part("U3", "SO"), CHIP]},
        ("lift:U1",),
        ("fit:R1", "fit:U3"),
        "while little is sunk",
    ),
    Row(
        "irreplaceable chips early where no gate says otherwise",
        {
            "placements": [
                PASSIVES,
                part("U3", "SO", price_each=6.0),
                part("J2", "SHIELD", price_each=9.0),
                CHIP,
            ],
            "tasks": [CASE],
            "gates": [WORKS],
            "extras": [DISPLAY],
        },
        ("fit:U1",),
        ("fit:R1", "fit:U3", "fit:J2", "gate:works", "task:case"),
        "while little is sunk",
    ),
    Row(
        "first power-up with a current limit before the irreplaceable chip",
        {"placements": [CHIP, part("U3", "QFN"), part("J1", "JACK"), PASSIVES], "gates": [POWER]},
        ("gate:power",),
        ("fit:U1",),
        "must pass before more is put at stake",
    ),
    Row(
        "after that gate the chip goes before what is costly and can wait",
        {
            "placements": [
                CHIP,
                part("U3", "QFN"),
                part("J1", "JACK"),
                part("J2", "SHIELD", price_each=12.0),
            ],
            "gates": [POWER, WORKS],
            "extras": [DISPLAY],
            "tasks": [CASE],
        },
        ("fit:U1",),
        ("fit:J2", "gate:works", "task:case"),
        "must pass",
    ),
    Row(
        "a working check before closing the case",
        {
            "placements": [part("U3", "SO"), part("J1", "JACK")],
            "gates": [WORKS],
            "tasks": [CASE],
            "wires": [{"ref": "W1", "board": "main", "connections": 3}],
        },
        ("gate:works", "wire:W1"),
        ("task:case",),
        "closes the work in",
    ),
    Row(
        "wires last where they would lie in the way",
        {
            "placements": [part("U3", "SO"), part("J1", "JACK"), PASSIVES],
            "wires": [{"ref": "W1", "board": "main", "connections": 3}],
        },
        ("fit:R1", "fit:U3", "fit:J1"),
        ("wire:W1",),
        "in the way",
    ),
    Row(
        "hot air before the plastics that it would soften",
        {"placements": [part("J4", "SLOT"), part("U3", "QFN")]},
        ("fit:U3",),
        ("fit:J4",),
        "hot air",
    ),
    Row(
        "a corroded donor is cleaned before its parts are lifted, and they before they are fitted",
        {
            "placements": [CHIP, PASSIVES],
            "tasks": [
                {
                    "ref": "neutralise",
                    "title": "Neutralise the leaked cell's traces",
                    "kind": "clean",
                    "before": ["lifts"],
                },
                {"ref": "leads", "title": "Clean the leads", "kind": "clean", "after": ["lift:U1"]},
            ],
        },
        ("task:neutralise", "lift:U1", "task:leads"),
        ("fit:U1",),
        "cleans what was lifted",
    ),
    Row(
        "solvent is off the bench before the first hot air, on whatever board",
        {
            "placements": [CHIP, part("U3", "QFN"), PASSIVES],
            "tasks": [
                {"ref": "wash", "title": "Wipe with solvent", "kind": "clean", "before": ["fits"]}
            ],
        },
        ("task:wash",),
        ("lift:U1", "fit:U3"),
        "solvent is dry and off the bench",
    ),
]


def ordered(kit: Kit, options: Mapping[str, Option]) -> FittingOrder:
    work = make.jobs(kit)
    chances = make.risk(work, options)
    found = precedence_of(work, kit, chances, **make.RULES)
    return fitting_order(
        OrderTask(work, kit, chances, PARAMETERS, waived=found.waived), found.edges
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.situation[:50])
def test_the_order_is_what_a_bench_hand_would_say(row: Row) -> None:
    order = ordered(make.kit(**row.parts), {**OPTIONS, **row.options})
    turn = {key: place for place, key in enumerate(order.keys)}
    for first in row.first:
        for then in row.then:
            assert turn[first] < turn[then], f"{first} before {then}"
    told = " ".join([*(e.why.told for e in order.edges), *(why_here(s) for s in order.stages)])
    assert row.reason in told


@pytest.fixture(scope="module")
def river() -> FittingOrder:
    asked = open_inputs("river-recorder", "well-equipped", "bench-hand").but(samples=200)
    kit, work, reference = asked.kit, asked.jobs, asked.reference
    chances = RiskEngine(reference).assess(asked)
    parameters = reference.plan.parameters
    found = precedence_of(
        work, kit, chances, parameters=parameters, families=reference.plan.families
    )
    return fitting_order(
        OrderTask(work, kit, chances, parameters, waived=found.waived), found.edges
    )


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ("task:neutralise", "lift:U1"),
        ("task:dry-bake", "lift:U2"),
        ("lift:U1", "fit:R1"),
        ("lift:U2", "fit:C1"),
        ("lift:SW1", "fit:R1"),
        ("fit:R36", "fit:J1"),
        ("fit:C30", "fit:J2"),
        ("fit:R1", "fit:BT1"),
        ("gate:shorts", "gate:first-power"),
        ("gate:first-power", "fit:U1"),
        ("gate:first-power", "fit:U2"),
        ("fit:U1", "fit:J1"),
        ("fit:U1", "gate:wakes"),
        ("gate:wakes", "fit:J1"),
        ("fit:J1", "wire:W1"),
        ("gate:works", "task:casing"),
        ("gate:works", "task:notch"),
    ],
)
def test_the_hard_demo_kit(river: FittingOrder, first: str, then: str) -> None:
    assert river.keys.index(first) < river.keys.index(then)


def test_every_donor_of_the_hard_kit_is_on_the_bench_once(river: FittingOrder) -> None:
    """Reheating a board that was cold already is work twice (common practice)."""
    places = []
    for key in river.keys:
        if key.startswith("lift:"):
            where = "meter" if key.partition(":")[2] in ("J1", "J2", "SW1", "RV1") else "recorder"
            places += [] if places[-1:] == [where] else [where]
    assert len(places) == 2
    air = [key for key in river.keys if key in ("lift:U1", "lift:U2", "lift:Y1")]
    start = river.keys.index(air[0])
    assert list(river.keys[start : start + 3]) == air


def test_what_was_washed_dries_first(river: FittingOrder) -> None:
    stage = next(stage for stage in river.stages if "task:wash" in stage.keys)
    assert any("let it dry" in line for line in inspect(stage))
    assert river.keys.index("task:wash") < river.keys.index("lift:U2")


def test_the_hard_demo_kit_is_proved_and_made_of_blocks(river: FittingOrder) -> None:
    assert "(proved)" in note(river) or river.optimal
    assert river.gap < 0.05
    assert 10 <= len(river.stages) <= 32
    assert len(river.keys) > 100
