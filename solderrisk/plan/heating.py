"""What is heated, which neighbours it reaches, and how far parts stand from each other."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin

import numpy as np

from solderrisk.model.footprint import Families
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.hot_air import air_curve, harm_radius_mm
from solderrisk.physics.iron import iron_curve
from solderrisk.physics.plate import hanging
from solderrisk.physics.remedies import air_remedies, remedies
from solderrisk.physics.results import AirCase, Curve, HangingPart, Remedy
from solderrisk.plan.results import Finding
from solderrisk.risk.results import JobRisk, KitRisk, Option
from solderrisk.words import short_list

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


MOST_SORTS = 8  # sorts of joints that are asked about, in the kit's order
MOST_TOLD = 3

Help = Mapping[str, tuple[Remedy, ...]]


def heating_curve(option: Option, data: PhysicsData) -> Curve | None:
    """Temperatures against time of an option; None where no single joint or part is heated
    (whole board on a plate, low-melt alloy) or nothing is known."""
    case = option.case
    if case is None:
        return None
    return air_curve(case, data) if isinstance(case, AirCase) else iron_curve(case, data)


def heat_remedies(option: Option, data: PhysicsData) -> tuple[Remedy, ...]:
    """What would take an option's heat out of doubt or failure, cheapest first, by the heat
    model itself; empty where it needs nothing or nothing is known."""
    case = option.case
    if case is None:
        return ()
    return air_remedies(case, data) if isinstance(case, AirCase) else remedies(case, data)


def remedy_words(remedy: Remedy) -> str:
    """A remedy as a bench would put it."""
    said = []
    if remedy.tip_width_mm is not None:
        said.append(f"{'the' if remedy.tip_owned else 'a'} {remedy.tip_width_mm:g} mm tip")
    if remedy.power_w is not None:
        kind = "heater in the tip" if remedy.drive == "cartridge" else "regulated"
        said.append(f"an iron of {remedy.power_w:g} W ({kind})")
    if remedy.air_c is not None:
        said.append(f"air of {remedy.air_c:g} C")
    if remedy.preheat_c is not None:
        said.append(f"the board preheated to {remedy.preheat_c:g} C")
    over = f", but its top comes {remedy.over_limit_k:.0f} K over its limit"
    changes = " and ".join(said) if len(said) < 3 else f"{said[0]}, {said[1]} and {said[2]}"
    return changes + (over if remedy.over_limit_k > 0 else "")


def heat_help(risk: KitRisk, data: PhysicsData) -> dict[str, tuple[Remedy, ...]]:
    """Remedies per job whose heat is undecided or that nothing on the bench heats; computed
    by the heat model once per sort of joint. Jobs that nothing tried would help have none."""
    sorts: dict[tuple[Job, Option], list[str]] = {}
    for item in risk.jobs:
        option = _in_need(item)
        if option is not None:
            sorts.setdefault((item.job.alike, option), []).append(item.job.key)
    found = {}
    for (_, option), keys in list(sorts.items())[:MOST_SORTS]:
        told = heat_remedies(option, data)[:MOST_TOLD]
        if told:
            found.update(dict.fromkeys(keys, told))
    return found


def _in_need(item: JobRisk) -> Option | None:
    if item.blocked:
        return next((option for option in item.options if _short(option)), None)
    return None if item.chosen.decided else item.chosen


def _short(option: Option) -> bool:
    heats = (option.iron_heat, option.air_heat)
    return any(heat is not None and heat.decision != "wets" for heat in heats)


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
        refs = tuple(job.ref for job in jobs.values())
        yield Finding("caution", "falls_off", refs, tuple(jobs), names=(place,))


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
