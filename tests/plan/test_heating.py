"""What a technique heats, and what would help where the heat is in doubt."""

from __future__ import annotations

import pytest

from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Bench, HotAir
from solderrisk.model.jobs import Job
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.iron import iron_heat
from solderrisk.plan.heating import heat_remedies, heated, heating_curve
from solderrisk.risk.results import Option, Settings
from tests.heat_joints import QFP_48, SAC, STATION_60, TAB, air_on, board, joint, tip_on

DATA = load_reference().physics
BENCH = Bench(
    name="b",
    irons=(STATION_60,),
    hot_air=(HotAir(name="air", nozzles_mm=(8.0,)),),
)


def job(**more: object) -> Job:
    fields = {"key": "fit:U1", "ref": "U1", "kind": "fit", "title": "", "alloy": SAC}
    return Job(**{**fields, **more})  # type: ignore[arg-type]


def a_tab() -> tuple[Job, Option]:
    what = joint(TAB, 4, 0)
    case = tip_on(what, STATION_60, 1.0, BENCH.room.ambient_c)
    settings = Settings(iron="60 W", tip_width_mm=1.0, tip_shape="chisel", tip_c=350.0)
    option = Option("iron", "iron", False, settings=settings,
                    iron_heat=iron_heat([case], DATA)[0])  # fmt: skip
    return job(footprint=TAB, board=what.board, links=what.links), option


def a_package() -> tuple[Job, Option]:
    case = air_on(QFP_48, 8.0, 40.0, 350.0, SAC, purpose="fit")
    settings = Settings(air="air", nozzle_mm=8.0, air_c=350.0, flow_l_min=40.0)
    option = Option("air", "air", True, settings=settings, air_heat=air_heat([case], DATA)[0])
    return job(footprint=QFP_48, board=board(1)), option


@pytest.mark.parametrize("make", [a_tab, a_package])
def test_remedies_are_those_of_the_case_that_is_heated(make) -> None:  # type: ignore[no-untyped-def]
    the_job, option = make()
    case = heated(the_job, option, BENCH, DATA)
    assert case is not None
    found = heat_remedies(the_job, option, BENCH, DATA)
    assert found
    assert all(remedy.margin_k > 0 for remedy in found)
    curve = heating_curve(the_job, option, BENCH, DATA)
    assert curve is not None
    known = option.iron_heat or option.air_heat
    assert known is not None
    assert known.decision != "wets"


def test_no_heat_no_remedy() -> None:
    the_job, _ = a_tab()
    cold = Option("plate", "plate", True)
    assert heat_remedies(the_job, cold, BENCH, DATA) == ()
    assert heating_curve(the_job, cold, BENCH, DATA) is None
