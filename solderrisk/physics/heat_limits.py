"""What parts bear under whole-body heat: classification temperature, floor life, baking.

J-STD-020 (revision D and later) tables 4-1 and 4-2; J-STD-033 for baking. These figures
qualify a package; they allow nothing by themselves, and a data sheet goes first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from solderrisk.model.footprint import Footprint
from solderrisk.model.physics_data import HeatTables, PhysicsData

MOULDED = ("sot", "power_tab", "soic", "ssop", "tsop", "qfp", "qfn", "bga", "plcc")


def classification_c(
    thickness_mm: float, volume_mm3: float, leaded: bool, tables: HeatTables
) -> float:
    """Peak package body temperature that the class is tested at, C. J-STD-020D, table 4-2:
    2.0 mm and 1000 mm3 in a lead-free oven is 250 C.

    >>> from solderrisk.files.reference import physics_data
    >>> classification_c(2.0, 1000.0, False, physics_data().heat_tables)
    250.0
    """
    rows = tables.leaded if leaded else tables.lead_free
    for row in rows:
        if row.thickness_below_mm is None or thickness_mm < row.thickness_below_mm:
            for limit, peak in zip(tables.volume_mm3(leaded), row.peak_c, strict=False):
                if volume_mm3 < limit:
                    return peak
            return row.peak_c[-1]
    raise ValueError("the last row of a classification table has no upper thickness")


@dataclass(frozen=True)
class BodyLimit:
    """Highest temperature of a part's top: what it bears for sure, and what it may bear at
    most. The two differ where a part comes off a tin-lead board and nobody knows its class."""

    sure_c: float
    most_c: float


def body_limit(footprint: Footprint, leaded: bool, data: PhysicsData) -> BodyLimit:
    """What a part is rated for if that is written, else its kind's own limit and, for moulded
    packages without a data sheet, the classification temperature; never beyond where it
    softens. ``leaded``: it comes off a tin-lead board."""
    softens = softens_c(footprint, data)
    rated = footprint.heat.rated_c
    limits = [footprint.heat.body_c if rated is None else rated]
    if softens is not None:
        limits.append(softens)
    classes = _classes_c(footprint, leaded, data)
    return BodyLimit(min(*limits, *classes), min(*limits, max(classes)))


def _classes_c(footprint: Footprint, leaded: bool, data: PhysicsData) -> tuple[float, ...]:
    known = footprint.heat.rated_c is not None or from_data_sheet(footprint)
    if known or footprint.family not in MOULDED:
        return (math.inf,)
    body, thick_mm = footprint.body, body_thickness_mm(footprint, data)
    volume_mm3 = body.length_mm * body.width_mm * thick_mm
    return tuple(
        classification_c(thick_mm, volume_mm3, kind, data.heat_tables)
        for kind in ((True, False) if leaded else (False,))
    )


def softens_c(footprint: Footprint, data: PhysicsData) -> float | None:
    """Where a part's plastic softens: its own figure, else its material's; None: nowhere."""
    own = footprint.heat.softens_c
    return data.materials.bodies[footprint.body.material].softens_c if own is None else own


def body_thickness_mm(footprint: Footprint, data: PhysicsData) -> float:
    """Thickness of the moulded body, which the standards' tables go by, from its height on the
    board; leads, balls and the gap below do not count."""
    body = footprint.body
    under_mm = max(body.stand_off_mm, data.parameters["seated_over_body_mm"])
    # Rows end at the thickness itself: no dust from the subtraction.
    return round(max(body.height_mm - under_mm, body.height_mm / 2), 3)


def from_data_sheet(footprint: Footprint) -> bool:
    return "data sheet" in footprint.heat.source.casefold()


def floor_life_h(level: str, data: PhysicsData) -> float | None:
    """Hours out of the bag before whole-body heat asks for baking; None: no limit; 0: bake
    before every use.

    Raises:
        KeyError: no such moisture level.
    """
    return data.heat_tables.moisture[level].floor_life_h


def baking(level: str, thickness_mm: float, data: PhysicsData) -> dict[float, float]:
    """Baking times of a part that took in moisture at 30 C / 85 % RH: hours by oven
    temperature in C; empty where the tables hold no row for it (thicker than they go, or a
    level that asks for none)."""
    tables = data.heat_tables
    row = next((row for row in tables.bake if thickness_mm <= row.thickness_to_mm), None)
    hours = () if row is None else row.hours.get(level, ())
    return dict(zip(tables.bake_ovens_c, hours, strict=False))
