"""What parts bear and ask for: classification temperature, floor life and baking under
whole-body heat; thermal shock, weight, surfaces that take solder badly, mask between lands.

J-STD-020 (revision D and later) tables 4-1 and 4-2; J-STD-033 for baking. These figures
qualify a package; they allow nothing by themselves, and a data sheet goes first. Factors
multiply hazards and are judgement; the other limits are makers' and workmanship figures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from solderrisk.model.footprint import Body, Footprint, LeadMaterial
from solderrisk.model.kit import Board, Coating
from solderrisk.model.physics_data import HeatTables, PhysicsData
from solderrisk.physics.joint import body_j_k

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


@dataclass(frozen=True)
class ShockLimit:
    """What a ceramic capacitor bears of an iron. ``step_k``: tip less part at most;
    ``by_iron`` False: too large for any; ``told``: so large that a card must say it."""

    step_k: float
    by_iron: bool
    told: bool
    tip_most_c: float

    def preheat_c(self, tip_c: float) -> float:
        """Board temperature at least for a tip so hot."""
        return tip_c - self.step_k

    def over_k(self, tip_c: float, start_c: float) -> float:
        """By how much a tip on a board of ``start_c`` is over the limit; 0 within it."""
        step = max(tip_c - start_c - self.step_k, 0.0)
        return max(step, tip_c - self.tip_most_c, 0.0)


def shock_limit(footprint: Footprint, data: PhysicsData) -> ShockLimit | None:
    """The limit of a ceramic capacitor by its size; None for any other part."""
    if not footprint.ceramic_capacitor:
        return None
    body = footprint.body
    long_mm, wide_mm = sorted((body.length_mm, body.width_mm), reverse=True)
    told_from = data.heat_tables.shock_told_mm2
    for row in data.heat_tables.shock:
        if row.holds(long_mm, wide_mm):
            told = long_mm * wide_mm >= told_from - 1e-9
            return ShockLimit(row.step_k, row.by_iron, told, row.tip_most_c)
    raise ValueError("the last row of the shock table must be open")


@dataclass(frozen=True)
class Fastening:
    """Weight of a part against what joints alone may carry. ``known`` False: judged from
    its size."""

    mass_g: float
    known: bool
    per_joint_g: float
    most_g: float
    most_per_joint_g: float

    @property
    def needed(self) -> bool:
        return self.mass_g > self.most_g or self.per_joint_g > self.most_per_joint_g


def mass_g(body: Body, data: PhysicsData) -> float:
    """As given, or from the heat capacity of its material and size."""
    return body.mass_g or body_j_k(body, data) / data.parameters["body_j_gk"]


def fastening(footprint: Footprint, data: PhysicsData) -> Fastening:
    """Whether a part must be held by more than its joints."""
    mass = mass_g(footprint.body, data)
    return Fastening(
        mass_g=mass,
        known=footprint.body.mass_g is not None,
        per_joint_g=mass / footprint.joint_count,
        most_g=data.parameters["fasten_g"],
        most_per_joint_g=data.parameters["fasten_joint_g"],
    )


@dataclass(frozen=True)
class Surfaces:
    """How surfaces change a joint: factors on joints that do not take, on lands that come
    off, on joints that stick when a part is lifted. ``slow``: metals that take solder slowly;
    ``coated``: the coating that must come off first."""

    wetting: float
    lands: float
    sticking: float
    slow: tuple[LeadMaterial, ...]
    coated: Coating | None


def surfaces(footprint: Footprint, board: Board, glued: bool, data: PhysicsData) -> Surfaces:
    """Board finish and coating, the metals of the leads, glue under the part."""
    stuff, p = data.materials, data.parameters
    finish, coating = stuff.finishes[board.finish], stuff.coatings[board.coating]
    metals = {group.lead.material for group in footprint.pads if group.lead is not None}
    slow = tuple(metal for metal in sorted(metals) if stuff.leads[metal].wetting > 1.0)
    glue = p["glue_factor"] if glued else 1.0
    metal = max((stuff.leads[each].wetting for each in slow), default=1.0)
    return Surfaces(
        wetting=finish.factor * coating.factor * metal,
        lands=coating.lands * glue,
        sticking=coating.lands * glue,
        slow=slow,
        coated=None if board.coating == "none" else board.coating,
    )


def mask_between(gap_mm: float, board: Board, written: bool | None, data: PhysicsData) -> bool:
    """Whether solder mask lies between two lands: as written for the part, else where the
    board has mask and the gap holds its narrowest strip with room on both sides."""
    if written is not None:
        return written
    room_mm = board.mask_dam_mm + 2.0 * data.handwork["mask_room_mm"]
    return board.solder_mask and gap_mm >= room_mm - 1e-9
