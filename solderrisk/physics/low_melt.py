"""Low-melt removal alloy: what a mix melts at, how long it stays molten, what is left of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from solderrisk.model.base import Cache, Parameters
from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.kit import Board
from solderrisk.model.physics_data import MOST_KEPT, Alloy, Alloys, PhysicsData
from solderrisk.physics.air_net import rms_radius_mm
from solderrisk.physics.board import whole_sheet
from solderrisk.physics.joint import (
    HIDDEN,
    body_face_m2,
    body_j_k,
    free_lead_w_k,
    joint_metal,
    lead_w_k,
)
from solderrisk.physics.march import RINGS, Array, Rings, rings_round
from solderrisk.physics.results import JointCase, LowMeltLift, Note, Obstacle, Trap

GAS_J_MOLK = 8.314462618  # CODATA 2018
KELVIN = 273.15


def mix_parts(old: Alloy, new: Alloy, new_share: float) -> dict[str, float]:
    """Composition of a mixture in percent by mass; ``new_share`` is a share by mass. One part
    of Sn63Pb37 in four of Sn42Bi58 holds 46.2 % tin (lever rule):

    >>> from solderrisk.files.reference import physics_data
    >>> alloys = physics_data().alloys
    >>> round(mix_parts(alloys["Sn63Pb37"], alloys["Sn42Bi58"], 0.8)["Sn"], 1)
    46.2
    """
    metals = dict.fromkeys((*old.parts, *new.parts))
    total_old, total_new = sum(old.parts.values()), sum(new.parts.values())
    return {
        metal: 100.0
        * (
            (1.0 - new_share) * old.parts.get(metal, 0.0) / total_old
            + new_share * new.parts.get(metal, 0.0) / total_new
        )
        for metal in metals
    }


def mole_shares(parts: Mapping[str, float], alloys: Alloys) -> dict[str, float]:
    moles = {
        metal: share / alloys.elements[metal].molar_g for metal, share in parts.items() if share > 0
    }
    total = sum(moles.values())
    return {metal: amount / total for metal, amount in moles.items()}


def liquidus_c(parts: Mapping[str, float], alloys: Alloys) -> float:
    """Approximate liquidus of a composition in percent by mass, C. The tin-lead eutectic of
    the alloy tables (61.9 % tin) melts at 183 C; the fit is within 6 K:

    >>> from solderrisk.files.reference import physics_data
    >>> abs(liquidus_c({"Sn": 61.9, "Pb": 38.1}, physics_data().alloys) - 183) < 6
    True
    """
    shares = mole_shares(parts, alloys)
    return max(_freezes_c(metal, shares, alloys) for metal in shares)


def _freezes_c(metal: str, shares: Mapping[str, float], alloys: Alloys) -> float:
    """Where a metal starts to freeze out of the melt, C."""
    element = alloys.elements[metal]
    melts_k, share = element.melts_c + KELVIN, shares[metal]
    excess = 0.0
    for pair in alloys.pairs:
        a, b = pair.metals
        both = shares.get(a, 0.0) * shares.get(b, 0.0)
        other = b if metal == a else a if metal == b else ""
        excess += pair.interaction_j_mol * (shares.get(other, 0.0) - both)
    dissolves = next((s.per_share for s in alloys.solids if s.metal == metal), 0.0)
    order = math.log(share) + dissolves * (1.0 - share)
    heat = element.fusion_j_mol
    return (heat + excess) / (heat / melts_k - GAS_J_MOLK * order) - KELVIN


TIMES = 80
SHORTEST = 1e-3  # first time looked at, as a share of the last


@dataclass(frozen=True)
class Cooling:
    """Hub, body and rings of one case; W/K and J/K. ``link[0]`` joins hub and ring 0."""

    hub_j_k: float
    body_j_k: float
    lead_w_k: float
    body_loss_w_k: float
    ring_j_k: Array
    link_w_k: Array
    loss_w_k: Array

    def matrix(self) -> tuple[Array, Array]:
        """Conduction matrix (hub, body, rings), W/K, and capacities, J/K."""
        n = self.ring_j_k.size + 2
        conduction = np.zeros((n, n))
        pairs = [(0, 1, self.lead_w_k), (0, 2, self.link_w_k[0])]
        pairs += [(k + 1, k + 2, self.link_w_k[k]) for k in range(1, n - 2)]
        for a, b, w_k in pairs:
            conduction[a, a] += w_k
            conduction[b, b] += w_k
            conduction[a, b] -= w_k
            conduction[b, a] -= w_k
        conduction[1, 1] += self.body_loss_w_k
        conduction[range(2, n), range(2, n)] += self.loss_w_k
        return conduction, np.concatenate(([self.hub_j_k, self.body_j_k], self.ring_j_k))


def held_profile(case: Cooling, hot_k: float, held_s: float) -> Array:
    """Temperatures of all nodes after the hub has been held at ``hot_k``."""
    conduction, capacity = case.matrix()
    inner, root = conduction[1:, 1:], np.sqrt(capacity[1:])
    final = np.linalg.solve(inner, -conduction[1:, 0] * hot_k)
    rate, modes = np.linalg.eigh(inner / np.outer(root, root))
    left = modes @ (np.exp(-rate * held_s) * (modes.T @ (root * final))) / root
    return np.concatenate(([hot_k], final - left))


def time_above(case: Cooling, hot_k: float, held_s: float, level_k: float, end_s: float) -> float:
    """How long the hub stays above a level once it is let go, s; at most ``end_s``."""
    conduction, capacity = case.matrix()
    root = np.sqrt(capacity)
    rate, modes = np.linalg.eigh(conduction / np.outer(root, root))
    amplitude = modes[0] * (modes.T @ (root * held_profile(case, hot_k, held_s))) / root[0]
    time_s = np.concatenate(([0.0], np.geomspace(SHORTEST * end_s, end_s, TIMES)))
    hub = np.exp(-np.outer(time_s, rate)) @ amplitude
    if hub[-1] >= level_k:
        return end_s
    return float(np.interp(-level_k, -hub, time_s))


MM = 1e-3
FOREIGN = ("Bi", "In", "Cd")  # metals that a removal alloy leaves behind

_Key = tuple[Footprint, Board, str, str, float]
_KEPT: Cache[tuple[PhysicsData, _Key], LowMeltLift] = Cache(MOST_KEPT)


def low_melt_lift(
    footprint: Footprint,
    board: Board,
    old_alloy: str,
    removal_alloy: str,
    data: PhysicsData,
    start_c: float,
) -> LowMeltLift:
    """Mixture, amount, time and cleaning of a low-melt lift.

    The flooded rows are kept hot for half a minute, so that the old solder dissolves; then
    the heat is taken away. ``molten_s`` is how long the coldest row stays liquid.

    Raises:
        KeyError: an alloy or a material is not in the data.
    """
    key = (footprint, board, old_alloy, removal_alloy, start_c)
    return _KEPT.get((data, key), lambda: _lift(*key[:4], data, start_c))


@dataclass(frozen=True)
class _Bead:
    old_g: float
    new_g: float

    @property
    def share(self) -> float:
        return self.new_g / (self.old_g + self.new_g)


def _lift(
    footprint: Footprint,
    board: Board,
    old_name: str,
    new_name: str,
    data: PhysicsData,
    start_c: float,
) -> LowMeltLift:
    p, old, new = data.parameters, data.alloys[old_name], data.alloys[new_name]
    bead = _bead(footprint, board, old, new, data)
    parts = mix_parts(old, new, bead.share)
    mix_c = liquidus_c(parts, data.alloys)
    far = any(parts.get(metal, 0.0) > 1.0 for metal in ("In", "Cd"))
    doubt_k = p["mix_doubt_far_k"] if far else p["mix_doubt_k"]
    foreign = sum(parts.get(metal, 0.0) for metal in FOREIGN)
    cleanings, residue = _cleanings(foreign, p)
    molten_s = _molten_s(footprint, board, old, bead, new, mix_c - start_c, data)
    trap = _trap(old, new)
    return LowMeltLift(
        mix_liquidus_c=mix_c,
        mix_doubt_k=doubt_k,
        mix_doubt_down_k=max(doubt_k, p["mix_doubt_down_k"]),
        alloy_g=bead.new_g,
        molten_s=molten_s,
        cleanings=cleanings,
        residue_percent=residue,
        old_liquidus_c=old.liquidus_c,
        trap=trap,
        trap_c=p[f"trap_{trap}_c"],
        obstacle=_obstacle(footprint, old, new, mix_c + doubt_k),
        caution=new.caution,
        notes=_notes(footprint, molten_s, p),
    )


def _bead(footprint: Footprint, board: Board, old: Alloy, new: Alloy, data: PhysicsData) -> _Bead:
    """Solder on the board, and removal alloy: enough to cover the rows, and enough to
    lower the liquidus."""
    p = data.parameters
    old_mm3 = length_mm = 0.0
    for group in footprint.pads:
        joint = JointCase(footprint, group, board, old.name)
        old_mm3 += group.count * joint_metal(joint, data)[0]
        if group.kind not in HIDDEN:
            length_mm += group.count * _along_mm(group)
    old_g = old_mm3 * old.density_g_cm3 * 1e-3
    cover_g = length_mm * p["bead_w_mm"] * p["bead_h_mm"] * new.density_g_cm3 * 1e-3
    chemistry_g = old_g * p["chemistry_share"] / (1.0 - p["chemistry_share"])
    return _Bead(old_g, max(cover_g, chemistry_g))


def _along_mm(group: PadGroup) -> float:
    """Length of bead per joint: a row is covered whole, a lone land by itself."""
    in_row = group.pitch_mm is not None and group.count > 2
    return max(group.pitch_mm or 0.0, group.land_w_mm) if in_row else group.land_w_mm


def _cleanings(foreign_percent: float, p: Parameters) -> tuple[int, float]:
    """Wick-and-refill passes until the foreign metals are below the limit, and what is
    left then, percent by mass."""
    limit, left = p["residue_limit_percent"], p["cleaning_left"]
    if foreign_percent <= limit:
        return 0, foreign_percent
    passes = math.ceil(math.log(limit / foreign_percent) / math.log(left) - 1e-9)
    return passes, foreign_percent * left**passes


def _obstacle(footprint: Footprint, old: Alloy, new: Alloy, at_most_c: float) -> Obstacle | None:
    if "Cd" in new.parts:
        return "cadmium"
    if any(group.kind in HIDDEN for group in footprint.pads):
        return "hidden"
    if not footprint.hand_iron:
        return "no_iron"
    return "melts_no_lower" if at_most_c >= old.liquidus_c else None


def _trap(old: Alloy, new: Alloy) -> Trap:
    """The low-melting phase that residue leaves in the joint."""
    if "Bi" not in new.parts:
        return "in_sn"
    return "bi_pb_sn" if old.leaded or new.leaded else "bi_sn"


def _notes(footprint: Footprint, molten_s: float, p: Parameters) -> tuple[Note, ...]:
    found = []
    if molten_s < p["lift_needs_s"]:
        found.append(Note("freezes_soon", molten_s))
    if any(group.tied for group in footprint.pads):
        found.append(Note("planes_cool_first"))
    return tuple(found)


def _molten_s(
    footprint: Footprint,
    board: Board,
    old: Alloy,
    bead: _Bead,
    new: Alloy,
    level_k: float,
    data: PhysicsData,
) -> float:
    """How long the rows stay above the mixture's liquidus once the heat is off, s. ``level_k``:
    how far that is above what the board starts at.

    Rows and the board below the part are one hub in the ladder of rings: held hot, then
    left alone. The coldest row has less than the average.
    """
    p = data.parameters
    hot_k = level_k + p["flood_over_k"]
    if level_k <= 0:
        return p["flood_longest_s"]
    metal_j_k = lead_sum = radius_mm = 0.0
    for group in footprint.pads:
        joint = JointCase(footprint, group, board, old.name)
        metal_j_k += group.count * joint_metal(joint, data)[1]
        lead_sum += group.count * (free_lead_w_k(group, data) or lead_w_k(joint, data))
        radius_mm = max(radius_mm, rms_radius_mm(footprint, group.name), group.land_w_mm / 2)
    sheet_w_k, sheet_j_m2k = whole_sheet(board, data)
    rings = _rings(board, radius_mm * MM, sheet_w_k, sheet_j_m2k, p)
    alloy_j_k = bead.old_g * old.heat_j_gk + bead.new_g * new.heat_j_gk
    body = footprint.body
    case = Cooling(
        hub_j_k=alloy_j_k + metal_j_k + math.pi * (radius_mm * MM) ** 2 * sheet_j_m2k,
        body_j_k=body_j_k(body, data),
        lead_w_k=lead_sum,
        body_loss_w_k=p["body_face_w_m2k"] * body_face_m2(body),
        ring_j_k=rings.capacity[:, 0],
        link_w_k=rings.link[:, 0],
        loss_w_k=rings.loss[:, 0],
    )
    average_s = time_above(case, hot_k, p["flood_heat_s"], level_k, p["flood_longest_s"])
    return average_s * p["coldest_row"]


def _rings(
    board: Board, radius_m: float, sheet_w_k: float, sheet_j_m2k: float, p: Parameters
) -> Rings:
    outer_m = max(math.sqrt(board.length_mm * board.width_mm / math.pi) * MM, 2.0 * radius_m)
    one = np.ones(1)
    nothing = np.zeros_like(one)
    return rings_round(
        inner_m=radius_m * one,
        outer_m=outer_m * one,
        sheet_w_k=sheet_w_k * one,
        copper_j_m2k=sheet_j_m2k * one,
        laminate_j_m2k=nothing,
        laminate_w_m2k=nothing,
        loss_w_m2k=2.0 * p["face_w_m2k"] * one,
        hub_w_k=math.inf * one,
        count=RINGS,
    )
