"""Pads of a footprint drawn from family, pins, pitch and body."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

from solderrisk.model.footprint import FamilyUsual, Lead, PadGroup
from solderrisk.packages.reading import PackageReading
from solderrisk.packages.tables import default


def pad_groups(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    """The pads of a reading, drawn as ``data/families.yaml`` says for its family."""
    if reading.pitch_mm is None and facts.needs_pitch:
        return []
    two = facts.two if reading.pins == 2 else None
    if two == "holes":
        return [_two_holes(reading, facts)]
    if two == "ends" and facts.smd:
        return [_ends(reading, facts)] if reading.body else []
    through = facts.hole is not None if reading.through_hole is None else reading.through_hole
    if through and facts.hole:
        return _hole_rows(reading, facts)
    layout = "no_lead_rows" if facts.lands == "four_sides" and reading.two_sides else facts.lands
    return _LAYOUTS[layout](reading, facts) if layout else []


def _ends(reading: PackageReading, facts: FamilyUsual) -> PadGroup:
    length, width = reading.body or (1.0, 0.5)
    if reading.family == "can_cap":
        land = default("can_land_share") * length + 0.3
        span = length - land + 0.8
        across = max(0.25 * length, 1.0)
    else:
        toe = default("toe_small_mm") if length < 1.5 else default("toe_mm")
        terminal = min(default("terminal_share") * length, 1.5)
        land, across = toe + terminal, width
        span = length + 2 * toe - land
    return PadGroup(
        name="ends",
        kind=facts.smd or "chip_end",
        count=2,
        layout="ends",
        row_span_mm=round(span, 3),
        land_w_mm=round(across, 3),
        land_l_mm=round(land, 3),
    )


def _two_holes(reading: PackageReading, facts: FamilyUsual) -> PadGroup:
    pitch = reading.pitch_mm or {"axial": 10.16, "radial": 5.0}.get(reading.family or "", 5.0)
    land = facts.hole_mm + 2 * default("annular_mm")
    return PadGroup(
        kind="through_hole",
        count=2,
        layout="ends",
        row_span_mm=pitch,
        land_w_mm=round(min(land, 0.85 * pitch), 3),
        land_l_mm=round(min(land, 0.85 * pitch), 3),
        hole_mm=min(facts.hole_mm, 0.6 * pitch),
        lead=_lead(facts, facts.lead_mm),
    )


def _hole_rows(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    pins, pitch = reading.pins or 0, reading.pitch_mm or 2.54
    rows = 2 if reading.family == "dip" else reading.rows or 1
    hole = min(facts.hole_mm, round(0.55 * pitch, 2))
    land = round(min(hole + 2 * default("annular_mm"), 0.8 * pitch), 3)
    lead = _lead(facts, min(facts.lead_w_mm or facts.lead_mm, 0.8 * hole))
    if facts.two_rows and pins >= 4 and pins % 2 == 0:
        span = reading.span_mm or (7.62 if pins < 24 or reading.family != "dip" else 15.24)
        return [
            PadGroup(
                kind="through_hole",
                count=pins,
                layout="dual",
                pitch_mm=pitch,
                row_span_mm=span,
                land_w_mm=land,
                land_l_mm=land,
                hole_mm=hole,
                lead=lead,
            )
        ]
    layout: Literal["single", "grid"] = "grid" if rows > 1 and pins % rows == 0 else "single"
    return [
        PadGroup(
            kind=facts.hole or "through_hole",
            count=pins,
            layout=layout,
            pitch_mm=pitch if pins > 1 else None,
            rows=rows if layout == "grid" else 1,
            land_w_mm=land,
            land_l_mm=land,
            hole_mm=hole,
            lead=lead,
        )
    ]


def _pitch(reading: PackageReading, sides: int) -> float:
    """The stated pitch, or one that fits the pins along the body's side."""
    if reading.pitch_mm:
        return reading.pitch_mm
    per_side = max((reading.pins or 2) / sides, 1.0)
    if reading.body:
        room = max(reading.body) / (per_side + 0.5)
        for pitch in (1.27, 1.0, 0.8, 0.65, 0.5, 0.4, 0.35):
            if pitch <= room * 1.02:
                return pitch
    return 0.5 if reading.family in ("qfn", "qfp", "tsop") else 0.65


