"""Drawn to scale: one footprint, or a whole board."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.kit import Board, Side
from solderrisk.model.lands import smallest_gap_mm
from solderrisk.model.library import Search
from solderrisk.model.outline import (
    Box,
    PadRect,
    Point,
    board_box,
    body_outline,
    body_size,
    bounds,
    pad_rects,
    placed,
)
from solderrisk.report.pictures import Html, box, el, picture, shape, words_at
from solderrisk.report.words import BAND_STEPS, BANDS, BLOCKED, Band, band_of
from solderrisk.risk.results import JobRisk

WIDTH, MOST_ROWS = 78, 22
CELL_ASPECT = 2.0  # a terminal's cell is about twice as high as it is wide
LAND, HOLE, PIN_ONE = "▒", "o", "1"
_STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)
_MOST_ALIASES, _MOST_OTHERS = 12, 8


def footprint_card(footprint: Footprint, others: Sequence[Footprint] = ()) -> str:
    """Picture and figures, at most 78 columns wide, and the names of ``others``."""
    rest = ", ".join([f.name for f in others if f is not footprint][:_MOST_OTHERS])
    heading = f"{footprint.name}: {footprint.title or footprint.family}"
    return "\n".join(
        [
            *textwrap.wrap(heading, WIDTH),
            "",
            *_picture(footprint),
            "",
            *_figures(footprint),
            *(_row("near it", rest) if rest else []),
        ]
    )


def footprint_svg(footprint: Footprint) -> str:
    """The same picture as a file of its own, one unit per mm; holes are white, pin one is dark."""
    left, bottom, right, top = bounds(footprint)
    margin = 1.0
    along_x, along_y = body_size(footprint)
    shapes = [
        _rect(-along_x / 2, -along_y / 2, along_x, along_y, fill="none", stroke="#14181d"),
        *(_land(rect, first=rect.number == 1) for rect in pad_rects(footprint)),
        *(_hole(rect) for rect in pad_rects(footprint) if rect.hole_mm),
    ]
    width, height = right - left + 2 * margin, top - bottom + 2 * margin
    said = el("title", f"{footprint.name}: {footprint.title}; {footprint.source}")
    return str(
        el(
            "svg",
            said,
            *shapes,
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"{left - margin:.3f} {-top - margin:.3f} {width:.3f} {height:.3f}",
            width=f"{width:.3f}mm",
            height=f"{height:.3f}mm",
        )
    )


def _rect(left: float, bottom: float, wide: float, high: float, **look: str) -> Html:
    corner = {"x": f"{left:.3f}", "y": f"{-bottom - high:.3f}"}
    return el(
        "rect", **corner, width=f"{wide:.3f}", height=f"{high:.3f}", stroke_width="0.1", **look
    )


def _land(rect: PadRect, *, first: bool) -> Html:
    fill = "#8a4b1f" if first else "#d9a066"
    if rect.round:
        return _circle(rect, rect.w_mm / 2, fill)
    left, bottom, _, _ = rect.bounds
    return _rect(left, bottom, rect.w_mm, rect.h_mm, fill=fill)


def _hole(rect: PadRect) -> Html:
    long_mm, narrow_mm = rect.hole_mm or 0.0, rect.slot_mm or rect.hole_mm or 0.0
    if long_mm == narrow_mm:
        return _circle(rect, long_mm / 2, "white")
    w, h = (narrow_mm, long_mm) if rect.h_mm > rect.w_mm else (long_mm, narrow_mm)
    radius = f"{narrow_mm / 2:.3f}"
    return _rect(rect.x_mm - w / 2, rect.y_mm - h / 2, w, h, fill="white", rx=radius)


def _circle(rect: PadRect, radius: float, fill: str) -> Html:
    return el("circle", cx=f"{rect.x_mm:.3f}", cy=f"{-rect.y_mm:.3f}", r=f"{radius:.3f}", fill=fill)


def found_text(search: Search) -> str:
    """What a search found, closest first, and what it left out to find it."""
    lines = [
        f"{footprint.name:30s} {footprint.pin_count:4d} pins  {footprint.title}"
        for footprint in search.found
    ]
    if search.left_out:
        words = ", ".join(search.left_out)
        near = f"; near: {', '.join(search.near)}" if search.near else ""
        lines.insert(0, f"nothing has {words!r} as well{near}; without it:")
    return "\n".join(lines)


def _picture(footprint: Footprint) -> list[str]:
    """Lands, holes and the body's outline to scale, seen from above; 1 is pin one."""
    left, bottom, right, top = bounds(footprint)
    mm_per_column = max(
        (right - left) / (WIDTH - 4), (top - bottom) / (MOST_ROWS - 1) / CELL_ASPECT, 0.02
    )
    grid = _Grid((left, top), mm_per_column, right - left, top - bottom)
    along_x, along_y = body_size(footprint)
    grid.outline(-along_x / 2, -along_y / 2, along_x / 2, along_y / 2)
    rects = pad_rects(footprint)
    for rect in rects:
        grid.fill(rect)
    for rect in rects:
        if rect.hole_mm:
            grid.hole(rect)
    grid.put(rects[0].x_mm, rects[0].y_mm, PIN_ONE)
    return [*grid.text(), _scale(mm_per_column)]


