"""Joints as the iron meets them: spreading in board and planes, heat stored and lost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from solderrisk.model.footprint import Body, Footprint, PadGroup
from solderrisk.model.kit import Board, PlaneLink
from solderrisk.model.parameters import Parameters
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.memo import Memo
from solderrisk.physics.results import JointCase
from solderrisk.physics.solder_volume import joint_volume_mm3, lead_section_mm

LATE = 500.0  # from here on the logarithm is closer than the fit
EULER_TERM = math.log(4.0) - 0.5772156649015329


def pressure_function(t_d: float) -> float:
    """Dimensionless rise of a hub that feeds a constant flow into an infinite sheet.

    van Everdingen and Hurst, Trans. AIME 186 (1949), by the fit of Edwardson and others,
    J. Petroleum Technology 14 (1962), within 1 % from 0.01 to 500; its logarithm beyond.

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


MM = 1e-3
MM2 = 1e-6
MM3 = 1e-9

HIDDEN = ("exposed", "ball")  # joints under the body, out of a tip's reach
ON_METAL = ("tab", "exposed")


@dataclass(frozen=True)
class JointLumps:
    """One joint in SI units. ``hub_w_k`` is the way from joint to board: spokes, or ``inf``
    for solid copper. ``sheet_w_k`` is the board's conductivity times thickness."""

    liquidus_c: float
    capacity_j_k: float  # solder, lead's end, land, laminate below it; without latent heat
    latent_j: float
    lead_w_k: float
    body_j_k: float
    body_loss_w_k: float
    trace_w_k: float
    inner_m: float
    outer_m: float
    hub_w_k: float
    sheet_w_k: float
    copper_j_m2k: float
    laminate_j_m2k: float
    laminate_w_m2k: float
    loss_w_m2k: float
    land_w_m: float
    land_l_m: float
    reachable: bool
    barrel: bool
    warnings: tuple[str, ...] = ()


def joint_cases(
    footprint: Footprint, board: Board, alloy: str, links: Sequence[PlaneLink] = ()
) -> tuple[JointCase, ...]:
    """One case per pad group. Groups marked ``tied`` are joined to the board's planes by
    its usual spokes; ``links`` that name a group, or '*' for every tied group, go first."""
    cases = []
    for group in footprint.pads:
        link = link_of(group, board, links)
        kept = () if link is None else (link,)
        cases.append(JointCase(footprint, group, board, alloy, kept))
    return tuple(cases)


def link_of(group: PadGroup, board: Board, links: Sequence[PlaneLink]) -> PlaneLink | None:
    """How a pad group is tied to planes; None for a pad with its trace only."""
    for link in links:
        if link.group == group.name:
            return link if link.planes else None
    if not group.tied:
        return None
    for link in links:
        if link.group == "*":
            return link if link.planes else None
    if board.plane_layers == 0:
        return None
    return PlaneLink(group=group.name, planes=board.plane_layers, spokes=board.spokes)


def joint_lumps(joint: JointCase, data: PhysicsData) -> JointLumps:
    """Lumped values of a joint, kept per case.

    Raises:
        KeyError: the alloy or a material is not in the data.
    """
    return _MEMO.one(joint, data, _lumps)


_MEMO: Memo[JointCase, JointLumps] = Memo()


@dataclass(frozen=True)
class _Sheet:
    """The board as a sheet round the joint."""

    hub_w_k: float
    inner_m: float
    sheet_w_k: float
    copper_j_m2k: float
    laminate_j_m2k: float
    laminate_w_m2k: float
    trace_w_k: float


def _lumps(joint: JointCase, data: PhysicsData) -> JointLumps:
    p = data.parameters
    group, board, body = joint.group, joint.board, joint.footprint.body
    alloy = data.alloys[joint.alloy]
    link = link_of(group, board, joint.links)
    land_m = math.sqrt(group.land_w_mm * group.land_l_mm / math.pi) * MM
    solder_mm3, metal_j_k = joint_metal(joint, data)
    depth_m = _depth_m(group, board, land_m, p)
    under_j_k = math.pi * land_m**2 * depth_m * p["laminate_j_m3k"]
    solder_g = solder_mm3 * alloy.density_g_cm3 * 1e-3
    sheet = (
        _plain_sheet(board, land_m, depth_m, p)
        if link is None
        else _plane_sheet(board, link, land_m, p)
    )
    outer_m = math.sqrt(board.length_mm * board.width_mm / math.pi) * MM
    return JointLumps(
        liquidus_c=alloy.liquidus_c,
        capacity_j_k=solder_g * alloy.heat_j_gk + metal_j_k + under_j_k,
        latent_j=solder_g * alloy.latent_j_g,
        lead_w_k=lead_w_k(joint, data),
        body_j_k=body_j_k(body, data) + _wire_j_k(joint, data),
        body_loss_w_k=p["body_face_w_m2k"] * body_face_m2(body),
        trace_w_k=sheet.trace_w_k,
        inner_m=sheet.inner_m,
        outer_m=max(outer_m, 2.0 * sheet.inner_m),
        hub_w_k=sheet.hub_w_k,
        sheet_w_k=sheet.sheet_w_k,
        copper_j_m2k=sheet.copper_j_m2k,
        laminate_j_m2k=sheet.laminate_j_m2k,
        laminate_w_m2k=sheet.laminate_w_m2k,
        loss_w_m2k=2.0 * p["face_w_m2k"],
        land_w_m=group.land_w_mm * MM,
        land_l_m=group.land_l_mm * MM,
        reachable=group.kind not in HIDDEN and joint.footprint.hand_iron,
        barrel=group.through_board,
        warnings=tuple(_warnings(joint, link, sheet, outer_m, data)),
    )


