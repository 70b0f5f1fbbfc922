"""Stages: blocks a person can follow, each closed by its gate."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solderrisk.model.kit import Kit
from solderrisk.plan.assess import precedence_of
from solderrisk.plan.order.edges import Edge, Why
from solderrisk.plan.order.fitting import fitting_order
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.order.values import stages_of
from solderrisk.plan.results import FittingOrder, Reason, Stage
from solderrisk.report.order import inspect, prepare, title, why_here
from solderrisk.risk.results import Option, Range
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


def cut(of: Kit, *keys: str, ways: dict[str, Option] | None = None, edges: list[Edge] | None = None,
        shares: dict[str, float] | None = None) -> tuple[Stage, ...]:  # fmt: skip
    """The stages of an order given by hand."""
    work = make.jobs(of)
    chances = replace(make.risk(work, ways), fail_share=shares or {})
    return stages_of(keys or [job.key for job in work], work, chances, edges or [],
                     parameters=PARAMETERS)  # fmt: skip


@pytest.mark.parametrize(("number", "lengths"), [(6, [7]), (7, [7, 1])])
def test_an_hour_of_one_sort_is_cut_only_once_it_is_over(number: int, lengths: list[int]) -> None:
    """Ten minutes each: six are an hour and go on, with seven the other footprint is a block."""
    of = make.kit(placements=[part(f"R1-R{number}", "R"), part("U1", "SO")])
    stages = cut(of, ways={"fit:R": make.option("point_iron", minutes=10.0)})
    assert [len(stage.keys) for stage in stages] == lengths
    assert stages[0].minutes == pytest.approx(10.0 * number + (2.0 if len(lengths) == 1 else 0.0))


@pytest.mark.parametrize(("minutes", "irreplaceable", "lengths"), [
    (10.0, False, [2]), (10.5, False, [1, 1]), (10.0, True, [1, 1]),
])  # fmt: skip
def test_short_work_of_two_techniques_is_one_block(
    minutes: float, irreplaceable: bool, lengths: list[int]
) -> None:
    """Twenty minutes together are short; what nobody sells stands alone."""
    parts = [part("R1", "R"), part("U1", "SO", irreplaceable=irreplaceable)]
    one, two = make.option("one", minutes=10.0), make.option("two", minutes=minutes)
    ways = {"fit:R1": one, "fit:U1": two}
    assert [len(stage.keys) for stage in cut(make.kit(placements=parts), ways=ways)] == lengths


def test_the_board_is_turned_where_another_side_comes_up() -> None:
    task = {"ref": "t", "title": "t", "minutes": 5.0}
    wait = {"ref": "w", "title": "w", "minutes": 5.0, "wait_hours": 3.0}
    more = {"ref": "x", "title": "x", "minutes": 5.0, "wait_hours": 9.0}
    of = make.kit(placements=[part("R1,R2,R4", "R"), part("R3", "R", side="bottom")],
                  tasks=[task, wait, more])  # fmt: skip
    stages = cut(of, "fit:R1", "task:t", "fit:R2", "fit:R3", "task:w", "task:x", "fit:R4")
    top, bottom = ("main", "top"), ("main", "bottom")
    assert [stage.turned for stage in stages] == [top, None, None, bottom, None, top]
    assert [stage.wait_hours for stage in stages] == [0.0, 0.0, 0.0, 0.0, 9.0, 0.0]


def test_why_a_block_stands_where_it_does_by_its_rules() -> None:
    tips = {f"fit:R{n}": make.option("p", settings=replace(make.IRON, tip_c=300.0 + n))
            for n in range(1, 6)}  # fmt: skip
    gate = {"ref": "g", "title": "g", "after": ["R2"]}
    of = make.kit(placements=[part("R1-R5", "R")], gates=[gate])
    keys = ("fit:R1", "fit:R3", "fit:R2", "gate:g", "fit:R4", "fit:R5")

    def why(*rules: tuple[str, str, str, str]) -> tuple[Reason, ...]:
        edges = [
            Edge(first, then, rule, Why("stated", (text,))) for first, then, rule, text in rules
        ]
        stages = cut(of, *keys, ways=tips, edges=edges)
        return next(stage.reasons for stage in stages if "fit:R2" in stage.keys)

    a = Why("stated", ("a",))
    one, two = ("fit:R1", "fit:R2", "kit", "a"), ("fit:R3", "fit:R2", "kit", "b")
    assert why(one, two) == (Reason("kit", True, ("R2",), ("R1", "R3"), None),)
    assert why(one, (*two[:3], "a")) == (Reason("kit", True, ("R2",), ("R1", "R3"), a),)
    assert why(("fit:R2", "fit:R4", "kit", "a"), ("fit:R1", "fit:R4", "kit", "c")) == (
        Reason("kit", False, ("R2",), ("R4",), a),
    )
    # Its own gate is inside the block; a later one goes without saying, so it comes last.
    assert why(("fit:R2", "gate:g", "gate", "t")) == ()
    later = why(("fit:R2", "fit:R5", "gate", "t"), ("fit:R2", "fit:R4", "odd", "o"), one,
                ("gate:g", "fit:R5", "gate", "t"))  # fmt: skip
    assert [(reason.rule, reason.waits) for reason in later] == [
        ("kit", True), ("odd", False), ("gate", False),
    ]  # fmt: skip
    four = why(one, ("fit:R3", "fit:R2", "access", "b"), ("fit:R2", "fit:R4", "side", "c"),
               ("fit:R2", "fit:R5", "wires_last", "d"))  # fmt: skip
    assert [reason.rule for reason in four] == ["access", "side", "kit"]


def test_what_goes_wrong_most_and_the_share_of_the_risk() -> None:
    def way(**chances: float) -> Option:
        plain = make.option("p")
        modes = (replace(plain.modes[0], title=title, total=Range(0, each, 0))
                 for title, each in chances.items())  # fmt: skip
        return replace(plain, modes=tuple(modes))

    of = make.kit(placements=[part("R1,R2,R3", "R")])
    ways = {"fit:R1": way(a=0.1, b=0.2, c=0.0), "fit:R2": way(a=0.15, d=0.2, e=0.1)}
    (stage,) = cut(of, ways=ways, shares={"fit:R1": 0.5, "fit:R3": 0.125})
    assert stage.faults == ("a", "b", "d")
    assert stage.share == 0.625
    (few,) = cut(of, "fit:R1", ways=ways)
    assert few.faults == ("b", "a")
