"""Hot air: the impinging jet and the heat it brings to part and board."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solderrisk.model.base import Parameters
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import Board
from solderrisk.model.outline import pad_rects
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.board import whole_sheet
from solderrisk.physics.joint import HIDDEN, body_j_k, free_lead_w_k, lead_w_k
from solderrisk.physics.march import AirNet, Array, Rings
from solderrisk.physics.results import AirCase, JointCase, Note

Some = Array | float  # one value, or one per jet

MM = 1e-3
KELVIN = 273.15
L_MIN = 1e-3 / 60.0  # m3/s
SUTHERLAND_K = 273.15  # reference temperature of Sutherland's law


@dataclass(frozen=True)
class Jet:
    """A jet at its nozzle."""

    reynolds: float
    nozzle_m: float
    height_d: float
    k_air: float

    def doubts(self, p: Parameters) -> tuple[Note, ...]:
        """Where the correlation is used beyond what it was made from."""
        found = []
        if not p["jet_re_low"] <= self.reynolds <= p["jet_re_high"]:
            found.append(Note("jet_flow", self.reynolds))
        if not p["jet_height_low_d"] <= self.height_d <= p["jet_height_high_d"]:
            found.append(Note("jet_height", self.height_d))
        return tuple(found)


@dataclass(frozen=True)
class Jets:
    """Many jets as arrays, (jets,)."""

    reynolds: Array
    nozzle_m: Array
    height_d: Array
    k_air: Array

    @classmethod
    def of(cls, jets: Sequence[Jet]) -> Jets:
        rows = [(jet.reynolds, jet.nozzle_m, jet.height_d, jet.k_air) for jet in jets]
        return cls(*np.array(rows).T)


def jet_of(
    flow_l_min: float, nozzle_mm: float, height_mm: float, film_c: float, p: Parameters
) -> Jet:
    """A jet from its cold flow; air's properties at the film temperature."""
    mass_kg_s = flow_l_min * L_MIN * p["air_kg_m3"]
    nozzle_m = nozzle_mm * MM
    return Jet(
        reynolds=4.0 * mass_kg_s / (math.pi * nozzle_m * air_viscosity(film_c, p)),
        nozzle_m=nozzle_m,
        height_d=height_mm / nozzle_mm,
        k_air=air_conductivity(film_c, p),
    )


def _sutherland(at_c: float, reference: float, constant_k: float) -> float:
    """Sutherland's law (White, Viscous Fluid Flow). Air of 300 K has 184.6e-7 Pa s (Incropera,
    table A.4):

    >>> round(_sutherland(300 - KELVIN, 1.716e-5, 110.4) * 1e7, 0)
    185.0
    """
    kelvin = at_c + KELVIN
    steep = math.pow(kelvin / SUTHERLAND_K, 1.5)
    return reference * steep * (SUTHERLAND_K + constant_k) / (kelvin + constant_k)


def air_viscosity(at_c: float, p: Parameters) -> float:
    """Pa s, by Sutherland's law."""
    return _sutherland(at_c, p["air_mu_pa_s"], p["air_mu_sutherland_k"])


def air_conductivity(at_c: float, p: Parameters) -> float:
    """W/mK, by Sutherland's law."""
    return _sutherland(at_c, p["air_k_w_mk"], p["air_k_sutherland_k"])


def martin_nusselt(reynolds: Some, prandtl: float, radius_d: Some, height_d: Some) -> Array:
    """Nusselt number averaged from the axis to ``radius_d`` nozzle diameters (Martin 1977).
    By hand for Re 20,000, Pr 0.7, four diameters out, six above:

    >>> round(float(martin_nusselt(2e4, 0.7, 4.0, 6.0)), 3)
    64.865
    """
    a = 0.5 / np.asarray(radius_d)
    spread = 2.0 * a * (1.0 - 2.2 * a) / (1.0 + 0.2 * (height_d - 6.0) * a)
    flow = 2.0 * np.sqrt(reynolds * (1.0 + 0.005 * reynolds**0.55))
    nusselt: Array = prandtl**0.42 * spread * flow
    return nusselt


def mean_h(jets: Jets, radius_m: Array, p: Parameters) -> Array:
    """Heat transfer averaged from the axis to a radius, W/m2K; (..., jets).

    Below the correlation's smallest radius it is held, which under-states the heat right
    under the nozzle; beyond its largest the local value falls by a power law.
    """
    core_d, reach_d = 0.5 / math.sqrt(p["jet_core_ar"]), p["jet_reach_d"]
    radius_d = radius_m / jets.nozzle_m

    def mean(at_d: Some) -> Array:
        nusselt = martin_nusselt(jets.reynolds, p["air_prandtl"], at_d, jets.height_d)
        return jets.k_air / jets.nozzle_m * nusselt

    near_d = 0.99 * reach_d
    whole = mean(reach_d) * reach_d**2
    local = (whole - mean(near_d) * near_d**2) / (reach_d**2 - near_d**2)
    tail = 2.0 - p["jet_tail"]
    beyond = np.maximum(radius_d, reach_d)
    added = 2.0 * local * reach_d**2 * ((beyond / reach_d) ** tail - 1.0) / tail
    inside = mean(np.clip(radius_d, core_d, reach_d))
    answer: Array = np.where(radius_d <= reach_d, inside, (whole + added) / beyond**2)
    return answer


