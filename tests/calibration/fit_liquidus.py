"""Fit the pair interactions of solder metals to liquidus points of common alloys.

    python -m tests.calibration.fit_liquidus    shows fit, residuals and what was held out

Points are those of alloy tables after J-STD-006 and of the binary diagrams in the ASM
Handbook, volume 3, from memory to about 3 K. Ternary alloys are held out: the fit never
sees them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from solderrisk.files.reference import physics_data
from solderrisk.model.physics_data import Alloys, Pair, SolidShare
from solderrisk.physics.low_melt import liquidus_c

Parts = dict[str, float]

POINTS: tuple[tuple[Parts, float], ...] = (
    ({"Sn": 100}, 232),
    ({"Sn": 90, "Pb": 10}, 213),
    ({"Sn": 70, "Pb": 30}, 192),
    ({"Sn": 63, "Pb": 37}, 183),
    ({"Sn": 60, "Pb": 40}, 190),
    ({"Sn": 50, "Pb": 50}, 214),
    ({"Sn": 40, "Pb": 60}, 238),
    ({"Sn": 30, "Pb": 70}, 255),
    ({"Sn": 20, "Pb": 80}, 280),
    ({"Sn": 42, "Bi": 58}, 138),
    ({"Sn": 60, "Bi": 40}, 170),
    ({"Sn": 90, "Bi": 10}, 219),
    ({"Sn": 20, "Bi": 80}, 210),
    ({"Bi": 55.5, "Pb": 44.5}, 125),
    ({"Bi": 58, "Pb": 42}, 126),
    ({"Sn": 48, "In": 52}, 118),
    ({"In": 66.3, "Bi": 33.7}, 72),
)
HELD_OUT: tuple[tuple[Parts, float], ...] = (
    ({"Bi": 52.5, "Pb": 32, "Sn": 15.5}, 95),
    ({"Sn": 43, "Pb": 43, "Bi": 14}, 163),
    ({"Sn": 96.5, "Ag": 3, "Cu": 0.5}, 220),
    ({"Sn": 99.3, "Cu": 0.7}, 227),
    ({"In": 51, "Bi": 32.5, "Sn": 16.5}, 60),
    ({"Bi": 56, "Sn": 30, "In": 14}, 91),
    ({"Bi": 50, "Pb": 26.7, "Sn": 13.3, "Cd": 10}, 70),
)
PAIRS = (("Sn", "Pb"), ("Sn", "Bi"), ("Pb", "Bi"), ("Sn", "In"), ("In", "Bi"))
SOLIDS = ("Sn", "Pb", "Bi", "In")

POINT_K = 3.0  # what a point is known to
PAIR_J_MOL, SOLID = 20_000.0, 2.0  # weak pull of every unknown towards zero
FIRST = (3000.0, 0.0, -3000.0, 0.0, -5000.0, 0.2, 0.3, 0.1, 0.1)


def with_unknowns(alloys: Alloys, unknowns: NDArray[np.float64]) -> Alloys:
    """The alloy data with trial interactions."""
    pairs = zip(PAIRS, unknowns, strict=False)
    solids = zip(SOLIDS, unknowns[len(PAIRS) :], strict=True)
    return alloys.model_copy(
        update={
            "pairs": tuple(
                Pair(metals=m, interaction_j_mol=float(w), source="assumed") for m, w in pairs
            ),
            "solids": tuple(
                SolidShare(metal=m, per_share=float(s), source="assumed") for m, s in solids
            ),
        }
    )


def fit(alloys: Alloys) -> NDArray[np.float64]:
    """Interactions in J/mol by ``PAIRS``, then solid shares by ``SOLIDS``."""

    def off(unknowns: NDArray[np.float64]) -> NDArray[np.float64]:
        trial = with_unknowns(alloys, unknowns)
        points = [(liquidus_c(parts, trial) - at) / POINT_K for parts, at in POINTS]
        pull = [*(unknowns[: len(PAIRS)] / PAIR_J_MOL), *(unknowns[len(PAIRS) :] / SOLID)]
        return np.array([*points, *pull])

    low = [-12_000.0] * len(PAIRS) + [0.0] * len(SOLIDS)
    high = [12_000.0] * len(PAIRS) + [1.0] * len(SOLIDS)
    scale = [1000.0] * len(PAIRS) + [0.1] * len(SOLIDS)
    found = least_squares(off, FIRST, bounds=(low, high), x_scale=scale)
    answer: NDArray[np.float64] = found.x
    return answer


def main() -> None:
    alloys = physics_data().alloys
    unknowns = fit(alloys)
    for name, value in zip((*PAIRS, *SOLIDS), unknowns, strict=True):
        print(name, f"{value:.4g}")
    for title, points in (("fitted", POINTS), ("held out", HELD_OUT)):
        print(title)
        for parts, at in points:
            print(" ", parts, at, f"{liquidus_c(parts, alloys) - at:+.1f}")


if __name__ == "__main__":
    main()
