"""What an inspector accepts of a joint, in millimetres (IPC-A-610 by class).

These say what the standard's tables ask of a joint's shape, not that a board is fit for
its use.
"""

from __future__ import annotations

from solderrisk.model.footprint import Footprint, PadGroup
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
    """Side joint length that a flat gull-wing foot must have, mm (IPC-A-610 table 8-5)."""
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
    footprint: Footprint, thickness_mm: float, acceptance_class: AcceptanceClass, data: PhysicsData
) -> tuple[str, ...]:
    """What to hold a part's joints against, one line per kind of joint."""
    lines: dict[str, None] = {}
    for group in footprint.pads:
        text = (
            _barrel_text(footprint, thickness_mm, acceptance_class, data)
            if group.through_board
            else _flat_text(footprint, group, acceptance_class, data)
        )
        if text:
            lines[f"IPC-A-610 class {acceptance_class} accepts: {text}"] = None
    return tuple(lines)


def _barrel_text(
    footprint: Footprint, thickness_mm: float, acceptance_class: AcceptanceClass, data: PhysicsData
) -> str:
    rule = barrel_fill_rule(max(footprint.pin_count, 1), acceptance_class, data)
    least = rule.least_mm(thickness_mm)
    depth = "" if least is None else f" (here {least:.1f} of {thickness_mm:g} mm)"
    degrees = [
        f"{row.degrees[acceptance_class - 1]:.0f} degrees on the {_SIDES[row.side]} side"
        for row in data.acceptance.wetting
        if row.degrees[acceptance_class - 1] is not None
    ]
    return f"{rule.text()}{depth}; wetted round the lead {' and '.join(degrees)}"


def _flat_text(
    footprint: Footprint, group: PadGroup, acceptance_class: AcceptanceClass, data: PhysicsData
) -> str:
    limit = data.acceptance.side(group.kind)
    if limit is None:
        return ""
    lead_w = lead_width_mm(footprint, group)
    over = side_overhang_mm(lead_w, group.land_w_mm, limit, acceptance_class)
    parts = [f"at most {over:.2f} mm beside the land"]
    if not limit.end_overhang:
        parts.append("none past its end")
    width = end_joint_mm(lead_w, group.land_w_mm, limit, acceptance_class)
    if width is not None:
        parts.append(f"joint {width:.2f} mm wide or more")
    if group.kind == "gull_wing" and group.lead is not None and group.lead.foot_mm:
        side = side_joint_mm(lead_w, group.lead.foot_mm, acceptance_class, data)
        heel = heel_fillet_mm(group.lead.thickness_mm, acceptance_class, data)
        parts.append(f"wetted along {side:.2f} mm of the foot")
        parts.append(f"heel fillet {heel:.2f} mm above the solder" if heel else "heel wetted")
    if group.kind == "chip_end":
        rise = chip_fillet_mm(footprint.body.height_mm, acceptance_class, data)
        parts.append(f"fillet {rise:.2f} mm up the end" if rise else "fillet seen at the end")
    return ", ".join(parts)
