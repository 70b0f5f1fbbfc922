"""Numbers that a user may set: all reachable by name, marked, checked, nothing else moved."""

from __future__ import annotations

import pytest

from solderrisk.files.reference import load_reference
from solderrisk.model.base import SET_BY_USER
from solderrisk.model.problems import UserProblem

REFERENCE = load_reference()
NAMES = [
    ("bridge_rate", 0.01),
    ("target_chance", 0.6),
    ("order_low_mm", 2.5),
    ("hand_novice_mm", 0.2),
    ("faults.bridge.seen", 0.5),
    ("faults.open.mend_minutes", 9.0),
    ("levels.few.faults_b", 50.0),
    ("levels.trained.dwell_spread", 0.2),
]


@pytest.mark.parametrize(("name", "value"), NAMES)
def test_any_number_can_be_set_and_says_so(name: str, value: float) -> None:
    moved = REFERENCE.assuming({name: value})
    assert moved.named()[name].value == value
    assert moved.named()[name].source == SET_BY_USER
    assert [named.name for named in moved.set_by_user()] == [name]
    before, after = REFERENCE.named(), moved.named()
    assert {n for n in before if before[n] != after[n]} == {name}


def test_the_figure_arrives_in_its_row() -> None:
    moved = REFERENCE.assuming({"faults.bridge.seen": 0.5, "levels.few.faults_b": 50})
    assert moved.risk.faults["bridge"].seen == 0.5
    assert moved.risk.levels.prior("few").faults_b == 50
    again = moved.assuming({"faults.bridge.harm": 0.9})
    assert again.risk.faults["bridge"].seen == 0.5
    assert len(again.set_by_user()) == 3


def test_what_is_not_touched_stays_the_same_object() -> None:
    """Caches of the heat model go by it."""
    moved = REFERENCE.assuming({"bridge_rate": 0.01})
    assert moved.physics is REFERENCE.physics
    assert moved.risk.faults is REFERENCE.risk.faults
    assert moved.plan.costs is REFERENCE.plan.costs


@pytest.mark.parametrize("name", ["bridge_rat", "faults.bridge.sen", "levels.some.faults_a", ""])
def test_unknown_names_are_refused_with_what_there_is(name: str) -> None:
    with pytest.raises(UserProblem, match=r"faults\.MODE\.FIGURE"):
        REFERENCE.assuming({name: 1.0})


@pytest.mark.parametrize(
    ("name", "value"),
    [("faults.bridge.seen", 1.5), ("levels.few.faults_b", 0.0), ("bridge_rate", float("nan"))],
)
def test_values_that_cannot_be_are_refused(name: str, value: float) -> None:
    with pytest.raises(UserProblem, match=name):
        REFERENCE.assuming({name: value})


def test_every_rate_and_row_is_listed_with_its_range() -> None:
    found = {named.name: named.parameter for named in REFERENCE.assumed()}
    for mode in REFERENCE.risk.faults.modes:
        assert f"faults.{mode.id}.seen" in found
    for prior in REFERENCE.risk.levels.levels:
        assert f"levels.{prior.level}.faults_b" in found
    assert "bridge_rate" in found
    for name, parameter in found.items():
        assert parameter.low is not None
        assert parameter.high is not None
        assert parameter.low <= parameter.value <= parameter.high, name
        assert parameter.source


def test_unstated_ranges_are_twice_and_half_of_odds_or_figure() -> None:
    """Odds of 0.85 are 17 to 3; half and double are 17:6 and 34:3 (by hand)."""
    named = REFERENCE.assuming({"unstated_doubt": 2.0}).named()
    seen = named["faults.bridge.seen"]
    assert seen.value == 0.85
    assert seen.low == pytest.approx(17 / 23)
    assert seen.high == pytest.approx(34 / 37)
    minutes = named["faults.bridge.mend_minutes"]
    assert (minutes.low, minutes.high) == (2.0, 8.0)
