"""A board on a hot plate: plate, gap of air, board through its thickness, joints, part.

Heat comes from below through the gap; the board is a slab, its top carries the joints and
loses to the room, the part hangs on the joints and loses by its own faces. A part shares the
board as far as that conducts sideways (a fin's length beyond its outline); its neighbours'
masses are left out. The gap is the largest doubt and makes the band.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solderrisk.model.base import Cache, steady
from solderrisk.model.footprint import Footprint
from solderrisk.model.physics_data import MOST_KEPT, Alloy, PhysicsData
from solderrisk.physics.board import MM, whole_sheet
from solderrisk.physics.iron import decide
from solderrisk.physics.joint import (
    body_face_m2,
    body_j_k,
    free_lead_w_k,
    joint_cases,
    joint_metal,
    lead_w_k,
)
from solderrisk.physics.march import AHEAD, GAMMA, Array, first_crossing
from solderrisk.physics.part_limits import body_limit, mass_g
from solderrisk.physics.results import HangingPart, PlateCase, PlateHeat

SLABS = 8
STEP_S = 2.0
DIAL_K = 5.0
PLATE, BOTTOM, JOINT, BODY = 0, 1, SLABS + 1, SLABS + 2  # nodes; slabs lie between
NODES = SLABS + 3

_KEPT: Cache[tuple[PhysicsData, PlateCase], PlateHeat] = Cache(MOST_KEPT)


def plate_heat(cases: Sequence[PlateCase], data: PhysicsData) -> tuple[PlateHeat, ...]:
    """What a plate does to each part, in the order of ``cases``, with the settings that it
    takes; distinct cases are computed once and kept.

    Raises:
        KeyError: an alloy or a material is not in the data.
    """
    asked = [(data, case) for case in cases]
    return tuple(_KEPT.many(asked, lambda missing: _compute([case for _, case in missing], data)))


def gap_w_m2k(gap_mm: float, data: PhysicsData) -> float:
    """From plate to board: conduction across still air, and radiation."""
    p = data.parameters
    return p["plate_air_w_mk"] / (gap_mm * MM) + p["plate_radiation_w_m2k"]


def settles_k(plate_k: float, gap_w: float, slab_w: float, top_w: float) -> float:
    """Where the top of a slab on a plate ends, above the room: three resistances in a row
    (Incropera, composite wall), all per area. FR-4 of 1.6 mm (0.3 W/mK) over 0.1 mm of air
    on a plate 225 K above the room, 15 W/m2K from its top:

    >>> round(25 + settles_k(225.0, 360.0, 0.3 / 1.6e-3, 15.0), 1)
    225.6
    """
    return plate_k / top_w / (1.0 / gap_w + 1.0 / slab_w + 1.0 / top_w)


def hanging(footprint: Footprint, data: PhysicsData) -> HangingPart:
    """Whether a part that is upside down stays on while its joints are molten: mass per
    area of lands. The mass is the footprint's, or judged from its heat capacity."""
    safe = data.parameters.at("hangs_g_mm2")
    most = safe.value if safe.high is None else safe.high
    return HangingPart(
        steady(mass_g(footprint.body, data) / _lands_mm2(footprint)), safe.value, most
    )


@dataclass(frozen=True)
class _Net:
    """Per case: node capacities, conductances and losses per board area, the heater."""

    matrix: Array  # (cases, nodes, nodes), W/m2K
    store: Array  # (cases, nodes), J/m2K
    power_w_m2: Array  # (cases,)


def _net(cases: Sequence[PlateCase], gaps_mm: Sequence[float], data: PhysicsData) -> _Net:
    matrix = np.zeros((len(cases), NODES, NODES))
    store = np.zeros((len(cases), NODES))
    power = np.zeros(len(cases))
    for i, (case, gap_mm) in enumerate(zip(cases, gaps_mm, strict=True)):
        power[i] = _fill(matrix[i], store[i], case, gap_mm, data)
    return _Net(matrix, store, power)


