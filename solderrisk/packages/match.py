"""From a reading to a footprint: the library's where it has one, else one that is built."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from solderrisk.model.footprint import Family, Footprint, PadGroup
from solderrisk.model.library import Library
from solderrisk.packages.build import build_footprint
from solderrisk.packages.reading import PackageReading, tidy
from solderrisk.packages.tables import chips_by_imperial, outline_key, outlines_by_key, usual

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
    outline = outlines_by_key().get(outline_key(reading.outline or ""))
    if outline is None or (
        reading.pitch_mm and outline.pitch_mm and abs(reading.pitch_mm - outline.pitch_mm) > 0.02
    ):
        return None
    apart = reading.pitch_mm if outline.family == "axial" else None
    for name in outline.names:
        for called in (f"{name}-{apart:g}", name) if apart else (name,):
            found = library.get(called)
            if found is None or abs(found.joint_count - (reading.pins or 0)) > 1:
                continue
            spans = [g.row_span_mm for g in found.pads if g.row_span_mm]
            if apart is None or (spans and abs(spans[0] - apart) < 0.3):
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
