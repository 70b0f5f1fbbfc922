"""A plausible footprint from a package name, where the library has none.

The result says so in its source. It is drawn from family, pins, pitch and body; what the
name leaves open comes from ``data/families.yaml`` and ``data/packages.yaml``.
"""

from __future__ import annotations

import math
from typing import Literal

from solderrisk.files.package_families import FamilyUsual, default, usual
from solderrisk.files.package_reading import PackageReading
from solderrisk.files.package_tables import Outline, outline_key, outlines_by_key
from solderrisk.model.footprint import Body, Footprint, Lead, PadGroup

Orientation = Literal["none", "polarity", "pin_one"]

_ENDS = ("chip", "melf", "moulded_cap", "can_cap", "inductor_smd", "led_smd", "crystal_smd")
_SHAPELESS = frozenset(
    "battery_contact relay potentiometer dc_jack audio_jack usb card_slot shielded_connector"
    " choke_smd module other_th other_smd switch edge_slot".split()
)
_TWO_ROWS = ("soic", "ssop", "tsop")


def build_footprint(reading: PackageReading, name: str | None = None) -> Footprint | None:
    """Draw the footprint of a reading; None where the name says too little for it."""
    family = reading.family
    if reading.state == "unknown" or family is None or not reading.pins:
        return None
    facts = usual(family)
    outline = outlines_by_key().get(outline_key(reading.outline)) if reading.outline else None
    groups = _from_outline(outline, reading, facts) if outline else _groups(reading, facts)
    if not groups:
        return None
    body = _body(reading, facts, groups, outline)
    return Footprint(
        name=(name or footprint_name(reading))[:400],
        family=family,
        pads=tuple(groups),
        body=body,
        heat=facts.heat(),
        orientation=_orientation(reading, facts, outline),
        hand_iron=facts.hand_iron,
        source=_source(reading),
    )


def footprint_name(reading: PackageReading) -> str:
    """A name of our own for what was read."""
    if reading.chip:
        return f"CHIP-{reading.chip}"
    parts = [reading.outline or (reading.family or "part").upper().replace("_", "-")]
    if not reading.outline:
        parts.append(str(reading.pins))
        if reading.body:
            parts.append(f"{reading.body[0]:g}x{reading.body[1]:g}")
        if reading.span_mm:
            parts.append(f"W{reading.span_mm:g}")
        if reading.rows and reading.rows > 1:
            parts.append(f"{reading.rows}rows")
    if reading.pitch_mm:
        parts.append(f"P{reading.pitch_mm:g}")
    if reading.exposed:
        parts.append("EP")
    if reading.through_hole is False and reading.family in ("dip", "header", "sip", "switch"):
        parts.append("SMD")
    return "-".join(parts)


def _source(reading: PackageReading) -> str:
    extra = f"; {'; '.join(reading.assumed)}" if reading.assumed else ""
    return f"assumed: built from the package name {reading.text[:80]!r}{extra}"[:400]


def _orientation(
    reading: PackageReading, facts: FamilyUsual, outline: Outline | None
) -> Orientation:
    if outline is not None and outline.polarity is not None:
        return "polarity" if outline.polarity else "none"
    if facts.pin_one and (reading.pins or 0) > 2:
        return "pin_one"
    return "polarity" if facts.polarity else "none"


def _lead(facts: FamilyUsual, width: float, foot: float = 0.0) -> Lead:
    return Lead(
        width_mm=round(width, 3),
        thickness_mm=facts.lead_mm,
        length_mm=1.0,
        foot_mm=round(foot, 3),
        round=facts.round,
        material="tinned_copper" if facts.round else "copper_alloy",
    )


