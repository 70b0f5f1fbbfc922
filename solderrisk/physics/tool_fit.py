"""Whether a tool's shape suits a joint or a part: nozzles, tips, holes. Pure geometry;
whether it heats the joint is for the heat model. Each answer says why in a bench phrase.
"""

from __future__ import annotations

import math
from typing import Literal

from solderrisk.model.bench import Tip, VacuumNozzle
from solderrisk.model.footprint import Footprint, Lead, PadGroup
from solderrisk.model.outline import extent
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.results import ToolFit

DensityLevel = Literal["A", "B", "C"]


def lead_diagonal_mm(lead: Lead) -> float:
    """The smallest round hole that a lead passes."""
    return lead.width_mm if lead.round else math.hypot(lead.width_mm, lead.thickness_mm)


def vacuum_fits(nozzle: VacuumNozzle, group: PadGroup, data: PhysicsData) -> ToolFit:
    """Whether a desoldering nozzle goes over the lead and stays on its land.

    ``measure_mm`` is the bore that the lead asks for.
    """
    if group.hole_mm is None:
        return ToolFit(False, "no hole to draw solder from")
    if group.lead is None:
        diagonal = group.slot_w_mm or group.hole_mm
        what = "hole (lead not given)"
    else:
        diagonal = lead_diagonal_mm(group.lead)
        what = "lead"
    asked = diagonal + data.handwork["nozzle_clearance_mm"]
    over = nozzle.outer_mm - min(group.land_w_mm, group.land_l_mm)
    reach = _reach_mm(nozzle.outer_mm, group)
    if nozzle.bore_mm < asked - 1e-9:
        why = f"{what} {diagonal:.2f} mm across asks for a bore of {asked:.2f}, not "
        return ToolFit(False, f"{why}{nozzle.bore_mm:.2f} mm", asked)
    if reach > 0:
        why = f"nozzle {nozzle.outer_mm:.2f} mm wide reaches {reach:.2f} mm onto the next land"
        return ToolFit(False, why, asked)
    if over > data.handwork["nozzle_over_land_mm"] + 1e-9:
        return ToolFit(False, f"nozzle is {over:.2f} mm wider than the land", asked)
    if nozzle.bore_mm > diagonal + data.handwork["nozzle_looseness_mm"]:
        return ToolFit(False, f"bore {nozzle.bore_mm:.2f} mm is too loose to draw solder", asked)
    if over > 0:
        why = f"fits; {over:.2f} mm wider than the land, keep it level and press lightly"
        return ToolFit(True, why, asked)
    return ToolFit(True, f"bore {nozzle.bore_mm:.2f} mm clears the lead, stays on the land", asked)


def tip_fits(tip: Tip, group: PadGroup, gap_mm: float | None, data: PhysicsData) -> ToolFit:
    """Whether a tip touches one land alone. ``gap_mm`` None: no neighbour.

    ``measure_mm`` is the widest tip that still does.
    """
    widest = None if gap_mm is None else group.land_w_mm + 2 * gap_mm
    if widest is not None and tip.width_mm > widest:
        return ToolFit(
            False, f"{tip.width_mm:.1f} mm tip bridges lands, {widest:.1f} mm at most", widest
        )
    if tip.width_mm < data.handwork["tip_narrow_share"] * group.land_w_mm:
        return ToolFit(
            True, f"fits, yet narrow for a {group.land_w_mm:.1f} mm land: heats it slowly", widest
        )
    return ToolFit(True, f"{tip.width_mm:.1f} mm tip suits a {group.land_w_mm:.1f} mm land", widest)


def air_nozzle_fits(nozzle_mm: float, footprint: Footprint, data: PhysicsData) -> ToolFit:
    """Whether circling with a round air nozzle keeps all joints of a part hot at once.

    ``measure_mm`` is the smallest nozzle that does.
    """
    sides = extent(footprint)
    longest = max(sides)
    least = longest / data.handwork["air_span_ratio"]
    if nozzle_mm < least:
        why = f"{nozzle_mm:g} mm air loses one side of {longest:.1f} mm while at the other"
        return ToolFit(False, why, least)
    if nozzle_mm > longest + data.handwork["air_overhang_mm"]:
        why = f"{nozzle_mm:g} mm air covers far more than {longest:.1f} mm: heats the neighbours"
        return ToolFit(False, why, least)
    return ToolFit(True, f"{nozzle_mm:g} mm air covers {longest:.1f} mm by circling", least)


def least_hole_mm(lead_mm: float, level: DensityLevel, data: PhysicsData) -> float:
    """Smallest finished hole for the largest lead diameter (IPC-2222 table 9-3). Level B asks
    for 0.20 mm more than the lead:

    >>> from solderrisk.files.reference import physics_data
    >>> round(least_hole_mm(0.6, "B", physics_data()), 2)
    0.8
    """
    return lead_mm + data.handwork[f"hole_clearance_{level.lower()}_mm"]


def least_land_mm(lead_mm: float, level: DensityLevel, data: PhysicsData) -> float:
    """Smallest land round that hole: ring on both sides and the maker's allowance
    (IPC-2221 9.1)."""
    ring = 2 * data.handwork["annular_ring_mm"]
    return (
        least_hole_mm(lead_mm, level, data)
        + ring
        + data.handwork[f"land_allowance_{level.lower()}_mm"]
    )


def hole_fits(
    group: PadGroup, data: PhysicsData, level: DensityLevel = "B", lead: Lead | None = None
) -> ToolFit:
    """Whether a lead goes into a hole and the hole holds solder by capillarity.

    ``lead``: another lead than the footprint's, such as a donor's. ``measure_mm`` is the
    smallest hole for it.
    """
    lead = lead or group.lead
    if group.hole_mm is None or lead is None:
        return ToolFit(False, "no hole or no lead to compare")
    if group.slot_w_mm is not None:
        return _slot_fits(group.hole_mm, group.slot_w_mm, lead)
    diagonal = lead_diagonal_mm(lead)
    least = least_hole_mm(diagonal, level, data)
    if group.hole_mm < diagonal:
        why = f"lead {diagonal:.2f} mm across does not enter a {group.hole_mm:.2f} mm hole"
        return ToolFit(False, why, least)
    if group.hole_mm < least - 1e-9:
        why = f"tight: hole {group.hole_mm:.2f} mm, {least:.2f} advised"
        return ToolFit(True, why, least, "tight")
    if group.hole_mm > diagonal + data.handwork[f"hole_excess_{level.lower()}_mm"]:
        why = f"loose: hole {group.hole_mm:.2f} mm takes much solder"
        return ToolFit(True, why, least, "loose")
    return ToolFit(True, f"hole {group.hole_mm:.2f} mm suits a lead {diagonal:.2f} mm", least)


def _reach_mm(outer_mm: float, group: PadGroup) -> float:
    """How far a nozzle centred on a lead reaches onto the neighbour's land."""
    if group.pitch_mm is None or group.count < 2:
        return 0.0
    return outer_mm / 2 - (group.pitch_mm - group.land_w_mm / 2)


def _slot_fits(long_mm: float, narrow_mm: float, lead: Lead) -> ToolFit:
    sides = sorted((lead.width_mm, lead.width_mm if lead.round else lead.thickness_mm))
    what = f"lug {sides[1]:.2f} x {sides[0]:.2f} mm, slot {long_mm:.2f} x {narrow_mm:.2f} mm"
    fits = sides[0] <= narrow_mm and sides[1] <= long_mm
    return ToolFit(fits, what if fits else f"does not enter: {what}", None)
