"""Hot air against another solution: fine even rings, scipy's BDF, the jet's local value.

Shares the parameters with the product, not the grid, the stepping, the ring averages of the
jet or the elimination of the body. Martin's correlation is written out again here.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from solderrisk.files.reference import physics_data
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.joint import body_j_k, free_lead_w_k
from solderrisk.physics.results import AirCase
from tests.heat_joints import QFP_48, QFP_100, SAC, SNPB, SOIC_8, air_on

DATA = physics_data()
P = DATA.parameters
RINGS = 160

CASES = [
    air_on(part, nozzle, flow, air_c, alloy, start_c=start_c)
    for part, nozzle, flow in ((SOIC_8, 5.0, 25.0), (QFP_48, 8.0, 40.0), (QFP_100, 10.0, 60.0))
    for air_c, alloy, start_c in ((350.0, SNPB, 22.0), (400.0, SAC, 22.0), (350.0, SAC, 100.0))
]


def sutherland(kelvin: float, at_273: float, constant: float) -> float:
    return at_273 * (kelvin / 273.15) ** 1.5 * (273.15 + constant) / (kelvin + constant)


def mean_heat_transfer(case: AirCase, radius_m: float) -> float:
    """Martin (1977), averaged over a disk, held below r/D 2.5."""
    film = (case.air_c + DATA.alloys[case.alloy].liquidus_c) / 2 + 273.15
    mu = sutherland(film, 1.716e-5, 110.4)
    k = sutherland(film, 0.0241, 194.0)
    d = case.nozzle_mm * 1e-3
    re = 4 * case.flow_l_min * 1e-3 / 60 * 1.2 / (math.pi * d * mu)
    a = d / (2 * max(radius_m, 2.5 * d))
    g = 2 * a * (1 - 2.2 * a) / (1 + 0.2 * (case.height_mm / case.nozzle_mm - 6) * a)
    return k / d * 0.69**0.42 * g * 2 * math.sqrt(re * (1 + 0.005 * re**0.55))


def local_heat_transfer(case: AirCase, radius_m: float) -> float:
    d, step = case.nozzle_mm * 1e-3, 1e-6
    reach = 7.5 * d
    at = min(radius_m, reach - step)

    def whole(r: float) -> float:
        return mean_heat_transfer(case, r) * r * r

    h = (whole(at + step) - whole(at)) / ((at + step) ** 2 - at**2)
    return h if radius_m <= reach else h * (reach / radius_m) ** 1.2


def arriving(case: AirCase, radius_m: float) -> float:
    r = radius_m / (case.nozzle_mm * 1e-3)
    slope, knee = P["eta_slope"], P["eta_knee_d"]
    return 1 - slope * r if r < knee else (1 - knee * slope) * knee / r


def molten_and_top(case: AirCase) -> tuple[float, float]:
    """Time until the average joint is ``molten_over_k`` above liquidus, and the body then."""
    body, group, on = case.footprint.body, case.footprint.pads[0], case.board
    edge = np.linspace(0.0, math.sqrt(on.length_mm * on.width_mm / math.pi) * 1e-3, RINGS + 1)
    middle = (edge[1:] + edge[:-1]) / 2
    area = math.pi * (edge[1:] ** 2 - edge[:-1] ** 2)
    planes = (
        on.plane_layers * on.plane_cover + (on.copper_layers - on.plane_layers) * P["broken_copper"]
    )
    sheet = planes * 35e-6 * 390 + 0.8 * 1.6e-3
    capacity = (planes * 35e-6 * 3.45e6 + 2.0e6 * 1.6e-3) * area
    link = 2 * math.pi * sheet * edge[1:-1] / np.diff(middle)
    body_m = math.sqrt(body.length_mm * body.width_mm / math.pi) * 1e-3
    under = np.clip((body_m - edge[:-1]) / np.diff(edge), 0.0, 1.0)
    to_body = 0.04 / (max(body.stand_off_mm, 0.05) * 1e-3) * area * under
    spots = joint_radius_m(case)
    ring = int(np.searchsorted(edge, spots)) - 1
    each = free_lead_w_k(group, DATA)
    assert each is not None
    near = np.abs(middle - spots) < 0.6e-3  # a lead's foot is about that long
    to_body[near] += group.count * each / near.sum()
    top_h = np.maximum([local_heat_transfer(case, r) for r in middle], P["face_w_m2k"])
    jet = top_h * area * (1 - under)
    wall = np.array([arriving(case, r) for r in middle]) * (case.air_c - case.start_c)
    inside = np.linspace(0.0, body_m, 401)[1:]
    share = float(np.sum([arriving(case, r) * r for r in inside]) / np.sum(inside))
    body_area = math.pi * body_m**2
    half = body.height_mm * 1e-3 / 2 / (0.7 * body_area)
    body_jet = 1 / (half + 1 / (mean_heat_transfer(case, body_m) * body_area))
    body_wall = share * (case.air_c - case.start_c)
    heat = body_j_k(body, DATA)

    def rates(_t: float, y: np.ndarray) -> np.ndarray:
        board, chip = y[:-1], y[-1]
        flow = np.concatenate(([0.0], link * (board[:-1] - board[1:]), [0.0]))
        net = flow[:-1] - flow[1:] + to_body * (chip - board) + jet * (wall - board)
        net = net - P["face_w_m2k"] * area * board
        own = body_jet * (body_wall - chip) - float(to_body @ (chip - board))
        return np.append(net / capacity, own / heat)

    needed = DATA.alloys[case.alloy].liquidus_c + P["molten_over_k"] - case.start_c

    def melts(_t: float, y: np.ndarray) -> float:
        return float(y[ring] - needed)

    melts.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(rates, (0.0, 120.0), np.zeros(RINGS + 1), "BDF", events=melts, rtol=1e-4,
                    atol=1e-3)  # fmt: skip
    chip = float(run.y[-1, -1])
    top = chip + half * body_jet * (body_wall - chip)
    return float(run.t[-1]), case.start_c + top


def joint_radius_m(case: AirCase) -> float:
    """Root mean square distance of the pads, worked out from rows, not from outlines."""
    group = case.footprint.pads[0]
    assert group.pitch_mm is not None
    assert group.row_span_mm is not None
    sides = 4 if group.layout == "quad" else 2
    per_side = group.count // sides
    along = (np.arange(per_side) - (per_side - 1) / 2) * group.pitch_mm
    return math.sqrt(float(np.mean(along**2)) + (group.row_span_mm / 2) ** 2) * 1e-3


@pytest.mark.parametrize(
    "case", CASES, ids=lambda c: f"{c.footprint.name}-{c.air_c:.0f}-{c.start_c:.0f}"
)
def test_melting_time_and_top_agree_with_the_other_solution(case: AirCase) -> None:
    time_s, _ = molten_and_top(case)
    found = air_heat([case], DATA)[0]
    assert found.molten_s is not None
    assert found.molten_s / P["air_uneven"] == pytest.approx(time_s, rel=0.03)


def test_tops_agree_with_the_other_solution() -> None:
    """The product tells the top at the worst joint's time, a fifth later: a few kelvin up."""
    for case in CASES:
        _, top = molten_and_top(case)
        found = air_heat([case], DATA)[0]
        assert top - 4.0 < found.top_c < top + 20.0