def _scale(mm_per_column: float) -> str:
    length = next((step for step in _STEPS if step / mm_per_column >= 8), _STEPS[-1])
    dashes = "─" * max(round(length / mm_per_column) - 2, 1)
    return f"├{dashes}┤ {length:g} mm   {LAND} land  {HOLE} hole  {PIN_ONE} pin one  ─ body"


class _Grid:
    """Cells of a terminal over millimetres; x points right, y up."""

    def __init__(
        self, corner: tuple[float, float], mm_per_column: float, wide_mm: float, high_mm: float
    ) -> None:
        self._left, self._top = corner
        self._column, self._row = mm_per_column, mm_per_column * CELL_ASPECT
        columns, rows = round(wide_mm / self._column) + 1, round(high_mm / self._row) + 1
        self._cells = [[" "] * columns for _ in range(rows)]

    def _cell(self, x_mm: float, y_mm: float) -> tuple[int, int]:
        row = min(max(round((self._top - y_mm) / self._row), 0), len(self._cells) - 1)
        column = round((x_mm - self._left) / self._column)
        return row, min(max(column, 0), len(self._cells[0]) - 1)

    def put(self, x_mm: float, y_mm: float, sign: str) -> None:
        row, column = self._cell(x_mm, y_mm)
        self._cells[row][column] = sign

    def fill(self, rect: PadRect) -> None:
        left, bottom, right, top = rect.bounds
        first, start = self._cell(left + self._column / 2, top - self._row / 2)
        last, end = self._cell(right - self._column / 2, bottom + self._row / 2)
        if first > last or start > end:  # smaller than a cell
            first, start = last, end = self._cell(rect.x_mm, rect.y_mm)
        for row in range(first, last + 1):
            self._cells[row][start : end + 1] = LAND * (end + 1 - start)

    def hole(self, rect: PadRect) -> None:
        """A round hole, or a slot along the longer side of its land."""
        long_mm, narrow_mm = rect.hole_mm or 0.0, rect.slot_mm or rect.hole_mm or 0.0
        half_x, half_y = long_mm / 2, narrow_mm / 2
        if rect.h_mm > rect.w_mm:
            half_x, half_y = half_y, half_x
        self.put(rect.x_mm, rect.y_mm, HOLE)
        for row, cells in enumerate(self._cells):
            y = (self._top - row * self._row - rect.y_mm) / half_y
            for column in range(len(cells)) if abs(y) < 1 else ():
                x = (self._left + column * self._column - rect.x_mm) / half_x
                if x * x + y * y < 1:
                    cells[column] = HOLE

    def outline(self, left: float, bottom: float, right: float, top: float) -> None:
        first, start = self._cell(left, top)
        last, end = self._cell(right, bottom)
        for row in (first, last):
            self._cells[row][start : end + 1] = "─" * (end + 1 - start)
        for row in range(first, last + 1):
            self._cells[row][start] = self._cells[row][end] = "│"
        for row, one, other in ((first, "┌", "┐"), (last, "└", "┘")):
            self._cells[row][start], self._cells[row][end] = one, other

    def text(self) -> list[str]:
        return ["".join(row).rstrip() for row in self._cells]