def ring_h(jets: Jets, edge_m: Array, p: Parameters) -> Array:
    """Heat transfer of each ring between edges (edges, jets), W/m2K; the rings add up to
    ``mean_h``."""
    area = edge_m**2
    sums = mean_h(jets, edge_m, p) * area
    ring: Array = np.diff(sums, axis=0) / np.diff(area, axis=0)
    return ring


def arriving_share(radius_d: Array, slope: Some, knee_d: float) -> Array:
    """Share of the jet's excess temperature that a wall at a radius would take on."""
    near = 1.0 - slope * np.minimum(radius_d, knee_d)
    share: Array = near * np.where(radius_d > knee_d, knee_d / np.maximum(radius_d, knee_d), 1.0)
    return share


RINGS_INSIDE = 5
RINGS_OUTSIDE = 14
BODY_RADII = np.linspace(0.0, 1.0, 2 * RINGS_INSIDE + 1)[1::2]  # middles of equal steps


@dataclass(frozen=True)
class PartUnderAir:
    """One case: geometry, masses, and which rings carry joints."""

    jet: Jet
    edge_m: Array  # (rings + 1,)
    joints_w_k: Array  # (rings,) leads from body to board
    joint_rings: tuple[int, ...]
    body_radius_m: float
    body_j_k: float
    gap_w_m2k: float
    half_top_k_w: float  # body's middle to its top face
    swept_d: float  # nozzle diameters across what a moved nozzle has to sweep
    sheet_w_k: float
    sheet_j_m2k: float


def part_under_air(case: AirCase, data: PhysicsData) -> PartUnderAir:
    """Lumped values of a case.

    Raises:
        KeyError: the alloy or a material is not in the data.
    """
    p, body = data.parameters, case.footprint.body
    film_c = (case.air_c + data.alloys[case.alloy].liquidus_c) / 2
    area_m2 = body.length_mm * body.width_mm * MM**2
    body_radius_m = math.sqrt(area_m2 / math.pi)
    joints = _joints(case, data)
    outer_joint_m = max(radius for radius, _ in joints)
    edge_m = _edges(case.board, max(body_radius_m, 1.05 * outer_joint_m))
    per_ring = np.zeros(edge_m.size - 1)
    rings = []
    for radius_m, w_k in joints:
        ring = min(int(np.searchsorted(edge_m, radius_m, side="right")) - 1, per_ring.size - 1)
        per_ring[ring] += w_k
        rings.append(ring)
    sheet_w_k, sheet_j_m2k = whole_sheet(case.board, data)
    gap_mm = max(body.stand_off_mm, p["gap_floor_mm"])
    k_body = data.materials.bodies[body.material].conductivity_w_mk
    return PartUnderAir(
        jet=jet_of(case.flow_l_min, case.nozzle_mm, case.height_mm, film_c, p),
        edge_m=edge_m,
        joints_w_k=per_ring,
        joint_rings=tuple(dict.fromkeys(rings)),
        body_radius_m=body_radius_m,
        body_j_k=body_j_k(body, data),
        gap_w_m2k=p["gap_air_w_mk"] / (gap_mm * MM),
        half_top_k_w=body.height_mm * MM / 2 / (k_body * area_m2),
        swept_d=_swept_d(case),
        sheet_w_k=sheet_w_k,
        sheet_j_m2k=sheet_j_m2k,
    )


def _joints(case: AirCase, data: PhysicsData) -> list[tuple[float, float]]:
    """Radius of each pad group's joints and their conductance from the body. Hidden
    joints are taken at the middle, where heat comes last. All leads being hot together,
    the body's inside is no bottleneck."""
    found = []
    for group in case.footprint.pads:
        joint = JointCase(case.footprint, group, case.board, case.alloy)
        hidden = group.kind in HIDDEN
        radius = 0.0 if hidden else rms_radius_mm(case.footprint, group.name) * MM
        each = free_lead_w_k(group, data) or lead_w_k(joint, data)
        found.append((radius, group.count * each))
    return found


def _swept_d(case: AirCase) -> float:
    """Joints on the rim are heated where the nozzle goes along them. Those under the body are
    heated through it: a field of them wider than the nozzle shares the nozzle's time."""
    hidden = {group.name for group in case.footprint.pads if group.kind in HIDDEN}
    field = [rect for rect in pad_rects(case.footprint) if rect.group in hidden]
    if not field:
        return 1.0
    wide_mm = max(abs(r.x_mm) + r.w_mm / 2 for r in field)
    long_mm = max(abs(r.y_mm) + r.h_mm / 2 for r in field)
    return max(2.0 * math.sqrt(wide_mm * long_mm) / case.nozzle_mm, 1.0)


