"""What an inspector accepts of a joint, in millimetres (IPC-A-610 by class), how far a part
may sit off its lands by that, and the chance that a hand puts it there.

These say what the standard's tables ask of a joint's shape, not that a board is fit for
its use. Errors of a placement are taken as normal: sideways with ``sigma_lateral_mm``, turned
with ``sigma_rotation_rad``.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.kit import Board
from solderrisk.model.outline import PadRect, body_size, pad_rects
from solderrisk.model.physics_data import Acceptance, AcceptanceClass, PhysicsData, SideLimit
from solderrisk.physics.results import Alignment
from solderrisk.physics.solder_volume import barrel_fill_rule

_SIDES = {"destination": "far", "source": "soldered"}
# What an eye compares with the land, where it is no lead.
_ENDS = {
    "chip_end": "end's",
    "tab": "tab's",
    "no_lead": "contact's",
    "castellation": "castellation's",
}


def lead_width_mm(footprint: Footprint, group: PadGroup) -> float:
    """Width of what sits on the land: the lead, a chip's end, or a bottom land's own."""
    if group.lead is not None:
        return group.lead.width_mm
    if group.kind == "chip_end":
        # As wide as the body across the line of its ends: the longer side of a turned chip.
        length, width = body_size(footprint)
        return width if group.layout == "ends" else min(length, width)
    return group.land_w_mm


def side_overhang_mm(
    lead_w_mm: float, land_w_mm: float, limit: SideLimit, acceptance_class: AcceptanceClass
) -> float:
    """Side overhang that a class accepts, mm."""
    base = lead_w_mm if limit.of == "lead" else min(lead_w_mm, land_w_mm)
    allowed = limit.overhang_share[acceptance_class - 1] * base
    return allowed if limit.cap_mm is None else min(allowed, limit.cap_mm)


def side_joint_mm(
    lead_w_mm: float, foot_mm: float, acceptance_class: AcceptanceClass, data: PhysicsData
) -> float:
    """Side joint length that a flat gull-wing foot must have, mm (IPC-A-610 table 8-5). Class
    1 takes the lesser of the lead's width and 0.5 mm:

    >>> from solderrisk.files.reference import physics_data
    >>> side_joint_mm(0.6, 1.0, 1, physics_data())
    0.5
    """
    rule = data.acceptance.foot
    if acceptance_class == 1:
        return min(lead_w_mm, rule.class_1_cap_mm)
    if foot_mm < rule.long_from_widths * lead_w_mm:
        return rule.short_share * foot_mm
    return max(rule.long_widths * lead_w_mm, rule.long_share * foot_mm)


def chip_fillet_mm(height_mm: float, acceptance_class: AcceptanceClass, data: PhysicsData) -> float:
    """Fillet on a chip's end above the solder under it, mm; 0: it need only be seen."""
    if acceptance_class < 3:
        return 0.0
    rule = data.acceptance.chip_fillet
    return min(rule.height_share * height_mm, rule.height_mm)


def acceptance_lines(
    footprint: Footprint, board: Board, acceptance_class: AcceptanceClass, data: PhysicsData
) -> tuple[str, ...]:
    """What to hold a part's joints against, one line per kind of joint."""
    lines: dict[str, None] = {}
    for group in footprint.pads:
        text = (
            _hole_text(footprint, board, acceptance_class, data)
            if group.through_board
            else _flat_text(footprint, group, acceptance_class, data)
        )
        if text:
            lines[f"IPC-A-610 class {acceptance_class} accepts: {text}"] = None
    return tuple(lines)


def _hole_text(
    footprint: Footprint, board: Board, acceptance_class: AcceptanceClass, data: PhysicsData
) -> str:
    """A barrel's fill and wetting; without a barrel the fillet on the soldered side alone."""
    if not board.barrels:
        rows = (row for row in data.acceptance.wetting if row.side == "source")
        degrees = next(rows).degrees[acceptance_class - 1]
        share = "all" if degrees is None else _share(degrees / 360)
        return f"a fillet from land to lead, {share} round it; the hole itself stays open"
    rule = barrel_fill_rule(max(footprint.pin_count, 1), acceptance_class, data)
    least = rule.least_mm(board.thickness_mm)
    fill = (
        "the lead seen in the solder"
        if least is None
        else f"at least {_share(least / board.thickness_mm)} of the hole full"
    )
    round_lead = [
        f"{_share(degrees / 360)} round the lead on the {_SIDES[row.side]} side"
        for row in data.acceptance.wetting
        if (degrees := row.degrees[acceptance_class - 1]) is not None
    ]
    return f"{fill}, wetted {' and '.join(round_lead)}"


