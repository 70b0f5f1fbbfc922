"""The board to scale: parts marked by risk, reference names, heat reach of hot air."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from solderrisk.model.kit import Board, Side
from solderrisk.model.outline import Box, Point, board_box, body_outline, pad_rects, placed
from solderrisk.report.html import Html, el
from solderrisk.report.pictures import box, picture, shape, words_at
from solderrisk.report.words import BAND_STEPS, BANDS, BLOCKED, Band, band_of
from solderrisk.risk.results import JobRisk

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
