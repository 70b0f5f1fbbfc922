"""Every rule of precedence: what it asks for, why, and when it gives way."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.plan.assess import Precedence, precedence_of, stated_edges
from solderrisk.plan.order.bounds import closure
from solderrisk.plan.order.edges import Edge, Edges, Row, Why, bits, mask_of, picked, turned
from solderrisk.plan.order.net import CyclicOrder, Net, shortest_cycle
from solderrisk.plan.order.rules import (
    Air,
    _blocked,
    _in_the_way,
    _through_to,
    air_of,
    height_class,
    warm_up,
)
from solderrisk.report.order import waived_text
from tests.plan import kit_builder as make
from tests.plan.kit_builder import PARAMETERS, part


def precedence(kit: Kit, **options: Any) -> Precedence:
    work = make.jobs(kit)
    return precedence_of(work, kit, make.risk(work, options.get("options")), **make.RULES)


def before(found: Precedence, kit: Kit, first: str, then: str) -> bool:
    keys = [job.key for job in make.jobs(kit)]
    place = {key: i for i, key in enumerate(keys)}
    masks, _ = closure(len(keys), [(place[e.first], place[e.then]) for e in found.edges])
    return bool(masks[place[then]] >> place[first] & 1)


def edge(found: Precedence, first: str, then: str) -> Edge:
    return next(e for e in found.edges if (e.first, e.then) == (first, then))


def test_a_lift_comes_before_its_fitting() -> None:
    kit = make.kit(placements=[part("U1", "SO", donor="old")])
    found = edge(precedence(kit), "lift:U1", "fit:U1")
    assert found.rule == "lift_before_fit"


def test_lifts_come_before_fittings_unless_the_kit_says_otherwise() -> None:
    parts = [part("U1", "SO", donor="old"), part("R1", "R"), part("R2", "R")]
    kit = make.kit(placements=parts)
    assert edge(precedence(kit), "lift:U1", "fit:R1").rule == "lifts_first"
    kit = make.kit(placements=parts, rules=[{"first": "R1", "then": "lift:U1"}])
    found = precedence(kit)
    assert before(found, kit, "fit:R1", "lift:U1")
    assert before(found, kit, "lift:U1", "fit:R2")
    assert any("fit:R1 does not wait for U1" in waived_text(each) for each in found.waived)


def test_low_parts_come_before_tall_ones_without_positions() -> None:
    kit = make.kit(placements=[part("J1", "HEADER"), part("D1", "DIP"), part("R1-R3", "R")])
    found = precedence(kit)
    assert before(found, kit, "fit:R2", "fit:D1")
    assert before(found, kit, "fit:D1", "fit:J1")
    assert edge(found, "fit:D1", "fit:J1").rule == "access"


def test_a_heavy_part_waits_even_where_it_is_flat() -> None:
    kit = make.kit(placements=[part("B1", "CELL"), part("D1", "AXIAL")])
    found = edge(precedence(kit), "fit:D1", "fit:B1")
    assert "B1" in found.why.told


def test_a_tall_neighbour_blocks_the_iron_only_where_it_is_near() -> None:
    """A 6 mm can at 45 degrees shades 6 mm of board; the class rule holds further away."""
    at = {"R1": (0, 0), "R2": (40, 0)}
    kit = make.kit(placements=[part("R1,R2", "R", at=at), part("C1", "CAN", at={"C1": (8, 0)})])
    found = precedence(kit)
    assert "mm away" in edge(found, "fit:R1", "fit:C1").why.told
    assert "mm away" not in edge(found, "fit:R2", "fit:C1").why.told


def test_parts_of_one_class_wait_only_for_near_and_higher_ones() -> None:
    """Both are middling (3.5 and 6 mm); only the one 1.7 mm away is shaded by the can."""
    coils = part("L1,L2", "COIL", at={"L1": (8, 0), "L2": (30, 0)})
    chips = part("R1,U1", "SO", at={"R1": (0, 20), "U1": (6, 20)})
    kit = make.kit(placements=[coils, chips, part("C1", "CAN", at={"C1": (0, 0)})])
    found = precedence(kit)
    assert "1.7 mm away" in edge(found, "fit:L1", "fit:C1").why.told
    assert not before(found, kit, "fit:L2", "fit:C1")
    assert not before(found, kit, "fit:R1", "fit:U1")


def test_tall_parts_on_the_other_side_are_not_in_the_way() -> None:
    kit = make.kit(placements=[part("R1", "R", side="bottom"), part("C1", "CAN")])
    assert edge(precedence(kit), "fit:R1", "fit:C1").rule == "side"
    kit = make.kit(placements=[part("L1", "COIL", side="bottom"), part("C1", "CAN")])
    assert [e.rule for e in precedence(kit).edges] == ["side"]


def test_surface_mount_before_through_hole_on_each_board() -> None:
    kit = make.kit(
        second="other",
        placements=[part("D1", "AXIAL"), part("R1", "R"), part("R2", "R", board="other")],
    )
    found = precedence(kit)
    assert edge(found, "fit:R1", "fit:D1").rule == "side"
    assert not before(found, kit, "fit:R2", "fit:D1")


def test_the_flatter_side_is_done_before_what_would_tilt_the_board() -> None:
    kit = make.kit(placements=[part("C1", "CAN"), part("R1", "R", side="bottom"), part("R2", "R")])
    found = precedence(kit)
    assert edge(found, "fit:R1", "fit:C1").rule == "side"
    assert not before(found, kit, "fit:R1", "fit:R2")


AIR = {"fit:QFN": make.option("paste_and_air", settings=make.AIR, heat=make.air_heat(8, 15))}


@pytest.mark.parametrize(
    ("name", "at", "expected"),
    [
        ("SLOT", (18, 0), True),  # 18 - 7 = 11 mm from the centre, plastics soften to 15
        ("SLOT", (30, 0), False),
        ("R", (7, 0), True),  # 7 - 0.8 = 6.2 mm, solder melts to 8
        ("R", (12, 0), False),
    ],
)
def test_hot_air_comes_before_what_it_would_hurt(
    name: str, at: tuple[float, float], expected: bool
) -> None:
    kit = make.kit(
        placements=[part("X1", name, at={"X1": at}), part("U1", "QFN", at={"U1": (0, 0)})]
    )
    found = [e for e in precedence(kit, options=AIR).edges if e.rule == "heat_reach"]
    assert [(e.first, e.then) for e in found] == ([("fit:U1", "fit:X1")] if expected else [])
    assert all("mm" in e.why.told for e in found)


def test_hot_air_before_sensitive_parts_where_positions_are_unknown() -> None:
    kit = make.kit(placements=[part("J1", "SLOT"), part("R1", "R"), part("U1", "QFN")])
    found = precedence(kit, options=AIR)
    assert edge(found, "fit:U1", "fit:J1").rule == "heat_reach"
    assert not before(found, kit, "fit:U1", "fit:R1")


def test_a_hot_plate_comes_before_everything_on_its_board() -> None:
    kit = make.kit(
        second="other",
        placements=[part("R1", "R"), part("R2", "R", board="other"), part("U1", "QFN")],
    )
    plate = {"fit:QFN": make.option("plate_reflow", settings=make.AIR, source="plate")}
    found = precedence(kit, options=plate)
    assert edge(found, "fit:U1", "fit:R1").rule == "heat_reach"
    assert not before(found, kit, "fit:U1", "fit:R2")


def test_on_a_donor_what_heat_hurts_comes_off_first() -> None:
    kit = make.kit(
        placements=[part("U1", "QFP", donor="old"), part("J1", "SLOT", donor="old")],
    )
    hot = {"lift:QFP": make.option("hot_air_lift", settings=make.AIR, heat=make.air_heat())}
    assert edge(precedence(kit, options=hot), "lift:J1", "lift:U1").rule == "heat_reach"


def test_given_reach_counts_without_chances() -> None:
    kit = make.kit(placements=[part("J1", "SLOT"), part("U1", "QFN")])
    work = make.jobs(kit)
    found = precedence_of(
        work,
        kit,
        None,
        **make.RULES,
        reach={"fit:U1": make.air_heat()},
    ).edges
    assert any((e.first, e.then) == ("fit:U1", "fit:J1") for e in found)


def test_gates_after_what_they_test_and_before_what_they_protect() -> None:
    kit = make.kit(
        placements=[part("R1,R2", "R"), part("U1", "SO")],
        gates=[
            {
                "ref": "power",
                "title": "Power",
                "kind": "power_up",
                "after": ["R1-R2"],
                "before": ["U1"],
            }
        ],
    )
    found = precedence(kit)
    assert edge(found, "fit:R1", "gate:power").rule == "gate"
    assert "must pass" in edge(found, "gate:power", "fit:U1").why.told


def test_the_gentler_test_comes_first() -> None:
    gates = [
        {"ref": "works", "title": "Works", "kind": "function", "after": ["all"]},
        {"ref": "shorts", "title": "Shorts", "kind": "shorts", "after": ["R1"]},
        {"ref": "power", "title": "Power", "kind": "power_up", "after": ["R1", "R2"]},
    ]
    kit = make.kit(placements=[part("R1,R2", "R")], gates=gates)
    found = precedence(kit)
    assert before(found, kit, "gate:shorts", "gate:power")
    assert before(found, kit, "gate:power", "gate:works")


def test_gates_of_every_kind_from_the_gentlest_on() -> None:
    """Looking, shorts, rails, first power, function: by what each puts at stake."""
    kinds = ("visual", "shorts", "rail", "power_up", "function")
    gates = [{"ref": k, "title": k, "kind": k, "after": ["R1"]} for k in reversed(kinds)]
    kit = make.kit(placements=[part("R1", "R")], gates=gates)
    found = precedence(kit)
    for gentle, harsh in pairwise(kinds):
        assert before(found, kit, f"gate:{gentle}", f"gate:{harsh}")
        assert not before(found, kit, f"gate:{harsh}", f"gate:{gentle}")
    # One that tests more than the harsher one need not be first.
    wide = [{"ref": "a", "title": "a", "kind": "shorts", "after": ["R1", "R2"]},
            {"ref": "b", "title": "b", "kind": "function", "after": ["R1"]}]  # fmt: skip
    kit = make.kit(placements=[part("R1,R2", "R")], gates=wide)
    assert not before(precedence(kit), kit, "gate:a", "gate:b")


def test_wires_last_on_their_board_and_the_case_last_of_all() -> None:
    kit = make.kit(
        placements=[part("J1", "JACK"), part("R1", "R")],
        wires=[{"ref": "W1", "board": "main", "connections": 2}],
        tasks=[{"ref": "case", "title": "Case", "kind": "fit_case"}],
        gates=[{"ref": "works", "title": "Works", "kind": "function", "after": ["all"]}],
    )
    found = precedence(kit)
    assert edge(found, "fit:J1", "wire:W1").rule == "wires_last"
    assert before(found, kit, "fit:R1", "wire:W1")
    assert edge(found, "gate:works", "task:case").rule == "case_last"


def test_preparation_comes_first_and_lifted_parts_are_cleaned_before_they_are_fitted() -> None:
    kit = make.kit(
        placements=[part("U1", "SO", donor="old"), part("R1", "R")],
        tasks=[
            {"ref": "bake", "title": "Bake", "kind": "bake"},
            {"ref": "wash", "title": "Wash", "kind": "clean", "after": ["lifts"]},
        ],
    )
    found = precedence(kit)
    assert before(found, kit, "task:bake", "fit:R1")
    assert edge(found, "lift:U1", "task:wash")
    assert edge(found, "task:wash", "fit:U1").rule == "clean_first"
    assert not before(found, kit, "task:wash", "fit:R1")


def test_cleaning_stated_before_fits_is_kept() -> None:
    kit = make.kit(
        placements=[part("R1", "R")],
        tasks=[{"ref": "wipe", "title": "Wipe", "kind": "clean", "before": ["fits"]}],
    )
    assert edge(precedence(kit), "task:wipe", "fit:R1").rule == "clean_first"


def test_what_the_kit_states_goes_before_what_is_inferred() -> None:
    kit = make.kit(
        placements=[part("J1", "JACK"), part("R1-R3", "R")],
        rules=[{"first": "J1", "then": "R2", "why": "R2 sits on its leads"}],
    )
    found = precedence(kit)
    assert edge(found, "fit:J1", "fit:R2").why.told == "R2 sits on its leads"
    assert before(found, kit, "fit:R1", "fit:J1")
    assert not before(found, kit, "fit:R2", "fit:J1")
    assert any("J1 does not wait for R2" in waived_text(each) for each in found.waived)


def test_a_gate_that_needs_a_tall_part_early_wins() -> None:
    kit = make.kit(
        placements=[part("J1", "JACK"), part("U1", "SO"), part("R1", "R")],
        gates=[
            {
                "ref": "power",
                "title": "Power",
                "kind": "power_up",
                "after": ["J1"],
                "before": ["U1"],
            }
        ],
    )
    found = precedence(kit)
    assert before(found, kit, "fit:R1", "fit:J1")
    assert before(found, kit, "fit:J1", "fit:U1")
    assert any("U1" in waived_text(each) for each in found.waived)


def test_stated_circles_are_refused_with_the_shortest_one_and_its_rules() -> None:
    kit = make.kit(
        placements=[part("R1-R5", "R")],
        rules=[
            {"first": "R1", "then": "R2", "why": "a"},
            {"first": "R2", "then": "R3", "why": "b"},
            {"first": "R3", "then": "R4", "why": "c"},
            {"first": "R4", "then": "R1", "why": "d"},
            {"first": "R3", "then": "R5", "why": "e"},
            {"first": "R5", "then": "R3", "why": "f"},
        ],
    )
    with pytest.raises(CyclicOrder) as caught:
        precedence(kit)
    assert {e.why.told for e in caught.value.cycle} == {"e", "f"}
    assert "R3 before fit:R5 (kit: e)" in str(caught.value)


@given(st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_the_shortest_circle_is_as_short_as_search_from_every_node_finds(seed: int) -> None:
    rng = random.Random(seed)
    names = [f"n{i}" for i in range(7)]
    pairs = {(rng.choice(names), rng.choice(names)) for _ in range(rng.randrange(1, 14))}
    edges = [Edge(a, b, "kit", Why("stated", ("",))) for a, b in sorted(pairs) if a != b]
    found = shortest_cycle(edges)
    # Plain check: powers of the relation; the first with a node reaching itself.
    reach = {(e.first, e.then) for e in edges}
    step, length = set(reach), 1
    while step and length <= 7 and not any(a == b for a, b in step):
        step = {(a, d) for a, b in step for c, d in reach if b == c}
        length += 1
    expected = length if any(a == b for a, b in step) else 0
    assert len(found) == expected
    for one, following in zip(found, (*found[1:], *found[:1]), strict=True):
        assert one.then == following.first


@given(st.integers(0, 100_000))
@settings(max_examples=60, deadline=None)
def test_edges_never_run_in_a_circle_and_hold_all_that_is_stated(seed: int) -> None:
    kit = make.random_kit(seed)
    work = make.jobs(kit)
    options = {"fit:QFN": make.option("paste_and_air", settings=make.AIR, heat=make.air_heat())}
    if shortest_cycle(stated_edges(work, kit)):
        with pytest.raises(CyclicOrder):
            precedence_of(
                work,
                kit,
                make.risk(work, options),
                **make.RULES,
            )
        return
    found = precedence_of(
        work,
        kit,
        make.risk(work, options),
        **make.RULES,
    )
    assert not shortest_cycle(found.edges)
    assert set(stated_edges(work, kit)) <= set(found.edges)
    assert all(e.why and e.rule for e in found.edges)
    pairs = [(e.first, e.then) for e in found.edges]
    assert len(pairs) == len(set(pairs))
    # No inferred edge says what two others say already when it was added.
    place = {job.key: i for i, job in enumerate(work)}
    stated = len(stated_edges(work, kit))
    arcs: list[tuple[int, int]] = [(place[a], place[b]) for a, b in pairs[:stated]]
    for first, then in pairs[stated:]:
        masks, _ = closure(len(work), arcs)
        assert not masks[place[then]] >> place[first] & 1
        arcs.append((place[first], place[then]))


def plain(count: int) -> tuple[Job, ...]:
    return make.jobs(make.kit(placements=[part(f"R1-R{count}", "R")]))


def net_of(count: int, *stated: tuple[int, int]) -> Net:
    """Jobs R1.. with rules between them by their numbers."""
    work = plain(count)
    rows = [Row(then, 1 << first, "kit", Why("stated", ("stated",))) for first, then in stated]
    return Net(work, Edges(work, rows))


def added(net: Net, stated: int = 0) -> list[tuple[int, list[int]]]:
    return [(row.then, bits(row.firsts)) for row in net.rows[stated:]]


def test_only_the_last_of_a_chain_is_told_and_all_are_known() -> None:
    net = net_of(4, (0, 1))
    net.precede([net.jobs[3]], 0b011, "side", Why("stated", ("x",)))
    assert added(net, 1) == [(3, [1])]
    assert (net.before[3], net.after[0], net.after[1]) == (0b11, 0b1010, 0b1000)
    # What comes after 3 waits for the chain as well, and what 0 waits for comes before 3.
    net = net_of(5, (3, 4), (2, 0))
    net.precede([net.jobs[3]], 0b00001, "side", Why("stated", ("x",)))
    assert (net.before[3], net.before[4], net.after[2]) == (0b00101, 0b01101, 0b11001)


def test_of_some_that_wait_only_those_that_do_not_yet_are_told() -> None:
    net = net_of(4, (0, 2))
    net.precede([net.jobs[2], net.jobs[3]], 0b0001, "side", Why("stated", ("{}",)))
    assert added(net, 1) == [(3, [0])]
    net.precede([net.jobs[2], net.jobs[3]], 0b0001, "side", Why("stated", ("{}",)))
    assert added(net, 1) == [(3, [0])]
    # One that waits for another of them needs no word of its own.
    net = net_of(3, (1, 2))
    net.precede([net.jobs[1], net.jobs[2]], 0b001, "side", Why("stated", ("x",)))
    assert added(net, 1) == [(1, [0])]
    assert net.before[2] == 0b011
    # Nobody waits for himself, nor for what waits for him.
    net = net_of(3)
    net.precede([net.jobs[0], net.jobs[1]], 0b111, "side", Why("stated", ("x",)))
    assert added(net) == [(0, [1, 2]), (1, [2])]
    (waived,) = net.waived()
    assert waived_text(waived) == (
        "fit:R2 does not wait for R1 (surface-mount sides before through-hole "
        "parts): what the kit states goes first"
    )


def test_what_gives_way_is_told_by_names_up_to_three() -> None:
    net = net_of(5, (4, 0), (4, 1), (4, 2))
    net.precede([net.jobs[4]], 0b01111, "odd", Why("stated", ("x",)))
    assert added(net, 3) == [(4, [3])]
    assert waived_text(net.waived()[0]).startswith("fit:R5 does not wait for R1, R2, R3 (odd): ")
    net.precede([net.jobs[4]], 0b00001, "odd", Why("stated", ("x",)))
    net = net_of(5, *((4, n) for n in range(4)))
    net.precede([net.jobs[4]], 0b00011, "odd", Why("stated", ("x",)))
    net.precede([net.jobs[4]], 0b01100, "odd", Why("stated", ("x",)))
    assert waived_text(net.waived()[0]).startswith(
        "fit:R5 does not wait for R1, R2 and 2 more (odd): "
    )


def test_rules_about_what_is_not_done_bind_whole_and_of_what_is_done_in_its_turn() -> None:
    """1 was done first, then 0: that 1 waits for 0 binds no more, that 3 waits does."""
    work = plain(4)
    rows = [
        Row(1, 0b0101, "kit", Why("stated", ("a",))),
        Row(3, 0b0110, "kit", Why("stated", ("b",))),
        Row(0, 0b0010, "kit", Why("stated", ("c",))),
    ]
    edges = Edges(work, rows)
    found = edges.binding(["fit:R2", "fit:R1"])
    assert [(row.then, row.firsts) for row in found.rows] == [(3, 0b0110), (0, 0b0010)]
    found = edges.binding(["fit:R3", "fit:R2"])
    assert [(row.then, row.firsts) for row in found.rows] == [(1, 0b0100), (3, 6), (0, 2)]
    assert edges.binding([]) is edges
    assert len(edges) == 5
    assert [e.first for e in edges.told(rows[1], 0b0100)] == ["fit:R3"]
    assert [(e.first, e.then) for e in edges.out("fit:R2")] == [("fit:R2", "fit:R4"),
                                                                 ("fit:R2", "fit:R1")]  # fmt: skip
    assert [(e.first, e.then) for e in edges.into("fit:R2")] == [("fit:R1", "fit:R2"),
                                                                  ("fit:R3", "fit:R2")]  # fmt: skip


@pytest.mark.parametrize("share", [0.001, 0.5])
def test_columns_of_masks_by_looking_at_every_bit(share: float) -> None:
    rng = random.Random(7)
    masks = [sum(1 << n for n in range(2300) if rng.random() < share) for _ in range(9)] + [0, 5]
    columns = [0, 1023, 7, 8, 1024, 2299, 2047, 2048, 5000, 3]

    def by_bit(column: int) -> int:
        return sum(1 << row for row, mask in enumerate(masks) if mask >> column & 1)

    assert picked(masks, columns) == [by_bit(column) for column in columns]
    assert turned(masks[:3], 2300) == [by_bit(column) & 7 for column in range(2300)]
    for mask in masks:
        assert bits(mask) == [n for n in range(2400) if mask >> n & 1]
        assert mask_of(bits(mask)) == mask
    assert picked([], [1, 2]) == [0, 0]
    assert picked([1, 2], []) == []


def test_the_iron_meets_the_tall_body_on_its_own_side() -> None:
    """By hand: a flat part is soldered where it lies, one with leads below; two with leads stand
    in each other's way where both are put in."""
    parts = [part("A1", "R"), part("A2", "R", side="bottom"), part("B1", "DIP"),
             part("B2", "DIP", side="bottom")]  # fmt: skip
    a1, a2, b1, b2 = make.jobs(make.kit(placements=parts))
    assert _in_the_way(a1, b1)
    assert not _in_the_way(a2, b1)
    assert _in_the_way(b1, b1)
    assert not _in_the_way(b2, b1)
    assert not _in_the_way(b1, a1)
    assert _in_the_way(b1, a2)


