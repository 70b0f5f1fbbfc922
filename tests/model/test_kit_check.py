from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.kit_check import MAX_JOBS, kit_problems
from solderrisk.model.library import Library
from solderrisk.model.problems import path_text


def part(name: str, **more: Any) -> Footprint:
    data = {
        "name": name,
        "family": "other_smd",
        "pads": [{"name": "pins", "kind": "chip_end", "count": 2, "land_w_mm": 1, "land_l_mm": 1}],
        "body": {"length_mm": 2, "width_mm": 1, "height_mm": 1},
        "source": "assumed",
    }
    return Footprint.model_validate({**data, **more})


LIBRARY = Library.of([part("CHIP-0603", aliases=["0603"]), part("SOIC-8"), part("WIRE-LAND-1.5")])


def kit(**parts: Any) -> Kit:
    data: dict[str, Any] = {
        "name": "k",
        "boards": [{"name": "main"}, {"name": "probe", "copper_layers": 2}],
        "donors": [{"name": "old", "board": {"name": "old-board"}}],
        "placements": [
            {"refs": "R1-R4", "footprint": "0603", "board": "main"},
            {"refs": "U1", "footprint": "SOIC-8", "board": "main", "donor": "old"},
        ],
        "wires": [{"ref": "W1", "board": "main", "connections": 2}],
        "tasks": [{"ref": "clean", "title": "Clean"}],
        "gates": [{"ref": "power", "title": "Power up", "after": ["R1"]}],
    }
    return Kit.model_validate({**data, **parts})


def told(made: Kit, **known: Any) -> list[str]:
    return [f"{path_text(p.loc)}: {p.message}" for p in kit_problems(made, LIBRARY, **known)]


def placement(**more: Any) -> dict[str, Any]:
    return {"refs": "U9", "footprint": "SOIC-8", "board": "main", **more}


def lift(**more: Any) -> dict[str, Any]:
    return {"ref": "X1", "donor": "old", "footprint": "SOIC-8", **more}


def gate(ref: str, after: list[str], before: list[str] = []) -> dict[str, Any]:  # noqa: B006
    return {"ref": ref, "title": ref, "after": after, "before": before}


def test_a_sound_kit_has_no_problems() -> None:
    assert told(kit()) == []


def jobs_apart(made: Kit) -> list[Job]:
    """Jobs whatever line they were written in."""
    return [replace(job, entry="") for job in jobs_of(made, LIBRARY)]


def test_several_alike_are_lifted_by_their_refs() -> None:
    many = kit(lifts=[lift(ref=None, refs="X1-X3, X7")])
    assert told(many) == []
    one_by_one = kit(lifts=[lift(ref=ref) for ref in ("X1", "X2", "X3", "X7")])
    jobs = [
        [replace(job, entry="") for job in jobs_of(each, LIBRARY)] for each in (many, one_by_one)
    ]
    assert jobs[0] == jobs[1]
    with pytest.raises(ValueError, match="either ref"):
        kit(lifts=[lift(refs="X2")])


def test_a_cable_with_too_few_conductors_is_no_error() -> None:
    wire = {"ref": "W1", "board": "main", "connections": 5, "conductors": 4, "reused": True}
    assert told(kit(wires=[wire])) == []


