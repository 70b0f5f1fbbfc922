"""Every rule of precedence: what it asks for, why, and when it gives way."""

from __future__ import annotations

import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.model.kit import Kit
from solderrisk.plan.assess import Precedence, precedence_of, stated_edges
from solderrisk.plan.order.bounds import closure
from solderrisk.plan.order.edges import Edge
from solderrisk.plan.order.net import CyclicOrder, shortest_cycle
from tests.plan import kit_builder as make
from tests.plan.kit_builder import part


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
    assert any("fit:R1 does not wait for U1" in note for note in found.notes)


def test_low_parts_come_before_tall_ones_without_positions() -> None:
    kit = make.kit(placements=[part("J1", "HEADER"), part("D1", "DIP"), part("R1-R3", "R")])
    found = precedence(kit)
    assert before(found, kit, "fit:R2", "fit:D1")
    assert before(found, kit, "fit:D1", "fit:J1")
    assert edge(found, "fit:D1", "fit:J1").rule == "access"


def test_a_heavy_part_waits_even_where_it_is_flat() -> None:
    kit = make.kit(placements=[part("B1", "CELL"), part("D1", "AXIAL")])
    found = edge(precedence(kit), "fit:D1", "fit:B1")
    assert "B1" in found.why


def test_a_tall_neighbour_blocks_the_iron_only_where_it_is_near() -> None:
    """A 6 mm can at 45 degrees shades 6 mm of board; the class rule holds further away."""
    at = {"R1": (0, 0), "R2": (40, 0)}
    kit = make.kit(placements=[part("R1,R2", "R", at=at), part("C1", "CAN", at={"C1": (8, 0)})])
    found = precedence(kit)
    assert "mm away" in edge(found, "fit:R1", "fit:C1").why
    assert "mm away" not in edge(found, "fit:R2", "fit:C1").why


def test_parts_of_one_class_wait_only_for_near_and_higher_ones() -> None:
    """Both are middling (3.5 and 6 mm); only the one 1.7 mm away is shaded by the can."""
    coils = part("L1,L2", "COIL", at={"L1": (8, 0), "L2": (30, 0)})
    chips = part("R1,U1", "SO", at={"R1": (0, 20), "U1": (6, 20)})
    kit = make.kit(placements=[coils, chips, part("C1", "CAN", at={"C1": (0, 0)})])
    found = precedence(kit)
    assert "1.7 mm away" in edge(found, "fit:L1", "fit:C1").why
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
    assert all("mm" in e.why for e in found)


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
    assert "must pass" in edge(found, "gate:power", "fit:U1").why


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
    assert edge(found, "fit:J1", "fit:R2").why == "R2 sits on its leads"
    assert before(found, kit, "fit:R1", "fit:J1")
    assert not before(found, kit, "fit:R2", "fit:J1")
    assert any("J1 does not wait for R2" in note for note in found.notes)


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
    assert any("U1" in note for note in found.notes)


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
    assert {e.why for e in caught.value.cycle} == {"e", "f"}
    assert "R3 before fit:R5 (kit: e)" in str(caught.value)


@given(st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_the_shortest_circle_is_as_short_as_search_from_every_node_finds(seed: int) -> None:
    rng = random.Random(seed)
    names = [f"n{i}" for i in range(7)]
    pairs = {(rng.choice(names), rng.choice(names)) for _ in range(rng.randrange(1, 14))}
    edges = [Edge(a, b, "kit", "") for a, b in sorted(pairs) if a != b]
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
