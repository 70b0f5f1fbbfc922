"""Which drawn pads join copper planes, and how: spokes, solid copper, or not at all."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from solderrisk.files.board import BoardReading, Zone, inside
from solderrisk.files.drawing import Drawing
from solderrisk.files.pads import Pad
from solderrisk.model.kit import PlaneLink

USUAL_SPOKES = 4
LARGE_SHARE = 0.05  # a pour under this share of the board is no plane for heat


@dataclass(frozen=True)
class Tie:
    """How one pad is tied to planes."""

    planes: int
    spokes: int
    spoke_w: float
    spoke_gap: float


class PlaneTies:
    """Answers for the pads of one board."""

    def __init__(self, reading: BoardReading) -> None:
        self.reading = reading
        area = reading.board.length_mm * reading.board.width_mm
        self.by_net: dict[str, list[Zone]] = defaultdict(list)
        for zone in reading.zones:
            xs, ys = [p[0] for p in zone.outline], [p[1] for p in zone.outline]
            if (max(xs) - min(xs)) * (max(ys) - min(ys)) >= LARGE_SHARE * area and zone.net:
                self.by_net[zone.net].append(zone)
        self.vias: dict[str, list[tuple[float, float]]] = defaultdict(list)
        for via in reading.vias:
            self.vias[via.net].append((via.x, via.y))
        self.limit = reading.board.copper_layers

    def ties(self, drawing: Drawing) -> dict[str, Tie]:
        """Pad number to its tie, for the pads that join a plane."""
        found: dict[str, Tie] = {}
        for pad in drawing.pads:
            if not pad.number or pad.net not in self.by_net or not pad.copper:
                continue
            tie = self._tie(drawing, pad)
            if tie is not None and (
                pad.number not in found or found[pad.number].planes < tie.planes
            ):
                found[pad.number] = tie
        return found

    def _tie(self, drawing: Drawing, pad: Pad) -> Tie | None:
        x, y = _place(drawing, pad)
        through = pad.type == "hole"
        own = "B.Cu" if drawing.side == "bottom" else "F.Cu"
        reach_all = through or self._vias_under(drawing, pad, x, y)
        planes, connects = 0, []
        for zone in self.by_net[pad.net]:
            layers = zone.layers if reach_all else zone.layers & {own}
            if layers and inside(zone.outline, x, y):
                planes += len(layers)
                connects.append(zone)
        if not planes:
            return None
        zone = connects[0]
        mode = pad.connect if pad.connect is not None else drawing.connect
        mode = zone.connect if mode is None else mode
        if mode == 0 and not (reach_all and not through):
            return None
        solid = mode == 2 or (mode == 3 and not through) or (reach_all and not through)
        return Tie(
            planes=min(planes, self.limit),
            spokes=0 if solid else USUAL_SPOKES,
            spoke_w=pad.spoke_w or zone.spoke_w,
            spoke_gap=pad.spoke_gap or zone.spoke_gap,
        )

    def _vias_under(self, drawing: Drawing, pad: Pad, x: float, y: float) -> bool:
        """Vias in a large land carry its heat to every plane of its net."""
        if pad.type != "smd" or pad.area < 1.0:
            return False
        half = max(pad.w, pad.h) / 2
        near = self.vias.get(pad.net, ())
        own = sum(q.type == "hole" and q.number == pad.number for q in drawing.pads)
        return own > 0 or any(abs(vx - x) < half and abs(vy - y) < half for vx, vy in near)


def _place(drawing: Drawing, pad: Pad) -> tuple[float, float]:
    """A pad's place in the board file's coordinates."""
    angle = math.radians(-drawing.angle)
    y = -pad.y if drawing.side == "bottom" else pad.y
    x_turned = pad.x * math.cos(angle) - y * math.sin(angle)
    y_turned = pad.x * math.sin(angle) + y * math.cos(angle)
    return drawing.x + x_turned, drawing.y + y_turned


def links_of(ties: Iterable[Tie], groups: Iterable[str]) -> tuple[PlaneLink, ...]:
    """One link for every tied group: the heaviest tie speaks for all of them."""
    heaviest = max(ties, key=lambda t: (t.planes, -t.spokes), default=None)
    if heaviest is None:
        return ()
    return tuple(
        PlaneLink(
            group=group,
            planes=heaviest.planes,
            spokes=heaviest.spokes,
            spoke_w_mm=max(round(heaviest.spoke_w, 3), 0.01),
            spoke_gap_mm=max(round(heaviest.spoke_gap, 3), 0.01),
        )
        for group in groups
    )