def test_heat_through_the_board_reaches_what_is_near_or_not_known() -> None:
    far = {"positions": [{"ref": "U1", "x_mm": 0.0, "y_mm": 0.0}]}
    of = make.kit(placements=[{**part("U1", "QFN"), **far}, part("C1", "CAN", at={"C1": (20, 0)}),
                              part("C2", "CAN")])  # fmt: skip
    hot, near, lost = make.jobs(of)
    # The can's own edge is 16.7 mm from the middle of the heat.
    for reach, told in ((16.6, False), (16.8, True)):
        assert _through_to(Air(hot, False, make.air_heat(reflow_mm=reach)), near) is told
    assert _through_to(Air(hot, False, make.air_heat()), lost)
    assert _through_to(Air(hot, False, None), near)


def test_what_is_cleaned_after_its_lift_is_fitted_clean_and_nothing_else() -> None:
    """A wash after two lifts of which one part is fitted; another part is fitted as it came."""
    kit = make.kit(
        placements=[part("U1", "SO", donor="old"), part("U2", "SO", donor="old"), part("R1", "R")],
        lifts=[{"ref": "X9", "footprint": "SO", "donor": "old"}],
        tasks=[{"ref": "wash", "title": "Wash", "kind": "clean",
                "after": ["lift:U1", "lift:X9"]}],
    )  # fmt: skip
    found = [e.then for e in precedence(kit).edges if e.first == "task:wash"]
    assert found == ["fit:U1"]


