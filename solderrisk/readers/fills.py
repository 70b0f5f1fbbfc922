"""The filled areas of copper pours: measured in the text, as their points are many."""

from __future__ import annotations

import re
from collections import defaultdict
from math import isfinite

from solderrisk.readers.drawing import Node
from solderrisk.readers.reading import Points, Zone

_FILLED, _POINTS = "(filled_polygon", "(pts"
_LAYER = re.compile(r'\(layer\s+"?([^\s")]+)')
_POINT = re.compile(r"\(xy\s+([-+.\de]+)\s+([-+.\de]+)\s*\)")
_END = re.compile(r"\)\s*\)\s*\)")
_HEAD = 400  # characters between the word and its points


def measured(text: str) -> str:
    """The text with one short list, layer and mm², in place of each filled polygon; lines
    keep their numbers."""
    pieces, done = [], 0
    while (start := text.find(_FILLED, done)) >= 0:
        points = text.find(_POINTS, start, start + _HEAD)
        end = _END.search(text, points) if points >= 0 else None
        if end is None:
            break
        layer = _LAYER.search(text, start, points)
        area = _area(text[points : end.end()])
        lines = "\n" * text.count("\n", start, end.end())
        pieces.append(text[done:start])
        pieces.append(f'(fill_area "{layer[1] if layer else ""}" {area:.4f}){lines}')
        done = end.end()
    return "".join((*pieces, text[done:]))


def _area(text: str) -> float:
    try:
        area = abs(polygon_area(tuple((float(x), float(y)) for x, y in _POINT.findall(text))))
    except ValueError:
        return 0.0
    return area if isfinite(area) else 0.0


def filled(zone: Node, layers: frozenset[str]) -> tuple[tuple[str, float], ...]:
    """Layer and mm² of what is filled of a zone; nothing where it is not filled."""
    areas: dict[str, float] = defaultdict(float)
    for item in zone.each("fill_area"):
        areas[item.text(1) or min(layers)] += item.number(2)
    return tuple(sorted(areas.items()))


def plane_covers(copper: tuple[str, ...], zones: tuple[Zone, ...], area: float) -> dict[str, float]:
    """Share of the board that the largest net's pours cover, layer by layer: what is filled
    of them, or their outline where nothing is."""
    covers: dict[str, float] = {}
    for layer in copper:
        by_net: dict[str, float] = defaultdict(float)
        for zone in zones:
            if layer in zone.layers:
                drawn = abs(polygon_area(zone.outline))
                by_net[zone.net] += dict(zone.filled).get(layer, 0.0) if zone.filled else drawn
        covers[layer] = min(max(by_net.values(), default=0.0) / max(area, 1.0), 1.0)
    return covers


def polygon_area(points: Points) -> float:
    """Signed area by the shoelace formula."""
    total = 0.0
    for (x1, y1), (x2, y2) in zip(points, (*points[1:], *points[:1]), strict=True):
        total += x1 * y2 - x2 * y1
    return total / 2
