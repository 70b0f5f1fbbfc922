"""Hot air on a part: when its joints melt, how hot it gets, what else the heat reaches.

The nozzle is taken to stand over the part's middle where joints lie on the rim that it goes
along; over a wider field of joints under the body each place has it for a share of the time.
Planes count by the board's sheet as a whole, not joint by joint. Radii are where the board
gets that hot; light plastic that stands up in the stream can be hotter. What arrives of the
jet's heat is the largest doubt and makes the band.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solderrisk.model.base import Cache, Parameters, steady
from solderrisk.model.physics_data import MOST_KEPT, PhysicsData
from solderrisk.physics.air_net import (
    Arrival,
    PartUnderAir,
    air_arrays,
    arrivals,
    part_under_air,
)
from solderrisk.physics.iron import decide
from solderrisk.physics.march import AirMarch, Array, first_crossing, march_air
from solderrisk.physics.part_limits import BodyLimit, body_limit
from solderrisk.physics.results import AirCase, AirHeat, Curve, Note

MAX_BATCH = 300  # every ring is kept at every time


@dataclass(frozen=True)
class _Kept:
    """An answer with the board's profile when the air is taken away."""

    heat: AirHeat
    radius_mm: tuple[float, ...]
    board_c: tuple[float, ...]


_KEPT: Cache[tuple[PhysicsData, AirCase], _Kept] = Cache(MOST_KEPT)


def air_heat(cases: Sequence[AirCase], data: PhysicsData) -> tuple[AirHeat, ...]:
    """What hot air does to each part, in the order of ``cases``; distinct cases are
    computed once and kept.

    Raises:
        KeyError: an alloy or a material is not in the data.
    """
    return tuple(kept.heat for kept in _kept(cases, data))


def _kept(cases: Sequence[AirCase], data: PhysicsData) -> list[_Kept]:
    asked = [(data, case) for case in cases]
    return _KEPT.many(asked, lambda missing: _compute([case for _, case in missing], data))


def harm_radius_mm(case: AirCase, limit_c: float, data: PhysicsData) -> float:
    """Distance from the part's centre inside which the board reaches ``limit_c`` by the
    time the air is taken away; 0 where it nowhere does."""
    (kept,) = _kept([case], data)
    return _radius_mm(np.array(kept.radius_mm), np.array(kept.board_c), limit_c)


def air_curve(case: AirCase, data: PhysicsData) -> Curve:
    """Slowest joint and part's top against time, for a picture."""
    p = data.parameters
    run, part = _run([case], data, [arrivals(p)[1]])
    joint = _slowest(run, part)[:, 0]
    return Curve(
        time_s=tuple(run.time_s.tolist()),
        joint_c=tuple((case.start_c + joint).tolist()),
        source_c=tuple((case.start_c + run.top_k[:, 0]).tolist()),
        needed_c=needed_c(case, data),
        harm_c=_limit(case, data).sure_c,
        label=f"{case.air_c:g} C air from {case.nozzle_mm:g} mm on {case.footprint.name}",
    )


def needed_c(case: AirCase, data: PhysicsData) -> float:
    """Liquidus and what lifting or settling asks for above it."""
    return data.alloys[case.alloy].liquidus_c + data.parameters["molten_over_k"]


def _limit(case: AirCase, data: PhysicsData) -> BodyLimit:
    # New parts are rated for lead-free ovens; what comes off a tin-lead board may not be.
    leaded = case.purpose == "lift" and data.alloys[case.alloy].leaded
    return body_limit(case.footprint, leaded, data)


@dataclass(frozen=True)
class _Run:
    time_s: Array
    top_k: Array
    ring_k: Array


def _run(
    cases: Sequence[AirCase], data: PhysicsData, beliefs: Sequence[Arrival]
) -> tuple[_Run, list[PartUnderAir]]:
    p = data.parameters
    parts = [part_under_air(case, data) for case in cases]
    net, rings = air_arrays(cases, parts, beliefs, p)
    run: AirMarch = march_air(net, rings, p["air_patience_s"] + p["air_handling_s"])
    half = np.tile([part.half_top_k_w for part in parts], len(beliefs))
    top = run.body_k + half * net.body_jet_w_k * (net.body_wall_k - run.body_k)
    # Where air heats faster than the first steps follow, they overshoot by a hair.
    excess_k = np.tile([case.air_c - case.start_c for case in cases], len(beliefs))
    top = np.clip(top, np.minimum(excess_k, 0.0), np.maximum(excess_k, 0.0))
    return _Run(run.time_s, top, run.ring_k), parts


def _slowest(run: _Run, parts: Sequence[PartUnderAir]) -> Array:
    """The coldest joint of each case, (times, beliefs x cases)."""
    columns = run.ring_k.shape[2]
    slowest = [
        run.ring_k[:, list(parts[i % len(parts)].joint_rings), i].min(axis=1)
        for i in range(columns)
    ]
    return np.array(slowest).T


def _compute(cases: Sequence[AirCase], data: PhysicsData) -> list[_Kept]:
    kept: list[_Kept] = []
    for first in range(0, len(cases), MAX_BATCH):
        kept += _batch(cases[first : first + MAX_BATCH], data)
    return kept


