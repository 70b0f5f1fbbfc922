"""Solder and flux that joints take, wire length, and the barrel fill that is asked for.

Volumes in mm3, masses in g, flux in mg. Fillets are concave quarter circles. Amounts are
those of a well-made joint; what is wasted on tips and wick is not counted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from solderrisk.model.footprint import Footprint, Lead, PadGroup
from solderrisk.model.kit import Board
from solderrisk.model.physics_data import AcceptanceClass, PhysicsData
from solderrisk.physics.results import SolderNeed

# A square of side R less its quarter circle, as a share of R squared, and how far that
# area's centroid lies from the lead, as a share of R.
FILLET_AREA = 1 - math.pi / 4
FILLET_CENTROID = (10 - 3 * math.pi) / (3 * (4 - math.pi))


@dataclass(frozen=True)
class BarrelRule:
    """Vertical fill that an acceptance class asks of a plated hole; None: not specified."""

    share: float | None
    depth_mm: float | None
    source: str

    def least_mm(self, thickness_mm: float) -> float | None:
        """Depth of solder at least, mm, in a board of this thickness."""
        depths = [
            depth
            for depth in (None if self.share is None else self.share * thickness_mm, self.depth_mm)
            if depth is not None
        ]
        return min(depths, default=None)


def barrel_fill_rule(
    lead_count: int, acceptance_class: AcceptanceClass, data: PhysicsData
) -> BarrelRule:
    """The rule for a part with so many leads (IPC-A-610F table 7-4).

    Raises:
        ValueError: no lead at all.
    """
    rows = [row for row in data.acceptance.barrels if row.leads_from <= lead_count]
    if not rows:
        raise ValueError(f"lead_count must be 1 or more, not {lead_count}")
    row = max(rows, key=lambda r: r.leads_from)
    place = acceptance_class - 1
    return BarrelRule(row.share[place], row.depth_mm[place], row.source)


def ring_fillet_mm3(perimeter_mm: float, radius_mm: float) -> float:
    """A concave fillet all round a lead, by Pappus; corners of the lead are turned round.

    For a round lead of radius r the perimeter is 2 pi r and this is exact. With a fillet of
    1 mm round a wire of 1 mm radius the centroid lies 0.2234 mm off the wire:

    >>> round(ring_fillet_mm3(2 * math.pi, 1.0), 5)
    1.64957
    """
    area = FILLET_AREA * radius_mm**2
    return area * (perimeter_mm + 2 * math.pi * FILLET_CENTROID * radius_mm)


def edge_fillet_mm3(width_mm: float, height_mm: float, length_mm: float) -> float:
    """A straight concave fillet: an elliptic quarter cut out of height x length."""
    return width_mm * FILLET_AREA * height_mm * length_mm


def lead_section_mm(lead: Lead) -> tuple[float, float]:
    """Area in mm2 and perimeter in mm of a lead's section."""
    if lead.round:
        return math.pi / 4 * lead.width_mm**2, math.pi * lead.width_mm
    return lead.width_mm * lead.thickness_mm, 2 * (lead.width_mm + lead.thickness_mm)


def joint_volume_mm3(
    footprint: Footprint, group: PadGroup, board: Board, data: PhysicsData
) -> float:
    """Solder of one joint of the group, mm3: a hole without a barrel takes one fillet."""
    if group.through_board:
        return _barrel(group, board, data)
    land = group.land_w_mm * group.land_l_mm
    match group.kind:
        case "chip_end":
            return _chip_end(footprint, group, data)
        case "gull_wing" | "j_lead" if group.lead is not None:
            return _foot(group, group.lead, data)
        case "castellation":
            height = min(footprint.body.height_mm, data.handwork["fillet_radius_limit_mm"])
            toe = group.land_l_mm / 2
            return land * data.handwork["solder_film_mm"] + edge_fillet_mm3(
                group.land_w_mm, height, toe
            )
        case "exposed" | "tab":
            return land * data.handwork["exposed_film_mm"]
        case "ball":
            return land * data.handwork["ball_land_film_mm"]
        case "wire":
            return land * min(data.handwork["wire_dome_mm"], group.land_w_mm / 2)
        case _:
            return land * data.handwork["solder_film_mm"]


