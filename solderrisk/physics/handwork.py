"""Hand and eye: what is seen, which tool fits, how much fume is in the room."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solderrisk.model.bench import Bench, Magnifier, Room, Tip, VacuumNozzle
from solderrisk.model.footprint import Footprint, Lead, PadGroup
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.model.outline import extent
from solderrisk.model.physics_data import Magnification, PhysicsData
from solderrisk.physics.results import Extraction, FitKind, Fume, Sight, ToolFit

Floats = NDArray[np.float64]
Hand = Literal["steady", "braced", "novice", "unbraced"]

_ARCMIN_RAD = math.pi / (180 * 60)


def resolved_mm(acuity_arcmin: float, distance_mm: float, power_x: float = 1.0) -> float:
    """Smallest detail that an eye resolves at a distance, mm. A normal eye's minute of arc
    (ISO 8596) is 0.073 mm at 250 mm:

    >>> round(resolved_mm(1.0, 250.0), 3)
    0.073
    """
    return distance_mm * math.tan(acuity_arcmin * _ARCMIN_RAD) / power_x


def needed_power(
    detail_mm: float, acuity_arcmin: float, distance_mm: float, data: PhysicsData
) -> float:
    """Magnification at which a detail is seen with ease; at least 1.

    Raises:
        ValueError: the detail has no size.
    """
    if detail_mm <= 0:
        raise ValueError(f"detail_mm must be more than 0, not {detail_mm:g}")
    limit_mm = resolved_mm(acuity_arcmin, distance_mm)
    return max(data.handwork["comfort_factor"] * limit_mm / detail_mm, 1.0)


def standard_power(land_w_mm: float, data: PhysicsData) -> Magnification:
    """The row of the inspection table for a land's width (IPC-A-610 table 1-2).

    Raises:
        ValueError: the land has no width.
    """
    if land_w_mm <= 0:
        raise ValueError(f"land_w_mm must be more than 0, not {land_w_mm:g}")
    for row in sorted(data.acceptance.magnification, key=lambda r: -r.over_mm):
        if land_w_mm > row.over_mm or (row.inclusive and land_w_mm == row.over_mm):
            return row
    raise ValueError(f"no row for a land of {land_w_mm:g} mm")


def smallest_detail_mm(footprint: Footprint) -> float:
    """The smallest gap between two lands of the part; a lone land's own width, mm."""
    widths = [min(group.land_w_mm, group.land_l_mm) for group in footprint.pads]
    return smallest_gap_mm(footprint) or min(widths)


def sight(
    footprint: Footprint,
    builder_acuity_arcmin: float,
    near_point_mm: float,
    magnifiers: Iterable[Magnifier],
    data: PhysicsData,
) -> Sight:
    """Magnification that a part asks of this builder, and what the bench offers.

    Only magnifiers that leave room for an iron count. ``have_x`` is below 1 where the
    bare eye cannot come as near as the reading distance.
    """
    reading_mm = data.handwork["reading_distance_mm"]
    detail = smallest_detail_mm(footprint)
    have = max(
        [
            min(reading_mm / near_point_mm, 1.0),
            *(m.power_x for m in magnifiers if m.distance_mm >= data.handwork["working_room_mm"]),
        ]
    )
    flat = [g for g in footprint.pads if g.kind != "exposed"] or list(footprint.pads)
    row = standard_power(min(min(g.land_w_mm, g.land_l_mm) for g in flat), data)
    needed = needed_power(detail, builder_acuity_arcmin, reading_mm, data)
    return Sight(detail, needed, row.low_x, row.high_x, have, have >= needed)


def end_sigma_mm(steady_mm: ArrayLike, power_x: float, data: PhysicsData) -> Floats:
    """Spread (one sigma) with which a hand of that steadiness sets one end of a part under a
    magnification.

    Raises:
        ValueError: the power is not above 0.
    """
    return np.hypot(np.asarray(steady_mm, dtype=np.float64), seen_mm(power_x, data))


def seen_mm(power_x: float, data: PhysicsData) -> float:
    """What the eye adds to a hand's spread under a magnification, mm. Beyond the useful power
    the eye is no longer what limits the hand.

    Raises:
        ValueError: the power is not above 0.
    """
    if power_x <= 0:
        raise ValueError(f"power_x must be more than 0, not {power_x:g}")
    power = min(power_x, data.handwork["useful_power_x"])
    least = resolved_mm(1.0, data.handwork["reading_distance_mm"], power)
    return data.handwork["resolution_share"] * least


