"""A part under a nozzle, in lumps and rings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import Board
from solderrisk.model.outline import pad_rects
from solderrisk.model.physics_data import PhysicsData
from solderrisk.model.reference import Parameters
from solderrisk.physics.air_march import AirNet
from solderrisk.physics.jet import Jet, Jets, arriving_share, jet_of, mean_h, ring_h
from solderrisk.physics.joint import HIDDEN, body_j_k, free_lead_w_k, lead_w_k
from solderrisk.physics.ladder import Array, Rings
from solderrisk.physics.results import AirCase, JointCase

MM = 1e-3
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
    sheet_w_k, sheet_j_m2k = board_sheet(case.board, p)
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


def board_sheet(board: Board, p: Parameters) -> tuple[float, float]:
    """Conductivity times thickness, and heat capacity per area, of the whole board."""
    thickness_m, copper_m = board.thickness_mm * MM, board.copper_um * 1e-6
    broken = board.copper_layers - board.plane_layers
    planes = board.plane_layers * board.plane_cover + broken * p["broken_copper"]
    w_k = planes * copper_m * p["copper_w_mk"] + thickness_m * p["laminate_w_mk"]
    return w_k, planes * copper_m * p["copper_j_m3k"] + thickness_m * p["laminate_j_m3k"]


def air_arrays(
    cases: Sequence[AirCase], parts: Sequence[PartUnderAir], slopes: Sequence[float], p: Parameters
) -> tuple[AirNet, Rings]:
    """Cases as arrays, repeated for each slope of the arriving heat: slopes x cases."""
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
    jet_w_k = np.maximum(ring_h(jets, edge, p), p["face_w_m2k"]) * area * (1.0 - under)
    excess_k = np.array([case.air_c - case.start_c for case in cases])
    inside = body_m * BODY_RADII[:, None]
    ring_wall, body_wall = [], []
    for slope in slopes:
        share = arriving_share(middle / jets.nozzle_m, slope, p["eta_knee_d"])
        over = arriving_share(inside / jets.nozzle_m, slope, p["eta_knee_d"])
        ring_wall.append(share * excess_k)
        body_wall.append((over * inside).sum(axis=0) / inside.sum(axis=0) * excess_k)
    times = len(slopes)
    wide = (1, times)
    rings = Rings(
        capacity=np.tile(np.array([part.sheet_j_m2k for part in parts]) * area, wide),
        link=np.tile(link, wide),
        loss=np.tile(to_ring + jet_w_k + p["face_w_m2k"] * area, wide),
        store=np.zeros((0, area.shape[0], area.shape[1] * times)),
        store_link=np.zeros((0, area.shape[0], area.shape[1] * times)),
        edge_m=np.tile(edge, wide),
    )
    half_top_k_w = np.array([part.half_top_k_w for part in parts])
    body_jet_w_k = 1.0 / (half_top_k_w + 1.0 / (mean_h(jets, body_m, p) * math.pi * body_m**2))
    net = AirNet(
        body_j_k=np.tile([part.body_j_k for part in parts], times),
        body_jet_w_k=np.tile(body_jet_w_k, times),
        body_wall_k=np.concatenate(body_wall),
        to_ring_w_k=np.tile(to_ring, wide),
        ring_heat_w=np.tile(jet_w_k, wide) * np.hstack(ring_wall),
    )
    return net, rings
