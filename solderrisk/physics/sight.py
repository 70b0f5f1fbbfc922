"""What a builder can see and how still a hand is: magnification, smallest detail, spread.

A magnifier's power refers to the reading distance of 250 mm. Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solderrisk.model.bench import Magnifier
from solderrisk.model.footprint import Footprint
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.model.physics_data import Magnification, PhysicsData
from solderrisk.physics.results import Sight

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
