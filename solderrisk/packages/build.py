"""A plausible footprint from a package name, where the library has none.

The result says so in its source. It is drawn from family, pins, pitch and body; what the
name leaves open comes from ``data/families.yaml`` and ``data/packages.yaml``.
"""

from __future__ import annotations

import math
from typing import Literal

from solderrisk.model.families import FamilyUsual
from solderrisk.model.footprint import Body, Footprint, Lead, PadGroup
from solderrisk.packages.reading import PackageReading
from solderrisk.packages.rows import pad_groups
from solderrisk.packages.tables import Outline, outline_key, outlines_by_key, usual

Orientation = Literal["none", "polarity", "pin_one"]


def build_footprint(reading: PackageReading, name: str | None = None) -> Footprint | None:
    """Draw the footprint of a reading; None where the name says too little for it."""
    family = reading.family
    if reading.state == "unknown" or family is None or not reading.pins:
        return None
    facts = usual(family)
    outline = outlines_by_key().get(outline_key(reading.outline)) if reading.outline else None
    groups = _from_outline(outline, reading, facts) if outline else pad_groups(reading, facts)
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
        return [
            PadGroup(
                name="ends",
                kind=facts.smd or "chip_end",
                count=2,
                layout="ends",
                row_span_mm=outline.span_mm,
                land_w_mm=across,
                land_l_mm=along,
            )
        ]
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
        PadGroup(
            kind=facts.smd or "gull_wing",
            count=len(spots),
            layout="explicit",
            at=spots,
            turned=tuple(range(1, len(spots) + 1)),
            pitch_mm=step,
            land_w_mm=across,
            land_l_mm=along,
            lead=lead,
        )
    ]
    if outline.tab:
        groups.append(
            PadGroup(
                name="tab",
                kind="tab",
                count=1,
                layout="explicit",
                at=((span / 2, 0.0),),
                turned=(1,),
                land_w_mm=outline.tab[0],
                land_l_mm=outline.tab[1],
                tied=True,
            )
        )
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
