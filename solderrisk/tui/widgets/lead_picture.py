"""Leads over lands at scale, with the distance a part may sit off its place."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

from solderrisk.model.footprint import Footprint
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.model.outline import PadRect, body_size, lead_rects, pad_rects
from solderrisk.physics.results import Alignment
from solderrisk.tui.dots import Dot, Dots, Row
from solderrisk.tui.widgets.board_map import View
from solderrisk.tui.widgets.lines import Picture
from solderrisk.words import one_line

FEWEST_PADS, MOST_PADS = 6, 24  # neighbours drawn of a long row, so that gaps stay visible
ROOM_FOR_SOURCE = 8  # rows from which on there is room to say what the figures rest on


class LeadPicture(Picture):
    """Sparse dots are lands, full dots are leads, the dashed outline is the lead at the
    edge of what still passes. ``whole`` shows the whole part instead of a few leads."""

    DEFAULT_CSS = """
    LeadPicture {
        width: 1fr;
        height: 1fr;
        & > .leads--land { color: $copper; }
        & > .leads--lead { color: $lead; }
        & > .leads--limit { color: $error; }
        & > .leads--body { color: $quiet; }
        & > .leads--text { color: $quiet; }
    }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "leads--land",
        "leads--lead",
        "leads--limit",
        "leads--body",
        "leads--text",
    }

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.footprint: Footprint | None = None
        self.alignment: Alignment | None = None
        self.whole = False

    def show(self, footprint: Footprint | None, alignment: Alignment | None) -> None:
        if (footprint, alignment) != (self.footprint, self.alignment):
            self.footprint, self.alignment = footprint, alignment
            self.redraw()

    def toggle_whole(self) -> None:
        self.whole = not self.whole
        self.redraw()

    def draw(self, width: int, height: int) -> list[Row]:
        footprint = self.footprint
        if footprint is None:
            return [[("no part chosen", "leads--text")]]
        if width < 24 or height < 4:
            return [[("too small to draw", "leads--text")]]
        rests = [[(one_line(f"rests on: {footprint.source}", width), "leads--text")]]
        rests = rests if height >= ROOM_FOR_SOURCE else []
        surface = Dots(width, height - 2 - len(rests))
        pads, leads = self._chosen(footprint, surface.columns / surface.rows)
        if _is_upright(pads):
            # Screens are wide: a row that runs down is drawn running across.
            pads, leads = [_across(r) for r in pads], [_across(r) for r in leads]
        elif self._shows_all(footprint):
            self._draw_body(surface, View.fit(_box(pads, leads), surface.columns, surface.rows))
        view = View.fit(_box(pads, leads), surface.columns, surface.rows)
        for rect in pads:
            surface.fill(_polygon(view, rect), "leads--land", rank=1, sparse=True)
        for rect in leads:
            surface.fill(_polygon(view, rect), "leads--lead", rank=2)
        self._draw_limit(surface, view, leads or pads)
        rows = [surface.row(y) for y in range(surface.height)]
        return [*rows, *_legend(footprint, self.alignment, view, width, len(leads) > 0), *rests]

    def _shows_all(self, footprint: Footprint) -> bool:
        return self.whole or footprint.joint_count <= 2 * FEWEST_PADS

    def _draw_body(self, surface: Dots, view: View) -> None:
        assert self.footprint is not None
        w, h = body_size(self.footprint)
        outline = view.polygon([(-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2)])
        surface.path([*outline, outline[0]], "leads--body", rank=0, gap=3)

    def _chosen(self, footprint: Footprint, aspect: float) -> tuple[list[PadRect], list[PadRect]]:
        """All pads, or as many neighbours of the finest row as fill the picture."""
        pads, leads = list(pad_rects(footprint)), list(lead_rects(footprint))
        if self._shows_all(footprint):
            return pads, leads
        groups = [group for group in footprint.pads if group.pitch_mm]
        finest = min(groups, key=lambda group: group.pitch_mm or 0.0, default=footprint.pads[0])
        row = [p for p in pads if p.group == finest.name]
        first = row[0]
        room = aspect * 1.2 * finest.land_l_mm / (finest.pitch_mm or finest.land_w_mm)
        most = min(max(int(room), FEWEST_PADS), MOST_PADS)
        near = [
            p
            for p in row
            if min(abs(p.x_mm - first.x_mm), abs(p.y_mm - first.y_mm)) < first.w_mm / 2
        ]
        near.sort(key=lambda p: abs(p.x_mm - first.x_mm) + abs(p.y_mm - first.y_mm))
        numbers = {p.number for p in near[:most]}
        return near[:most], [lead for lead in leads if lead.number in numbers]

    def _draw_limit(self, surface: Dots, view: View, rects: list[PadRect]) -> None:
        if self.alignment is None:
            return
        off = self.alignment.lateral_mm
        # One lead is enough: on all of them the picture would drown.
        for rect in rects[len(rects) // 2 :][:1]:
            across = rect.h_mm < rect.w_mm
            moved = replace(
                rect,
                x_mm=rect.x_mm + (0.0 if across else off),
                y_mm=rect.y_mm + (off if across else 0.0),
            )
            points = _polygon(view, moved)
            surface.path([*points, points[0]], "leads--limit", rank=3, gap=2)


def _is_upright(rects: list[PadRect]) -> bool:
    edges = [rect.bounds for rect in rects]
    left, bottom, right, top = zip(*edges, strict=True)
    return bool(max(top) - min(bottom) > max(right) - min(left))


def _across(rect: PadRect) -> PadRect:
    return replace(rect, x_mm=-rect.y_mm, y_mm=rect.x_mm, w_mm=rect.h_mm, h_mm=rect.w_mm)


def _polygon(view: View, rect: PadRect) -> list[Dot]:
    left, bottom, right, top = rect.bounds
    return view.polygon([(left, bottom), (right, bottom), (right, top), (left, top)])


def _box(pads: list[PadRect], leads: list[PadRect]) -> tuple[float, float, float, float]:
    edges = [rect.bounds for rect in (*pads, *leads)]
    left, bottom, right, top = zip(*edges, strict=True)
    margin = 0.04 * max(max(right) - min(left), max(top) - min(bottom))
    return min(left) - margin, min(bottom) - margin, max(right) + margin, max(top) + margin


def _legend(
    footprint: Footprint, alignment: Alignment | None, view: View, width: int, has_leads: bool
) -> list[Row]:
    scale_mm = _scale_length(width * 2 / view.dots_per_mm / 4)
    cells = max(round(scale_mm * view.dots_per_mm / 2), 2)
    scale: Row = [
        (f"├{'─' * (cells - 2)}┤ {scale_mm:g} mm   ", "leads--text"),
        ("⡪⡪ land ", "leads--land"),
    ]
    if has_leads:
        scale.append((" ⣿⣿ lead ", "leads--lead"))
    if alignment is not None:
        scale.append((" ┄┄ edge of what passes", "leads--limit"))
    facts = []
    if footprint.pitch_mm is not None:
        facts.append(f"pitch {footprint.pitch_mm:g} mm")
    gap_mm = smallest_gap_mm(footprint)
    if gap_mm is not None:
        facts.append(f"gap {gap_mm:.2f} mm")
    if alignment is not None:
        facts.append(f"may sit {alignment.lateral_mm:.2f} mm off")
        facts.append(f"turned {alignment.rotation_deg:.1f}°")
    line = one_line("  ".join(facts) or footprint.name, width)
    return [scale, [(line, "leads--text")]]


def _scale_length(about_mm: float) -> float:
    steps = [m * 10.0**e for e in range(-2, 3) for m in (1, 2, 5)]
    return max((s for s in steps if s <= about_mm), default=steps[0])