def rms_radius_mm(footprint: Footprint, group: str) -> float:
    """Distance of a pad group's joints from the part's centre, root mean square."""
    squares = [r.x_mm**2 + r.y_mm**2 for r in pad_rects(footprint) if r.group == group]
    return math.sqrt(sum(squares) / len(squares))


def _edges(board: Board, part_m: float) -> Array:
    outer_m = math.sqrt(board.length_mm * board.width_mm / math.pi) * MM
    outer_m = max(outer_m, 2.0 * part_m)
    inside = np.linspace(0.0, part_m, RINGS_INSIDE + 1)
    outside = part_m * (outer_m / part_m) ** np.linspace(0.0, 1.0, RINGS_OUTSIDE + 1)
    return np.concatenate((inside, outside[1:]))


@dataclass(frozen=True)
class Arrival:
    """One belief about what of the jet arrives: fall of its heat per nozzle diameter, and
    how many diameters across a nozzle heats while it is moved."""

    slope: float
    reach_d: float


def arrivals(p: Parameters) -> tuple[Arrival, Arrival, Arrival]:
    """The slow, the usual and the quick belief."""
    slope, reach = p.at("eta_slope"), p.at("moved_reach_d")
    return (
        Arrival(slope.value if slope.high is None else slope.high, reach.low or reach.value),
        Arrival(slope.value, reach.value),
        Arrival(slope.value if slope.low is None else slope.low, reach.high or reach.value),
    )


def air_arrays(
    cases: Sequence[AirCase],
    parts: Sequence[PartUnderAir],
    beliefs: Sequence[Arrival],
    p: Parameters,
) -> tuple[AirNet, Rings]:
    """Cases as arrays, repeated for each belief about the arriving heat: beliefs x cases."""
    jets = Jets.of([part.jet for part in parts])
    edge = np.array([part.edge_m for part in parts]).T
    area = math.pi * np.diff(edge**2, axis=0)
    middle = np.vstack((edge[1:2] / 2, np.sqrt(edge[1:-1] * edge[2:])))
    body_m = np.array([part.body_radius_m for part in parts])
    sheet_w_k = np.array([part.sheet_w_k for part in parts])
    link = np.zeros_like(area)
    link[1:] = 2.0 * math.pi * sheet_w_k / np.log(middle[1:] / middle[:-1])
    under = np.clip((body_m - edge[:-1]) / np.diff(edge, axis=0), 0.0, 1.0)
    gap_w_m2k = np.array([part.gap_w_m2k for part in parts])
    to_ring = np.array([part.joints_w_k for part in parts]).T + gap_w_m2k * area * under
    excess_k = np.array([case.air_c - case.start_c for case in cases])
    swept_d = np.array([part.swept_d for part in parts])
    half_top_k_w = np.array([part.half_top_k_w for part in parts])
    still_h, body_h = ring_h(jets, edge, p), mean_h(jets, body_m, p)
    inside = body_m * BODY_RADII[:, None]
    jet_w_k, ring_wall, body_jet, body_wall = [], [], [], []
    for belief in beliefs:
        # The share of the time that a moved nozzle stands over any one place.
        there = 1.0 / (1.0 + (swept_d**2 - 1.0) / belief.reach_d**2)
        h = np.maximum(there * still_h, p["face_w_m2k"])
        jet_w_k.append(h * area * (1.0 - under))
        body_w_k = np.maximum(there * body_h, p["face_w_m2k"]) * math.pi * body_m**2
        body_jet.append(1.0 / (half_top_k_w + 1.0 / body_w_k))
        share = arriving_share(middle / jets.nozzle_m, belief.slope, p["eta_knee_d"])
        over = arriving_share(inside / jets.nozzle_m, belief.slope, p["eta_knee_d"])
        ring_wall.append(share * excess_k)
        body_wall.append((over * inside).sum(axis=0) / inside.sum(axis=0) * excess_k)
    wide = (1, len(beliefs))
    jets_w_k = np.hstack(jet_w_k)
    rings = Rings(
        capacity=np.tile(np.array([part.sheet_j_m2k for part in parts]) * area, wide),
        link=np.tile(link, wide),
        loss=np.tile(to_ring + p["face_w_m2k"] * area, wide) + jets_w_k,
        store=np.zeros((0, area.shape[0], area.shape[1] * len(beliefs))),
        store_link=np.zeros((0, area.shape[0], area.shape[1] * len(beliefs))),
        edge_m=np.tile(edge, wide),
    )
    net = AirNet(
        body_j_k=np.tile([part.body_j_k for part in parts], len(beliefs)),
        body_jet_w_k=np.concatenate(body_jet),
        body_wall_k=np.concatenate(body_wall),
        to_ring_w_k=np.tile(to_ring, wide),
        ring_heat_w=jets_w_k * np.hstack(ring_wall),
    )
    return net, rings
