"""Stages: blocks a person can follow, each closed by its gate."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solderrisk.plan.assess import precedence_of
from solderrisk.plan.order.fitting import fitting_order
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.order.values import stages_of
from solderrisk.plan.results import FittingOrder, Stage
from solderrisk.report.planned import inspect, prepare, title, why_here
from solderrisk.words import folded
from tests.plan import kit_builder as make
from tests.plan.kit_builder import PARAMETERS, part

KIT = make.kit(
    placements=[
        part("R1-R30", "R", price_each=0.02),
        part("U1", "QFP", donor="old", irreplaceable=True, price_each=20.0),
        part("U2", "QFN", price_each=4.0),
        part("J1", "JACK", price_each=1.0),
        part("J2", "SHIELD", price_each=9.0),
    ],
    wires=[{"ref": "W1", "board": "main", "connections": 4}],
    tasks=[
        {"ref": "case", "title": "Close the case", "kind": "fit_case", "minutes": 12.0},
        {"ref": "wash", "title": "Wash the chip", "kind": "clean", "after": ["lifts"]},
    ],
    gates=[
        {
            "ref": "power",
            "title": "First power",
            "kind": "power_up",
            "after": ["U2", "J1"],
            "before": ["U1"],
        },
        {"ref": "works", "title": "Works", "kind": "function", "after": ["all"], "minutes": 20.0},
    ],
)
OPTIONS = {
    "fit:QFN": make.option("paste_and_air", 0.02, 6, make.AIR, make.air_heat()),
    "fit:QFP": make.option("tack_align_sweep", 0.05, 30),
    "lift:QFP": make.option("hot_air_lift", 0.06, 15, make.AIR, make.air_heat()),
    "fit:JACK": make.option("barrel_iron", 0.01, 4, make.WIDE),
    "fit:SHIELD": make.option("heavy_tab_iron", 0.03, 10, make.WIDE),
}


@pytest.fixture(scope="module")
def order() -> FittingOrder:
    work = make.jobs(KIT)
    chances = make.risk(work, OPTIONS)
    edges = precedence_of(work, KIT, chances, **make.RULES).edges
    return fitting_order(OrderTask(work, KIT, chances, PARAMETERS), edges)


def test_every_job_is_in_one_stage_in_the_orders_sequence(order: FittingOrder) -> None:
    flat = []
    for stage in order.stages:
        flat += [*stage.keys, *([stage.gate] if stage.gate else [])]
    assert tuple(flat) == order.keys
    assert [stage.number for stage in order.stages] == list(range(1, len(order.stages) + 1))


def test_a_stage_has_one_kind_of_work_at_one_setting(order: FittingOrder) -> None:
    work = make.risk(make.jobs(KIT), OPTIONS).by_key
    for stage in order.stages:
        soldered = [work[key] for key in stage.keys if key in work]
        assert len({item.job.kind for item in soldered}) <= 1
        assert len({replace(item.chosen.settings, solders=()) for item in soldered}) <= 1
        assert len({item.job.irreplaceable for item in soldered}) <= 1


def test_blocks_not_loose_lines(order: FittingOrder) -> None:
    assert len(order.keys) == 40
    assert 7 <= len(order.stages) <= 12
    passives = next(stage for stage in order.stages if "fit:R1" in stage.keys)
    assert set(passives.keys) == {f"fit:R{i}" for i in range(1, 31)}
    assert "R1-R30" in title(passives)


def test_gates_close_their_blocks(order: FittingOrder) -> None:
    gates = {stage.gate for stage in order.stages if stage.gate}
    assert gates == {"gate:power", "gate:works"}
    case = next(stage for stage in order.stages if "task:case" in stage.keys)
    assert case.number == len(order.stages)
    assert order.stages[-2].gate == "gate:works"


def test_minutes_add_up(order: FittingOrder) -> None:
    work = make.risk(make.jobs(KIT), OPTIONS)
    soldered = sum(item.chosen.minutes.mid for item in work.jobs)
    others = 12.0 + 5.0 + 5.0 + 20.0
    assert sum(stage.minutes for stage in order.stages) == pytest.approx(soldered + others)


def test_stages_say_what_to_prepare_inspect_and_why_here(order: FittingOrder) -> None:
    chip = next(stage for stage in order.stages if "fit:U1" in stage.keys)
    text = " ".join(prepare(chip))
    assert "station, 1.6 mm chisel tip at 330 C" in text
    assert "pin 1" in text
    assert "no replacement for U1" in text
    assert any("orientation of U1" in line for line in inspect(chip))
    assert "bridge" in chip.faults
    assert "U1 after power: 'First power' must pass" in why_here(chip)
    assert "fatal risk" in why_here(chip)
    assert all(why_here(stage) and title(stage) for stage in order.stages)


def test_turning_the_board_is_told(order: FittingOrder) -> None:
    jack = next(stage for stage in order.stages if "fit:J1" in stage.keys)
    assert "main, bottom side up" in prepare(jack)


def test_two_gates_in_a_row_are_two_checks() -> None:
    gates = [
        {"ref": "a", "title": "Shorts", "kind": "shorts", "after": ["R1"]},
        {"ref": "b", "title": "Rails", "kind": "rail", "after": ["R1"]},
    ]
    kit = make.kit(placements=[part("R1", "R")], gates=gates)
    work = make.jobs(kit)
    keys = ("fit:R1", "gate:a", "gate:b")
    stages = stages_of(keys, work, make.risk(work), (), parameters=PARAMETERS)
    assert [(s.keys, s.gate, title(s)) for s in stages] == [
        (("fit:R1",), "gate:a", "Fit R1 on main: point iron"),
        ((), "gate:b", "Rails"),
    ]


def test_a_long_run_is_cut_where_another_footprint_begins() -> None:
    kit = make.kit(placements=[part("R1-R40", "R"), part("U1-U9", "SO")])
    work = make.jobs(kit)
    keys = [job.key for job in work]
    stages = stages_of(keys, work, make.risk(work), (), parameters=PARAMETERS)
    assert [len(s.keys) for s in stages] == [40, 9]


@pytest.mark.parametrize(
    ("refs", "text"),
    [
        (["R1", "R2", "R3", "C7"], "R1-R3, C7"),
        (["R1", "R3", "R2"], "R1, R3, R2"),
        (["R01", "R02"], "R01, R02"),
        (["U1.1", "U1.2"], "U1.1-U1.2"),
        (["main", "7"], "main, 7"),
        (["R³", "R9999999999999"], "R³, R9999999999999"),
        ([], ""),
    ],
)
def test_references_read_as_people_write_them(refs: list[str], text: str) -> None:
    assert folded(refs, 2) == text


def test_waiting_is_told_apart_from_work_at_hand() -> None:
    def first(**task: object) -> Stage:
        bake = {"ref": "dry", "title": "Dry it", "kind": "bake", "minutes": 20, **task}
        kit = make.kit(placements=[part("R1", "R")], tasks=[bake])
        work = make.jobs(kit)
        chances = make.risk(work)
        edges = precedence_of(work, kit, chances, **make.RULES).edges
        order = fitting_order(OrderTask(work, kit, chances, PARAMETERS), edges)
        return next(stage for stage in order.stages if "task:dry" in stage.keys)

    known = first(wait_hours=9)
    assert (known.minutes >= 20, known.wait_hours) == (True, 9.0)
    assert "'Dry it' waits 9 h: start the day before" in prepare(known)
    assert "'Dry it' waits 33 h: start 2 days before" in prepare(first(wait_hours=33))
    assert any("start the day before" in line for line in prepare(first()))
    assert not any("start" in line for line in prepare(first(wait_hours=1)))