def _fill(matrix: Array, store: Array, case: PlateCase, gap_mm: float, data: PhysicsData) -> float:
    """One case's nodes into ``matrix`` and ``store``; the heater's power per board area."""
    p, board, plate, body = data.parameters, case.board, case.plate, case.footprint.body
    plate_m2 = plate.length_mm * plate.width_mm * MM**2
    board_m2 = min(board.length_mm * board.width_mm * MM**2, plate_m2)
    slab_m = board.thickness_mm * MM / SLABS
    part_m2 = _shared_m2(case, gap_mm, data)
    k = data.materials.of(board).through_w_mk
    store[PLATE] = p["plate_j_m3k"] * plate_m2 * plate.thickness_mm * MM / board_m2
    store[BOTTOM:JOINT] = whole_sheet(board, data)[1] / SLABS
    store[BODY] = body_j_k(body, data) / part_m2
    store[JOINT], to_body = _joints(case, part_m2, data)
    film = data.materials.of(board)
    under_w = k / (slab_m / 2)
    top_w = 1.0 / (1.0 / under_w + film.film_mm * MM / film.film_w_mk)
    links = [(PLATE, BOTTOM, 1.0 / (1.0 / gap_w_m2k(gap_mm, data) + 1.0 / under_w))]
    links += [(n, n + 1, k / slab_m) for n in range(BOTTOM, SLABS)]
    links += [(SLABS, JOINT, top_w), (JOINT, BODY, to_body)]
    for a, b, w_m2k in links:
        matrix[a, a] += w_m2k
        matrix[b, b] += w_m2k
        matrix[a, b] -= w_m2k
        matrix[b, a] -= w_m2k
    covered = body.length_mm * body.width_mm * MM**2 / part_m2
    matrix[JOINT, JOINT] += p["plate_top_w_m2k"] * (1.0 - covered)
    matrix[BODY, BODY] += p["plate_top_w_m2k"] * body_face_m2(body) / part_m2
    matrix[PLATE, PLATE] += p["plate_loss_w_m2k"] * (2.0 * plate_m2 - board_m2) / board_m2
    return plate.power_w / board_m2


def _lands_mm2(footprint: Footprint) -> float:
    return sum(g.count * g.land_w_mm * g.land_l_mm for g in footprint.pads)


def _shared_m2(case: PlateCase, gap_mm: float, data: PhysicsData) -> float:
    """Board that goes with a part: its outline and a fin's length round it."""
    body = case.footprint.body
    outline_m = (
        math.sqrt(max(body.length_mm * body.width_mm, _lands_mm2(case.footprint)) / math.pi) * MM
    )
    along_w_k = whole_sheet(case.board, data)[0]
    through_w = data.materials.of(case.board).through_w_mk / (case.board.thickness_mm * MM)
    feed_w = 1.0 / (1.0 / gap_w_m2k(gap_mm, data) + 1.0 / through_w)
    fin_m = math.sqrt(along_w_k / (feed_w + data.parameters["plate_top_w_m2k"]))
    return math.pi * (outline_m + fin_m) ** 2


def _joints(case: PlateCase, part_m2: float, data: PhysicsData) -> tuple[float, float]:
    """Per board area: heat held by solder and lands, latent heat spread over the rise, and
    the way from joints to body by leads and the air below it."""
    p, alloy = data.parameters, data.alloys[case.alloy]
    held = to_body = 0.0
    rise_k = max(alloy.liquidus_c - case.start_c, 1.0)
    for joint in joint_cases(case.footprint, case.board, case.alloy, case.links):
        solder_mm3, metal_j_k = joint_metal(joint, data)
        solder_g = solder_mm3 * alloy.density_g_cm3 * 1e-3
        each = metal_j_k + solder_g * (alloy.heat_j_gk + alloy.latent_j_g / rise_k)
        held += joint.group.count * each
        to_body += joint.group.count * (free_lead_w_k(joint.group, data) or lead_w_k(joint, data))
    body = case.footprint.body
    gap_m = max(body.stand_off_mm, p["gap_floor_mm"]) * MM
    to_body += p["gap_air_w_mk"] / gap_m * body.length_mm * body.width_mm * MM**2
    return held / part_m2, to_body / part_m2