FAULTS: list[tuple[str, dict[str, Any], list[str]]] = [
    (
        "unknown footprint",
        {"placements": [placement(footprint="SOIC-88")], "gates": []},
        ["placements[0].footprint: unknown footprint 'SOIC-88'; did you mean SOIC-8?"],
    ),
    (
        "footprint like nothing",
        {"placements": [placement(footprint="zz")], "gates": []},
        ["placements[0].footprint: unknown footprint 'zz'; define it under footprints"],
    ),
    (
        "unknown board",
        {"placements": [placement(board="mian")], "gates": []},
        ["placements[0].board: unknown board 'mian'; did you mean 'main'?"],
    ),
    (
        "unknown donor",
        {"placements": [placement(donor="older")], "gates": []},
        ["placements[0].donor: unknown donor 'older'; did you mean 'old'?"],
    ),
    (
        "lift from no donor",
        {"lifts": [lift(donor="scrap")], "donors": [], "placements": [placement()], "gates": []},
        ["lifts[0].donor: unknown donor 'scrap'; there is no donor in this kit"],
    ),
    (
        "several lifts that become one",
        {"lifts": [lift(ref=None, refs="X1-X3", becomes="U1")]},
        ["lifts[0].refs: X1-X3 are several; becomes and places are for one ref"],
    ),
    (
        "lifts with crooked refs",
        {"lifts": [lift(ref=None, refs="X3-X1")]},
        ["lifts[0].refs: range 'X3-X1' runs backwards; write the lower number first"],
    ),
    (
        "quantity against refs",
        {"placements": [placement(refs="R1-R3", quantity=4)], "gates": []},
        ["placements[0].refs: quantity 4 does not match 3 references"],
    ),
    (
        "reference twice in one list",
        {"placements": [placement(refs="R1, R1")], "gates": []},
        ["placements[0].refs: reference R1 is written twice in 'R1, R1'; keep one"],
    ),
    (
        "reference in two placements",
        {"placements": [placement(refs="R1-R2"), placement(refs="R2")], "gates": []},
        ["placements[1].refs: reference 'R2' is taken by placements[0]; rename one"],
    ),
    (
        "task named like a part",
        {"tasks": [{"ref": "R2", "title": "x"}]},
        ["tasks[0].ref: reference 'R2' is taken by placements[0]; rename one"],
    ),
    (
        "wire named like a gate",
        {"wires": [{"ref": "power", "board": "main", "connections": 1}]},
        ["gates[0].ref: reference 'power' is taken by wires[0]; rename one"],
    ),
    (
        "lift named like a task",
        {"lifts": [lift(ref="clean")]},
        ["tasks[0].ref: reference 'clean' is taken by lifts[0]; rename one"],
    ),
    (
        "two lifts of one name",
        {"lifts": [lift(), lift()]},
        ["lifts[1].ref: reference 'X1' is taken by lifts[0]; rename one"],
    ),
    (
        "lift named like the one a placement makes itself",
        {"lifts": [lift(ref="U1")]},
        ["placements[1].donor: reference 'U1' is taken by lifts[0]; rename one"],
    ),
    (
        "a selector's word as a reference",
        {"tasks": [{"ref": "all", "title": "x"}]},
        ["tasks[0].ref: reference 'all' means something in selectors; choose another"],
    ),
    (
        "becomes nothing",
        {"lifts": [lift(becomes="U11")]},
        ["lifts[0].becomes: unknown placement 'U11'; did you mean 'U1'?"],
    ),
    (
        "becomes another package",
        {"lifts": [lift(becomes="R1")]},
        [
            "lifts[0].footprint: SOIC-8 cannot become R1, which is CHIP-0603; use one footprint",
        ],
    ),
    (
        "position of a foreign reference",
        {
            "placements": [
                placement(refs="R1-R2", positions=[{"ref": "R3", "x_mm": 0, "y_mm": 0}])
            ],
            "gates": [],
        },
        [
            "placements[0].positions[0].ref: 'R3' is not among the references 'R1-R2'; "
            "allowed: R1, R2"
        ],
    ),
    (
        "two positions",
        {
            "placements": [placement(positions=[{"ref": "U9", "x_mm": 0, "y_mm": 0}] * 2)],
            "gates": [],
        },
        ["placements[0].positions[1].ref: U9 has two positions; keep one"],
    ),
    (
        "link of a group that is not there",
        {"placements": [placement(links=[{"group": "tab", "planes": 1}])], "gates": []},
        ["placements[0].links[0].group: unknown pad group of SOIC-8 'tab'; allowed: pins"],
    ),
    (
        "more planes than layers",
        {"placements": [placement(links=[{"planes": 3}])], "gates": []},
        [
            "placements[0].links[0].planes: 3 planes, but main has 2 copper layers; "
            "at most that many"
        ],
    ),
    (
        "gate after nothing",
        {"gates": [gate("power", ["R1", "powr"])]},
        ["gates[0].after[1]: 'powr' names nothing to do; did you mean 'power'?"],
    ),
    (
        "rule with a strange word",
        {"rules": [{"first": "fits", "then": "qqqqqqqq"}]},
        ["rules[0].then: 'qqqqqqqq' names nothing to do; write a reference of this kit"],
    ),
    (
        "rule of one thing",
        {"rules": [{"first": "R1", "then": "fit:R1"}]},
        ["rules[0]: first and then name the same; part them"],
    ),
    (
        "extra committed by nothing",
        {"extras": [{"name": "case", "committed_by": "powr"}]},
        ["extras[0].committed_by: unknown task or gate 'powr'; did you mean 'power'?"],
    ),
    (
        "plastic on no board",
        {"plastics": [{"board": "attic", "name": "x", "x_mm": 0, "y_mm": 0}]},
        ["plastics[0].board: unknown board or donor 'attic'; allowed: main, probe, old, old-board"],
    ),
    (
        "two boards of one name",
        {"boards": [{"name": "main"}, {"name": "main"}]},
        ["boards[1].name: board 'main' is named twice (see boards[0]); rename one"],
    ),
    (
        "nothing to do",
        {"placements": [], "wires": [], "gates": []},
        [": nothing to solder; add placements, lifts or wires"],
    ),
]


