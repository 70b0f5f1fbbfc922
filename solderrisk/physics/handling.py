"""What a part and a board ask of the hand besides heat and reach: thermal shock, weight,
surfaces that take solder badly, solder mask between lands.

Factors multiply hazards and are judgement; limits are makers' and workmanship figures.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from solderrisk.model.footprint import Body, Footprint, LeadMaterial, PadGroup
from solderrisk.model.kit import Board, Coating
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.joint import body_j_k


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


def masked_groups(groups: Iterable[PadGroup], board: Board, data: PhysicsData) -> dict[str, bool]:
    """Mask between the lands of each group, by its name; groups of lone pads are left out."""
    return {
        group.name: mask_between(group.gap_mm, board, None, data)
        for group in groups
        if group.gap_mm is not None
    }