@dataclass(frozen=True)
class _Settings:
    soak_plate_k: Array
    peak_plate_k: Array
    soak_low_k: Array


@dataclass(frozen=True)
class _Run:
    """(times, cases) above the start."""

    time_s: Array
    joint_k: Array
    body_k: Array
    bottom_k: Array


def _compute(cases: Sequence[PlateCase], data: PhysicsData) -> list[PlateHeat]:
    p, n = data.parameters, len(cases)
    gaps = [p["plate_gap_mm"] if case.gap_mm is None else case.gap_mm for case in cases]
    doubt = p.at("plate_gap_doubt")
    factors = [doubt.value if each is None else each for each in (doubt.high, None, doubt.low)]
    nets = [_net(cases, [gap * factor for gap in gaps], data) for factor in factors]
    settings = _settings(cases, nets[0], nets[1], data)
    runs = [_march(net, settings, data) for net in nets]
    settles = _settled(nets[1], settings.peak_plate_k)
    reached = np.array([run.joint_k.max(axis=0) for run in runs])
    needed = np.array([_needed_c(case, data) - case.start_c for case in cases])
    molten = np.array([first_crossing(run.time_s, run.joint_k, needed) for run in runs])
    band: Array = np.maximum(reached[2] - reached[1], reached[1] - reached[0])
    band = np.hypot(band, p["other_band_k"])
    return [
        _answer(cases[i], i, settings, runs[1], molten[:, i],
                (settles[i], reached[1, i] - needed[i], band[i]), data)
        for i in range(n)
    ]  # fmt: skip


def _needed_c(case: PlateCase, data: PhysicsData) -> float:
    return data.alloys[case.alloy].liquidus_c + data.parameters["molten_over_k"]


def soak_low_c(alloy: Alloy, data: PhysicsData) -> float:
    """Where a paste's soak begins, C."""
    p = data.parameters
    if alloy.liquidus_c < p["low_melt_below_c"]:
        return p["soak_low_melt_c"]
    return p["soak_low_leaded_c" if alloy.leaded else "soak_low_lead_free_c"]


def _soak_high_c(alloy: Alloy, data: PhysicsData) -> float:
    p = data.parameters
    usual = p["soak_leaded_c" if alloy.leaded else "soak_lead_free_c"]
    return min(usual, alloy.solidus_c - p["soak_under_solidus_k"])


def _settings(cases: Sequence[PlateCase], wide: _Net, usual: _Net, data: PhysicsData) -> _Settings:
    """Plate temperatures, to what a dial shows and as far as the plate goes: for the soak by
    the stated gap; for the peak so that the joints melt over the widest gap too (the heat is
    taken away by sight, so a narrower one is only quicker)."""
    p = data.parameters
    one = np.ones(len(cases))
    share, least = _settled(usual, one), _settled(wide, one)
    start = np.array([case.start_c for case in cases])
    alloys = [data.alloys[case.alloy] for case in cases]
    most = np.array([case.plate.highest_c for case in cases])
    soak = np.array([_soak_high_c(alloy, data) for alloy in alloys]) - start
    over = np.array([alloy.liquidus_c + p["plate_over_k"] for alloy in alloys]) - start
    needed = np.array([_needed_c(case, data) + p["other_band_k"] for case in cases]) - start
    low = np.array([soak_low_c(alloy, data) for alloy in alloys]) - start
    soak_c = np.minimum(start + soak / share, most)
    peak_c = start + np.maximum(over / share, needed / least)
    return _Settings(
        soak_plate_k=np.round(soak_c / DIAL_K) * DIAL_K - start,
        peak_plate_k=np.minimum(np.ceil(peak_c / DIAL_K) * DIAL_K, most) - start,
        soak_low_k=np.minimum(low, 0.9 * (soak_c - start) * share),
    )