def _figures(footprint: Footprint) -> list[str]:
    body, heat = footprint.body, footprint.heat
    gap_mm = smallest_gap_mm(footprint)
    size = f"{body.length_mm:g} x {body.width_mm:g} x {body.height_mm:g} mm high"
    weight = f", {body.mass_g:g} g" if body.mass_g is not None else ""
    softens = f", softens at {heat.softens_c:g} C" if heat.softens_c is not None else ""
    rows = [
        ("family", f"{footprint.family}, {footprint.pin_count} pins"),
        *((group.name, _group(group)) for group in footprint.pads),
        ("smallest gap", f"{gap_mm:.2f} mm" if gap_mm is not None else ""),
        ("body", f"{size}, {body.material} {body.shape}{weight}"),
        (
            "bears",
            f"body {heat.body_c:g} C for {heat.body_s:g} s, tip {heat.iron_c:g} C for "
            f"{heat.iron_s:g} s{softens}; a data sheet goes first",
        ),
        ("moisture level", footprint.moisture_level or ""),
        ("mark", footprint.mark),
        ("also called", ", ".join(footprint.aliases[:_MOST_ALIASES])),
        ("rests on", footprint.source),
        ("drawing", f"{footprint.drawing}, open footprint library" if footprint.drawing else ""),
        ("heat limits", footprint.heat.source),
    ]
    return [line for label, said in rows if said for line in _row(label, said)]


def _group(group: PadGroup) -> str:
    kind = group.kind.replace("_", " ")
    parts = [f"{group.count} x {kind}, land {group.land_w_mm:g} x {group.land_l_mm:g} mm"]
    if group.hole_mm is not None:
        slot = f" x {group.slot_w_mm:g}" if group.slot_w_mm is not None else ""
        parts.append(f"hole {group.hole_mm:g}{slot} mm")
    if group.pitch_mm is not None:
        parts.append(f"pitch {group.pitch_mm:g} mm")
    if group.row_span_mm is not None:
        parts.append(f"rows {group.row_span_mm:g} mm apart")
    if group.lead is not None:
        lead = group.lead
        section = (
            f"{lead.width_mm:g}" if lead.round else f"{lead.width_mm:g} x {lead.thickness_mm:g}"
        )
        parts.append(f"lead {section} mm")
    return ", ".join(parts)


def _row(label: str, said: str) -> list[str]:
    lead = f"{label:15s} "
    return textwrap.wrap(
        said, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead), break_on_hyphens=False
    )


MAP_W, MAP_H = 660.0, 820.0
LETTER_W, FONTS = 0.62, (11.0, 9.6)
CELL = 2.5  # labels are kept apart on a grid of such cells
MOST_REACHES = 4
ENLARGED = 1.6


@dataclass(frozen=True)
class Look:
    """From millimetres to the picture; the bottom is seen from below."""

    frame: Box
    scale: float
    flipped: bool

    def __call__(self, spot: Point) -> Point:
        left, _, right, top = self.frame
        x = right - spot[0] if self.flipped else spot[0] - left
        return x * self.scale, (top - spot[1]) * self.scale


def common_scale(boards: Iterable[Board]) -> float:
    """Pixels per mm at which the largest board fills the page's width."""
    largest = max(max(board.length_mm, board.width_mm) for board in boards)
    return MAP_W / largest


def board_map(
    board: Board, side: Side, risks: Sequence[JobRisk], about_scale: float
) -> Html | None:
    """The placed ones of ``risks`` on one side of a board; None where nothing has a place.
    Small boards are drawn somewhat larger than ``about_scale``, in pixels per mm."""
    here = [
        risk
        for risk in risks
        if risk.job.position is not None and risk.job.side == side and risk.job.footprint
    ]
    if not here:
        return None
    frame = board_box(board, [risk.job for risk in here])
    width, height = frame[2] - frame[0], frame[3] - frame[1]
    scale = min(MAP_W / width, MAP_H / height, ENLARGED * about_scale)
    look = Look(frame, scale, side == "bottom")
    worst_last = sorted(here, key=lambda risk: band_of(risk).rank)
    labels = _Labels()
    counts = ", ".join(
        f"{n} {band.word}" for band in BANDS if (n := sum(band_of(r) == band for r in here))
    )
    return picture(
        width * scale,
        height * scale,
        f"{board.name}, {side} side, {len(here)} parts to scale by risk: {counts}",
        box(0.5, 0.5, width * scale - 1, height * scale - 1, "board"),
        *_reaches(worst_last, look),
        *(_body(risk, look) for risk in worst_last),
        *(text for risk in reversed(worst_last) if (text := labels.put(risk, look)) is not None),
        class_="map",
    )


