"""From a package name to a footprint: matched, or built from what it says."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Literal

from solderrisk.model.footprint import Body, Family, FamilyUsual, Footprint, Lead, PadGroup
from solderrisk.model.library import Library
from solderrisk.packages.reading import PackageReading, tidy
from solderrisk.packages.rows import pad_groups
from solderrisk.packages.tables import (
    Outline,
    chips_by_imperial,
    outline_key,
    outlines_by_key,
    usual,
)

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


_ALIKE = (
    {"soic", "ssop"},
    {"sot", "power_tab", "to_th"},
    {"header", "shielded_connector"},
)


_INDEX: list[tuple[Library, dict[str, list[Footprint]]]] = []


def _of_family(library: Library, family: Family) -> list[Footprint]:
    """The library's footprints of a family and those that go by both names."""
    if not _INDEX or _INDEX[0][0] is not library:
        table: dict[str, list[Footprint]] = {}
        for footprint in library:
            table.setdefault(footprint.family, []).append(footprint)
        _INDEX[:] = [(library, table)]
    names = {family}.union(*(pair for pair in _ALIKE if family in pair))
    return [f for name in sorted(names) for f in _INDEX[0][1].get(name, [])]


LEAST_PINS_PAD_BELOW = 6


@dataclass(frozen=True)
class Matched:
    """A footprint and whether the library knew it."""

    footprint: Footprint
    own: bool
    how: str
    assumed: tuple[str, ...] = ()


def by_name(text: str, library: Library) -> Footprint | None:
    """A library entry that bears this very name, with or without a library prefix, or that
    board files call by it."""
    if not text.strip() or len(text) > 300:
        return None
    name = tidy(text)
    return library.get(text) or library.get(name) or library.as_on_boards(name)


def match(reading: PackageReading, library: Library) -> Matched | None:
    """The footprint of a known reading; None where nothing can be drawn from it."""
    if reading.state == "unknown" or not reading.pins:
        return None
    if reading.outline:
        found = _by_outline(reading, library)
        if found is not None:
            return Matched(found, False, f"library footprint {found.name}")
    if reading.chip:
        found = library.get(f"CHIP-{reading.chip}")
        if found is not None and _fits(reading, found):
            return Matched(found, False, f"library footprint {found.name}")
    if reading.named:
        found = library.get(reading.named)
        if found is not None and _fits(reading, found):
            return Matched(found, False, f"library footprint {found.name}", reading.assumed)
    best = _nearest(reading, library)
    if best is None and reading.family in ("qfp", "tsop", "qfn"):
        reading = _with_usual(reading, library)
        best = _nearest(reading, library)
    if best is not None:
        return Matched(best, False, f"library footprint {best.name}", reading.assumed)
    built = build_footprint(reading)
    if built is None:
        return None
    how = "footprint built from the package name"
    return Matched(built, True, how, _filled_in(reading, built))


def _nearest(reading: PackageReading, library: Library) -> Footprint | None:
    candidates = [f for f in _of_family(library, reading.family or "other_th") if _fits(reading, f)]
    return min(candidates, key=lambda f: _distance(reading, f), default=None)


def _pad_below_is_usual(reading: PackageReading) -> bool:
    """No-lead parts nearly always have an exposed pad, named or not; land grids and the
    smallest parts have not."""
    if reading.family != "qfn" or reading.exposed or (reading.pins or 0) < LEAST_PINS_PAD_BELOW:
        return False
    return "LGA" not in reading.text.upper()


def _with_usual(reading: PackageReading, library: Library) -> PackageReading:
    """The reading with the pad below and the pitch that its pins and body usually have."""
    assumed, exposed = list(reading.assumed), reading.exposed
    if _pad_below_is_usual(reading):
        exposed = 1
        assumed.append("exposed pad under the body, usual for no-lead parts")
    pitch = reading.pitch_mm
    if pitch is None and reading.body is not None:
        pitches = {
            f.pitch_mm
            for f in _of_family(library, reading.family or "qfn")
            if f.pin_count == reading.pins
            and f.has_exposed_pad is bool(exposed)
            and _body_near(reading, f)
        }
        if len(pitches) == 1:
            (pitch,) = pitches
            assumed.append(f"pitch {pitch:g} mm, usual for this body")
    return replace(reading, exposed=exposed, pitch_mm=pitch, assumed=tuple(assumed))


def _filled_in(reading: PackageReading, built: Footprint) -> tuple[str, ...]:
    """What the name did not say and the drawing had to assume."""
    told = list(reading.assumed)
    if reading.pitch_mm is None and built.pitch_mm and not reading.outline and built.pin_count > 2:
        told.append(f"pitch {built.pitch_mm:g} mm")
    spans = [g.row_span_mm for g in built.pads if g.row_span_mm]
    if reading.family in ("axial", "radial", "crystal_th") and reading.pitch_mm is None and spans:
        told.append(f"holes {spans[0]:g} mm apart")
    if reading.family == "dip" and reading.span_mm is None and built.pin_count >= 24 and spans:
        told.append(f"rows {spans[0]:g} mm apart")
    return tuple(dict.fromkeys(told))


