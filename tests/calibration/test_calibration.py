"""The tuned parameters are what the calibration scripts give, and their residuals are
those that are committed. This shows where numbers come from; it proves nothing of them."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from solderrisk.files.reference import physics_data
from solderrisk.physics.low_melt import liquidus_c
from tests.calibration import fit_heat, fit_liquidus
from tests.calibration.heat_anchors import ANCHORS, TUNED

DATA = physics_data()


def test_committed_residuals_are_reproduced() -> None:
    with fit_heat.RESIDUALS.open(newline="") as file:
        header, *committed = csv.reader(file)
    assert header == fit_heat.HEADER
    now = fit_heat.rows(DATA)
    assert [row[:4] for row in now] == [row[:4] for row in committed]
    for row, kept in zip(now, committed, strict=True):
        assert float(row[4]) == pytest.approx(float(kept[4]), rel=0.02), row[0]
        assert float(row[5]) == pytest.approx(float(kept[5]), abs=0.05), row[0]


def test_every_anchor_of_common_practice_is_met() -> None:
    assert len(ANCHORS) >= 25
    off = {row[0]: row[5] for row in fit_heat.rows(DATA) if float(row[5]) > 0.25}
    assert off == {}


def test_the_fit_gives_the_values_in_use() -> None:
    fitted = fit_heat.fit(DATA)
    assert set(fitted) == set(TUNED)
    for name, value in fitted.items():
        assert DATA.parameters[name] == pytest.approx(value, rel=0.04), name
        assert "calibrated" in DATA.parameters.at(name).source


def test_the_liquidus_fit_gives_the_values_in_use() -> None:
    fitted = fit_liquidus.fit(DATA.alloys)
    used = [pair.interaction_j_mol for pair in DATA.alloys.pairs]
    used += [solid.per_share for solid in DATA.alloys.solids]
    assert np.allclose(fitted, used, rtol=0.01, atol=0.005)


def test_fitted_liquidus_points_are_met_within_6_k() -> None:
    off = [liquidus_c(parts, DATA.alloys) - at for parts, at in fit_liquidus.POINTS]
    assert max(map(abs, off)) < 6.0


def test_held_out_ternaries_lie_within_the_stated_doubt() -> None:
    near, far = DATA.parameters["mix_doubt_k"], DATA.parameters["mix_doubt_far_k"]
    for parts, at in fit_liquidus.HELD_OUT:
        doubt = far if {"In", "Cd"} & set(parts) else near
        assert abs(liquidus_c(parts, DATA.alloys) - at) <= doubt, parts
