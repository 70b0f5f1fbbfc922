"""What parts bear under whole-body heat: classification temperature, floor life, baking.

J-STD-020 (revision D and later) tables 4-1 and 4-2; J-STD-033 for baking. These figures
qualify a package; they allow nothing by themselves, and a data sheet goes first.
"""

from __future__ import annotations

from solderrisk.model.footprint import Footprint
from solderrisk.model.physics_data import HeatTables, PhysicsData

MOULDED = ("sot", "power_tab", "soic", "ssop", "tsop", "qfp", "qfn", "bga", "plcc")


def classification_c(
    thickness_mm: float, volume_mm3: float, leaded: bool, tables: HeatTables
) -> float:
    """Peak package body temperature that the class is tested at, C."""
    rows = tables.leaded if leaded else tables.lead_free
    for row in rows:
        if row.thickness_below_mm is None or thickness_mm < row.thickness_below_mm:
            for limit, peak in zip(tables.volume_mm3(leaded), row.peak_c, strict=False):
                if volume_mm3 < limit:
                    return peak
            return row.peak_c[-1]
    raise ValueError("the last row of a classification table has no upper thickness")


def body_limit_c(footprint: Footprint, leaded: bool, data: PhysicsData) -> float:
    """Highest temperature of a part's top: its own limit, where it softens, and for moulded
    packages without a data sheet the classification temperature."""
    heat, body = footprint.heat, footprint.body
    softens = softens_c(footprint, data)
    limits = [heat.body_c] if softens is None else [heat.body_c, softens]
    if footprint.family in MOULDED and not from_data_sheet(footprint):
        thick_mm = body_thickness_mm(footprint, data)
        volume_mm3 = body.length_mm * body.width_mm * thick_mm
        limits.append(classification_c(thick_mm, volume_mm3, leaded, data.heat_tables))
    return min(limits)


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


def bake_h(level: str, thickness_mm: float, oven_c: float, data: PhysicsData) -> float | None:
    """Baking time of a part that took in moisture at 30 C / 85 % RH, hours; None where the
    tables hold no row for it (thicker than they go, or a level that asks for none)."""
    for row in data.heat_tables.bake:
        if row.level == level and thickness_mm <= row.thickness_to_mm and row.oven_c == oven_c:
            return row.hours
    return None


def baking(level: str, thickness_mm: float, data: PhysicsData) -> dict[float, float]:
    """Hours by oven temperature in C, of the tables' ovens that have a row for the part."""
    ovens = dict.fromkeys(row.oven_c for row in data.heat_tables.bake)
    times = {oven_c: bake_h(level, thickness_mm, oven_c, data) for oven_c in ovens}
    return {oven_c: hours for oven_c, hours in times.items() if hours is not None}