def _groups(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    family, pins = reading.family, reading.pins or 0
    if reading.pitch_mm is None and family in _SHAPELESS:
        return []  # a pin count alone draws no such part
    through = reading.through_hole
    if through is None:
        through = facts.hole is not None
    if family in ("axial", "radial", "crystal_th") and pins == 2:
        return [_two_holes(reading, facts)]
    if family in _ENDS and pins == 2 and facts.smd:
        return [_ends(reading, facts)] if reading.body else []
    if through and facts.hole:
        return _hole_rows(reading, facts)
    if family in _TWO_ROWS or (family == "dip" and not through):
        return _gull_rows(reading, facts)
    if family in ("qfp", "plcc") or (family == "qfn" and not reading.two_sides):
        return _four_sides(reading, facts)
    if family == "qfn":
        return _no_lead_rows(reading, facts)
    if family == "bga":
        return _balls(reading)
    if family in ("crystal_smd", "led_smd", "chip_array", "switch", "choke_smd") and reading.body:
        return _rows_under(reading, facts)
    if family in ("header", "ffc", "sot", "power_tab") and facts.smd:
        return _smd_row(reading, facts)
    if family == "test_pad" and pins == 1:
        return [PadGroup(kind="wire", count=1, land_w_mm=1.5, land_l_mm=1.5)]
    return []


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
    if reading.family in ("dip", "crystal_th", "switch", "relay") and pins >= 4 and pins % 2 == 0:
        span = reading.span_mm or (7.62 if pins < 24 or reading.family != "dip" else 15.24)
        return [PadGroup(kind="through_hole", count=pins, layout="dual", pitch_mm=pitch,
                         row_span_mm=span, land_w_mm=land, land_l_mm=land, hole_mm=hole, lead=lead)]  # fmt: skip
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
        kind=facts.smd or "no_lead", count=pins, layout="explicit", at=tuple(at), pitch_mm=pitch,
        land_w_mm=round(facts.land_share * pitch, 3), land_l_mm=round(land, 3),
    )  # fmt: skip


def _exposed(reading: PackageReading, room_x: float, room_y: float) -> list[PadGroup]:
    if not reading.exposed:
        return []
    share = default("exposed_share")
    size = reading.exposed_mm or (
        (share * reading.body[0], share * reading.body[1])
        if reading.body
        else (max(room_x * 0.8, 0.4), max(room_y * 0.8, 0.4))
    )
    return [PadGroup(name="exposed", kind="exposed", count=1, layout="centre", tied=True,
                     land_w_mm=round(size[1], 3), land_l_mm=round(size[0], 3))]  # fmt: skip


def _balls(reading: PackageReading) -> list[PadGroup]:
    pins = reading.pins or 0
    pitch = reading.pitch_mm or (0.4 if "CSP" in reading.text.upper() else 0.8)
    rows = max(round(math.sqrt(pins)), 1)
    ball = round(default("ball_share") * pitch, 3)
    return [PadGroup(kind="ball", count=pins, layout="grid", pitch_mm=pitch, rows=rows,
                     land_w_mm=ball, land_l_mm=ball)]  # fmt: skip


