"""From drawn pads to a footprint of our own: groups of pads, body, heat figures.

Pads, holes and the body's outline come from the drawing. Height, leads and heat limits are
not drawn: they come from the library's part of the same name, or from the family's usual
figures, and the source says so.
"""

from __future__ import annotations

import math
import re
import statistics
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from solderrisk.model.draft import ref_prefix
from solderrisk.model.footprint import (
    Body,
    Family,
    FamilyUsual,
    Footprint,
    HeatLimit,
    Lead,
    PadGroup,
    PadKind,
)
from solderrisk.model.lands import land_gaps
from solderrisk.model.library import Library
from solderrisk.packages.match import match
from solderrisk.packages.names import read_package
from solderrisk.packages.pads import Drawing, Pad, PadGeometry, geometry, keyed, smallest_gap
from solderrisk.packages.reading import Hint, PackageReading
from solderrisk.packages.tables import by_letters, default, usual

MAX_GROUPS = 10
NEAR_MM = 1.0  # solder does not reach over wider gaps
_TH: dict[Family, Family] = {"chip": "radial", "led_smd": "radial", "crystal_smd": "crystal_th"}


@dataclass(frozen=True)
class Drawn:
    """A footprint and what the pads of its reading were."""

    footprint: Footprint
    geometry: PadGeometry
    reading: PackageReading


def joined_lands(drawing: Drawing, footprint: Footprint) -> tuple[tuple[int, ...], ...]:
    """Lands of one pin or one net whose gap would count otherwise, by their numbers."""
    cx, cy = drawing.centre
    at = {_spot(p, cx, cy): p for p in drawing.pads if p.copper and p.type != "bare_hole"}
    by_net: dict[str, list[int]] = defaultdict(list)
    number = 0
    for group in footprint.pads:
        for spot in group.at or [None] * group.count:
            number += 1
            pad = at.get(spot) if spot is not None else None
            if pad is not None and (pad.net or pad.number):
                by_net[pad.net or f"pin {pad.number}"].append(number)
    joined = tuple(tuple(lands) for lands in by_net.values() if len(lands) > 1)
    near = Counter(g.gap_mm for g in land_gaps(footprint) if g.gap_mm < NEAR_MM)
    apart = Counter(g.gap_mm for g in land_gaps(footprint, joined) if g.gap_mm < NEAR_MM)
    return joined if near != apart else ()


def is_staggered_transistor(name: str) -> bool:
    """Outlines that state the pitch of one of two staggered rows."""
    return name.upper().startswith(("TO-", "SIP")) or "_TO-" in name.upper()


def footprint_of(
    drawing: Drawing,
    library: Library,
    tied: frozenset[str] = frozenset(),
    label: str = "",
    where: str = "board file",
) -> Drawn | None:
    """The footprint of a drawing; None where it has no pad to solder.

    ``tied`` are the numbers of pads on copper planes; they make a group of their own, so
    that their heat is reckoned apart. ``label`` goes to the name of such a variant.
    """
    shape = geometry(drawing.pads, one_row=is_staggered_transistor(drawing.bare_name))
    if not shape.pin_pads and not shape.mounts and not shape.exposed:
        return None
    prefix = ref_prefix(drawing.ref)
    reading = read_package(drawing.bare_name, Hint(prefix, drawing.description))
    family = _family(reading, shape, prefix)
    facts = usual(family)
    groups = _groups(drawing, shape, facts, family, tied)
    if not groups:
        return None
    known = _library_part(drawing, reading, shape, library)
    body = _body(drawing, shape, facts, known)
    name = _plain_name(drawing.bare_name) + (f" ({label})" if label else "")
    orientation = known.orientation if known is not None else _orientation(facts, shape, family)
    footprint = Footprint(
        name=name,
        family=family,
        pads=tuple(groups),
        body=body,
        heat=known.heat if known is not None else _heat(facts, shape),
        orientation="none" if _keyed(shape, body, facts) else orientation,
        mark=known.mark if known is not None else "",
        moisture_level=known.moisture_level if known is not None else None,
        hand_iron=known.hand_iron if known is not None else facts.hand_iron,
        metric_code=known.metric_code if known is not None else None,
        source=_source(known, where),
    )
    return Drawn(footprint, shape, reading)