def _body(risk: JobRisk, look: Look) -> Html:
    job = risk.job
    band = band_of(risk)
    shapes = [shape([look(spot) for spot in body_outline(job)], band.style)]
    if job.footprint is not None and job.footprint.orientation == "pin_one":
        first = pad_rects(job.footprint)[0]
        x, y = look(placed(job, first.x_mm, first.y_mm))
        shapes.append(el("circle", cx=f"{x:.1f}", cy=f"{y:.1f}", r="1.6", class_="pin-one"))
    name = job.footprint.name if job.footprint is not None else ""
    return el("g", el("title", f"{job.ref} {job.title}, {name}: {band.word} risk"), *shapes)


def _reaches(risks: Sequence[JobRisk], look: Look) -> Iterable[Html]:
    """Circles round the parts under hot air: joints melt inside, plastics suffer inside."""
    hot = [risk for risk in risks if not risk.blocked and risk.chosen.air_heat is not None]
    for risk in hot[-MOST_REACHES:]:
        heat, at = risk.chosen.air_heat, risk.job.position
        if heat is None or at is None:
            continue
        x, y = look((at.x_mm, at.y_mm))
        for radius, class_ in (
            (heat.plastic_radius_mm, "plastic-reach"),
            (heat.reflow_radius_mm, "reflow-reach"),
        ):
            yield el("circle", cx=f"{x:.1f}", cy=f"{y:.1f}", r=f"{radius * look.scale:.1f}",
                     class_=class_)  # fmt: skip


class _Labels:
    """Places reference names where they do not cover each other: on the part, beside it in
    smaller letters, or not at all."""

    def __init__(self) -> None:
        self.taken: set[tuple[int, int]] = set()

    def put(self, risk: JobRisk, look: Look) -> Html | None:
        band = band_of(risk)
        text = risk.job.ref if band.rank == 0 else f"{band.mark} {risk.job.ref}"
        spots = [look(spot) for spot in body_outline(risk.job)]
        left, right = min(x for x, _ in spots), max(x for x, _ in spots)
        top, bottom = min(y for _, y in spots), max(y for _, y in spots)
        middle = (left + right) / 2, (top + bottom) / 2
        for font in FONTS:
            w, h = len(text) * font * LETTER_W, font
            inside = w < right - left and h < bottom - top
            tries = [middle] if inside else []
            if font < FONTS[0] or band.rank > 1:
                tries += [
                    (middle[0], bottom + h * 0.6),
                    (middle[0], top - h * 0.6),
                    (right + w / 2 + 1, middle[1]),
                    (left - w / 2 - 1, middle[1]),
                ]
            for x, y in tries:
                cells = _cells(x, y, w, h)
                if x - w / 2 >= 0 and y - h / 2 >= 0 and not cells & self.taken:
                    self.taken |= cells
                    on_part = (x, y) == middle
                    class_ = f"on-{band.style}" if on_part else "beside"
                    return words_at(x, y + font * 0.35, text, "middle",
                                    font_size=font, class_=class_)  # fmt: skip
        return None


def _cells(x: float, y: float, w: float, h: float) -> set[tuple[int, int]]:
    columns = range(int((x - w / 2) // CELL), int((x + w / 2) // CELL) + 1)
    rows = range(int((y - h / 2) // CELL), int((y + h / 2) // CELL) + 1)
    return {(column, row) for column in columns for row in rows}


def legend() -> Html:
    """The marks in words; the steps are chances of a job not working in the end."""
    return el(
        "ul",
        *(
            el("li", el("span", class_=f"swatch {band.style}", aria_hidden="true"),
               f" {band.mark} {_meaning(band)}")
            for band in BANDS
        ),
        class_="legend",
    )  # fmt: skip


def _meaning(band: Band) -> str:
    if band == BLOCKED:
        return "not possible on this bench"
    if band.rank == 0:
        return f"{band.word}: fewer than 1 bad end in {1 / BAND_STEPS[0]:.0f}"
    return f"{band.word}: 1 bad end in {1 / BAND_STEPS[band.rank - 1]:.0f} or more"