def heat_edges(of: Kit, ways: dict[str, Any]) -> set[tuple[str, str]]:
    found = precedence(of, options=ways).edges
    return {(e.first[4:], e.then[4:]) for e in found if e.rule == "heat_reach"}


def test_who_works_with_air_or_a_plate() -> None:
    work = make.jobs(make.kit(placements=[part(f"U{n}", "SO") for n in range(1, 6)]))
    hot = make.option("air", settings=make.AIR, heat=make.air_heat(5.0))
    ways = {"fit:U1": hot, "fit:U2": make.option("plate", settings=make.AIR, source="plate"),
            "fit:U3": hot}  # fmt: skip
    risk = make.risk(work, ways)
    items = tuple(replace(item, blocked=item.job.ref == "U3") for item in risk.jobs)
    risk = replace(risk, jobs=items, by_key={item.job.key: item for item in items})
    given = {"fit:U1": make.air_heat(9.0), "fit:U5": make.air_heat(7.0)}

    def told(given: Any) -> dict[str, tuple[bool, float | None]]:
        found = air_of(work, risk, given)
        return {
            key: (air.plate, air.heat and air.heat.reflow_radius_mm) for key, air in found.items()
        }

    plate = {"fit:U2": (True, None)}
    assert told(given) == {"fit:U1": (False, 9.0), **plate, "fit:U5": (False, 7.0)}
    assert told(None) == {"fit:U1": (False, 5.0), **plate}
    assert air_of(work, None, None) == {}


