"""Neighbours that a part's hot air reaches: what to mask, to take off first, to leave alone.

Distances are from the heated part's centre to a body, in mm, where positions are known.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.families import Families
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.hot_air import harm_radius_mm
from solderrisk.physics.results import AirCase
from solderrisk.plan.distances import Ground, gap_mm
from solderrisk.risk.results import JobRisk, KitRisk
from solderrisk.words import short_list


@dataclass(frozen=True)
class _Near:
    name: str
    away_mm: float
    soft: bool
    softens_c: float | None = None

    @property
    def text(self) -> str:
        return f"{self.name} ({self.away_mm:.0f} mm)"


def masking(
    risk: KitRisk, kit: Kit, order: Sequence[str], data: PhysicsData, families: Families
) -> dict[str, tuple[str, ...]]:
    """Lines per job that is done by hot air; jobs without a position, or with nothing in
    reach, have none. ``order``: keys in the order of work, which says what is there."""
    index = {key: at for at, key in enumerate(order)}
    by_place: dict[str, list[Job]] = {}
    for each in risk.jobs:
        by_place.setdefault(each.job.place, []).append(each.job)
    grounds = {place: Ground(jobs) for place, jobs in by_place.items()}
    hot = (item for item in risk.jobs if item.chosen.air_heat is not None and not item.blocked)
    found = {
        item.job.key: tuple(_lines(item, grounds[item.job.place], kit, index, data, families))
        for item in hot
        if item.job.position is not None
    }
    return {key: lines for key, lines in found.items() if lines}


def _lines(
    item: JobRisk,
    ground: Ground,
    kit: Kit,
    index: Mapping[str, int],
    data: PhysicsData,
    families: Families,
) -> Iterable[str]:
    heat = item.chosen.air_heat
    assert heat is not None
    reach = max(heat.plastic_radius_mm, heat.reflow_radius_mm)
    near = ground.within(item.job, reach, whole=False)
    there, later = _neighbours(item.job, near, kit, index, data, families)
    soft = [n for n in there if n.soft and n.away_mm < heat.plastic_radius_mm]
    if soft:
        yield f"mask before heating: {_names(soft)}"
    case = item.chosen.case
    lost = [n for n in soft if isinstance(case, AirCase) and _softens(n, case, data)]
    if lost:
        yield (
            f"a mask is not enough for {_names(lost)}: the board under it gets as hot as it "
            "softens; take it off first or fit it later"
        )
    molten = [n for n in there if not n.soft and n.away_mm < heat.reflow_radius_mm]
    if molten:
        names = _names(molten)
        yield f"its heat melts the solder of {names} too: touch nothing until it is solid again"
    spared = [
        n
        for n in later
        if n.away_mm < (heat.plastic_radius_mm if n.soft else heat.reflow_radius_mm)
    ]
    if spared:
        yield f"fitted later, out of this heat: {_names(spared)}"


def _softens(near: _Near, case: AirCase, data: PhysicsData) -> bool:
    if near.softens_c is None:
        return False
    return near.away_mm < harm_radius_mm(case, near.softens_c, data)


def _names(near: Sequence[_Near]) -> str:
    return short_list([n.text for n in sorted(near, key=lambda n: n.away_mm)])


def _neighbours(
    job: Job,
    jobs: Iterable[Job],
    kit: Kit,
    index: Mapping[str, int],
    data: PhysicsData,
    families: Families,
) -> tuple[list[_Near], list[_Near]]:
    """What is on the board while a job is heated, and what comes onto it later. Lifts go
    the other way: what comes off later is there."""
    there: list[_Near] = []
    later: list[_Near] = []
    for other in jobs:
        away = gap_mm(job, other, whole=False)
        if other is job or other.footprint is None or away is None or other.side != job.side:
            continue
        limit = other.footprint.heat.softens_c
        near = _Near(other.ref, away, families.spares_air(other.footprint), limit)
        before = index.get(other.key, 0) < index.get(job.key, 0)
        if job.kind == "lift":
            there += [] if before else [near]
        else:
            (there if before else later).append(near)
    return [*there, *_plastics(job, kit, data)], later


def _plastics(job: Job, kit: Kit, data: PhysicsData) -> Iterable[_Near]:
    donor = next((d for d in kit.donors if d.name == job.donor and job.kind == "lift"), None)
    names = {job.place} if donor is None else {donor.name, donor.board.name}
    assert job.position is not None
    for plastic in kit.plastics:
        if plastic.board in names:
            dx, dy = plastic.x_mm - job.position.x_mm, plastic.y_mm - job.position.y_mm
            softens_c = data.materials.bodies[plastic.material].softens_c
            yield _Near(plastic.name, math.hypot(dx, dy), True, softens_c)
