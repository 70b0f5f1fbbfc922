"""What a technique heats, and what would help where the heat is in doubt."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from solderrisk.files.reference import load_reference
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.iron import iron_heat
from solderrisk.plan.heating import heat_remedies, heating_curve
from solderrisk.risk.results import Option
from tests.heat_joints import QFP_48, SAC, STATION_60, TAB, air_on, joint, tip_on

DATA = load_reference().physics


def a_tab() -> Option:
    case = tip_on(joint(TAB, 4, 0), STATION_60, 1.0, 22.0)
    return Option("iron", "iron", False, case=case, iron_heat=iron_heat([case], DATA)[0])


def a_package() -> Option:
    case = air_on(QFP_48, 8.0, 40.0, 350.0, SAC, purpose="fit")
    return Option("air", "air", True, case=case, air_heat=air_heat([case], DATA)[0])


@pytest.mark.parametrize("make", [a_tab, a_package])
def test_remedies_are_those_of_the_case_that_is_heated(make: Callable[[], Option]) -> None:
    option = make()
    found = heat_remedies(option, DATA)
    assert found
    assert all(remedy.margin_k > 0 for remedy in found)
    assert heating_curve(option, DATA) is not None
    known = option.iron_heat or option.air_heat
    assert known is not None
    assert known.decision != "wets"


def test_no_heat_no_remedy() -> None:
    cold = Option("plate", "plate", True)
    assert heat_remedies(cold, DATA) == ()
    assert heating_curve(cold, DATA) is None