def test_who_waits_for_which_air_by_hand() -> None:
    """U1's air is known and placed, U2's is not known, U3's not placed. Slots do not bear air;
    chips come loose only where it reaches them, and the other side is out of it."""
    at = {"U1": (0, 0), "U2": (100, 0)}
    hot = make.option("air", settings=make.AIR, heat=make.air_heat(8.0, 15.0))
    blind = make.option("air", settings=make.AIR)
    of = make.kit(placements=[
        part("U1", "QFN", at={"U1": at["U1"]}), part("U2", "QFN", at={"U2": at["U2"]}),
        part("U3", "QFN"), part("J1", "SLOT"), part("J2", "SLOT", at={"J2": (200, 0)}),
        part("J3", "SLOT", at={"J3": (18, 0)}), part("R1", "R", at={"R1": (6, 0)}), part("R2", "R"),
        part("R3", "R", at={"R3": (6, 0)}, side="bottom"), part("R4", "R", at={"R4": (12, 0)}),
    ])  # fmt: skip
    found = heat_edges(of, {"fit:U1": hot, "fit:U2": blind, "fit:U3": hot})
    # Not known or not placed: before all that does not bear it; known: within its reach.
    assert found == {
        *((hot, slot) for hot in ("U2", "U3") for slot in ("J1", "J2", "J3")),
        ("U1", "J1"), ("U1", "J3"), ("U1", "R1"),
    }  # fmt: skip


