"""How far bodies stand from each other on a board."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import cos, hypot, radians, sin

import numpy as np

from solderrisk.model.jobs import Job

SLACK_MM = 1e-6  # the array only proposes: what counts is worked out one by one


def gap_mm(one: Job, other: Job, *, whole: bool = True) -> float | None:
    """Clear distance between two bodies, mm; from the first one's centre if not ``whole``.
    None where a position is not known."""
    if one.position is None or other.position is None:
        return None
    ax, ay = half_box(one) if whole else (0.0, 0.0)
    bx, by = half_box(other)
    dx = abs(one.position.x_mm - other.position.x_mm) - ax - bx
    dy = abs(one.position.y_mm - other.position.y_mm) - ay - by
    return hypot(max(dx, 0.0), max(dy, 0.0))


def half_box(job: Job) -> tuple[float, float]:
    """Half of the body's width and height as it lies on the board, mm."""
    if job.footprint is None or job.position is None:
        return 0.0, 0.0
    turn = radians(job.position.rotation_deg)
    long, wide = job.footprint.body.length_mm / 2, job.footprint.body.width_mm / 2
    c, s = abs(cos(turn)), abs(sin(turn))
    return long * c + wide * s, long * s + wide * c


class Ground:
    """Placed jobs of one board, sorted from left to right."""

    def __init__(self, jobs: Sequence[Job]) -> None:
        placed = [job for job in jobs if job.position is not None]
        rows = [
            (job.position.x_mm, job.position.y_mm, *half_box(job))
            for job in placed
            if job.position is not None
        ]
        table = np.array(rows).reshape(len(rows), 4)
        order = np.argsort(table[:, 0], kind="stable")
        self.jobs = placed
        self._order = order
        self._x, self._y, self._wide, self._high = table[order].T
        self._widest = float(self._wide.max(initial=0.0))

    def within(self, job: Job, reach_mm: float, *, whole: bool = True) -> Iterator[Job]:
        """The other jobs that may stand closer than ``reach_mm``, in their order; as ``gap_mm``."""
        if job.position is None or not self.jobs:
            return
        x, y = job.position.x_mm, job.position.y_mm
        wide, high = half_box(job) if whole else (0.0, 0.0)
        far = reach_mm + wide + self._widest + SLACK_MM
        low, end = np.searchsorted(self._x, (x - far, x + far))
        off_x = np.abs(self._x[low:end] - x) - wide - self._wide[low:end]
        off_y = np.abs(self._y[low:end] - y) - high - self._high[low:end]
        near = np.hypot(np.maximum(off_x, 0), np.maximum(off_y, 0)) <= reach_mm + SLACK_MM
        for number in np.sort(self._order[low:end][near]).tolist():
            if self.jobs[number] is not job:
                yield self.jobs[number]