def _source(known: Footprint | None, where: str) -> str:
    like = "estimated from the family" if known is None else f"as for {known.name}"
    return f"assumed: pads as drawn in the {where}; height and heat {like}"[:400]


def _library_part(
    drawing: Drawing, reading: PackageReading, shape: PadGeometry, library: Library
) -> Footprint | None:
    """The library's part of this name, if its pins agree with the drawn ones."""
    if reading.state != "unknown" and reading.pins == shape.pins:
        found = match(reading, library)
        if found is not None and not found.own:
            return found.footprint
    on_boards = library.as_on_boards(drawing.bare_name.upper())
    if on_boards is None or on_boards.through_hole != shape.through_hole:
        return None
    pads = len(shape.pin_pads)
    return on_boards if on_boards.pin_count in (shape.pins, pads) else None


def _family(reading: PackageReading, shape: PadGeometry, prefix: str) -> Family:
    family = reading.family
    if family is not None and reading.state != "unknown":
        facts = usual(family)
        if shape.through_hole and facts.hole is None:
            return _TH.get(family, "other_th")
        if not shape.through_hole and facts.smd is None:
            return "other_smd"
        return family
    count = len(shape.pin_pads)
    if shape.through_hole:
        chosen = by_letters(prefix, through=True) or "other_th"
        return chosen if count <= 3 or chosen not in ("axial", "radial", "to_th") else "other_th"
    if shape.exposed and prefix in ("U", "IC"):
        return "qfn"
    chosen = by_letters(prefix, through=False) or "other_smd"
    if count > 2 and chosen in ("chip", "moulded_cap", "led_smd", "inductor_smd"):
        return "other_smd"
    return "other_smd" if chosen == "sot" and count > 6 else chosen


def _heat(facts: FamilyUsual, shape: PadGeometry) -> HeatLimit:
    return facts.heat().model_copy(
        update={"source": "assumed: estimated from family, body and copper"}
    )


def _keyed(shape: PadGeometry, body: Body, facts: FamilyUsual) -> bool:
    longer, shorter = max(body.length_mm, body.width_mm), min(body.length_mm, body.width_mm)
    return not facts.bends and keyed(shape, square=longer < 1.05 * shorter)


def _orientation(facts: FamilyUsual, shape: PadGeometry, family: Family):  # type: ignore[no-untyped-def]
    if facts.pin_one and shape.pins > 2:
        return "pin_one"
    return "polarity" if facts.polarity else "none"


def _body(
    drawing: Drawing, shape: PadGeometry, facts: FamilyUsual, known: Footprint | None
) -> Body:
    pads = [*shape.pin_pads, *shape.exposed, *shape.mounts]
    w = max(p.x + p.w / 2 for p in pads) - min(p.x - p.w / 2 for p in pads)
    h = max(p.y + p.h / 2 for p in pads) - min(p.y - p.h / 2 for p in pads)
    size = drawing.body or (max(0.8 * w, 0.2), max(0.8 * h, 0.2))
    size = (min(size[0], 1900.0), min(size[1], 1900.0))
    if known is not None:
        return known.body.model_copy(
            update={"length_mm": round(size[0], 3), "width_mm": round(size[1], 3)}
        )
    # A flat part cannot be higher than it is wide by much.
    height = min(facts.height_mm, max(max(size) * 1.5, 0.2))
    return Body(
        length_mm=round(size[0], 3),
        width_mm=round(size[1], 3),
        height_mm=round(height, 3),
        material=facts.material,
    )