def solder_need(
    footprint: Footprint,
    board: Board,
    density_g_cm3: float,
    wire_mm: float | None,
    flux_percent: float,
    data: PhysicsData,
) -> SolderNeed:
    """Solder for all joints of a part, and the flux inside that much wire or paste."""
    volume = sum(
        group.count * joint_volume_mm3(footprint, group, board, data) for group in footprint.pads
    )
    mass_g = volume * density_g_cm3 / 1000
    share = flux_percent / 100
    length = 0.0
    if wire_mm is not None:
        length = wire_length_mm(volume, wire_mm, density_g_cm3, flux_percent, data)
    return SolderNeed(volume, mass_g, length, 1000 * mass_g * share / (1 - share))


def flux_volume_share(density_g_cm3: float, flux_percent: float, data: PhysicsData) -> float:
    """Share of a cored wire's volume that is flux, from its share by mass."""
    flux = flux_percent / 100 / data.handwork["flux_density_g_cm3"]
    return flux / (flux + (1 - flux_percent / 100) / density_g_cm3)


def wire_length_mm(
    volume_mm3: float, wire_mm: float, density_g_cm3: float, flux_percent: float, data: PhysicsData
) -> float:
    """Length of cored wire that holds this volume of metal, mm. By plain arithmetic with flux
    of 1.07 g/cm3 a wire of 0.5 mm with 2.2 % flux is 15 % flux by volume:

    >>> from solderrisk.files.reference import physics_data
    >>> round(wire_length_mm(0.7, 0.5, 8.4, 2.2, physics_data()), 1)
    4.2
    """
    metal = 1 - flux_volume_share(density_g_cm3, flux_percent, data)
    return volume_mm3 / (math.pi / 4 * wire_mm**2 * metal)


def added_flux_mg(footprint: Footprint, data: PhysicsData) -> float:
    """Gel or liquid flux spread over the lands and the gaps between them, mg."""
    area = sum(
        group.count * max(group.pitch_mm or 0.0, group.land_w_mm) * group.land_l_mm
        for group in footprint.pads
    )
    return area * data.handwork["added_flux_film_mm"] * data.handwork["flux_density_g_cm3"]


def _barrel(group: PadGroup, board: Board, data: PhysicsData) -> float:
    """Barrel plus a fillet on both faces; without a barrel a fillet on one face."""
    lead_area, perimeter, radius = 0.0, 0.0, 0.0
    if group.lead is not None:
        lead_area, perimeter = lead_section_mm(group.lead)
        radius = _annulus_mm(group, group.lead)
    radius = min(radius, data.handwork["fillet_radius_limit_mm"])
    open_area = max(group.hole_area_mm2 - lead_area, 0.0)
    fillet = ring_fillet_mm3(perimeter, radius) if radius > 0 else 0.0
    if not board.barrels:
        return fillet
    return open_area * board.thickness_mm * data.handwork["barrel_fill"] + 2 * fillet


def _annulus_mm(group: PadGroup, lead: Lead) -> float:
    """Bare land beside the lead, on its narrower side."""
    lands = sorted((group.land_w_mm, group.land_l_mm))
    sides = sorted((lead.width_mm, lead.width_mm if lead.round else lead.thickness_mm))
    return max(min(land - side for land, side in zip(lands, sides, strict=True)) / 2, 0.0)


def _chip_end(footprint: Footprint, group: PadGroup, data: PhysicsData) -> float:
    body = footprint.body
    end = group.lead.width_mm if group.lead is not None else body.width_mm
    width = min(group.land_w_mm, end)
    outer = (group.row_span_mm or body.length_mm) / 2 + group.land_l_mm / 2
    toe = min(max(outer - body.length_mm / 2, 0.0), group.land_l_mm)
    height = min(
        body.height_mm * data.handwork["chip_fillet_height_share"],
        data.handwork["fillet_radius_limit_mm"],
    )
    under = width * (group.land_l_mm - toe) * data.handwork["solder_film_mm"]
    return under + edge_fillet_mm3(width, height, toe)


def _foot(group: PadGroup, lead: Lead, data: PhysicsData) -> float:
    """A flat foot: film under it, fillets as high as the lead is thick on four sides."""
    foot = min(lead.foot_mm or lead.width_mm, group.land_l_mm)
    width = min(lead.width_mm, group.land_w_mm)
    beside = (group.land_w_mm - width) / 2
    before = (group.land_l_mm - foot) / 2
    height = lead.thickness_mm
    sides = 2 * edge_fillet_mm3(foot, height, beside)
    ends = 2 * edge_fillet_mm3(width, height, min(before, data.handwork["fillet_radius_limit_mm"]))
    covered = width * foot
    bare = group.land_w_mm * group.land_l_mm - covered
    return (
        covered * data.handwork["solder_film_mm"]
        + sides
        + ends
        + bare * data.handwork["land_coat_mm"]
    )