@pytest.mark.parametrize(("parts", "lines"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_fault(parts: dict[str, Any], lines: list[str]) -> None:
    assert told(kit(**parts)) == lines


CIRCLES: list[tuple[str, dict[str, Any], str, list[str]]] = [
    (
        "two gates",
        {"gates": [gate("a", ["b"]), gate("b", ["a"])]},
        "gates[0].after",
        ["gate:b before gate:a (gates[0].after)", "gate:a before gate:b (gates[1].after)"],
    ),
    (
        "gate and rule",
        {
            "gates": [gate("g", ["R1"], ["U1"])],
            "rules": [{"first": "U1", "then": "R1-R4"}],
        },
        "gates[0].after",
        [
            "fit:R1 before gate:g (gates[0].after)",
            "gate:g before fit:U1 (gates[0].before)",
            "fit:U1 before fit:R1 (rules[0])",
        ],
    ),
    (
        "against the lift that feeds",
        {"rules": [{"first": "fit:U1", "then": "lift:U1"}]},
        "rules[0].first",
        ["fit:U1 before lift:U1 (rules[0])", "lift:U1 before fit:U1 (placements[1].donor)"],
    ),
    (
        "rules alone",
        {"rules": [{"first": "R1", "then": "R2"}, {"first": "R2", "then": "R1"}]},
        "rules[0].first",
        ["fit:R1 before fit:R2 (rules[0])", "fit:R2 before fit:R1 (rules[1])"],
    ),
    (
        "the shorter of two",
        {
            "tasks": [
                {"ref": "t1", "title": "x", "after": ["t4"], "before": ["t2"]},
                {"ref": "t2", "title": "x", "before": ["t3"]},
                {"ref": "t3", "title": "x", "before": ["t4"]},
                {"ref": "t4", "title": "x", "before": ["t5"]},
                {"ref": "t5", "title": "x", "before": ["t4"]},
            ]
        },
        "tasks[3].before",
        ["task:t4 before task:t5 (tasks[3].before)", "task:t5 before task:t4 (tasks[4].before)"],
    ),
]


@pytest.mark.parametrize(
    ("parts", "place", "steps"), [c[1:] for c in CIRCLES], ids=[c[0] for c in CIRCLES]
)
def test_circular_order_names_its_rules(
    parts: dict[str, Any], place: str, steps: list[str]
) -> None:
    (line,) = told(kit(**parts))
    assert line.startswith(f"{place}: the order runs in a circle: ")
    assert line.endswith("; drop one of these")
    assert line.split("circle: ")[1].split("; drop")[0].split(", ") == steps


def test_a_gate_after_and_before_parts_of_one_board_is_no_circle() -> None:
    assert told(kit(gates=[gate("g", ["board:main"], ["U1"])])) == []
    assert told(kit(gates=[gate("g", ["gates", "fits"], ["wires"])])) == []
    assert told(kit(rules=[{"first": "fits", "then": "U1"}])) == []


def test_known_names_are_checked_where_given() -> None:
    made = kit(
        alloy="Sn63",
        placements=[placement(technique="drga")],
        lifts=[lift(technique="wick")],
        gates=[],
    )
    assert told(made) == []
    assert told(made, alloys=["Sn63Pb37"], techniques=["drag", "wick"]) == [
        "alloy: unknown alloy 'Sn63'; did you mean 'Sn63Pb37'?",
        "placements[0].technique: unknown technique 'drga'; did you mean 'drag'?",
    ]


def test_the_kits_own_footprints_count() -> None:
    own = part(
        "MINE", pads=[{"name": "tab", "kind": "tab", "count": 1, "land_w_mm": 1, "land_l_mm": 1}]
    )
    made = kit(
        footprints=[own.model_dump()],
        placements=[placement(footprint="mine", links=[{"group": "tab", "planes": 1}])],
        gates=[],
    )
    assert told(made) == []


def test_own_footprints_that_no_part_can_have_are_told() -> None:
    hole = {"kind": "through_hole", "count": 2, "layout": "ends", "row_span_mm": 5.0}
    own = part("MINE").model_copy(
        update={"pads": (PadGroup(**hole, land_w_mm=1.0, land_l_mm=1.0, hole_mm=1.2),)}
    )
    made = kit(footprints=(own,))
    assert any(
        line.startswith("footprints[0].pads[0].hole_mm: MINE: ") and "ring" in line
        for line in told(made)
    )
    # Centres one by one come from drawings, and boards are made with such lands.
    drawn = {"kind": "gull_wing", "count": 2, "layout": "explicit", "at": ((0.0, 0.0), (0.1, 0.0))}
    made = kit(
        footprints=(
            own.model_copy(update={"pads": (PadGroup(**drawn, land_w_mm=1.0, land_l_mm=1.0),)}),
        )
    )
    assert not any("overlap" in line for line in told(made))


def test_huge_kits_are_refused_at_once() -> None:
    made = kit(
        placements=[placement(refs=f"R{n}001-R{n}999", quantity=999) for n in range(1, 40)],
        gates=[],
    )
    assert told(made) == [
        f"placements[{MAX_JOBS // 999}].refs: more than {MAX_JOBS} placements; split the kit"
    ]