DensityLevel = Literal["A", "B", "C"]


def lead_diagonal_mm(lead: Lead) -> float:
    """The smallest round hole that a lead passes."""
    return lead.width_mm if lead.round else math.hypot(lead.width_mm, lead.thickness_mm)


def vacuum_fits(nozzle: VacuumNozzle, group: PadGroup, data: PhysicsData) -> ToolFit:
    """Whether a desoldering nozzle goes over the lead and stays on its land.

    ``measure_mm`` is the bore that the lead asks for.
    """
    if group.hole_mm is None:
        return ToolFit(False, "no_hole")
    if group.lead is None:
        diagonal = group.slot_w_mm or group.hole_mm
        small: FitKind = "bore_below_hole"
    else:
        diagonal = lead_diagonal_mm(group.lead)
        small = "bore_below_lead"
    asked = diagonal + data.handwork["nozzle_clearance_mm"]
    over = nozzle.outer_mm - min(group.land_w_mm, group.land_l_mm)
    reach = _reach_mm(nozzle.outer_mm, group)
    if nozzle.bore_mm < asked - 1e-9:
        return ToolFit(False, small, (diagonal, asked, nozzle.bore_mm), asked)
    if reach > 0:
        return ToolFit(False, "next_land", (nozzle.outer_mm, reach), asked)
    if over > data.handwork["nozzle_over_land_mm"] + 1e-9:
        return ToolFit(False, "wide_nozzle", (over,), asked)
    if nozzle.bore_mm > diagonal + data.handwork["nozzle_looseness_mm"]:
        return ToolFit(False, "loose_bore", (nozzle.bore_mm,), asked)
    if over > 0:
        return ToolFit(True, "press_lightly", (over,), asked)
    return ToolFit(True, "bore_clears", (nozzle.bore_mm,), asked)


def tip_fits(tip: Tip, group: PadGroup, gap_mm: float | None, data: PhysicsData) -> ToolFit:
    """Whether a tip touches one land alone. ``gap_mm`` None: no neighbour.

    ``measure_mm`` is the widest tip that still does.
    """
    widest = None if gap_mm is None else group.land_w_mm + 2 * gap_mm
    if widest is not None and tip.width_mm > widest:
        return ToolFit(False, "bridges", (tip.width_mm, widest), widest)
    if tip.width_mm < data.handwork["tip_narrow_share"] * group.land_w_mm:
        return ToolFit(True, "narrow_tip", (group.land_w_mm,), widest)
    return ToolFit(True, "tip_suits", (tip.width_mm, group.land_w_mm), widest)


def air_nozzle_fits(nozzle_mm: float, footprint: Footprint, data: PhysicsData) -> ToolFit:
    """Whether circling with a round air nozzle keeps all joints of a part hot at once.

    ``measure_mm`` is the smallest nozzle that does.
    """
    sides = extent(footprint)
    longest = max(sides)
    least = longest / data.handwork["air_span_ratio"]
    if nozzle_mm < least:
        return ToolFit(False, "air_loses", (nozzle_mm, longest), least)
    if nozzle_mm > longest + data.handwork["air_overhang_mm"]:
        return ToolFit(False, "air_beyond", (nozzle_mm, longest), least)
    return ToolFit(True, "air_covers", (nozzle_mm, longest), least)


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
        return ToolFit(False, "no_lead")
    if group.slot_w_mm is not None:
        return _slot_fits(group.hole_mm, group.slot_w_mm, lead)
    diagonal = lead_diagonal_mm(lead)
    least = least_hole_mm(diagonal, level, data)
    if group.hole_mm < diagonal:
        return ToolFit(False, "no_entry", (diagonal, group.hole_mm), least)
    if group.hole_mm < least - 1e-9:
        return ToolFit(True, "tight", (group.hole_mm, least), least)
    if group.hole_mm > diagonal + data.handwork[f"hole_excess_{level.lower()}_mm"]:
        return ToolFit(True, "loose", (group.hole_mm,), least)
    return ToolFit(True, "hole_suits", (group.hole_mm, diagonal), least)


def _reach_mm(outer_mm: float, group: PadGroup) -> float:
    """How far a nozzle centred on a lead reaches onto the neighbour's land."""
    if group.pitch_mm is None or group.count < 2:
        return 0.0
    return outer_mm / 2 - (group.pitch_mm - group.land_w_mm / 2)


