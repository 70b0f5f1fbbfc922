"""An iron on a joint: what it reaches, when the joint wets, how long it may stay.

Left out, and on which side that errs: a joint near the board's edge has less board round it
and wets sooner; a barrel is one temperature, so its far side is later (told where it
matters); a tip keeps its state from before, cleaned and tinned; the hand's own time to find
the joint is no part of any figure. The contact is the largest doubt and makes the band.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solderrisk.model.base import Cache, Parameters, steady
from solderrisk.model.physics_data import MOST_KEPT, PhysicsData
from solderrisk.physics.joint import JointLumps, Rod, joint_lumps
from solderrisk.physics.march import (
    RINGS,
    Array,
    IronMarch,
    IronNet,
    Rings,
    first_crossing,
    march,
    rings_round,
    segments_along,
)
from solderrisk.physics.part_limits import softens_c
from solderrisk.physics.results import Curve, Decision, IronCase, IronHeat, Limit, Note

MM = 1e-3
NO_CONTACT_W_K = 1e-9
# A rod's ladder, in lengths that heat diffuses in the time: where it is cut, its first segment.
ROD_REACH, ROD_FIRST, SEGMENTS = 4.0, 0.005, 18
MAX_BATCH = 500  # cases integrated together: bounds memory, keeps rows in the cache

_KEPT: Cache[tuple[PhysicsData, IronCase], IronHeat] = Cache(MOST_KEPT)


def iron_heat(cases: Sequence[IronCase], data: PhysicsData) -> tuple[IronHeat, ...]:
    """What each tip does to its joint, in the order of ``cases``.

    Distinct cases are computed once and kept, so that a change on the bench recomputes
    only what it touches. A plain iron's ``tip_c`` is not its own: it idles where it does.

    Raises:
        KeyError: an alloy or a material is not in the data.
    """
    asked = [(data, case) for case in cases]
    return tuple(_KEPT.many(asked, lambda missing: _compute([case for _, case in missing], data)))


def iron_curve(case: IronCase, data: PhysicsData) -> Curve:
    """Joint and tip temperature against time, for a picture."""
    inputs = iron_inputs([case], data, ("value",))
    run = march(inputs.net, inputs.rings, data.parameters["patience_s"], rod=inputs.rod)
    return Curve(
        time_s=tuple(run.time_s.tolist()),
        joint_c=tuple((case.start_c + run.joint_k[:, 0]).tolist()),
        source_c=tuple((case.start_c + run.tip_k[:, 0]).tolist()),
        needed_c=needed_c(inputs.lumps[0], data.parameters),
        harm_c=data.materials.of(case.joint.board).land_c,
        label=f"{case.iron.name}, {case.tip.width_mm:g} mm tip on {case.joint.group.name}",
    )


def needed_c(lumps: JointLumps, parameters: Parameters) -> float:
    return lumps.liquidus_c + parameters["wet_over_k"]


@dataclass(frozen=True)
class IronInputs:
    """Cases as arrays, repeated per contact level: (levels x cases,)."""

    lumps: list[JointLumps]
    net: IronNet
    rings: Rings
    needed_k: Array  # above the start
    rod: Rings | None = None


def _compute(cases: Sequence[IronCase], data: PhysicsData) -> list[IronHeat]:
    """Joints with a wire behind them are integrated apart: their rod is a second ladder."""
    wires = [joint_lumps(case.joint, data).rod is not None for case in cases]
    answers: dict[IronCase, IronHeat] = {}
    for kind in (False, True):
        same = [case for case, wire in zip(cases, wires, strict=True) if wire == kind]
        for first in range(0, len(same), MAX_BATCH):
            batch = same[first : first + MAX_BATCH]
            answers.update(zip(batch, _batch(batch, data), strict=True))
    return [answers[case] for case in cases]


def _batch(cases: Sequence[IronCase], data: PhysicsData) -> list[IronHeat]:
    p = data.parameters
    inputs = iron_inputs(cases, data, ("low", "value", "high"))
    run = march(inputs.net, inputs.rings, p["patience_s"], rod=inputs.rod)
    n = len(cases)
    wet = first_crossing(run.time_s, run.joint_k, inputs.needed_k).reshape(3, n)
    reached = run.joint_k.max(axis=0).reshape(3, n)
    contact = np.maximum(reached[2] - reached[1], reached[1] - reached[0])
    band = np.hypot(contact, p["other_band_k"])
    safe = _longest_dwell(run, cases, inputs, data)
    short = _limits(run, inputs, n)
    return [
        _answer(cases[i], inputs.lumps[i], reached[1, i], band[i], wet[:, i], safe[i], short[i], p)
        for i in range(n)
    ]


def _answer(
    case: IronCase,
    lumps: JointLumps,
    reached_k: float,
    band_k: float,
    wet: Array,
    safe_s: float,
    limit: Limit,
    p: Parameters,
) -> IronHeat:
    reached_c, needed = steady(case.start_c + reached_k), needed_c(lumps, p)
    margin, band = steady(reached_c - needed), steady(band_k)
    slow, usual, quick = (steady(t) if math.isfinite(t) else None for t in wet)
    flow = p["barrel_flow_s"] if lumps.barrel else p["flow_s"]
    decision = decide(margin, band)
    return IronHeat(
        reached_c=reached_c,
        needed_c=needed,
        margin_k=margin,
        band_k=band,
        decision=decision,
        limit="none" if decision == "wets" else limit,
        wet_s=usual,
        wet_s_low=quick,
        wet_s_high=slow,
        dwell_s=None if usual is None else steady(usual + flow),
        safe_s=steady(safe_s),
        notes=lumps.notes + _notes(case, lumps, p),
    )


def decide(margin_k: float, band_k: float) -> Decision:
    """A margin inside its band is no verdict."""
    if abs(margin_k) <= band_k:
        return "undecided"
    return "wets" if margin_k > 0 else "fails"


def _notes(case: IronCase, lumps: JointLumps, p: Parameters) -> tuple[Note, ...]:
    found = []
    if not lumps.reachable:
        found.append(Note("hidden_joint"))
    if case.start_c >= lumps.liquidus_c:
        found.append(Note("all_molten"))
    if case.iron.drive == "plain":
        found.append(Note("plain_iron", p["plain_idle_c"]))
    elif case.tip_c > case.iron.highest_c or case.tip_c < case.iron.lowest_c:
        found.append(Note("outside_range", case.tip_c))
    return tuple(found)


def iron_inputs(
    cases: Sequence[IronCase], data: PhysicsData, levels: tuple[str, ...], rings: int = RINGS
) -> IronInputs:
    """Lumps and rings of all cases, for each level (value, low, high) of the contact."""
    p = data.parameters
    lumps = [joint_lumps(case.joint, data) for case in cases]
    rows = np.array([_row(c, j, p) for c, j in zip(cases, lumps, strict=True)]).T
    tiled = np.tile(rows, (1, len(levels)))
    (
        joint_j_k, lead, body, body_loss, trace, path_k_w, area, tip_j_k, tip_loss, power,
        set_k, first_tip, room, needed, inner, outer, hub, sheet, copper, laminate,
        laminate_link, loss, plain,
    ) = tiled  # fmt: skip
    contact = np.concatenate([_contact(plain[: len(cases)], level, p) for level in levels])
    wetted = np.maximum(contact * area, NO_CONTACT_W_K)
    net = IronNet(
        joint_j_k=joint_j_k,
        lead_w_k=lead,
        body_j_k=body,
        body_loss_w_k=body_loss,
        trace_w_k=trace,
        path_w_k=1.0 / (path_k_w + 1.0 / wetted),
        tip_j_k=tip_j_k,
        tip_loss_w_k=tip_loss,
        power_w=power,
        set_k=set_k,
        first_tip_k=first_tip,
        room_k=room,
    )
    reach = inner + 6.0 * np.sqrt(sheet / (copper + laminate) * p["patience_s"])
    board = rings_round(
        inner, np.minimum(outer, reach), sheet, copper, laminate, laminate_link, loss, hub, rings
    )
    return IronInputs(lumps, net, board, needed, _rods(lumps * len(levels), p))


def _rods(lumps: Sequence[JointLumps], p: Parameters) -> Rings | None:
    """The wires behind joints, cut off where no heat comes in the time; None without any."""
    if all(joint.rod is None for joint in lumps):
        return None
    none = Rod(1.0, 1.0, 0.0, 0.0, 0.0, 0.0)
    rods = [joint.rod or none for joint in lumps]
    k_area, j_mk, loss, length = np.array(
        [(rod.k_area, rod.j_mk, rod.loss_w_mk, rod.length_m) for rod in rods]
    ).T
    reach = np.sqrt(k_area / j_mk * p["patience_s"])
    whole = np.minimum(length, ROD_REACH * reach)
    return segments_along(whole, ROD_FIRST * reach, k_area, j_mk, loss, SEGMENTS)


def _contact(plain: Array, level: str, p: Parameters) -> Array:
    """Heat transfer of the contact per wetted area at one level of its doubt."""
    values = []
    for name in ("contact_w_m2k", "plain_contact_w_m2k"):
        parameter = p.at(name)
        given = getattr(parameter, level)
        values.append(parameter.value if given is None else given)
    contact: Array = np.where(plain > 0, values[1], values[0])
    return contact


def _row(case: IronCase, lumps: JointLumps, p: Parameters) -> tuple[float, ...]:
    drive, tip = case.iron.drive, case.tip
    plain = drive == "plain"
    idle_c = p["plain_idle_c"] if plain else case.tip_c
    room_c = p["ambient_c"]
    loss = case.iron.power_w / (idle_c - room_c) if plain else p["tip_loss_w_k"]
    face_m = tip.width_mm * MM / 2
    cone_w_k = math.pi * p["tip_w_mk"] * face_m * p["tip_root_mm"] / p["tip_cone_mm"]
    path_k_w = 1.0 / p[f"{drive}_inner_w_k"] + 1.0 / cone_w_k
    needed = needed_c(lumps, p) - case.start_c
    return (
        lumps.capacity_j_k + lumps.latent_j / max(needed, 1.0),
        lumps.lead_w_k,
        lumps.body_j_k,
        lumps.body_loss_w_k,
        lumps.trace_w_k,
        path_k_w,
        _wetted_m2(case, lumps, p),
        p[f"{drive}_tip_j_k"],
        loss,
        case.iron.power_w,
        math.inf if plain else idle_c - case.start_c,
        idle_c - case.start_c,
        room_c - case.start_c,
        needed,
        lumps.inner_m,
        lumps.outer_m,
        lumps.hub_w_k,
        lumps.sheet_w_k,
        lumps.copper_j_m2k,
        lumps.laminate_j_m2k,
        lumps.laminate_w_m2k,
        lumps.loss_w_m2k,
        float(plain),
    )


def _wetted_m2(case: IronCase, lumps: JointLumps, p: Parameters) -> float:
    if not lumps.reachable:
        return 0.0
    width = case.tip.width_mm * MM
    along = max(width, p["contact_floor_mm"] * MM)
    area = min(width, lumps.land_w_m) * min(along, lumps.land_l_m)
    return area * p[f"shape_{case.tip.shape}"]


def _limits(run: IronMarch, inputs: IronInputs, n: int) -> list[Limit]:
    """What a joint that stays cold is short of: watts that no tip could make up for, or
    a way for them."""
    mid = slice(n, 2 * n)
    net, needed = inputs.net, inputs.needed_k[mid]
    joint = np.maximum(run.joint_k[-1, mid], 1e-6)
    sink_w_k = net.path_w_k[mid] * (run.tip_k[-1, mid] - joint) / joint
    loss_w = net.tip_loss_w_k[mid] * (needed - net.room_k[mid])
    short_w = net.power_w[mid] < needed * sink_w_k + loss_w
    return ["power" if short else "path" for short in short_w]


def _longest_dwell(
    run: IronMarch, cases: Sequence[IronCase], inputs: IronInputs, data: PhysicsData
) -> Array:
    """Longest time of the tip on the joint before land, lead or body is hurt, s.

    Land and part age the faster the hotter the joint is; a light joint at the part's rated
    tip temperature uses its rated time up exactly.
    """
    p, n = data.parameters, len(cases)
    mid = slice(n, 2 * n)
    start = np.array([case.start_c for case in cases])
    joint_c, body_c = run.joint_k[:, mid] + start, run.body_k[:, mid] + start
    heats = [case.joint.footprint.heat for case in cases]
    boards = [data.materials.of(case.joint.board) for case in cases]
    land_c, land_s = np.array([(board.land_c, board.land_s) for board in boards]).T
    land = aged(run.time_s, joint_c, land_c, land_s, p["land_halves_k"])
    rated_c = np.array([heat.iron_c for heat in heats])
    rated_s = np.array([heat.iron_s for heat in heats])
    part = aged(run.time_s, joint_c, rated_c, rated_s, p["part_halves_k"])
    body_limit = np.array([heat.body_c for heat in heats])
    body = first_crossing(run.time_s, body_c, body_limit)
    body += np.array([heat.body_s for heat in heats])
    soft = first_crossing(run.time_s, body_c, _softens(cases, data)) + p["softens_s"]
    if run.rod_k is not None and inputs.rod is not None:
        # A wire's insulation is all that its joint can hurt besides the land.
        part = body = np.full(n, math.inf)
        behind_c = _at_insulation(run, run.rod_k, inputs.rod.edge_m, inputs.lumps) + start
        soft = first_crossing(run.time_s, behind_c, _softens(cases, data)) + p["softens_s"]
        soft += np.array([joint.rod.lag_s if joint.rod else 0.0 for joint in inputs.lumps])
    longest = np.full(n, p["longest_dwell_s"])
    dwell: Array = np.minimum.reduce([land, part, body, soft, longest])
    return dwell


def _softens(cases: Sequence[IronCase], data: PhysicsData) -> Array:
    limits = (softens_c(case.joint.footprint, data) for case in cases)
    return np.array([math.inf if limit is None else limit for limit in limits])


def _at_insulation(
    run: IronMarch, rod_k: Array, edge_m: Array, lumps: Sequence[JointLumps]
) -> Array:
    """Temperature where each wire's insulation begins, (times, cases), above the start."""
    n = len(lumps)
    mid = slice(n, 2 * n)
    edge = edge_m[:, mid]
    middle = np.vstack((np.zeros(n), (edge[1:] + edge[:-1]) / 2))
    profile = np.concatenate((run.joint_k[:, None, mid], rod_k[:, :, mid]), axis=1)
    columns = []
    for case, joint in enumerate(lumps):
        at_m = joint.rod.bare_m if joint.rod else 0.0
        after = min(max(int(np.searchsorted(middle[:, case], at_m)), 1), len(middle) - 1)
        near, far = profile[:, after - 1, case], profile[:, after, case]
        share = (at_m - middle[after - 1, case]) / (middle[after, case] - middle[after - 1, case])
        columns.append(near + min(share, 1.0) * (far - near))
    return np.array(columns).T


def aged(
    time_s: Array, temp_c: Array, rated_c: Array | float, rated_s: Array | float, halves_k: float
) -> Array:
    """When the life rated at a temperature is used up; it halves with every ``halves_k``.
    Solder float of IPC-TM-650 2.6.8: ten seconds at 288 C, so five at 328 C.

    >>> time_s = np.linspace(0.0, 20.0, 201)
    >>> life = aged(time_s, np.full((201, 1), 328.0), 288.0, 10.0, 40.0)
    >>> round(float(life[0]), 3)
    5.0
    """
    rate = np.exp2((temp_c - rated_c) / halves_k) / rated_s
    used = np.zeros_like(rate)
    np.cumsum(np.diff(time_s)[:, None] * 0.5 * (rate[1:] + rate[:-1]), axis=0, out=used[1:])
    within = first_crossing(time_s, used, np.ones(used.shape[1]))
    later = time_s[-1] + np.maximum(1.0 - used[-1], 0.0) / rate[-1]
    used_up: Array = np.where(np.isfinite(within), within, later)
    return used_up
