"""Tune contact, tip and jet parameters to common practice, and write the residuals.

    python -m tests.calibration.fit_heat           shows the fit
    python -m tests.calibration.fit_heat --write   writes residuals of the values in use

The fit starts from a first judgement and is held to it; its result, rounded to two
figures, is what physics.yaml holds. Agreement with the anchors is therefore no evidence.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from solderrisk.files.reference import physics_data
from solderrisk.model.physics_data import PhysicsData
from tests.calibration.heat_anchors import ANCHORS, TUNED, figures, objective, residual

HEADER = ["anchor", "figure", "low", "high", "model", "residual"]
RESIDUALS = Path(__file__).with_name("heat_residuals.csv")


def fit(data: PhysicsData) -> dict[str, float]:
    """The tuned parameters, unrounded."""

    def off(shifted: NDArray[np.float64]) -> NDArray[np.float64]:
        return objective(shifted - 1.0, data)

    # Steps are relative to the value, and figures are settled to eight digits: start at one.
    found = least_squares(off, np.ones(len(TUNED)), bounds=(-1.0, 3.0), diff_step=0.02)
    tuned = found.x - 1.0
    return {name: first * 2.0**t for (name, first), t in zip(TUNED.items(), tuned, strict=True)}


def rows(data: PhysicsData) -> list[list[str]]:
    """One row per anchor: name, figure, bounds, model, residual."""
    found = figures(data)
    return [
        [a.name, a.figure, f"{a.low:g}", f"{a.high:g}", f"{found[a.name]:.3g}",
         f"{residual(a, found[a.name]):.2f}"]
        for a in ANCHORS
    ]  # fmt: skip


def main() -> None:
    data = physics_data()
    if "--write" in sys.argv:
        with RESIDUALS.open("w", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([HEADER, *rows(data)])
        return
    for name, value in fit(data).items():
        print(f"{name:24s} {value:10.4g}   in use {data.parameters[name]:g}")
    for row in rows(data):
        print("  ".join(row))


if __name__ == "__main__":
    main()
