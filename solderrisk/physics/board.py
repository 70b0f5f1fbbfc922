"""The board as a sheet that takes heat from a joint: laminate, planes, metal core."""

from __future__ import annotations

import math
from dataclasses import dataclass

from solderrisk.model.footprint import PadGroup
from solderrisk.model.kit import Board, PlaneLink
from solderrisk.model.physics_data import BoardStuff, PhysicsData

MM = 1e-3
LATE = 500.0  # from here on the logarithm is closer than the fit
EULER_TERM = math.log(4.0) - 0.5772156649015329


def pressure_function(t_d: float) -> float:
    """Dimensionless rise of a hub that feeds a constant flow into an infinite sheet.

    van Everdingen and Hurst, Trans. AIME 186 (1949), by the fit of Edwardson and others,
    J. Petroleum Technology 14 (1962), within 1 % from 0.01 to 500; its logarithm beyond.
    Their table has 0.802 at 1 and 2.723 at 100:

    >>> round(pressure_function(1.0), 2), round(pressure_function(100.0), 2)
    (0.8, 2.72)

    Raises:
        ValueError: ``t_d`` is not positive.
    """
    if t_d <= 0:
        raise ValueError(f"dimensionless time must be positive, not {t_d:g}")
    if t_d > LATE:
        return 0.5 * (math.log(t_d) + EULER_TERM)
    if t_d < 0.01:
        return 2.0 * math.sqrt(t_d / math.pi)
    x = math.sqrt(t_d)
    top = 370.529 * x + 137.582 * t_d + 5.69549 * t_d * x
    return top / (328.834 + 265.488 * x + 45.2157 * t_d + t_d * x)


def from_hub_w_k(spread_w_k: float, j_m2k: float, radius_m: float, at_s: float) -> float:
    """Conductance from a hub into a sheet some time after the start, W/K.

    ``spread_w_k`` is conductivity times thickness, ``j_m2k`` heat capacity per area.
    """
    t_d = spread_w_k * at_s / (j_m2k * radius_m**2)
    return 2.0 * math.pi * spread_w_k / pressure_function(t_d)


def laminate_w_m2k(planes: int, thickness_m: float, k_z: float) -> float:
    """Conductivity over depth of the laminate that hangs on planes, per board area.
    One plane on 1.6 mm of FR-4 (0.3 W/mK) is a slab (Incropera, plane wall: k / L):

    >>> round(laminate_w_m2k(1, 1.6e-3, 0.3), 1)
    187.5

    Planes lie evenly from face to face, so n of them cut the laminate into 2 (n - 1) half
    gaps, each heated from one side; one plane heats the whole thickness from a face.
    """
    slabs = max(2 * (planes - 1), 1)
    return k_z * slabs**2 / thickness_m


def through_film_w_k(
    land_m: float, film_m: float, film_w_mk: float, copper_w_k: float, pour: float
) -> float:
    """Conductance from a land through the film below it to a metal core, W/K.

    ``land_m`` is the radius of the land taken as a disk; ``pour`` (0 to 1) is how much of the
    rim has copper poured round it, a fin of ``copper_w_k`` (conductivity times thickness) that
    feeds the film. A land of 2 mm x 2 mm on 75 um of 1 W/mK: 18.75 K/W.

    >>> round(1 / through_film_w_k((4e-6 / math.pi) ** 0.5, 75e-6, 1.0, 0.0, 0.0), 2)
    18.75
    """
    per_area = film_w_mk / film_m
    rim = 2.0 * math.pi * land_m * math.sqrt(copper_w_k * per_area)
    return math.pi * land_m**2 * per_area + pour * rim


@dataclass(frozen=True)
class Sheet:
    """The board round a joint. ``hub_w_k`` is the way from joint to sheet: spokes, a film,
    or ``inf`` for solid copper; ``sheet_w_k`` conductivity times thickness."""

    hub_w_k: float
    inner_m: float
    sheet_w_k: float
    copper_j_m2k: float
    laminate_j_m2k: float
    laminate_w_m2k: float
    trace_w_k: float


def sheet_round(
    group: PadGroup, board: Board, link: PlaneLink | None, land_m: float, data: PhysicsData
) -> Sheet:
    """The sheet that a land of radius ``land_m`` feeds; ``link`` None: its trace only."""
    stuff = data.materials.of(board)
    if stuff.film_mm:
        return _core_sheet(board, stuff, land_m, data)
    if link is None:
        return _plain_sheet(board, stuff, land_m, depth_m(group, board, land_m, data), data)
    return _plane_sheet(board, stuff, link, land_m, data)