def _slot_fits(long_mm: float, narrow_mm: float, lead: Lead) -> ToolFit:
    sides = sorted((lead.width_mm, lead.width_mm if lead.round else lead.thickness_mm))
    fits = sides[0] <= narrow_mm and sides[1] <= long_mm
    return ToolFit(
        fits, "lug_enters" if fits else "lug_too_large", (sides[1], sides[0], long_mm, narrow_mm)
    )


_LIMIT_MINUTES = 15.0


def tip_factor(tip_c: float, data: PhysicsData) -> float:
    """How much more fume a hotter tip makes, 1 at the reference temperature.

    Exponential between the two temperatures of HSE INDG248, held beyond them.
    """
    low, high = data.handwork["fume_tip_low_c"], data.handwork["fume_tip_high_c"]
    held = min(max(tip_c, low), high)
    share = (held - data.handwork["fume_reference_tip_c"]) / (high - low)
    return float(data.handwork["fume_tip_ratio"] ** share)


def room_mg_m3(
    emission_mg_min: float, volume_m3: float, air_changes_h: float, minutes: float
) -> float:
    """Well-mixed room after so many minutes from clean air (ACGIH, Industrial Ventilation:
    dilution). 6.6 mg/h in 30 m3 at one air change an hour settle at 0.22 mg/m3:

    >>> round(room_mg_m3(6.6 / 60, 30.0, 1.0, math.inf), 2)
    0.22

    Raises:
        ValueError: no volume or no exchange of air.
    """
    if volume_m3 <= 0 or air_changes_h <= 0:
        raise ValueError("volume_m3 and air_changes_h must be more than 0")
    rate = air_changes_h / 60
    steady = emission_mg_min / (rate * volume_m3)
    return steady * -math.expm1(-rate * minutes)


def fume(
    flux_mg_min: float,
    room: Room,
    extraction: Extraction,
    capture: float | None,
    data: PhysicsData,
    tip_c: float | None = None,
) -> Fume:
    """Fume after a quarter of an hour of steady soldering, and in the long run.

    ``capture``: share caught at the joint; None: by the kind of extraction, with its
    range. ``tip_c`` None: the reference tip temperature.
    """
    hotter = 1.0 if tip_c is None else tip_factor(tip_c, data)
    made = flux_mg_min * hotter
    airborne = data.handwork.at("fume_airborne_share")
    caught = data.handwork.at(f"capture_{extraction}")
    middle = caught.value if capture is None else capture
    worst = _bound(caught.low, middle) if capture is None else capture
    best = _bound(caught.high, middle) if capture is None else capture
    changes = room.air_changes_h
    if extraction == "open_window":
        changes = max(changes, data.handwork["window_air_changes_h"])
    flow = data.handwork.at("near_flow_m3_min")
    thins = data.handwork["fan_near_flow_factor"] if extraction == "fan" else 1.0

    def air(share: float, captured: float, minutes: float) -> float:
        return room_mg_m3(made * share * (1 - captured), room.volume_m3, changes, minutes)

    def face(share: float, captured: float, flow_m3_min: float) -> float:
        near = made * share * (1 - captured) / (flow_m3_min * thins)
        return air(share, captured, _LIMIT_MINUTES) + near

    low = face(_bound(airborne.low, airborne.value), best, _bound(flow.high, flow.value))
    high = face(_bound(airborne.high, airborne.value), worst, _bound(flow.low, flow.value))
    return Fume(
        room_15min_mg_m3=air(airborne.value, middle, _LIMIT_MINUTES),
        breathing_15min_low_mg_m3=low,
        breathing_15min_high_mg_m3=high,
        limit_15min_mg_m3=data.handwork["fume_limit_15min_mg_m3"],
        limit_8h_mg_m3=data.handwork["fume_limit_8h_mg_m3"],
        steady_mg_m3=air(airborne.value, middle, math.inf),
        extraction=extraction,
    )


def kit_fume(
    flux_mg: float, minutes: float, bench: Bench, data: PhysicsData, tip_c: float | None = None
) -> Fume | None:
    """Fume while a kit's flux is used up evenly over its soldering time, in the bench's room
    and with its extraction; None without any soldering. ``tip_c``: the hottest tip in use."""
    if minutes <= 0 or flux_mg <= 0:
        return None
    rate = flux_mg / minutes
    return fume(rate, bench.room, bench.extraction, bench.extraction_capture, data, tip_c)


def _bound(bound: float | None, value: float) -> float:
    return value if bound is None else bound