def _depth_m(group: PadGroup, board: Board, land_m: float, p: Parameters) -> float:
    """Laminate that a joint warms: all of it round a barrel, a part under a land."""
    thickness_m = board.thickness_mm * MM
    return thickness_m if group.through_board else min(thickness_m, p["spread_depth"] * land_m)


def _plain_sheet(board: Board, land_m: float, depth_m: float, p: Parameters) -> _Sheet:
    thickness_m = board.thickness_mm * MM
    trace_m, copper_m = p["trace_mm"] * MM, board.copper_um * 1e-6
    into_board = p["laminate_z_w_mk"] / thickness_m
    return _Sheet(
        hub_w_k=math.inf,
        inner_m=land_m,
        sheet_w_k=p["laminate_w_mk"] * depth_m,
        copper_j_m2k=p["laminate_j_m3k"] * depth_m,
        laminate_j_m2k=0.0,
        laminate_w_m2k=0.0,
        trace_w_k=trace_m * math.sqrt(into_board * p["copper_w_mk"] * copper_m),
    )


def _plane_sheet(board: Board, link: PlaneLink, land_m: float, p: Parameters) -> _Sheet:
    thickness_m, copper_m = board.thickness_mm * MM, board.copper_um * 1e-6
    planes = min(link.planes, board.copper_layers)
    copper_w_k = planes * board.plane_cover * p["copper_w_mk"] * copper_m
    hub_w_k, inner_m = math.inf, land_m
    if link.spokes:
        gap_m, width_m = link.spoke_gap_mm * MM, link.spoke_w_mm * MM
        inner_m = land_m + gap_m
        copper = planes * link.spokes * p["copper_w_mk"] * width_m * copper_m / gap_m
        laminate = 2 * math.pi * p["laminate_w_mk"] * thickness_m / math.log(inner_m / land_m)
        hub_w_k = copper + laminate
    return _Sheet(
        hub_w_k=hub_w_k,
        inner_m=inner_m,
        sheet_w_k=copper_w_k + p["laminate_w_mk"] * thickness_m,
        copper_j_m2k=planes * board.plane_cover * p["copper_j_m3k"] * copper_m,
        laminate_j_m2k=p["laminate_j_m3k"] * thickness_m,
        laminate_w_m2k=laminate_w_m2k(planes, thickness_m, p["laminate_z_w_mk"]),
        trace_w_k=0.0,
    )


def laminate_w_m2k(planes: int, thickness_m: float, k_z: float) -> float:
    """Conductivity over depth of the laminate that hangs on planes, per board area.

    Planes lie evenly from face to face, so n of them cut the laminate into 2 (n - 1) half
    gaps, each heated from one side; one plane heats the whole thickness from a face.
    """
    slabs = max(2 * (planes - 1), 1)
    return k_z * slabs**2 / thickness_m


def joint_metal(joint: JointCase, data: PhysicsData) -> tuple[float, float]:
    """Solder in mm3, and the heat held by the other metal in the joint, J/K."""
    p, group, board, lead = data.parameters, joint.group, joint.board, joint.group.lead
    solder = joint_volume_mm3(joint.footprint, group, board.thickness_mm, data)
    area = group.land_w_mm * group.land_l_mm
    lands = 2 if group.through_board else 1
    held = lands * area * board.copper_um * MM * p["copper_j_m3k"] * MM3
    metal = data.materials.leads[lead.material if lead else "copper_alloy"]
    if group.kind in ON_METAL:
        thick_mm = lead.thickness_mm if lead else p["tab_metal_mm"]
        return solder, held + metal.heat_j_mm3_k * area * thick_mm
    if lead is None:
        return solder, held
    if group.through_board:
        length_mm = board.thickness_mm + p["lead_out_mm"]
    else:
        length_mm = min(lead.foot_mm or group.land_l_mm, group.land_l_mm)
    return solder, held + metal.heat_j_mm3_k * lead_section_mm(lead)[0] * length_mm