def test_all_the_rest_of_a_board_waits_for_its_plate() -> None:
    plate = make.option("plate", settings=make.AIR, source="plate")
    air = make.option("air", settings=make.AIR, heat=make.air_heat())
    of = make.kit(placements=[part("U1,U2", "QFN"), part("U3", "SO"), part("R1", "R")])
    found = heat_edges(of, {"fit:QFN": plate, "fit:SO": air})
    assert found == {(hot, cool) for hot in ("U1", "U2") for cool in ("U3", "R1")}


def test_on_a_donor_only_what_does_not_bear_air_comes_off_first() -> None:
    hot = {"lift:QFP": make.option("air", settings=make.AIR, heat=make.air_heat())}
    lifts = [part("U1", "QFP", donor="old"), part("J1", "SLOT", donor="old"),
             part("R1", "R", donor="old")]  # fmt: skip
    found = precedence(make.kit(placements=lifts), options=hot).edges
    assert [(e.first, e.then) for e in found if e.rule == "heat_reach"] == [("lift:J1", "lift:U1")]


def test_classes_of_height_at_their_ends() -> None:
    low, tall = PARAMETERS["order_low_mm"], PARAMETERS["order_tall_mm"]
    (job,) = make.jobs(make.kit(placements=[part("U1", "SO")]))
    (cell,) = make.jobs(make.kit(placements=[part("B1", "CELL")]))

    def rank(job: Job, height_mm: float) -> int:
        assert job.footprint is not None
        body = job.footprint.body.model_copy(update={"height_mm": height_mm})
        high = replace(job, footprint=job.footprint.model_copy(update={"body": body}))
        return height_class(high, PARAMETERS, make.RULES["families"])

    assert [rank(job, mm) for mm in (low, low + 0.1, tall, tall + 0.1)] == [0, 1, 1, 2]
    assert rank(cell, 0.5) == 2
    assert height_class(replace(job, footprint=None), PARAMETERS, make.RULES["families"]) == 0


