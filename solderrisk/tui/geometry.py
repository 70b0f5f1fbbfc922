"""Parts on a board as polygons, and the view that maps millimetres to dots."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Board
from solderrisk.model.outline import PadRect, body_size, pad_rects
from solderrisk.tui.dots import Dot

Box = tuple[float, float, float, float]  # left, bottom, right, top


def placed(job: Job, x: float, y: float) -> Dot:
    """A point of the part's own drawing on the board; bottom parts are mirrored in x."""
    at = job.position
    assert at is not None
    angle = math.radians(at.rotation_deg)
    if job.side == "bottom":
        x = -x
    return (
        at.x_mm + x * math.cos(angle) - y * math.sin(angle),
        at.y_mm + x * math.sin(angle) + y * math.cos(angle),
    )


def rectangle(job: Job, x: float, y: float, w: float, h: float) -> list[Dot]:
    """A rectangle of the part's drawing as a polygon on the board."""
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [placed(job, x + sx * w / 2, y + sy * h / 2) for sx, sy in corners]


def body_outline(job: Job) -> list[Dot]:
    assert job.footprint is not None
    w, h = body_size(job.footprint)
    return rectangle(job, 0.0, 0.0, w, h)


def lands(job: Job) -> list[list[Dot]]:
    assert job.footprint is not None
    return [land(job, rect) for rect in pad_rects(job.footprint)]


def land(job: Job, rect: PadRect) -> list[Dot]:
    return rectangle(job, rect.x_mm, rect.y_mm, rect.w_mm, rect.h_mm)


def board_box(board: Board, jobs: list[Job]) -> Box:
    """The board's outline. Where positions do not start at its corner, the outline is
    laid centrally round them: only its size is known."""
    corners = [point for job in jobs for point in body_outline(job)]
    if not corners:
        return 0.0, 0.0, board.length_mm, board.width_mm
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    slack = 0.05 * max(board.length_mm, board.width_mm)
    inside = (
        min(xs) >= -slack
        and min(ys) >= -slack
        and max(xs) <= board.length_mm + slack
        and max(ys) <= board.width_mm + slack
    )
    if inside:
        return 0.0, 0.0, board.length_mm, board.width_mm
    middle_x, middle_y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    half_x = max(board.length_mm, max(xs) - min(xs)) / 2
    half_y = max(board.width_mm, max(ys) - min(ys)) / 2
    return middle_x - half_x, middle_y - half_y, middle_x + half_x, middle_y + half_y


@dataclass(frozen=True)
class View:
    """Maps board millimetres to dots. Dots are about square: a cell is 2 x 4 of them and
    twice as high as wide. ``flipped`` looks at the board from below."""

    left: float
    top: float
    dots_per_mm: float
    flipped: bool = False

    def dot(self, point: Dot) -> Dot:
        x = self.left - point[0] if self.flipped else point[0] - self.left
        return x * self.dots_per_mm, (self.top - point[1]) * self.dots_per_mm

    def polygon(self, points: list[Dot]) -> list[Dot]:
        return [self.dot(point) for point in points]

    @classmethod
    def fit(cls, box: Box, columns: int, rows: int, *, flipped: bool = False) -> View:
        """A view that shows the whole box, centred."""
        left, bottom, right, top = box
        wide, high = max(right - left, 1e-6), max(top - bottom, 1e-6)
        scale = min((columns - 1) / wide, (rows - 1) / high)
        pad_x = ((columns - 1) / scale - wide) / 2
        pad_y = ((rows - 1) / scale - high) / 2
        edge = right + pad_x if flipped else left - pad_x
        return cls(edge, top + pad_y, scale, flipped)

    def zoomed(self, factor: float, centre: Dot, columns: int, rows: int) -> View:
        """The same view enlarged, with ``centre`` in the middle."""
        scale = self.dots_per_mm * factor
        half_x, half_y = columns / 2 / scale, rows / 2 / scale
        left = centre[0] + half_x if self.flipped else centre[0] - half_x
        return replace(self, left=left, top=centre[1] + half_y, dots_per_mm=scale)
