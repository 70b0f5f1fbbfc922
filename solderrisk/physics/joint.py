"""Joints as the iron meets them: how they are tied, heat stored, led off and lost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from solderrisk.model.base import Cache
from solderrisk.model.footprint import Body, Footprint, Lead, PadGroup
from solderrisk.model.kit import Board, PlaneLink
from solderrisk.model.physics_data import MOST_KEPT, PhysicsData
from solderrisk.physics.board import MM, Sheet, depth_m, from_hub_w_k, sheet_round
from solderrisk.physics.results import JointCase, Note
from solderrisk.physics.solder_volume import joint_volume_mm3, lead_section_mm

MM2 = 1e-6
MM3 = 1e-9

HIDDEN = ("exposed", "ball")  # joints under the body, out of a tip's reach
ON_METAL = ("tab", "exposed")


@dataclass(frozen=True)
class Rod:
    """A wire behind its joint: conductivity times section (Wm/K), heat per length (J/mK),
    loss per length (W/mK), length, where its insulation begins and how far that lags."""

    k_area: float
    j_mk: float
    loss_w_mk: float
    length_m: float
    bare_m: float
    lag_s: float


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
    rod: Rod | None = None
    notes: tuple[Note, ...] = ()


def joint_cases(
    footprint: Footprint, board: Board, alloy: str, links: Sequence[PlaneLink] = ()
) -> tuple[JointCase, ...]:
    """One case per pad group. Groups marked ``tied`` are joined to the board's planes by
    its usual spokes; ``links`` that name a group, or '*' for every tied group (or a
    footprint's only pad), go first."""
    cases = []
    for group in footprint.pads:
        tie = _tie(footprint, group, board, links)
        cases.append(JointCase(footprint, group, board, alloy, () if tie is None else (tie,)))
    return tuple(cases)


def link_of(joint: JointCase) -> PlaneLink | None:
    """How a joint is tied to planes; None for a pad with its trace only."""
    tie = _tie(joint.footprint, joint.group, joint.board, joint.links)
    return tie if tie is not None and tie.planes else None


def _tie(
    footprint: Footprint, group: PadGroup, board: Board, links: Sequence[PlaneLink]
) -> PlaneLink | None:
    """The link that holds for a group: a written one, of 0 planes too, or the board's."""
    for link in links:
        if link.group == group.name:
            return link
    if not (group.tied or footprint.joint_count == 1):
        return None
    for link in links:
        if link.group == "*":
            return link.model_copy(update={"group": group.name})
    if not group.tied or board.plane_layers == 0:
        return None
    return PlaneLink(group=group.name, planes=board.plane_layers, spokes=board.spokes)


def doubted_link(
    footprint: Footprint, group: PadGroup, board: Board, links: Sequence[PlaneLink]
) -> PlaneLink | None:
    """What would tie any pin of a group to planes where nobody knows the board's copper; None
    where that is known, or the group is tied in any case."""
    told = any(link.group == group.name for link in links)
    if board.ties_known or told or group.tied or footprint.joint_count == 1:
        return None
    if board.plane_layers == 0:
        return None
    return PlaneLink(group=group.name, planes=board.plane_layers, spokes=board.spokes)


def joint_lumps(joint: JointCase, data: PhysicsData) -> JointLumps:
    """Lumped values of a joint, kept per case.

    Raises:
        KeyError: the alloy or a material is not in the data.
    """
    return _KEPT.get((data, joint), lambda: _lumps(joint, data))


_KEPT: Cache[tuple[PhysicsData, JointCase], JointLumps] = Cache(MOST_KEPT)


def _lumps(joint: JointCase, data: PhysicsData) -> JointLumps:
    p = data.parameters
    group, board, body = joint.group, joint.board, joint.footprint.body
    alloy = data.alloys[joint.alloy]
    link = link_of(joint)
    land_m = math.sqrt(group.land_w_mm * group.land_l_mm / math.pi) * MM
    solder_mm3, metal_j_k = joint_metal(joint, data)
    deep_m = depth_m(group, board, land_m, data)
    under_j_k = math.pi * land_m**2 * deep_m * data.materials.of(board).heat_j_m3k
    solder_g = solder_mm3 * alloy.density_g_cm3 * 1e-3
    sheet = sheet_round(group, board, link, land_m, data)
    rod = rod_of(joint, data)
    outer_m = math.sqrt(board.length_mm * board.width_mm / math.pi) * MM
    return JointLumps(
        liquidus_c=alloy.liquidus_c,
        capacity_j_k=solder_g * alloy.heat_j_gk + metal_j_k + under_j_k,
        latent_j=solder_g * alloy.latent_j_g,
        lead_w_k=lead_w_k(joint, data) if rod is None else 0.0,
        body_j_k=body_j_k(body, data) + _wire_j_k(joint, data),
        rod=rod,
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
        barrel=group.through_board and board.barrels,
        notes=_notes(joint, link, sheet, outer_m, data),
    )


def joint_metal(joint: JointCase, data: PhysicsData) -> tuple[float, float]:
    """Solder in mm3, and the heat held by the other metal in the joint, J/K."""
    p, group, board, lead = data.parameters, joint.group, joint.board, joint.group.lead
    solder = joint_volume_mm3(joint.footprint, group, board, data)
    area = group.land_w_mm * group.land_l_mm
    lands = 2 if group.through_board and board.barrels else 1
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
    is buried in the body, or through the body's own material where there is no lead. Of a part
    on a heat sink along the lead alone: one of them is one piece with the metal on the sink."""
    lead, body, group = joint.group.lead, joint.footprint.body, joint.group
    k_body = data.materials.bodies[body.material].conductivity_w_mk
    if lead is not None:
        outside = _free_w_k(lead, data)
        if body.on_sink:
            return outside
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
    return None if group.lead is None else _free_w_k(group.lead, data)


def _free_w_k(lead: Lead, data: PhysicsData) -> float:
    metal = data.materials.leads[lead.material].conductivity_w_mk
    return metal * lead_section_mm(lead)[0] * MM / lead.length_mm


def body_j_k(body: Body, data: PhysicsData) -> float:
    """Heat capacity of a body, J/K: as given, from its mass, or from its volume; with the heat
    sink that it sits on."""
    return _alone_j_k(body, data) + sink_j_k(body, data)


def sink_j_k(body: Body, data: PhysicsData) -> float:
    """Heat capacity of a part's heat sink of aluminium, J/K; 0 without one."""
    if not body.on_sink:
        return 0.0
    p = data.parameters
    return (p["sink_g"] if body.sink_g is None else body.sink_g) * p["sink_j_gk"]


def _alone_j_k(body: Body, data: PhysicsData) -> float:
    if body.heat_capacity_j_k is not None:
        return body.heat_capacity_j_k
    if body.mass_g is not None:
        return body.mass_g * data.parameters["body_j_gk"]
    material = data.materials.bodies[body.material]
    return body.volume_mm3 * material.fill * material.heat_j_mm3_k


def _wire_j_k(joint: JointCase, data: PhysicsData) -> float:
    """A wire's core inside its insulation where its length is not known, J/K; a part's
    lead-frame counts as body."""
    lead = joint.group.lead
    if joint.footprint.family != "wire_pad" or lead is None or lead.wire_mm is not None:
        return 0.0
    heat = data.materials.leads[lead.material].heat_j_mm3_k
    return heat * lead_section_mm(lead)[0] * joint.footprint.body.length_mm


def rod_of(joint: JointCase, data: PhysicsData) -> Rod | None:
    """The wire behind a joint; None where its length is not known. The heat that its
    insulation holds is left out: it comes late and helps nothing."""
    lead, p = joint.group.lead, data.parameters
    if lead is None or lead.wire_mm is None:
        return None
    metal = data.materials.leads[lead.material]
    section = lead_section_mm(lead)[0]
    core_mm = math.sqrt(4.0 * section / math.pi)
    stuff = data.materials.bodies[joint.footprint.body.material]
    usual_mm = min(p["wire_wall_mm"] + p["wire_wall_share"] * core_mm, p["wire_wall_most_mm"])
    wall_mm = usual_mm * stuff.wall_share
    whole_mm = core_mm + 2.0 * wall_mm
    # A slab heated from one face lags in the mean by depth^2 / 3a (Carslaw and Jaeger 3.4).
    lag_s = wall_mm**2 * stuff.heat_j_mm3_k / (3.0 * stuff.conductivity_w_mk * MM)
    return Rod(
        k_area=metal.conductivity_w_mk * section * MM2,
        j_mk=metal.heat_j_mm3_k * section / MM,
        loss_w_mk=through_wall_w_mk(
            core_mm * MM, whole_mm * MM, stuff.conductivity_w_mk, p["body_face_w_m2k"]
        ),
        length_m=max(lead.wire_mm, lead.length_mm) * MM,
        bare_m=max(lead.length_mm, p["wire_bare_share"] * whole_mm) * MM,
        lag_s=lag_s,
    )


def through_wall_w_mk(core_m: float, whole_m: float, k: float, face_w_m2k: float) -> float:
    """Loss of a round wire per length through a wall of insulation, W/mK (Incropera: radial
    conduction). Up to the critical radius a wall makes the loss larger.

    >>> round(through_wall_w_mk(4.514e-3, 6.514e-3, 0.17, 15.0), 3)  # 16 mm2, 1 mm of PVC
    0.278
    """
    outside = 1.0 / (math.pi * whole_m * face_w_m2k)
    return 1.0 / (outside + math.log(whole_m / core_m) / (2.0 * math.pi * k))


def body_face_m2(body: Body) -> float:
    """Area of top and sides, m2."""
    top = body.length_mm * body.width_mm
    return (top + 2 * body.height_mm * (body.length_mm + body.width_mm)) * MM2


def _notes(
    joint: JointCase, link: PlaneLink | None, sheet: Sheet, outer_m: float, data: PhysicsData
) -> tuple[Note, ...]:
    p, board = data.parameters, joint.board
    found = []
    if board.material == "fr4" and board.thickness_mm < p["thin_board_mm"]:
        found.append(Note("thin_board", board.thickness_mm))
    if link is not None and link.planes > board.copper_layers:
        found.append(Note("more_planes", link.planes, board.copper_layers))
    if sheet.inner_m > p["land_share"] * outer_m:
        found.append(Note("wide_land"))
    barrel = joint.group.through_board and board.barrels
    if link is not None and barrel and _far_side_lags(joint, sheet, data):
        found.append(Note("far_side_lags"))
    return tuple(found)


def _far_side_lags(joint: JointCase, sheet: Sheet, data: PhysicsData) -> bool:
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