def _groups(
    drawing: Drawing,
    shape: PadGeometry,
    facts: FamilyUsual,
    family: Family,
    tied: frozenset[str],
) -> list[PadGroup]:
    cx, cy = drawing.centre
    groups: list[PadGroup] = []
    pins = shape.pin_pads
    if len(pins) == 2 and not tied and _alike(pins):
        groups.append(_ends(pins, facts, cx, cy))
    else:
        groups += _pin_groups(pins, facts, tied, cx, cy)
    exposed = [p for p in shape.exposed if p.area > 0]
    for index, pad in enumerate(exposed[:6]):
        groups.append(
            PadGroup(
                name="exposed" if not index else f"exposed{index + 1}",
                kind="exposed",
                count=1,
                layout="explicit",
                at=(_spot(pad, cx, cy),),
                turned=(1,),
                land_w_mm=_mm(pad.h),
                land_l_mm=_mm(pad.w),
                tied=True,
            )
        )
    groups += _mount_groups(shape.mounts, cx, cy)
    return groups


def _alike(pins: Sequence[Pad]) -> bool:
    a, b = pins
    return abs(a.w - b.w) < 0.05 and abs(a.h - b.h) < 0.05 and abs(a.drill - b.drill) < 0.05


def _ends(pins: Sequence[Pad], facts: FamilyUsual, cx: float, cy: float) -> PadGroup:
    a, b = pins
    along_x = abs(a.x - b.x) >= abs(a.y - b.y)
    span = ((a.x - b.x) ** 2 + (a.y - b.y) ** 2) ** 0.5
    width, length = (a.h, a.w) if along_x else (a.w, a.h)
    kind = _kind(a, facts)
    return PadGroup(
        name="ends",
        kind=kind,
        count=2,
        layout="ends" if span > 0.05 else "explicit",
        at=() if span > 0.05 else (_spot(a, cx, cy), _spot(b, cx, cy)),
        row_span_mm=_mm(span) if span > 0.05 else None,
        land_w_mm=_mm(width),
        land_l_mm=_mm(length),
        hole_mm=_mm(a.drill) if a.drill else None,
        slot_w_mm=_mm(a.slot) if a.slot else None,
        square=_square(pins) if math.isclose(_mm(width), _mm(length)) else (),
        lead=_lead(kind, a, facts, width),
    )


def _pin_groups(
    pins: Sequence[Pad], facts: FamilyUsual, tied: frozenset[str], cx: float, cy: float
) -> list[PadGroup]:
    """Pads of one shape and one standing towards planes make one group."""
    classes: dict[tuple[object, ...], list[Pad]] = defaultdict(list)
    for pad in pins:
        across, along = _across(pad, cx, cy)
        key = (pad.number in tied, pad.type, round(across, 1), round(along, 1), round(pad.drill, 1))
        classes[key].append(pad)
    if len(classes) > MAX_GROUPS:
        coarse: dict[tuple[object, ...], list[Pad]] = defaultdict(list)
        for pad in pins:
            coarse[pad.number in tied, pad.type].append(pad)
        classes = coarse
    groups: list[PadGroup] = []
    used: dict[str, int] = defaultdict(int)
    for each, pads in classes.items():
        base = "plane" if each[0] else "pins"
        used[base] += 1
        name = base if used[base] == 1 else f"{base}{used[base]}"
        groups.append(_explicit(name, pads, facts, cx, cy, bool(each[0])))
    return groups