@pytest.mark.parametrize(("away", "rise", "blocks"), [
    (5.9, 5.5, True), (6.1, 5.5, False), (5.9, 5.6, False), (5.9, 6.1, False), (0.0, 5.5, True),
])  # fmt: skip
def test_a_body_keeps_the_iron_off_as_far_as_it_is_tall(
    away: float, rise: float, blocks: bool
) -> None:
    """A can of 6 mm beside a chip of 0.5 mm, at 45 degrees; half bodies are 3.3 and 0.8 mm."""
    at = {"C1": (0, 0), "R1": (3.3 + 0.8 + away, 0), "R2": (3.3 + 0.8 + away, 0)}
    of = make.kit(placements=[part("C1", "CAN", at={"C1": at["C1"]}),
                              part("R1", "R", at={"R1": at["R1"]}),
                              part("R2", "R", at={"R2": at["R2"]}, side="bottom")])  # fmt: skip
    work = make.jobs(of)
    net = Net(work, Edges(work, []))
    numbers = PARAMETERS.replaced({"order_approach_deg": 45.0, "order_rise_mm": rise})
    found = _blocked(net, work, numbers)
    assert {then: list(firsts) for then, firsts in found.items()} == ({0: [1]} if blocks else {})


@pytest.mark.parametrize(("kind", "more", "first"), [
    ("prepare", {}, True), ("bake", {}, True), ("cut", {}, True), ("other", {}, False),
    ("prepare", {"after": ["R1"]}, False), ("bake", {"before": ["R1"]}, False),
])  # fmt: skip
def test_what_prepares_the_work_and_says_no_more_comes_first(
    kind: str, more: dict[str, Any], first: bool
) -> None:
    kit = make.kit(placements=[part("R1,R2", "R")],
                   tasks=[{"ref": "t", "title": "t", "kind": kind, **more}])  # fmt: skip
    rules = {(e.then, e.rule) for e in precedence(kit).edges if e.rule == "prepare_first"}
    assert rules == ({("fit:R1", "prepare_first"), ("fit:R2", "prepare_first")} if first else set())


