"""Parts where they lie on a board, as polygons in millimetres."""

from __future__ import annotations

import math
from collections.abc import Sequence

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Board
from solderrisk.model.outline import PadRect, body_size, pad_rects

Spot = tuple[float, float]
Box = tuple[float, float, float, float]  # left, bottom, right, top


def placed(job: Job, x: float, y: float) -> Spot:
    """A point of the part's own drawing on the board; bottom parts are mirrored in x.

    Raises:
        ValueError: the job has no position.
    """
    at = job.position
    if at is None:
        raise ValueError(f"{job.key} has no position")
    angle = math.radians(at.rotation_deg)
    if job.side == "bottom":
        x = -x
    return (
        at.x_mm + x * math.cos(angle) - y * math.sin(angle),
        at.y_mm + x * math.sin(angle) + y * math.cos(angle),
    )


def rectangle(job: Job, x: float, y: float, w: float, h: float) -> list[Spot]:
    """A rectangle of the part's drawing as a polygon on the board."""
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [placed(job, x + sx * w / 2, y + sy * h / 2) for sx, sy in corners]


def body_outline(job: Job) -> list[Spot]:
    if job.footprint is None:
        raise ValueError(f"{job.key} has no footprint")
    w, h = body_size(job.footprint)
    return rectangle(job, 0.0, 0.0, w, h)


def lands(job: Job) -> list[list[Spot]]:
    if job.footprint is None:
        raise ValueError(f"{job.key} has no footprint")
    return [land(job, rect) for rect in pad_rects(job.footprint)]


def land(job: Job, rect: PadRect) -> list[Spot]:
    return rectangle(job, rect.x_mm, rect.y_mm, rect.w_mm, rect.h_mm)


def board_box(board: Board, jobs: Sequence[Job]) -> Box:
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