def _explicit(
    name: str, pads: list[Pad], facts: FamilyUsual, cx: float, cy: float, tied: bool
) -> PadGroup:
    sizes = [_across(p, cx, cy) for p in pads]
    width, length = statistics.median(s[0] for s in sizes), statistics.median(s[1] for s in sizes)
    gap = smallest_gap(pads)
    pad = pads[0]
    kind = _kind(pad, facts)
    drill = statistics.median(p.drill for p in pads)
    slot = pad.slot if pad.slot and pad.slot <= drill else 0.0
    return PadGroup(
        name=name,
        kind=kind,
        count=len(pads),
        layout="explicit",
        at=tuple(_spot(p, cx, cy) for p in pads),
        turned=tuple(n for n, p in enumerate(pads, 1) if _outward_x(p, cx, cy)),
        square=_square(pads) if math.isclose(_mm(width), _mm(length)) else (),
        # The step of the row is what leaves the gap that is drawn.
        pitch_mm=_mm(width + gap) if gap is not None and len(pads) > 1 and gap < 20 else None,
        land_w_mm=_mm(width),
        land_l_mm=_mm(length),
        hole_mm=_mm(drill) if drill else None,
        slot_w_mm=_mm(slot) if slot else None,
        lead=_lead(kind, pad, facts, width),
        tied=tied,
    )


def _square(pads: Sequence[Pad]) -> tuple[int, ...]:
    return tuple(n for n, pad in enumerate(pads, 1) if pad.type == "hole" and not pad.round)


def _mount_groups(mounts: Sequence[Pad], cx: float, cy: float) -> list[PadGroup]:
    classes: dict[tuple[object, ...], list[Pad]] = defaultdict(list)
    for pad in mounts:
        classes[pad.type == "hole", round(pad.w, 1), round(pad.h, 1)].append(pad)
    groups = []
    for index, pads in enumerate(list(classes.values())[:6]):
        pad = pads[0]
        through = pad.type == "hole" and pad.drill > 0
        groups.append(
            PadGroup(
                name="mount" if not index else f"mount{index + 1}",
                kind="lug" if through else "tab",
                count=len(pads),
                layout="explicit",
                at=tuple(_spot(p, cx, cy) for p in pads),
                turned=tuple(n for n, p in enumerate(pads, 1) if p.w > p.h),
                land_w_mm=_mm(min(pad.w, pad.h)),
                land_l_mm=_mm(max(pad.w, pad.h)),
                hole_mm=_mm(pad.drill) if through else None,
                slot_w_mm=_mm(pad.slot) if through and pad.slot else None,
            )
        )
    return groups


def _kind(pad: Pad, facts: FamilyUsual) -> PadKind:
    if pad.type == "hole" and pad.drill > 0:
        wide = pad.drill >= 1.8 and (pad.slot or pad.drill >= 2.6)
        return "lug" if wide or facts.hole == "lug" else "through_hole"
    if pad.type == "edge":
        return "wire"
    return facts.smd or "tab"


def _lead(kind: PadKind, pad: Pad, facts: FamilyUsual, land_w: float) -> Lead | None:
    if kind in ("through_hole", "lug"):
        hole = pad.slot or pad.drill
        width = max(min(facts.lead_w_mm or facts.lead_mm, 0.8 * hole), 0.1)
        return Lead(
            width_mm=_mm(width),
            thickness_mm=_mm(min(facts.lead_mm, width)),
            round=facts.round,
            length_mm=2.0,
        )
    if kind in ("gull_wing", "j_lead"):
        return Lead(
            width_mm=_mm(0.75 * land_w), thickness_mm=facts.lead_mm, foot_mm=default("foot_mm")
        )
    return None


def _across(pad: Pad, cx: float, cy: float) -> tuple[float, float]:
    """Width along the row and length outward from the body."""
    return (pad.h, pad.w) if _outward_x(pad, cx, cy) else (pad.w, pad.h)


def _outward_x(pad: Pad, cx: float, cy: float) -> bool:
    alike = abs(pad.w - pad.h) < 0.01
    return not alike and abs(pad.x - cx) >= abs(pad.y - cy)


def _spot(pad: Pad, cx: float, cy: float) -> tuple[float, float]:
    return (round(pad.x - cx, 3) + 0.0, round(cy - pad.y, 3) + 0.0)


def _mm(value: float) -> float:
    return max(round(min(value, 1900.0), 3), 0.01)


def _plain_name(text: str) -> str:
    return re.sub(r"[^\w.+ ()~-]+", "-", text)[:120].strip("- ") or "unnamed"
