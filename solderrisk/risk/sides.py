"""Sides of boards: how much each holds, and which is soldered while the other is still bare."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Side

HIDDEN = ("exposed", "ball")


def flat_sides(jobs: Sequence[Job]) -> dict[str, Side]:
    """By board, the one side that a plate may do, as it lies on the other: that with the more
    parts whose pads no iron reaches, the top where they are even and it has any part."""
    flat: dict[str, dict[Side, list[int]]] = {}
    for job in jobs:
        if job.kind == "fit" and job.footprint is not None and not job.footprint.through_hole:
            hidden = any(group.kind in HIDDEN for group in job.footprint.pads)
            flat.setdefault(job.place, {}).setdefault(job.side, []).append(hidden)
    # "top" comes last of the two names, so that it wins where they are even.
    return {
        place: max(sides, key=lambda side: (sum(sides[side]), side))
        for place, sides in flat.items()
    }


def mates(jobs: Sequence[Job]) -> dict[tuple[str, Side], int]:
    """Parts that one pass on a plate could do, rounded down to a power of two."""
    found = Counter(
        (job.place, job.side)
        for job in jobs
        if job.kind == "fit"
        and job.footprint
        and not any(g.through_board for g in job.footprint.pads)
    )
    return {spot: 1 << (count.bit_length() - 1) for spot, count in found.items()}