def _settled(net: _Net, plate_k: Array) -> Array:
    """Joints above the start once nothing changes, with the plate held."""
    inner = net.matrix[:, 1:, 1:]
    source = -net.matrix[:, 1:, PLATE] * plate_k[:, None]
    settled = np.linalg.solve(inner, source[..., None])[:, JOINT - 1, 0]
    return settled.astype(np.float64)


def _march(net: _Net, settings: _Settings, data: PhysicsData) -> _Run:
    """Even steps of two implicit stages (TR-BDF's kin of ``march``); the heater keeps the
    plate at its setting, which goes up once the soak is over."""
    p = data.parameters
    count, cases = round(p["plate_patience_s"] / STEP_S), len(net.store)
    rate = net.store / (GAMMA * STEP_S)
    solve = np.linalg.inv(net.matrix + rate[:, :, None] * np.eye(NODES))
    per_w = solve[:, PLATE, PLATE]
    state = np.zeros((cases, NODES))
    kept = np.zeros((count + 1, cases, NODES))
    soaked = np.zeros(cases)

    def stage(old: Array, setting: Array) -> Array:
        new = np.einsum("cij,cj->ci", solve, rate * old)
        heater = np.clip((setting - new[:, PLATE]) / per_w, 0.0, net.power_w_m2)
        moved: Array = new + heater[:, None] * solve[:, :, PLATE]
        return moved

    for at in range(1, count + 1):
        soaked += np.where(state[:, JOINT] >= settings.soak_low_k, STEP_S, 0.0)
        over = soaked >= p["plate_soak_s"]
        setting = np.where(over, settings.peak_plate_k, settings.soak_plate_k)
        half = stage(state, setting)
        state = stage(state + AHEAD * (half - state), setting)
        kept[at] = state
    time: Array = np.arange(count + 1, dtype=np.float64) * STEP_S
    return _Run(time, kept[:, :, JOINT], kept[:, :, BODY], kept[:, :, BOTTOM])


def _answer(
    case: PlateCase,
    i: int,
    settings: _Settings,
    run: _Run,
    molten: Array,
    doubt: tuple[float, float, float],
    data: PhysicsData,
) -> PlateHeat:
    p, alloy = data.parameters, data.alloys[case.alloy]
    slow, usual, quick = (steady(t) if np.isfinite(t) else None for t in molten)
    end_s = min((p["plate_patience_s"] if usual is None else usual) + p["plate_hold_s"],
                float(run.time_s[-1]))  # fmt: skip
    joint = run.joint_k[:, i]
    liquid = float(first_crossing(run.time_s, joint[:, None],
                                  np.array([alloy.liquidus_c - case.start_c]))[0])  # fmt: skip
    upto = run.time_s <= end_s
    settles, margin, band = (steady(float(value)) for value in doubt)
    return PlateHeat(
        soak_plate_c=steady(case.start_c + settings.soak_plate_k[i]),
        peak_plate_c=steady(case.start_c + settings.peak_plate_k[i]),
        soak_s=p["plate_soak_s"],
        molten_s=usual,
        molten_s_low=quick,
        molten_s_high=slow,
        above_s=steady(max(end_s - liquid, 0.0)) if np.isfinite(liquid) else 0.0,
        settles_c=steady(case.start_c + settles),
        margin_k=margin,
        band_k=band,
        decision=decide(margin, band),
        top_c=steady(case.start_c + float(np.interp(end_s, run.time_s, run.body_k[:, i]))),
        limit_c=body_limit(case.footprint, False, data).sure_c,
        board_c=steady(case.start_c + float(run.bottom_k[upto, i].max())),
        board_limit_c=data.materials.of(case.board).highest_c,
        ramp_k_s=steady(float(np.diff(joint[upto]).max(initial=0.0)) / STEP_S),
    )