def _batch(cases: Sequence[AirCase], data: PhysicsData) -> list[_Kept]:
    p, n = data.parameters, len(cases)
    run, parts = _run(cases, data, arrivals(p))
    joint = _slowest(run, parts)
    needed = np.array([needed_c(case, data) - case.start_c for case in cases])
    # The worst joint lags: its time is longer than the average joint's.
    molten = first_crossing(run.time_s, joint, np.tile(needed, 3)).reshape(3, n)
    molten *= p["air_uneven"]
    molten[molten > p["air_patience_s"]] = np.inf
    reached = joint[run.time_s <= p["air_patience_s"]].max(axis=0).reshape(3, n)
    arriving = np.maximum(reached[2] - reached[1], reached[1] - reached[0])
    band = np.hypot(arriving, p["other_band_k"])
    answers = []
    for i, case in enumerate(cases):
        doubt = (reached[1, i] - needed[i], band[i])
        answers.append(_answer(case, parts[i], run, n + i, molten[:, i], doubt, data))
    return answers


def _answer(
    case: AirCase,
    part: PartUnderAir,
    run: _Run,
    column: int,
    molten: Array,
    doubt: tuple[float, float],
    data: PhysicsData,
) -> _Kept:
    p = data.parameters
    slow, usual, quick = (steady(t) if math.isfinite(t) else None for t in molten)
    last_s = p["air_patience_s"] if usual is None else usual
    top_k = float(np.interp(last_s, run.time_s, run.top_k[:, column]))
    away_s = last_s + p["air_handling_s"]
    middle_m = (part.edge_m[:-1] + part.edge_m[1:]) / 2
    board_c = case.start_c + _at(away_s, run.time_s, run.ring_k[:, :, column])
    # The last ring reaches to the board's edge.
    radius_mm = np.append(middle_m, part.edge_m[-1]) * 1e3
    board_c = np.append(board_c, board_c[-1])
    alloy = data.alloys[case.alloy]
    soak_c = p["soak_leaded_c"] if alloy.leaded else p["soak_lead_free_c"]
    ramp = _ramp_k_s(run.time_s, run.top_k[:, column], soak_c - case.start_c, last_s, top_k)
    margin, band = steady(doubt[0]), steady(doubt[1])
    limit = _limit(case, data)
    heat = AirHeat(
        molten_s=usual,
        molten_s_low=quick,
        molten_s_high=slow,
        margin_k=margin,
        band_k=band,
        decision=decide(margin, band),
        top_c=steady(case.start_c + top_k),
        limit_c=limit.sure_c,
        ramp_k_s=steady(ramp),
        reflow_radius_mm=_radius_mm(radius_mm, board_c, alloy.solidus_c),
        plastic_radius_mm=_radius_mm(radius_mm, board_c, p["plastic_c"]),
        plastic_c=p["plastic_c"],
        notes=_notes(case, ramp, alloy.liquidus_c, p),
        doubts=part.jet.doubts(p) + _doubts(case, part, p),
        limit_doubt_k=limit.most_c - limit.sure_c,
    )
    return _Kept(heat, tuple(radius_mm.tolist()), tuple(board_c.tolist()))


def _at(when_s: float, time_s: Array, rows: Array) -> Array:
    """Rows of values at a time between two of theirs."""
    after = min(max(int(np.searchsorted(time_s, when_s)), 1), time_s.size - 1)
    share = (when_s - time_s[after - 1]) / (time_s[after] - time_s[after - 1])
    row: Array = rows[after - 1] + share * (rows[after] - rows[after - 1])
    return row


def _ramp_k_s(time_s: Array, top_k: Array, soak_k: float, end_s: float, end_k: float) -> float:
    """Mean rise of the part's top from the end of the soak to its end, K/s, as J-STD-020
    counts it; over the whole time where the top does not get that far, 0 where all is
    molten from the start."""
    at = float(first_crossing(time_s, top_k[:, None], np.array([soak_k]))[0])
    if end_s <= 0:
        return 0.0
    if not at < end_s:
        return end_k / end_s
    return (end_k - max(soak_k, 0.0)) / (end_s - at)


def _radius_mm(radius_mm: Array, board_c: Array, limit_c: float) -> float:
    """The outermost place that is at a temperature."""
    over = np.flatnonzero(board_c >= limit_c)
    if over.size == 0:
        return 0.0
    last = int(over[-1])
    if last + 1 == board_c.size:
        return steady(radius_mm[last])
    share = (board_c[last] - limit_c) / (board_c[last] - board_c[last + 1])
    return steady(radius_mm[last] + share * (radius_mm[last + 1] - radius_mm[last]))


def _notes(case: AirCase, ramp: float, liquidus_c: float, p: Parameters) -> tuple[Note, ...]:
    found = []
    if case.start_c >= liquidus_c:
        found.append(Note("all_molten"))
    if ramp > p["ramp_k_s"]:
        found.append(Note("steep", ramp, p["ramp_k_s"]))
    return tuple(found)


def _doubts(case: AirCase, part: PartUnderAir, p: Parameters) -> tuple[Note, ...]:
    found = []
    if part.body_radius_m > p["jet_reach_d"] * part.jet.nozzle_m:
        found.append(Note("wide_part"))
    if case.board.thickness_mm < p["thin_board_mm"]:
        found.append(Note("thin_board", case.board.thickness_mm))
    return tuple(found)