def _flat_text(
    footprint: Footprint, group: PadGroup, acceptance_class: AcceptanceClass, data: PhysicsData
) -> str:
    """Shares of what an eye compares: a lead's width, a chip's height."""
    limit = data.acceptance.side(group.kind)
    if limit is None or group.kind == "ball":  # nobody sees a ball
        return ""
    at = acceptance_class - 1
    what = _ENDS.get(group.kind, "lead's")
    parts = [f"at most {_share(limit.overhang_share[at])} of the {what} width beside the land"]
    if not limit.end_overhang:
        parts.append("none past its end")
    width = limit.end_joint_share[at]
    if width is not None:
        parts.append(f"wetted over {_share(width)} of that width or more")
    if group.kind == "gull_wing" and group.lead is not None and group.lead.foot_mm:
        lead_w, foot_mm = lead_width_mm(footprint, group), group.lead.foot_mm
        side = side_joint_mm(lead_w, foot_mm, acceptance_class, data)
        parts.append(f"along {_share(side / foot_mm)} of the foot")
        heel = data.acceptance.foot.heel_share[at]
        up = f"up the heel by {_share(heel)} of the lead's thickness"
        parts.append(up if heel else "heel wet")
    if group.kind == "chip_end":
        high = chip_fillet_mm(footprint.body.height_mm, acceptance_class, data)
        share = _share(high / footprint.body.height_mm)
        parts.append(f"fillet {share} up the end" if high else "a fillet seen at the end")
    return ", ".join(parts)


def _share(share: float) -> str:
    """A share as an eye judges it, never less than what is asked."""
    words = ((0.25, "a quarter"), (1 / 3, "a third"), (0.5, "half"), (2 / 3, "two thirds"))
    for value, word in (*words, (0.75, "three quarters")):
        if share <= value + 0.005:
            return word
    return "all"


Floats = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)
_FAR = 8.5  # sigmas beyond which a normal density no longer counts
_EDGE = 6.0  # sigmas over which the inner integral rises
_TINY = 1e-12


def alignment(
    footprint: Footprint, acceptance_class: AcceptanceClass, data: PhysicsData
) -> Alignment | None:
    """The tightest tolerance of a part's flat joints; None where lands do not guide it
    (holes, wires, exposed pads alone).

    Sideways: overhang accepted plus half of what the land is wider. Turned: sideways
    movement of the outermost leads, and the ends of a long row leaving their lands
    lengthwise.
    """
    return _alignment(footprint, acceptance_class, data.acceptance)


@lru_cache(maxsize=4096)
def _alignment(
    footprint: Footprint, acceptance_class: AcceptanceClass, limits: Acceptance
) -> Alignment | None:
    rects = pad_rects(footprint)
    found = []
    start = 0
    for group in footprint.pads:
        limit = limits.side(group.kind)
        mine = rects[start : start + group.count]
        start += group.count
        if limit is not None and not group.through_board:
            found.append(_group_alignment(footprint, group, mine, limit, acceptance_class))
    return min(found, key=lambda a: a.lateral_mm, default=None)


def _group_alignment(
    footprint: Footprint,
    group: PadGroup,
    rects: tuple[PadRect, ...],
    limit: SideLimit,
    acceptance_class: AcceptanceClass,
) -> Alignment:
    lead_w = lead_width_mm(footprint, group)
    slack = (group.land_w_mm - lead_w) / 2
    lateral = side_overhang_mm(lead_w, group.land_w_mm, limit, acceptance_class) + slack
    no_play = lateral <= 0
    lateral = max(lateral, 0.0)
    half_x, half_y = (size / 2 for size in body_size(footprint))
    sideways, lengthwise = 0.0, 0.0
    for rect in rects:
        out_x = abs(rect.x_mm) - half_x >= abs(rect.y_mm) - half_y
        across, along = (rect.x_mm, rect.y_mm) if out_x else (rect.y_mm, rect.x_mm)
        sideways = max(sideways, abs(across))
        lengthwise = max(lengthwise, abs(along))
    turns = [math.atan2(lateral, sideways)] if sideways else []
    end = _end_slack(footprint, group)
    if lengthwise and end > 0:
        turns.append(math.atan2(end, lengthwise))
    turn = math.degrees(min(turns, default=math.pi / 2))
    return Alignment(lateral, turn, acceptance_class, no_play)


