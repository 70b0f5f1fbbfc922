"""Fabrication files as sources of a draft: pads by reference become drawings."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

from solderrisk.draft.pile import Pile, place_mm
from solderrisk.model.draft import Part, ref_prefix
from solderrisk.model.footprint import Footprint
from solderrisk.model.library import Library
from solderrisk.packages.drawn import footprint_of
from solderrisk.packages.pads import Drawing, Pad
from solderrisk.readers.reading import SeenHole, SeenPad
from solderrisk.readers.refs import clean_ref

SAME_PLACE = 0.06  # mm; a hole this near to a pad's centre belongs to it


def seen_parts(pile: Pile, library: Library) -> list[Part]:
    """Parts from pads: place, side, number of pads and a footprint drawn from them."""
    by_ref: dict[str, list[tuple[SeenPad, Path]]] = defaultdict(list)
    for pad, path in pile.seen:
        ref = clean_ref(pad.ref)
        if ref:
            by_ref[ref].append((pad, path))
    holes = _by_place(pile.holes)
    parts: list[Part] = []
    made: dict[tuple[object, ...], Footprint | None] = {}
    for ref, seen in by_ref.items():
        unique = _once([pad for pad, _ in seen])
        first, path = seen[0]
        x = sum(p.x_mm for p in unique) / len(unique)
        y = sum(p.y_mm for p in unique) / len(unique)
        footprint = _drawn(ref, unique, (x, y), holes, library, made)
        parts.append(
            Part(
                ref=ref,
                source=f"{path}:{first.line}",
                side="top" if any(p.top for p in unique) else "bottom",
                x_mm=place_mm(x),
                y_mm=place_mm(y),
                seen=footprint,
                pads=len({p.pin for p in unique}),
            )
        )
    return parts


def _once(pads: list[SeenPad]) -> list[SeenPad]:
    """Pads through the board appear on several layers."""
    found: dict[tuple[str, int, int], SeenPad] = {}
    for pad in pads:
        key = (pad.pin, round(pad.x_mm * 50), round(pad.y_mm * 50))
        known = found.get(key)
        if known is None or pad.w_mm * pad.h_mm > known.w_mm * known.h_mm:
            found[key] = pad
    return list(found.values())


def _by_place(holes: list[SeenHole]) -> dict[tuple[int, int], list[SeenHole]]:
    table: dict[tuple[int, int], list[SeenHole]] = defaultdict(list)
    for hole in holes:
        table[round(hole.x_mm), round(hole.y_mm)].append(hole)
    return table


def _hole_at(table: dict[tuple[int, int], list[SeenHole]], pad: SeenPad) -> float:
    if pad.hole_mm:
        return pad.hole_mm
    for dx in (-1, 0, 1):
        for dy in (-1, 0, 1):
            for hole in table.get((round(pad.x_mm) + dx, round(pad.y_mm) + dy), ()):
                near = (
                    abs(hole.x_mm - pad.x_mm) < SAME_PLACE
                    and abs(hole.y_mm - pad.y_mm) < SAME_PLACE
                )
                if near and hole.plated is not False and hole.d_mm < max(pad.w_mm, pad.h_mm):
                    return hole.d_mm
    return 0.0


def _drawn(
    ref: str,
    pads: list[SeenPad],
    centre: tuple[float, float],
    holes: dict[tuple[int, int], list[SeenHole]],
    library: Library,
    made: dict[tuple[object, ...], Footprint | None],
) -> Footprint | None:
    drawn = []
    for pad in pads:
        if pad.w_mm <= 0 or pad.h_mm <= 0:
            continue
        hole = _hole_at(holes, pad)
        drawn.append(
            Pad(
                pad.pin,
                "hole" if hole else "smd",
                round(pad.x_mm - centre[0], 3),
                round(centre[1] - pad.y_mm, 3),
                pad.w_mm,
                pad.h_mm,
                hole,
            )
        )
    if not drawn:
        return None
    prefix = ref_prefix(ref)
    key = (prefix, tuple(sorted((p.number, p.x, p.y, p.w, p.h, p.drill) for p in drawn)))
    if key not in made:
        name = f"SEEN-{prefix or 'X'}-{len(drawn)}-{len(made) + 1}"
        drawing = Drawing(
            name,
            ref,
            "",
            1,
            0.0,
            0.0,
            0.0,
            "top",
            tuple(drawn),
            None,
            (0.0, 0.0),
            frozenset(),
            None,
            "",
        )
        found = footprint_of(drawing, library)
        source = "assumed: pads as in the fabrication files; body, height and heat estimated"
        made[key] = found.footprint.model_copy(update={"source": source}) if found else None
    return made[key]
