"""Parts that hang below, by molten joints, while the other side of their board is heated."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from solderrisk.model.jobs import Job
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.plate import hanging
from solderrisk.physics.results import HangingPart
from solderrisk.plan.heating import gap_mm
from solderrisk.plan.results import Finding
from solderrisk.risk.results import JobRisk, KitRisk
from solderrisk.words import short_list


def may_drop(jobs: Iterable[Job], data: PhysicsData) -> dict[str, HangingPart]:
    """By job key, flat parts that molten joints do not hold for sure."""
    found = {}
    kept: dict[object, HangingPart] = {}
    for job in jobs:
        footprint = job.footprint
        if job.kind != "fit" or footprint is None or footprint.through_hole or job.fixing:
            continue
        load = kept.get(footprint)
        if load is None:
            load = kept[footprint] = hanging(footprint, data)
        if load.holds != "yes":
            found[job.key] = load
    return found


def below(hot: Job, reach_mm: float | None, jobs: Iterable[Job]) -> Iterator[Job]:
    """Those of ``jobs`` on the other side of its board that a job heats through; all of them
    where places or the reach are not known."""
    for job in jobs:
        if job.place != hot.place or job.side == hot.side:
            continue
        away = gap_mm(hot, job, whole=False)
        if away is None or reach_mm is None or away < reach_mm:
            yield job


def hangs_below(
    risk: KitRisk, order: Sequence[str], data: PhysicsData
) -> dict[str, tuple[str, ...]]:
    """By key of a job that heats more than its joints, what a card says of the parts that
    are on the other side by then. ``order``: keys in the order of work."""
    found: dict[str, tuple[str, ...]] = {}
    for item, parts in _pairs(risk, order, data):
        names = short_list([job.ref for job, _ in parts])
        _, worst = max(parts, key=lambda pair: pair[1].load_g_mm2)
        hangs = "hangs" if len(parts) == 1 else "hang"
        load, safe, most = (
            f"{1000 * each:.0f} mg"
            for each in (worst.load_g_mm2, worst.safe_g_mm2, worst.most_g_mm2)
        )
        found[item.job.key] = (
            f"{names} {hangs} below, {load} on a mm2 of land; molten joints held {safe} in trials, "
            f"{most} in some: prop or tape it before you turn the board",
        )
    return found


def falling(risk: KitRisk, order: Sequence[str], data: PhysicsData) -> Iterator[Finding]:
    """What would surely drop in this order, once for each board."""
    groups: dict[str, dict[str, Job]] = {}
    for _, parts in _pairs(risk, order, data):
        for job, load in parts:
            if load.holds == "no":
                groups.setdefault(job.place, {})[job.key] = job
    for place, jobs in groups.items():
        names = short_list([job.ref for job in jobs.values()])
        yield Finding(
            "caution",
            f"{names} would fall off {place} while its other side is heated: too heavy for "
            "molten joints",
            "prop or tape it, heat the other side joint by joint, or fit it afterwards",
            tuple(jobs),
        )


def _pairs(
    risk: KitRisk, order: Sequence[str], data: PhysicsData
) -> Iterator[tuple[JobRisk, list[tuple[Job, HangingPart]]]]:
    """Each heating job with what may drop meanwhile."""
    at: Mapping[str, int] = {key: number for number, key in enumerate(order)}
    loads = may_drop((item.job for item in risk.jobs), data)
    heavy = [item.job for item in risk.jobs if item.job.key in loads]
    if not heavy:
        return
    for item in risk.jobs:
        if item.blocked or item.job.kind != "fit" or item.chosen.warms == "joint":
            continue
        heat = item.chosen.air_heat
        reach = None if heat is None else heat.reflow_radius_mm
        parts = [
            (job, loads[job.key])
            for job in below(item.job, reach, heavy)
            if at.get(job.key, 0) < at.get(item.job.key, 0)
        ]
        if parts:
            yield item, parts