def _end_slack(footprint: Footprint, group: PadGroup) -> float:
    """How far a lead or end may move along itself before it leaves the land, mm; 0 or
    less: not known or no room, which does not bound the turn."""
    if group.lead is not None and group.lead.foot_mm:
        return (group.land_l_mm - group.lead.foot_mm) / 2
    if group.row_span_mm is None:
        return 0.0
    return (group.row_span_mm + group.land_l_mm - body_size(footprint)[0]) / 2


def half_length_mm(found: Alignment) -> float:
    """The lever at which the turn tolerance uses up the sideways tolerance, mm."""
    turn = math.radians(found.rotation_deg)
    return found.lateral_mm / turn if turn > 0 else 0.0


def chance_inside(
    tolerance_mm: ArrayLike,
    sigma_lateral_mm: ArrayLike,
    sigma_rotation_rad: ArrayLike,
    half_length_mm: ArrayLike,
    *,
    both_axes: bool = False,
) -> Floats:
    """P(|d| + |turn| x half length <= tolerance) for d, turn normal about zero.

    ``both_axes``: four-sided parts, where d must fit along x and along y with one turn.
    Arguments broadcast; 0 where the tolerance is 0 or less. Gauss-Legendre in two panels,
    within 1e-9 of the exact integral.
    """
    tol, slide, turn, lever = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in
          (tolerance_mm, sigma_lateral_mm, sigma_rotation_rad, half_length_mm))
    )  # fmt: skip
    tol = np.maximum(tol, 0.0)
    slide = np.maximum(slide, _TINY)
    swing = np.maximum(turn * lever, _TINY)
    top = np.minimum(tol, _FAR * swing)
    # The inner factor is 1 until the turn leaves little room: give that edge its own panel.
    split = np.clip(tol - _EDGE * slide, 0.0, top)
    power = 2 if both_axes else 1
    low = _panel(np.zeros_like(top), split, tol, slide, swing, power)
    chance = low + _panel(split, top, tol, slide, swing, power)
    return np.asarray(np.clip(np.where(tol > 0, chance, 0.0), 0.0, 1.0))


def _panel(
    start: Floats, stop: Floats, tol: Floats, slide: Floats, swing: Floats, power: int
) -> Floats:
    half = (stop - start)[..., None] / 2
    at = start[..., None] + half * (_NODES + 1)
    room = np.maximum(tol[..., None] - at, 0.0)
    inner = erf(room / (slide[..., None] * math.sqrt(2.0))) ** power
    density = np.exp(-0.5 * (at / swing[..., None]) ** 2) / (
        swing[..., None] * math.sqrt(math.pi / 2)
    )
    return np.asarray(np.sum(_WEIGHTS * half * density * inner, axis=-1))


def chance_two_ends(tolerance_mm: ArrayLike, sigma_end_mm: ArrayLike) -> Floats:
    """P that both ends of a part lie within the tolerance, each set on its own. One sigma of
    tolerance holds 0.6827 of a normal (Abramowitz and Stegun, table 26.1), both 0.466:

    >>> round(float(chance_two_ends(0.1, 0.1)), 3)
    0.466
    """
    sigma = np.maximum(np.asarray(sigma_end_mm, dtype=np.float64), _TINY)
    tol = np.maximum(np.asarray(tolerance_mm, dtype=np.float64), 0.0)
    return np.asarray(erf(tol / (sigma * math.sqrt(2.0))) ** 2)


def chance_with_tries(once: ArrayLike, seen: ArrayLike, tries: int) -> Floats:
    """P of ending inside when a miss that is seen (share ``seen``) is tried again, at most
    ``tries`` times in all.

    Raises:
        ValueError: fewer than one try.
    """
    if tries < 1:
        raise ValueError(f"tries must be 1 or more, not {tries}")
    p = np.asarray(once, dtype=np.float64)
    again = (1 - p) * np.asarray(seen, dtype=np.float64)
    return np.asarray(p * sum(again**j for j in range(tries)))