def _rows_under(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    """Two rows of lands under the ends of the body."""
    pins, (length, width) = reading.pins or 0, reading.body or (1.0, 1.0)
    if pins % 2 or pins < 4:
        return []
    across, along = min(length, width), max(length, width)
    pitch = reading.pitch_mm or round(0.75 * along / max(pins / 2 - 1, 1), 3)
    if pins > 4:
        pitch = reading.pitch_mm or round(along / (pins / 2), 3)
    land = max(0.4 * across, 0.25)
    return [PadGroup(kind=facts.smd or "no_lead", count=pins, layout="dual", pitch_mm=pitch,
                     row_span_mm=round(across - 0.5 * land + 0.2, 3),
                     land_w_mm=round(min(0.6 * pitch, 1.5), 3), land_l_mm=round(land, 3))]  # fmt: skip


def _smd_row(reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    pins, pitch = reading.pins or 0, reading.pitch_mm or 1.27
    rows = reading.rows or 1
    land_w = round(facts.land_share * pitch, 3)
    if rows == 2 and pins % 2 == 0:
        return [PadGroup(kind=facts.smd or "gull_wing", count=pins, layout="dual", pitch_mm=pitch,
                         row_span_mm=round(2 * pitch, 3), land_w_mm=land_w,
                         land_l_mm=facts.land_mm, lead=_row_lead(facts, pitch))]  # fmt: skip
    groups = [
        PadGroup(kind=facts.smd or "gull_wing", count=pins, pitch_mm=pitch if pins > 1 else None,
                 land_w_mm=land_w, land_l_mm=facts.land_mm, lead=_row_lead(facts, pitch))
    ]  # fmt: skip
    if reading.mounts:
        groups.append(PadGroup(name="mount", kind="tab", count=2, layout="ends", land_w_mm=1.5,
                               row_span_mm=round((pins + 2) * pitch, 3), land_l_mm=2.0))  # fmt: skip
    return groups


def _from_outline(outline: Outline, reading: PackageReading, facts: FamilyUsual) -> list[PadGroup]:
    across, along = outline.land[0], outline.land[1]
    pitch = outline.pitch_mm or outline.grid_mm or 2.54
    if outline.row:
        grid = reading.pitch_mm or pitch
        width = outline.lead[0] if outline.lead else facts.lead_w_mm or facts.lead_mm
        thick = outline.lead[1] if len(outline.lead) > 1 else width
        return [
            PadGroup(
                kind="through_hole",
                count=reading.pins or outline.pins,
                pitch_mm=grid,
                land_w_mm=round(min(across, 0.85 * grid), 3),
                land_l_mm=along,
                hole_mm=outline.hole_mm,
                lead=Lead(width_mm=width, thickness_mm=min(thick, width), round=facts.round),
            )
        ]
    if not outline.left:
        return [PadGroup(name="ends", kind=facts.smd or "chip_end", count=2, layout="ends",
                         row_span_mm=outline.span_mm, land_w_mm=across, land_l_mm=along)]  # fmt: skip
    return _sides(outline, facts, pitch)


def _sides(outline: Outline, facts: FamilyUsual, pitch: float) -> list[PadGroup]:
    across, along = outline.land[0], outline.land[1]
    span = outline.span_mm or 2.0
    slots = max((*outline.left, *outline.right))
    left = [(-span / 2, (slots / 2 - i) * pitch) for i in outline.left]
    right = [(span / 2, (slots / 2 - i) * pitch) for i in reversed(outline.right)]
    step = outline.pin_step_mm or pitch
    lead = Lead(width_mm=outline.lead[0], thickness_mm=outline.lead[1], foot_mm=0.4)
    spots = tuple((round(x, 4), round(y, 4)) for x, y in (*left, *right))
    groups = [
        PadGroup(kind=facts.smd or "gull_wing", count=len(spots), layout="explicit", at=spots,
                 pitch_mm=step, land_w_mm=across, land_l_mm=along, lead=lead)
    ]  # fmt: skip
    if outline.tab:
        groups.append(
            PadGroup(name="tab", kind="tab", count=1, layout="explicit", at=((span / 2, 0.0),),
                     land_w_mm=outline.tab[0], land_l_mm=outline.tab[1], tied=True)
        )  # fmt: skip
    return groups


def _body(
    reading: PackageReading, facts: FamilyUsual, groups: list[PadGroup], outline: Outline | None
) -> Body:
    height = reading.height_mm or facts.height_mm
    if outline is not None and len(outline.body) == 3:
        height = reading.height_mm or outline.body[2]
    length, width = reading.body or _body_from(groups)
    material = outline.body_material if outline is not None else facts.material
    return Body(
        length_mm=round(length, 3), width_mm=round(width, 3), height_mm=height, material=material
    )


def _body_from(groups: list[PadGroup]) -> tuple[float, float]:
    main = groups[0]
    pitch = main.pitch_mm or 2.54
    span = main.row_span_mm or 2.5
    if main.layout == "dual":
        return main.count / 2 * pitch, max(span - 1.5, 1.0)
    if main.layout == "grid":
        return math.ceil(main.count / main.rows) * pitch, main.rows * pitch
    if main.layout == "ends":
        return span * 0.7, 2.5
    if main.layout == "quad":
        return span, main.row_span_y_mm or span
    return max(main.count * pitch, 1.0), 2.5