def depth_m(group: PadGroup, board: Board, land_m: float, data: PhysicsData) -> float:
    """Board that a joint warms: all of it round a barrel, a part under a land, a film alone."""
    film_mm = data.materials.of(board).film_mm
    if film_mm:
        return film_mm * MM
    thickness_m = board.thickness_mm * MM
    if group.through_board and board.barrels:
        return thickness_m
    return min(thickness_m, data.parameters["spread_depth"] * land_m)


def _plain_sheet(
    board: Board, stuff: BoardStuff, land_m: float, deep_m: float, data: PhysicsData
) -> Sheet:
    p = data.parameters
    trace_m, copper_m = p["trace_mm"] * MM, board.copper_um * 1e-6
    into_board = stuff.through_w_mk / (board.thickness_mm * MM)
    return Sheet(
        hub_w_k=math.inf,
        inner_m=land_m,
        sheet_w_k=stuff.along_w_mk * deep_m,
        copper_j_m2k=stuff.heat_j_m3k * deep_m,
        laminate_j_m2k=0.0,
        laminate_w_m2k=0.0,
        trace_w_k=trace_m * math.sqrt(into_board * p["copper_w_mk"] * copper_m),
    )


def _plane_sheet(
    board: Board, stuff: BoardStuff, link: PlaneLink, land_m: float, data: PhysicsData
) -> Sheet:
    p = data.parameters
    thickness_m, copper_m = board.thickness_mm * MM, board.copper_um * 1e-6
    planes = min(link.planes, board.copper_layers)
    copper_w_k = planes * board.plane_cover * p["copper_w_mk"] * copper_m
    hub_w_k, inner_m = math.inf, land_m
    if link.spokes:
        gap_m, width_m = link.spoke_gap_mm * MM, link.spoke_w_mm * MM
        inner_m = land_m + gap_m
        copper = planes * link.spokes * p["copper_w_mk"] * width_m * copper_m / gap_m
        laminate = 2 * math.pi * stuff.along_w_mk * thickness_m / math.log(inner_m / land_m)
        hub_w_k = copper + laminate
    return Sheet(
        hub_w_k=hub_w_k,
        inner_m=inner_m,
        sheet_w_k=copper_w_k + stuff.along_w_mk * thickness_m,
        copper_j_m2k=planes * board.plane_cover * p["copper_j_m3k"] * copper_m,
        laminate_j_m2k=stuff.heat_j_m3k * thickness_m,
        laminate_w_m2k=laminate_w_m2k(planes, thickness_m, stuff.through_w_mk),
        trace_w_k=0.0,
    )


def _core_sheet(board: Board, stuff: BoardStuff, land_m: float, data: PhysicsData) -> Sheet:
    """A metal core below a film. A disk that feeds a sheet all over is 1 / (8 pi k t) warmer
    in the mean than at its edge (Carslaw and Jaeger 7.2)."""
    p = data.parameters
    core_m = board.thickness_mm * MM
    core_w_k = stuff.along_w_mk * core_m
    copper_w_k = p["copper_w_mk"] * board.copper_um * 1e-6
    film_w_k = through_film_w_k(
        land_m, stuff.film_mm * MM, stuff.film_w_mk, copper_w_k, p["film_pour"]
    )
    return Sheet(
        hub_w_k=1.0 / (1.0 / film_w_k + 1.0 / (8.0 * math.pi * core_w_k)),
        inner_m=land_m,
        sheet_w_k=core_w_k,
        copper_j_m2k=stuff.heat_j_m3k * core_m,
        laminate_j_m2k=0.0,
        laminate_w_m2k=0.0,
        trace_w_k=0.0,
    )


def whole_sheet(board: Board, data: PhysicsData) -> tuple[float, float]:
    """Conductivity times thickness, and heat capacity per area, of the whole board."""
    p, stuff = data.parameters, data.materials.of(board)
    thickness_m, copper_m = board.thickness_mm * MM, board.copper_um * 1e-6
    broken = board.copper_layers - board.plane_layers
    planes = board.plane_layers * board.plane_cover + broken * p["broken_copper"]
    w_k = planes * copper_m * p["copper_w_mk"] + thickness_m * stuff.along_w_mk
    return w_k, planes * copper_m * p["copper_j_m3k"] + thickness_m * stuff.heat_j_m3k