def test_solvent_is_off_the_bench_before_hot_air() -> None:
    """Unless the cleaning itself waits for soldering."""
    for after, told in (([], True), (["R1"], False)):
        task = {"ref": "w", "title": "w", "kind": "clean", "after": after}
        kit = make.kit(placements=[part("U1", "QFN"), part("R1", "R")], tasks=[task])
        pairs = {(e.first, e.then) for e in precedence(kit, options=AIR).edges
                 if e.rule == "clean_first"}  # fmt: skip
        assert pairs == ({("task:w", "fit:U1")} if told else set())


def test_wires_wait_for_their_own_board_alone() -> None:
    wires = [{"ref": "W1", "board": "main", "connections": 1},
             {"ref": "W2", "board": "other", "connections": 1}]  # fmt: skip
    kit = make.kit(second="other", placements=[part("R1", "R")], wires=wires)
    found = [(e.first, e.then) for e in precedence(kit).edges]
    assert found == [("fit:R1", "wire:W1")]


def test_who_warms_up_on_what() -> None:
    """The easiest of a technique, if it can be bought again and there are others; of equals the
    first. What cannot be done is no part of it."""
    names = {"U1": (0.8, "a"), "U2": (0.9, "a"), "U3": (0.9, "a"), "U4": (0.95, "a"),
             "U5": (0.5, "b"), "U6": (0.5, "c"), "U7": (0.6, "c")}  # fmt: skip
    work = make.jobs(make.kit(placements=[
        part(ref, "SO", irreplaceable=ref in ("U6", "U7")) for ref in names]))  # fmt: skip
    risk = make.risk(work, {f"fit:{ref}": make.option(way, first_time=chance)
                            for ref, (chance, way) in names.items()})  # fmt: skip
    items = tuple(replace(item, blocked=item.job.ref == "U4") for item in risk.jobs)
    risk = replace(risk, jobs=items, by_key={item.job.key: item for item in items})
    net = Net(work, Edges(work, []))
    warm_up(net, work, risk)
    assert added(net) == [(0, [1])]
    net = Net(work, Edges(work, []))
    warm_up(net, work, None)
    assert added(net) == []
