"""How far a part may sit off its lands, and the chance that a hand puts it there.

Side overhang limits are those of IPC-A-610. Errors of a placement are taken as normal:
sideways with ``sigma_lateral_mm``, turned with ``sigma_rotation_rad``.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.outline import PadRect, body_size, pad_rects
from solderrisk.model.physics_data import Acceptance, AcceptanceClass, PhysicsData, SideLimit
from solderrisk.physics.acceptance import lead_width_mm, side_overhang_mm
from solderrisk.physics.results import Alignment

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
    warnings = []
    if lateral <= 0:
        warnings.append(
            f"{group.name}: the lead is {-2 * slack:.2f} mm wider than its land, no sideways "
            "play is left"
        )
        lateral = 0.0
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
    return Alignment(lateral, turn, acceptance_class, tuple(warnings))


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
