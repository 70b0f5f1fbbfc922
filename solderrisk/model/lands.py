"""Lands among each other: the gaps that solder may bridge, and what no real part can have."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.outline import PadRect, grouped_rects
from solderrisk.model.problems import Loc


@dataclass(frozen=True)
class LandGap:
    """Two neighbouring lands: the copper-to-copper distance, and the pad group (by its place
    in ``Footprint.pads``) that the solder is brought to."""

    gap_mm: float
    group: int


def smallest_gap_mm(footprint: Footprint) -> float | None:
    """The smallest distance between any two lands, mm; None for a lone land."""
    return min((gap.gap_mm for gap in land_gaps(footprint)), default=None)


@lru_cache(maxsize=4096)
def land_gaps(
    footprint: Footprint, joined: tuple[tuple[int, ...], ...] = ()
) -> tuple[LandGap, ...]:
    """Gaps between neighbours: the shortest set that joins every land to every other one.

    In a row these are the gaps of the row; between rows, groups and corners it is the nearest
    pair. Distances are those of the lands as drawn, mm. ``joined`` are numbers of lands of one
    net: a gap between two of them is none to bridge.
    """
    pairs = grouped_rects(footprint)
    if len(pairs) < 2:
        return ()
    number = {id(group): index for index, group in enumerate(footprint.pads)}
    rects = [rect for _, rect in pairs]
    groups = [number[id(group)] for group, _ in pairs]
    net = {land - 1: index for index, lands in enumerate(joined) for land in lands}
    nearest = [(land_distance_mm(rects[0], rect), 0) for rect in rects]
    left, found = set(range(1, len(rects))), []
    while left:
        # Ties go to the land of the lower number.
        new = min(left, key=lambda i: (round(nearest[i][0], 6), i))
        left.remove(new)
        gap_mm, old = nearest[new]
        if new not in net or net[new] != net.get(old):
            found.append(LandGap(round(gap_mm, 6), max(groups[new], groups[old])))
        for other in left:
            away = land_distance_mm(rects[new], rects[other])
            if away < nearest[other][0]:
                nearest[other] = (away, new)
    return tuple(found)


def land_distance_mm(one: PadRect, other: PadRect) -> float:
    """Copper-to-copper distance of two lands, mm; 0 where they touch or overlap."""
    dx, dy = abs(one.x_mm - other.x_mm), abs(one.y_mm - other.y_mm)
    # A round land is its centre, that much nearer.
    round_mm = sum(rect.w_mm for rect in (one, other) if rect.round) / 2
    flat = [rect for rect in (one, other) if not rect.round]
    across = max(dx - sum(rect.w_mm for rect in flat) / 2, 0.0)
    along = max(dy - sum(rect.h_mm for rect in flat) / 2, 0.0)
    return max(math.hypot(across, along) - round_mm, 0.0)


def definition_faults(footprint: Footprint) -> list[tuple[Loc, str]]:
    """What no real part can have, as place in the definition and what to do about it: a hole
    that eats its land, lands that overlap, leads that stand outside a body they come from."""
    found: list[tuple[Loc, str]] = []
    for index, group in enumerate(footprint.pads):
        narrow_mm = group.slot_w_mm or group.hole_mm
        land_mm = min(group.land_w_mm, group.land_l_mm)
        if narrow_mm is not None and narrow_mm >= land_mm:
            found.append(
                (
                    ("pads", index, "hole_mm"),
                    f"{group.name}: the hole of {narrow_mm:g} mm is not smaller than its land of "
                    f"{land_mm:g} mm; give the land a ring of 0.2 mm or more, or a smaller hole",
                )
            )
        lead_mm = _across_lead_mm(group)
        if narrow_mm is not None and group.slot_w_mm is None and lead_mm > narrow_mm:
            found.append(
                (
                    ("pads", index, "hole_mm"),
                    f"{group.name}: a lead of {lead_mm:.2f} mm across does not enter a hole of "
                    f"{narrow_mm:g} mm; make the hole 0.2 mm larger than the lead",
                )
            )
    if overlap := _overlap(footprint):
        index, one, other = overlap
        found.append(
            (
                ("pads", index),
                f"lands {one.number} and {other.number} overlap; make them narrower, or the "
                "pitch or row distance larger",
            )
        )
    body = footprint.body
    thickest = max((min(_lead_sides(g)) for g in footprint.pads if g.lead), default=0.0)
    smallest = min(body.length_mm, body.width_mm, body.height_mm)
    if thickest > smallest:
        found.append(
            (
                ("body",),
                f"a body of {smallest:g} mm is thinner than its leads of {thickest:g} mm; "
                "check length, width, height and the lead",
            )
        )
    return found


def _across_lead_mm(group: PadGroup) -> float:
    """A lead's diameter, or its section from corner to corner; 0 without a lead."""
    if group.lead is None:
        return 0.0
    if group.lead.round:
        return group.lead.width_mm
    return math.hypot(group.lead.width_mm, group.lead.thickness_mm)


def _lead_sides(group: PadGroup) -> tuple[float, float]:
    assert group.lead is not None
    return group.lead.width_mm, group.lead.thickness_mm


def _overlap(footprint: Footprint) -> tuple[int, PadRect, PadRect] | None:
    """The first two lands that overlap, and the later one's pad group; touching is none."""
    number = {id(group): index for index, group in enumerate(footprint.pads)}
    pairs = sorted(grouped_rects(footprint), key=lambda pair: pair[1].bounds[0])
    for n, (group, one) in enumerate(pairs):
        for other_group, other in pairs[n + 1 :]:
            if other.bounds[0] > one.bounds[2]:
                break
            if land_distance_mm(one, other) == 0 and _depth_mm(one, other) > 0.01:
                first, second = sorted((one, other), key=lambda rect: rect.number)
                return max(number[id(group)], number[id(other_group)]), first, second
    return None


def _depth_mm(one: PadRect, other: PadRect) -> float:
    across = (one.w_mm + other.w_mm) / 2 - abs(one.x_mm - other.x_mm)
    along = (one.h_mm + other.h_mm) / 2 - abs(one.y_mm - other.y_mm)
    return min(across, along)