def _row_lead(facts: FamilyUsual, pitch: float) -> Lead:
    return _lead(facts, facts.lead_share * pitch, foot=default("foot_mm"))


def _lead(facts: FamilyUsual, width: float, foot: float = 0.0) -> Lead:
    return Lead(
        width_mm=round(width, 3),
        thickness_mm=facts.lead_mm,
        length_mm=1.0,
        foot_mm=round(foot, 3),
        round=facts.round,
        material="tinned_copper" if facts.round else "copper_alloy",
    )


def _gull_rows(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    pins, pitch = reading.pins or 0, _pitch(reading, 2)
    if reading.span_mm:
        tips = reading.span_mm
    elif reading.body:
        width = min(reading.body)
        wide = width > 6.5 and reading.family == "soic"
        tips = width + 2 * default("wide_reach_mm" if wide else "gull_reach_mm")
    elif reading.family == "soic":
        tips = 6.0 if pins <= 16 else 10.3
    else:
        tips = 4.9 if pins <= 10 else 6.4
    span = round(tips - default("foot_mm"), 3)
    groups = [
        PadGroup(
            kind=facts.smd or "gull_wing",
            count=pins,
            layout="dual",
            pitch_mm=pitch,
            row_span_mm=span,
            land_w_mm=round(facts.land_share * pitch, 3),
            land_l_mm=facts.land_mm,
            lead=_row_lead(facts, pitch),
        )
    ]
    return groups + _exposed(reading, span - facts.land_mm, (pins / 2) * pitch)


def _four_sides(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    pins = reading.pins or 0
    around = pins - 1 if reading.exposed and pins % 4 == 1 else pins
    pitch = _pitch(reading, 4)
    if around < 4:
        return []
    reach = {"qfp": 2 * default("gull_reach_mm") - default("foot_mm"), "plcc": 0.0}.get(
        reading.family or "", 0.0
    )
    side = (around / 4 + 1.2) * pitch
    along = sorted(reading.body or (side, side), reverse=True)
    groups = [
        PadGroup(
            kind=facts.smd or "gull_wing",
            count=around,
            layout="quad",
            pitch_mm=pitch,
            row_span_mm=round(along[0] + reach, 3),
            row_span_y_mm=round(along[1] + reach, 3),
            land_w_mm=round(facts.land_share * pitch, 3),
            land_l_mm=facts.land_mm,
            lead=_row_lead(facts, pitch) if reading.family != "qfn" else None,
        )
    ]
    return groups + _exposed(reading, along[0] - facts.land_mm, along[1] - facts.land_mm)


def _no_lead_rows(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    pins, pitch = reading.pins or 0, _pitch(reading, 2)
    if pins < 2:
        return []
    around = pins - 1 if reading.exposed and pins % 2 and pins > 3 else pins
    body = reading.body or ((around / 2 + 1) * pitch, (around / 2 + 1) * pitch)
    land = min(facts.land_mm, 0.35 * min(body))
    span = max(min(body) - 0.5 * land, 0.4)
    if around % 2:
        return [_explicit_sides(around, pitch, span, facts, land)]
    groups = [
        PadGroup(
            kind="no_lead",
            count=around,
            layout="dual",
            pitch_mm=pitch,
            row_span_mm=round(span, 3),
            land_w_mm=round(facts.land_share * pitch, 3),
            land_l_mm=round(land, 3),
        )
    ]
    return groups + _exposed(reading, span - 1.2 * land, around / 2 * pitch)


def _explicit_sides(
    pins: int, pitch: float, span: float, facts: FamilyUsual, land: float
) -> PadGroup:
    left = pins // 2 + 1
    at = [(-span / 2, round(((left - 1) / 2 - i) * pitch, 4)) for i in range(left)]
    at += [(span / 2, round(((pins - left - 1) / 2 - i) * pitch, 4)) for i in range(pins - left)]
    return PadGroup(
        kind=facts.smd or "no_lead",
        count=pins,
        layout="explicit",
        at=tuple(at),
        turned=tuple(range(1, pins + 1)),
        pitch_mm=pitch,
        land_w_mm=round(facts.land_share * pitch, 3),
        land_l_mm=round(land, 3),
    )


def _exposed(reading: PackageReading, room_x: float, room_y: float) -> list[PadGroup]:
    if not reading.exposed:
        return []
    share = default("exposed_share")
    size = reading.exposed_mm or (
        (share * reading.body[0], share * reading.body[1])
        if reading.body
        else (max(room_x * 0.8, 0.4), max(room_y * 0.8, 0.4))
    )
    return [
        PadGroup(
            name="exposed",
            kind="exposed",
            count=1,
            layout="centre",
            tied=True,
            land_w_mm=round(size[1], 3),
            land_l_mm=round(size[0], 3),
        )
    ]


def _balls(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    pins = reading.pins or 0
    pitch = reading.pitch_mm or (0.4 if "CSP" in reading.text.upper() else 0.8)
    rows = max(round(math.sqrt(pins)), 1)
    ball = round(default("ball_share") * pitch, 3)
    return [
        PadGroup(
            kind="ball",
            count=pins,
            layout="grid",
            pitch_mm=pitch,
            rows=rows,
            land_w_mm=ball,
            land_l_mm=ball,
        )
    ]


def _rows_under(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    """Two rows of lands under the ends of the body."""
    pins, (length, width) = reading.pins or 0, reading.body or (1.0, 1.0)
    if pins % 2 or pins < 4 or not reading.body:
        return []
    across, along = min(length, width), max(length, width)
    pitch = reading.pitch_mm or round(0.75 * along / max(pins / 2 - 1, 1), 3)
    if pins > 4:
        pitch = reading.pitch_mm or round(along / (pins / 2), 3)
    land = max(0.4 * across, 0.25)
    return [
        PadGroup(
            kind=facts.smd or "no_lead",
            count=pins,
            layout="dual",
            pitch_mm=pitch,
            row_span_mm=round(across - 0.5 * land + 0.2, 3),
            land_w_mm=round(min(0.6 * pitch, 1.5), 3),
            land_l_mm=round(land, 3),
        )
    ]


def _smd_row(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    pins, pitch = reading.pins or 0, reading.pitch_mm or 1.27
    rows = reading.rows or 1
    land_w = round(facts.land_share * pitch, 3)
    if rows == 2 and pins % 2 == 0:
        return [
            PadGroup(
                kind=facts.smd or "gull_wing",
                count=pins,
                layout="dual",
                pitch_mm=pitch,
                row_span_mm=round(2 * pitch, 3),
                land_w_mm=land_w,
                land_l_mm=facts.land_mm,
                lead=_row_lead(facts, pitch),
            )
        ]
    groups = [
        PadGroup(
            kind=facts.smd or "gull_wing",
            count=pins,
            pitch_mm=pitch if pins > 1 else None,
            land_w_mm=land_w,
            land_l_mm=facts.land_mm,
            lead=_row_lead(facts, pitch),
        )
    ]
    if reading.mounts:
        groups.append(
            PadGroup(
                name="mount",
                kind="tab",
                count=2,
                layout="ends",
                land_w_mm=1.5,
                row_span_mm=round((pins + 2) * pitch, 3),
                land_l_mm=2.0,
            )
        )
    return groups


def _one_land(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    return (
        [PadGroup(kind="wire", count=1, land_w_mm=1.5, land_l_mm=1.5)] if reading.pins == 1 else []
    )


_LAYOUTS: dict[str, Callable[[PackageReading, FamilyUsual], list[PadGroup]]] = {
    "gull_rows": _gull_rows,
    "four_sides": _four_sides,
    "no_lead_rows": _no_lead_rows,
    "balls": _balls,
    "rows_under": _rows_under,
    "row": _smd_row,
    "one": _one_land,
}
