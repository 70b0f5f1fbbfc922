"""A board's second side: what a plate may do, and what hangs below the heat meanwhile."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import pytest

from solderrisk.model.bench import Bench, HotAir, HotPlate, Solder
from solderrisk.model.kit import Kit
from solderrisk.physics.plate import hanging
from solderrisk.plan.assess import Precedence, assess, precedence_of
from solderrisk.plan.results import Assessment
from solderrisk.report.findings import finding_text
from tests.plan import kit_builder as make
from tests.plan.kit_builder import part
from tests.plan.test_precedence import edge
from tests.risk.risk_scene import DECENT, REFERENCE, asked, engine

PASTE = Solder(alloy="Sn63Pb37", wire_mm=None, flux_percent=10, paste=True)
AIR = DECENT.model_copy(
    update={
        "solders": (Solder(alloy="Sn63Pb37"), PASTE),
        "hot_air": (HotAir(name="air", nozzles_mm=(5.0, 8.0, 10.0)),),
        "removal_alloys": (),
    }
)
PLATE = AIR.model_copy(update={"hot_air": (), "hot_plates": (HotPlate(name="plate"),)})
# Two lands of 4.1 x 5.2 mm under some 3 g, a no-lead chip opposite.
HEAVY: dict[str, Any] = {"refs": "L1", "footprint": "INDUCTOR-1212", "board": "b"}
CHIP: dict[str, Any] = {"refs": "U1", "footprint": "QFN-24-4X4", "board": "b", "side": "bottom"}


def kit(*parts: dict[str, Any], **more: Any) -> Kit:
    board = {"name": "b", "length_mm": 80, "width_mm": 60}
    return Kit.model_validate({"name": "k", "boards": [board], "placements": parts, **more})


@lru_cache(maxsize=16)
def told(of: Kit, bench: Bench = AIR) -> Assessment:
    return assess(asked(of, bench, samples=100), engine())


def hung(a: Assessment) -> list[str]:
    return [line for line in a.cards["fit:U1"].cautions if "below" in line]


@pytest.mark.parametrize(("mass_g", "holds"), [(4.0, "yes"), (5.5, "perhaps"), (7.0, "no")])
def test_what_molten_joints_hold(mass_g: float, holds: str) -> None:
    """Trials of assemblers: 30 g per square inch of joints held for sure, which is
    0.0465 g/mm2, 44 g (0.0682) in some: 100 mm2 of lands hold 4.65 g, perhaps 6.8 g."""
    chip = make.footprint("WIDE", "chip", 2.0)
    land = chip.pads[0].model_copy(update={"land_w_mm": 10.0, "land_l_mm": 5.0})
    body = chip.body.model_copy(update={"mass_g": mass_g})
    wide = chip.model_copy(update={"pads": (land,), "body": body})
    assert hanging(wide, REFERENCE.physics).holds == holds


def test_what_would_fall_is_fitted_after_the_heat_on_the_other_side() -> None:
    a = told(kit(HEAVY, CHIP))
    assert a.risk.by_key["fit:U1"].chosen.warms == "around"
    assert a.order.keys.index("fit:U1") < a.order.keys.index("fit:L1")
    assert hung(a) == []
    assert not any("fall off" in finding_text(finding) for finding in a.findings)


def test_where_the_kit_wants_it_first_the_card_says_what_hangs_below() -> None:
    a = told(kit(HEAVY, CHIP, rules=[{"first": "L1", "then": "U1"}]))
    (line,) = hung(a)
    assert line.startswith("L1 hangs below")
    assert "prop or tape it" in line
    assert "held 46 mg in trials, 68 mg in some" in line
    (found,) = [finding for finding in a.findings if "fall off b" in finding_text(finding)]
    assert found.keys == ("fit:L1",)


def test_nothing_is_said_where_nothing_hangs_in_the_heat() -> None:
    rule = [{"first": "L1", "then": "U1"}]
    here = {"positions": [{"ref": "L1", "x_mm": 10.0, "y_mm": 10.0}]}
    far = {"positions": [{"ref": "U1", "x_mm": 70.0, "y_mm": 50.0, "side": "bottom"}]}
    assert hung(told(kit(HEAVY | here, CHIP | far, rules=rule))) == []
    assert hung(told(kit(HEAVY | {"fixing": "glue"}, CHIP, rules=rule))) == []
    by_iron = CHIP | {"footprint": "SOIC-8"}
    a = told(kit(HEAVY, by_iron, rules=rule))
    assert a.risk.by_key["fit:U1"].chosen.warms == "joint"
    assert hung(a) == []


def test_the_rule_is_about_the_other_side_alone() -> None:
    hot = {"fit:QFN": make.option("paste_and_air", settings=make.AIR, heat=make.air_heat())}
    of = make.kit(placements=[part("L1", "COIL"), part("L2", "COIL", side="bottom"),
                              part("U1", "QFN", side="bottom")])  # fmt: skip
    found = make_precedence(of, hot, drops=("fit:L1", "fit:L2"))
    assert "hang below" in edge(found, "fit:U1", "fit:L1").why.told
    assert [each.then for each in found.edges if "hang below" in each.why.told] == ["fit:L1"]
    assert not any("hang below" in each.why.told for each in make_precedence(of, hot).edges)


def make_precedence(of: Kit, options: dict[str, Any], drops: tuple[str, ...] = ()) -> Precedence:
    work = make.jobs(of)
    return precedence_of(work, of, make.risk(work, options), **make.RULES, drops=drops)


def ways(a: Assessment, key: str) -> set[str]:
    return {option.technique for option in a.risk.by_key[key].options if option.feasible}


def test_a_plate_does_one_side_whichever_it_is() -> None:
    """Common practice: a board lies on a plate while its other side is bare; the side with
    pads under its parts goes first."""
    assert "plate_reflow" in ways(told(kit(CHIP), PLATE), "fit:U1")
    chips = {"refs": "R1", "footprint": "R-0603", "board": "b"}
    both = told(kit(chips, CHIP), PLATE)
    assert "plate_reflow" in ways(both, "fit:U1")
    assert "plate_reflow" not in ways(both, "fit:R1")
    assert both.order.keys.index("fit:U1") < both.order.keys.index("fit:R1")
    even = told(kit(chips, chips | {"refs": "R2", "side": "bottom"}), PLATE)
    assert "plate_reflow" in ways(even, "fit:R1")
    assert "plate_reflow" not in ways(even, "fit:R2")