def lead_w_k(joint: JointCase, data: PhysicsData) -> float:
    """Conductance from the joint into the body, W/K: along the lead and then as a fin that
    is buried in the body, or through the body's own material where there is no lead."""
    lead, body, group = joint.group.lead, joint.footprint.body, joint.group
    k_body = data.materials.bodies[body.material].conductivity_w_mk
    outside = free_lead_w_k(group, data)
    if outside is not None and lead is not None:
        metal = data.materials.leads[lead.material].conductivity_w_mk
        section_m2 = lead_section_mm(lead)[0] * MM2
        buried = math.sqrt(metal * section_m2 * data.parameters["buried_lead_shape"] * k_body)
        return 1.0 / (1.0 / outside + 1.0 / buried)
    if group.kind == "chip_end":
        return k_body * body.width_mm * body.height_mm * MM / (body.length_mm / 2)
    area = min(group.land_w_mm * group.land_l_mm, body.length_mm * body.width_mm)
    return k_body * area * MM / (body.height_mm / 2)


def free_lead_w_k(group: PadGroup, data: PhysicsData) -> float | None:
    """Conductance of one lead between joint and body, W/K; None without a lead."""
    lead = group.lead
    if lead is None:
        return None
    metal = data.materials.leads[lead.material].conductivity_w_mk
    return metal * lead_section_mm(lead)[0] * MM / lead.length_mm


def body_j_k(body: Body, data: PhysicsData) -> float:
    """Heat capacity of a body, J/K: as given, from its mass, or from its volume."""
    if body.heat_capacity_j_k is not None:
        return body.heat_capacity_j_k
    if body.mass_g is not None:
        return body.mass_g * data.parameters["body_j_gk"]
    material = data.materials.bodies[body.material]
    return body.volume_mm3 * material.fill * material.heat_j_mm3_k


def _wire_j_k(joint: JointCase, data: PhysicsData) -> float:
    """A wire's core inside its insulation, J/K; a part's lead-frame counts as body."""
    lead = joint.group.lead
    if joint.footprint.family != "wire_pad" or lead is None:
        return 0.0
    heat = data.materials.leads[lead.material].heat_j_mm3_k
    return heat * lead_section_mm(lead)[0] * joint.footprint.body.length_mm


def body_face_m2(body: Body) -> float:
    """Area of top and sides, m2."""
    top = body.length_mm * body.width_mm
    return (top + 2 * body.height_mm * (body.length_mm + body.width_mm)) * MM2


def _warnings(
    joint: JointCase, link: PlaneLink | None, sheet: _Sheet, outer_m: float, data: PhysicsData
) -> list[str]:
    p, board, group = data.parameters, joint.board, joint.group
    found = []
    if board.thickness_mm < p["thin_board_mm"]:
        found.append(f"board of {board.thickness_mm:g} mm is thinner than the model was made for")
    if link is not None and link.planes > board.copper_layers:
        found.append(f"tied to {link.planes} planes of {board.copper_layers} copper layers")
    if sheet.inner_m > p["land_share"] * outer_m:
        found.append("the land is so large that heat does not spread in rings round it")
    if link is not None and group.hole_mm is not None and _far_side_lags(joint, sheet, data):
        found.append("the barrel's far side lags: hold on until solder shows there")
    return found


def _far_side_lags(joint: JointCase, sheet: _Sheet, data: PhysicsData) -> bool:
    """Whether planes take so much that the barrel's far side stays behind: Biot number
    over one half, with the sink a second after the start (see ``physics.yaml``)."""
    p, board, lead = data.parameters, joint.board, joint.group.lead
    hole_mm2 = joint.group.hole_area_mm2
    section = lead_section_mm(lead)[0] if lead else 0.0
    metal = data.materials.leads[lead.material].conductivity_w_mk if lead else 0.0
    solder = max(hole_mm2 - section, 0.0)
    k_solder = data.alloys[joint.alloy].conductivity_w_mk
    barrel_w_k = (metal * section + k_solder * solder) * MM / board.thickness_mm
    heat_j_m2k = sheet.copper_j_m2k + sheet.laminate_j_m2k
    spread_w_k = from_hub_w_k(sheet.sheet_w_k, heat_j_m2k, sheet.inner_m, p["far_side_s"])
    sink_w_k = 1.0 / (1.0 / spread_w_k + 1.0 / sheet.hub_w_k)
    return sink_w_k > p["far_side_biot"] * barrel_w_k
