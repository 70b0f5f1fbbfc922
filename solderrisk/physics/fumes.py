"""Rosin fume in a room and near the face: a caution, never a permission.

Two zones (after Nicas 1996): a well-mixed room, and near the joint the room's air plus
what the plume adds there. Masses in mg, volumes in m3, rates per minute or hour as named.
"""

from __future__ import annotations

import math

from solderrisk.model.bench import Bench, Room
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.results import Extraction, Fume

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