def _by_outline(reading: PackageReading, library: Library) -> Footprint | None:
    outline, said = outlines_by_key().get(outline_key(reading.outline or "")), reading.pitch_mm
    if outline is None or (said and outline.pitch_mm and abs(said - outline.pitch_mm) > 0.02):
        return None
    usual_mm = outline.grid_mm or outline.pitch_mm or 0.0
    # More than three leads stand in two rows, whose names give the step of one.
    spread = outline.row == 3 and abs((said or usual_mm) - usual_mm) > 0.3
    apart = said if outline.family == "axial" or spread else None
    for name in outline.names:
        for called in (f"{name}-{apart:g}", name) if apart else (name,):
            found = library.get(called)
            if found is None or abs(found.joint_count - (reading.pins or 0)) > 1:
                continue
            steps = [s for g in found.pads if (s := g.row_span_mm or g.pitch_mm)]
            if apart is None or (steps and abs(steps[0] - apart) < 0.3):
                return found
    return None


def _fits(reading: PackageReading, footprint: Footprint) -> bool:
    if reading.family != footprint.family and not any(
        reading.family in pair and footprint.family in pair for pair in _ALIKE
    ):
        return False
    if reading.chip:
        return _same_chip(reading, footprint)
    if footprint.pin_count != reading.pins:
        return False
    if reading.through_hole is not None and footprint.through_hole != reading.through_hole:
        return False
    if bool(reading.exposed) != footprint.has_exposed_pad:
        return False
    if reading.pins == 2:
        return _same_two(reading, footprint)
    if reading.rows and reading.rows != max(map(_rows, footprint.pads)):
        return False
    if reading.body is not None and usual(footprint.family).lands == "rows_under":
        return _body_near(reading, footprint)
    if reading.pitch_mm is None or footprint.pitch_mm is None:
        return False
    if abs(reading.pitch_mm - footprint.pitch_mm) > 0.011:  # 0.635 is not 0.65
        return False
    return _body_near(reading, footprint) and _span_near(reading, footprint)


def _rows(group: PadGroup) -> int:
    return {"dual": 2, "quad": 4}.get(group.layout, group.rows)


def _same_chip(reading: PackageReading, footprint: Footprint) -> bool:
    chip = chips_by_imperial().get(reading.chip or "")
    if chip is None or footprint.joint_count != 2:
        return False
    if footprint.metric_code:
        return footprint.metric_code.rstrip("M") in chip.metric
    return _body_near(reading, footprint)


def _same_two(reading: PackageReading, footprint: Footprint) -> bool:
    if reading.body is None or ("LED" in footprint.name) != ("LED" in reading.text.upper()):
        return False
    coil = re.match(r"(?:L|IND\w*|CHOKE)[-_ ]", reading.text.rpartition(":")[2].upper())
    if ("INDUCTOR" in footprint.name) != bool(coil) and reading.through_hole:
        return False
    said, drawn = reading.height_mm, footprint.body.height_mm
    if said is not None and abs(said - drawn) > max(0.4, 0.25 * drawn):
        return False
    if reading.through_hole:
        span = next((g.row_span_mm or g.pitch_mm for g in footprint.pads), None)
        if reading.pitch_mm is None or span is None or abs(span - reading.pitch_mm) > 0.15:
            return False
    return _body_near(reading, footprint)


def _body_near(reading: PackageReading, footprint: Footprint) -> bool:
    if reading.body is None:
        return True
    said = sorted(reading.body)
    drawn = sorted((footprint.body.length_mm, footprint.body.width_mm))
    return all(abs(a - b) <= max(0.25, 0.08 * b) for a, b in zip(said, drawn, strict=True))


def _span_near(reading: PackageReading, footprint: Footprint) -> bool:
    if reading.span_mm is None or not reading.through_hole:
        return True
    spans = [g.row_span_mm for g in footprint.pads if g.row_span_mm]
    return not spans or abs(spans[0] - reading.span_mm) < 0.3


def _distance(reading: PackageReading, footprint: Footprint) -> tuple[float, float, str]:
    said = sorted(reading.body) if reading.body else None
    drawn = sorted((footprint.body.length_mm, footprint.body.width_mm))
    off = sum(abs(a - b) for a, b in zip(said, drawn, strict=True)) if said else 0.0
    boxed = re.compile(r"BOX|IDC|SHROUD")
    shroud = float(bool(boxed.search(footprint.name)) != bool(boxed.search(reading.text.upper())))
    return (float(reading.family != footprint.family), off + shroud, footprint.name)
