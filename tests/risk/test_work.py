"""What stands round a part, and which gates watch over it."""

from __future__ import annotations

import pytest

from solderrisk.model.kit import Kit, Placement
from solderrisk.risk.work import GateLook, cases_of, surroundings, work_of
from tests.risk.risk_scene import (
    FULL,
    PLANE_BOARD,
    REFERENCE,
    assessed,
    jobs,
    kit_of,
    library,
)

DATA = REFERENCE.risk.parameters


def placed(x_mm: float, ref: str = "R2", footprint: str = "R-0603", **more: object) -> Placement:
    return Placement.model_validate(
        {"refs": ref, "footprint": footprint, "board": "b",
         "positions": ({"ref": ref, "x_mm": x_mm, "y_mm": 0.0},), **more}
    )  # fmt: skip


def test_distance_is_from_edge_to_edge() -> None:
    near = kit_of([placed(0.0, "R1"), placed(5.0)])
    found = surroundings(jobs(near), near, DATA)
    # Lands of an 0603 reach about 1.2 mm from its centre on either side.
    assert 2.0 <= found.neighbour_mm["fit:R1"] <= 3.0
    assert found.neighbour_mm["fit:R1"] == found.neighbour_mm["fit:R2"]


def test_the_other_side_is_no_neighbour() -> None:
    kit = kit_of([placed(0.0, "R1"), placed(0.0, "R2", side="bottom")])
    under = {"ref": "R2", "x_mm": 0.0, "y_mm": 0.0, "side": "bottom"}
    kit = kit_of([placed(0.0, "R1"), placed(0.0, "R2", positions=(under,))])
    assert surroundings(jobs(kit), kit, DATA).neighbour_mm["fit:R1"] > 50


def test_crowding_costs() -> None:
    far = kit_of([placed(0.0, "R1"), placed(40.0)])
    near = kit_of([placed(0.0, "R1"), placed(3.0)])
    pins = tuple((f"fit:R{n}", "tack_and_solder") for n in (1, 2))
    one, other = (assessed(kit, FULL, pins=pins).working.mid for kit in (near, far))
    assert one < other


def test_plastic_is_seen_from_the_parts_centre() -> None:
    kit = kit_of([placed(0.0, "U1", "LQFP-48")], PLANE_BOARD)
    plastic = {"board": "b", "name": "case slot", "x_mm": 20.0, "y_mm": 0.0}
    kit = Kit.model_validate({**dict(kit), "plastics": (plastic,)})
    assert surroundings(jobs(kit), kit, DATA).plastic_mm["fit:U1"] == 16.0  # a step below 20


def test_gates_cover_what_they_select() -> None:
    gates = (
        {"ref": "g", "title": "g", "kind": "function", "after": ("R1",)},
        {"ref": "h", "title": "h", "kind": "rail", "after": ("all",), "finds": 0.5},
    )
    kit = Kit.model_validate({**dict(kit_of([placed(0.0, "R1"), placed(9.0)])), "gates": gates})
    found = surroundings(jobs(kit), kit, DATA).gates
    assert found["fit:R2"] == (GateLook("rail", 0.5),)
    assert set(found["fit:R1"]) == {GateLook("rail", 0.5), GateLook("function", None)}


def test_equal_placements_are_one_case() -> None:
    kit = kit_of([Placement(refs="R1-R40", footprint="R-0603", board="b", price_each=0.1)])
    cases = cases_of(jobs(kit), surroundings(jobs(kit), kit, DATA), {}, {})
    assert [len(case.jobs) for case in cases] == [40]


def test_parts_of_different_value_do_not_share_spares() -> None:
    once = {"footprint": "R-0603", "board": "b", "spares": 1, "irreplaceable": True}
    kit = kit_of(
        [
            Placement(refs="R1-R3", value="1k", **once),  # type: ignore[arg-type]
            Placement(refs="R4-R6", value="2k", **once),  # type: ignore[arg-type]
        ]
    )
    cases = cases_of(jobs(kit), surroundings(jobs(kit), kit, DATA), {}, {})
    assert sorted(len(case.jobs) for case in cases) == [3, 3]
    assert [case.spares for case in cases] == [1, 1]


def test_spares_of_one_value_in_two_entries_are_two() -> None:
    once = {"footprint": "R-0603", "board": "b", "value": "1k", "spares": 1, "irreplaceable": True}
    kit = kit_of([Placement(refs=refs, **once) for refs in ("R1-R3", "R4-R6")])  # type: ignore[arg-type]
    cases = cases_of(jobs(kit), surroundings(jobs(kit), kit, DATA), {}, {})
    assert [(len(case.jobs), case.spares) for case in cases] == [(6, 2)]


def test_wires_have_two_ends() -> None:
    wire = {"ref": "W1", "board": "b", "connections": 5}
    kit = Kit.model_validate({**dict(kit_of([])), "wires": (wire,)})
    (job,) = jobs(kit)
    work = work_of(job, surroundings((job,), kit, DATA), {})
    assert work.copies(1) == 10


def test_tasks_are_no_work() -> None:
    task = {"ref": "t", "title": "t"}
    kit = Kit.model_validate({**dict(kit_of([])), "tasks": (task,)})
    (job,) = jobs(kit)
    with pytest.raises(ValueError, match="no soldering"):
        work_of(job, surroundings((job,), kit, DATA), {})


def test_plastic_on_a_donor() -> None:
    """Near a lift by its place there; near every lift whose place is not given."""
    kit = Kit.model_validate(
        {
            "name": "k",
            "boards": (PLANE_BOARD,),
            "donors": ({"name": "d", "board": PLANE_BOARD.model_copy(update={"name": "old"})},),
            "lifts": (
                {"ref": "U1", "donor": "d", "footprint": "SOIC-8"},
                {"ref": "U2", "donor": "d", "footprint": "SOIC-8", "x_mm": 9.0, "y_mm": 0.0},
            ),
            "plastics": ({"board": "old", "name": "slot", "x_mm": 12.0, "y_mm": 0.0},),
        }
    )
    found = surroundings(jobs(kit), kit, DATA).plastic_mm
    assert found["lift:U1"] == DATA["plastic_unknown_mm"]
    assert found["lift:U2"] == 3.0


def test_plastics_that_are_fitted_later_are_not_in_the_way() -> None:
    """Hot air comes before the soft parts that it reaches, so only the kit's own plastics
    count for a fit; on a donor every soft part is there."""
    soft = next(f for f in library() if f.heat.softens_c is not None)
    near = placed(12.0, "J1", soft.name)
    alone = kit_of([placed(0.0, "U1", "QFN-24-0.5-EP"), near])
    assert "fit:U1" not in surroundings(jobs(alone), alone, DATA).plastic_mm
    donor = {"name": "d", "board": PLANE_BOARD.model_copy(update={"name": "old"})}
    at = {"donor": "d", "y_mm": 0.0}
    lifts = (
        {"ref": "U1", "footprint": "SOIC-8", "x_mm": 0.0, **at},
        {"ref": "J1", "footprint": soft.name, "x_mm": 20.0, **at},
    )
    kit = Kit.model_validate(
        {"name": "k", "boards": (PLANE_BOARD,), "donors": (donor,), "lifts": lifts}
    )
    found = surroundings(jobs(kit), kit, DATA).plastic_mm
    assert 0.0 < found["lift:U1"] < 20.0
    assert "lift:J1" not in found
