"""Worlds: numbers are where their ranges say, causes are shared, heat in doubt is smooth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from solderrisk.model.base import Parameter
from solderrisk.risk.heat.source import short_of_heat
from solderrisk.risk.skill import skill_tables
from solderrisk.risk.worlds import EDGE, GRID, STATED, Worlds, moved
from tests.risk.risk_scene import REFERENCE

COUNT = 400


@pytest.fixture(scope="module")
def worlds() -> Worlds:
    return Worlds(REFERENCE, 20, COUNT)


@given(
    st.floats(0.001, 0.999).flatmap(
        lambda v: st.tuples(st.floats(v / 50, v), st.just(v), st.floats(v, min(v * 50, 0.9995)))
    )
)
def test_low_value_and_high_are_the_5_50_and_95_percent_points(
    points: tuple[float, float, float],
) -> None:
    low, value, high = points
    known = Parameter(value=value, low=low, high=high, unit="1", source="assumed: here")
    found = moved(known, np.array([-EDGE, 0.0, EDGE]))
    assert found == pytest.approx([low, value, high], rel=1e-6)


def test_samples_lie_in_their_range_nine_times_in_ten(worlds: Worlds) -> None:
    for name in ("bridge_rate", "mend_success", "hunt_joints", "bridge_power"):
        known = REFERENCE.risk.parameters.at(name)
        assert known.low is not None
        assert known.high is not None
        drawn = worlds[name][1:, 0]
        assert worlds[name][STATED, 0] == pytest.approx(known.value)
        assert np.mean((drawn >= known.low) & (drawn <= known.high)) == pytest.approx(0.9, abs=0.01)


def test_numbers_that_are_one_thing_move_as_one(worlds: Worlds) -> None:
    bare, meter, power = (worlds[n][1:, 0] for n in ("hunt_bare", "hunt_meter", "hunt_power"))
    assert np.all(np.argsort(bare) == np.argsort(meter))
    assert np.all(np.argsort(bare) == np.argsort(-power))


def test_a_choice_and_a_number_set_by_the_user_do_not_move() -> None:
    known = Worlds(REFERENCE.assuming({"bridge_rate": 0.01}), 20, COUNT)
    assert known["bridge_rate"].tolist() == [[0.01]]
    assert known["hour_value"].size == 1
    # What is left keeps its own random numbers.
    assert np.all(known["open_rate"] == Worlds(REFERENCE, 20, COUNT)["open_rate"])


def test_heat_in_doubt_falls_evenly_from_edge_to_edge(worlds: Worlds) -> None:
    """20 K either way: sure above, hopeless below, half at the middle, straight in between."""
    margins = np.linspace(-20, 20, 21)
    missed = [float(short_of_heat(m, 20.0, "heat.iron", worlds)[1:].mean()) if m < 20 else 0.0
              for m in margins]  # fmt: skip
    assert missed[0] == pytest.approx(1, abs=2e-3)
    assert missed[-1] == 0
    assert missed == sorted(missed, reverse=True)
    np.testing.assert_allclose(missed, np.linspace(1, 0, 21), atol=0.05)
    assert float(short_of_heat(25.0, 20.0, "heat.iron", worlds).max()) == 0.0


def test_joints_heated_alike_fail_together(worlds: Worlds) -> None:
    one = short_of_heat(5.0, 20.0, "heat.iron", worlds)[1:, 0]
    other = short_of_heat(-5.0, 20.0, "heat.iron", worlds)[1:, 0]
    by_air = short_of_heat(5.0, 20.0, "heat.air", worlds)[1:, 0]
    assert np.all(other >= one)
    assert abs(np.corrcoef(one, by_air)[0, 1]) < 0.2


def test_worlds_with_a_cause_known_are_the_same_side_by_side() -> None:
    """One set with several causes known in turn, on few nodes, against one set for each."""
    known = [{"bridge_rate": EDGE}, {"heat.iron": -EDGE}, {}]
    nodes = GRID[3:5]
    beside = Worlds(REFERENCE, 20, 10, known, nodes)
    assert beside.count == 30
    for n, each in enumerate(known):
        alone = Worlds(REFERENCE, 20, 10, [each])
        rows = slice(1 + 10 * n, 11 + 10 * n)
        assert np.array_equal(beside["bridge_rate"][rows], alone["bridge_rate"][1:])
        assert np.array_equal(beside.even("heat.iron")[rows], alone.even("heat.iron")[1:])
        told, whole = (skill_tables(worlds).slowness for worlds in (beside, alone))
        assert np.array_equal(told[rows], whole[1:, 3:5])
