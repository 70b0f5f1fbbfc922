"""What an inspector accepts of a joint, in millimetres (IPC-A-610 by class).

These say what the standard's tables ask of a joint's shape, not that a board is fit for
its use.
"""

from __future__ import annotations

from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.kit import Board
from solderrisk.model.physics_data import AcceptanceClass, PhysicsData, SideLimit
from solderrisk.physics.solder_volume import barrel_fill_rule

_SIDES = {"destination": "far", "source": "soldered"}


def lead_width_mm(footprint: Footprint, group: PadGroup) -> float:
    """Width of what sits on the land: the lead, a chip's end, or a bottom land's own."""
    if group.lead is not None:
        return group.lead.width_mm
    if group.kind == "chip_end":
        return min(footprint.body.width_mm, footprint.body.length_mm)
    return group.land_w_mm


def side_overhang_mm(
    lead_w_mm: float, land_w_mm: float, limit: SideLimit, acceptance_class: AcceptanceClass
) -> float:
    """Side overhang that a class accepts, mm."""
    base = lead_w_mm if limit.of == "lead" else min(lead_w_mm, land_w_mm)
    allowed = limit.overhang_share[acceptance_class - 1] * base
    return allowed if limit.cap_mm is None else min(allowed, limit.cap_mm)


def end_joint_mm(
    lead_w_mm: float, land_w_mm: float, limit: SideLimit, acceptance_class: AcceptanceClass
) -> float | None:
    """End joint width that a class asks for, mm; None where not specified."""
    share = limit.end_joint_share[acceptance_class - 1]
    base = lead_w_mm if limit.of == "lead" else min(lead_w_mm, land_w_mm)
    return None if share is None else share * base


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


def heel_fillet_mm(
    lead_thickness_mm: float, acceptance_class: AcceptanceClass, data: PhysicsData
) -> float:
    """Heel fillet above the solder under the foot, mm; 0: it need only be seen."""
    return data.acceptance.foot.heel_share[acceptance_class - 1] * lead_thickness_mm


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
    if limit is None:
        return ""
    at = acceptance_class - 1
    what = "end's" if group.kind == "chip_end" else "lead's"
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
