"""Precedence inferred from what the parts are: heat, sides, heights, wires, case.

Each rule speaks for itself; they are applied from the strongest to the weakest, and each
gives way to what stands already.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import radians, tan

from solderrisk.model.base import Parameters
from solderrisk.model.footprint import Families
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.physics.results import AirHeat
from solderrisk.plan.heating import Ground, gap_mm
from solderrisk.plan.order.edges import FIRST, THEN, Why, mask_of
from solderrisk.plan.order.net import Net
from solderrisk.risk.results import JobRisk, KitRisk
from solderrisk.words import donor_at

GATE_RANK = {"visual": 0, "shorts": 1, "rail": 2, "power_up": 3, "function": 4}
OTHER_SIDE = {"top": "bottom", "bottom": "top"}


@dataclass(frozen=True)
class Air:
    """A job that heats its surroundings; ``heat`` is None where it is not computed."""

    job: Job
    plate: bool
    heat: AirHeat | None


def air_of(
    jobs: Sequence[Job], risk: KitRisk | None, reach: Mapping[str, AirHeat] | None
) -> dict[str, Air]:
    """The jobs done with hot air or on a plate, by key."""
    risks = risk_by_key(risk)
    found = {}
    for job in jobs:
        item = risks.get(job.key)
        option = item.options[0] if item and item.options and not item.blocked else None
        warms = option.warms if option else "joint"
        given = (reach or {}).get(job.key)
        if warms != "joint" or given is not None:
            heat = given or (option.air_heat if option else None)
            found[job.key] = Air(job, warms == "board", heat)
    return found


def add_inferred(
    net: Net,
    kit: Kit,
    air: Mapping[str, Air],
    parameters: Parameters,
    families: Families,
    drops: Collection[str] = (),
) -> None:
    """All inferred rules, strongest first."""
    places: dict[str, list[Job]] = {}
    for job in net.jobs:
        if job.kind in ("fit", "lift"):
            places.setdefault(job.place, []).append(job)
    for place, group in places.items():
        if donor_at(place):
            add_donor_heat(net, group, air, families)
        else:
            add_board_heat(net, group, air, families)
            add_hanging(net, group, air, drops)
            add_sides(net, group, parameters)
            add_heights(net, group, parameters, families)
    add_gate_kinds(net)
    add_solvents(net, air)
    add_lifts(net)
    add_wires(net, places)
    add_tasks(net)


def add_board_heat(
    net: Net, group: Sequence[Job], air: Mapping[str, Air], families: Families
) -> None:
    """Hot air and plates before what they would melt or soften."""
    hot = [air[job.key] for job in group if job.key in air]
    if not hot:
        return
    plates = [one.job for one in hot if one.plate]
    why = Why("plate", (FIRST,))
    rest = [job for job in group if job.footprint and not (job.key in air and air[job.key].plate)]
    net.precede(rest, net.mask(plates), "heat_reach", why)
    cool = [job for job in rest if job.key not in air]
    soft = [job for job in cool if job.footprint and families.spares_air(job.footprint)]
    jets = [one for one in hot if not one.plate]
    known = [one.job for one in jets if one.heat is not None and one.job.position is not None]
    unknown = [one.job for one in jets if one.heat is None or one.job.position is None]
    why = Why("air", (FIRST, THEN))
    net.precede(soft, net.mask(unknown), "heat_reach", why)
    lost = [job for job in soft if job.position is None]
    net.precede(lost, net.mask(known), "heat_reach", why)
    for then, whys in _reached(net, cool, jets, {job.key for job in soft}).items():
        net.precede([net.jobs[then]], mask_of(whys), "heat_reach", why, apart={then: whys})


def _reached(
    net: Net, cool: Sequence[Job], jets: Sequence[Air], soft: Collection[str]
) -> dict[int, dict[int, Why]]:
    """What stands inside the reach of a jet, and why each waits for it."""
    found: dict[int, dict[int, Why]] = {net.index[job.key]: {} for job in cool}
    ground = Ground(cool)
    for hot in jets:
        if hot.heat is None:
            continue
        most = max(hot.heat.plastic_radius_mm, hot.heat.reflow_radius_mm)
        for job in ground.within(hot.job, most, whole=False):
            plastic = job.key in soft
            reach = hot.heat.plastic_radius_mm if plastic else hot.heat.reflow_radius_mm
            gap = gap_mm(hot.job, job, whole=False)
            if hot.job.side != job.side or gap is None or gap >= reach:
                continue
            kind = "softens" if plastic else "loosens"
            why = Why(kind, (job.ref, hot.job.ref), (gap, reach))
            found[net.index[job.key]][net.index[hot.job.key]] = why
    return {then: whys for then, whys in found.items() if whys}


def add_hanging(
    net: Net, group: Sequence[Job], air: Mapping[str, Air], drops: Collection[str]
) -> None:
    """Heat on one side before the parts that would fall off the other one meanwhile."""
    for job in group:
        if job.key not in drops:
            continue
        hot = [
            one.job
            for one in (air[other.key] for other in group if other.key in air)
            if one.job.side != job.side and _through_to(one, job)
        ]
        net.precede([job], net.mask(hot), "heat_reach", Why("hangs", (FIRST,)))


def _through_to(hot: Air, job: Job) -> bool:
    away = gap_mm(hot.job, job, whole=False)
    return away is None or hot.heat is None or away < hot.heat.reflow_radius_mm


def add_donor_heat(
    net: Net, group: Sequence[Job], air: Mapping[str, Air], families: Families
) -> None:
    """On a donor the other way round: what heat would hurt is lifted off first."""
    soft = [
        job
        for job in group
        if job.key not in air and job.footprint is not None and families.spares_air(job.footprint)
    ]
    hot = [job for job in group if job.key in air]
    net.precede(hot, net.mask(soft), "heat_reach", Why("off_first", (THEN,)))


def add_sides(net: Net, group: Sequence[Job], parameters: Parameters) -> None:
    """The flatter surface-mount side, then the other, then through-hole parts."""
    flat = [job for job in group if job.footprint and not job.footprint.through_hole]
    through = [job for job in group if job.footprint and job.footprint.through_hole]
    net.precede(through, net.mask(flat), "side", Why("lies_flat", (THEN,)))
    sides = {side: [job for job in flat if job.side == side] for side in ("top", "bottom")}
    if not (sides["top"] and sides["bottom"]):
        return
    tallest = {side: max(_height(job) for job in jobs) for side, jobs in sides.items()}
    first = "top" if tallest["top"] < tallest["bottom"] else "bottom"
    rising = [job for job in sides[OTHER_SIDE[first]] if _height(job) > parameters["order_low_mm"]]
    net.precede(rising, net.mask(sides[first]), "side", Why("side_flat", (THEN, first)))


def add_heights(net: Net, group: Sequence[Job], parameters: Parameters, families: Families) -> None:
    """Low before tall where the tall one blocks the iron, the hand or the flat board."""
    kinds: dict[tuple[int, bool, str, bool], list[Job]] = {}
    for job in group:
        rank = height_class(job, parameters, families)
        tall = _height(job) > parameters["order_low_mm"]
        kinds.setdefault((rank, _through(job), job.side, tall), []).append(job)
    blocked = _blocked(net, group, parameters)
    for rank, through, side, tall in sorted(kinds):
        thens = kinds[rank, through, side, tall]
        firsts = 0
        for (lower, *_), lows in kinds.items():
            if lower < rank and _in_the_way(lows[0], thens[0]):
                firsts |= net.mask(lows)
        why = Why("low_first", (THEN, "tall" if tall else "heavy"))
        if firsts:
            net.precede(thens, firsts, "access", why, apart=blocked)
        for job in thens:
            then = net.index[job.key]
            near = mask_of(blocked.get(then, {})) & ~firsts
            if near:
                net.precede([job], near, "access", why, apart=blocked)


def _blocked(net: Net, group: Sequence[Job], parameters: Parameters) -> dict[int, dict[int, Why]]:
    """The lower neighbours that each body keeps the iron from, and why each goes first."""
    slope = tan(radians(parameters["order_approach_deg"]))
    found: dict[int, dict[int, Why]] = {}
    ground = Ground(group)
    for tall in group:
        height = _height(tall)
        if height < parameters["order_rise_mm"]:
            continue
        for low in ground.within(tall, height / slope):
            gap = gap_mm(low, tall)
            rises = height - _height(low) >= parameters["order_rise_mm"]
            if not rises or gap is None or gap * slope >= height or not _in_the_way(low, tall):
                continue
            # Tenths of a millimetre are told: what reads the same is one reason.
            why = Why("blocks_iron", (tall.ref,), (height, round(gap, 1)))
            found.setdefault(net.index[tall.key], {})[net.index[low.key]] = why
    return found


def height_class(job: Job, parameters: Parameters, families: Families) -> int:
    """0 low, 1 middling, 2 tall or heavy."""
    if job.footprint is None:
        return 0
    height = job.footprint.body.height_mm
    if families[job.footprint.family].heavy or height > parameters["order_tall_mm"]:
        return 2
    return 1 if height > parameters["order_low_mm"] else 0


def _in_the_way(low: Job, tall: Job) -> bool:
    """The tall body stands on the side where the low part is soldered or laid in."""
    both_through = _through(low) and _through(tall)
    return tall.side == (low.side if both_through else joint_side(low))


def joint_side(job: Job) -> str:
    """Where the iron works: a through-hole part is soldered on the other side."""
    return OTHER_SIDE[job.side] if _through(job) else job.side


def _through(job: Job) -> bool:
    return job.footprint is not None and job.footprint.through_hole


def _height(job: Job) -> float:
    return job.footprint.body.height_mm if job.footprint else 0.0


def add_gate_kinds(net: Net) -> None:
    """Of gates that test the same work, the gentler test comes first."""
    gates = [job for job in net.jobs if job.gate is not None]
    soldered = sum(1 << i for i, job in enumerate(net.jobs) if job.soldered)
    tested = {job.key: net.before[net.index[job.key]] & soldered for job in gates}
    for job in gates:
        assert job.gate is not None
        firsts = [
            other
            for other in gates
            if other.gate is not None
            and GATE_RANK[other.gate.kind] < GATE_RANK[job.gate.kind]
            and tested[other.key] & tested[job.key]
            and not tested[other.key] & ~tested[job.key]
        ]
        whys = {net.index[other.key]: Why("gentler", (other.title,)) for other in firsts}
        apart = {net.index[job.key]: whys}
        net.precede([job], mask_of(whys), "gate", Why("gentler", (FIRST,)), apart=apart)


def add_solvents(net: Net, air: Mapping[str, Air]) -> None:
    """Cleaning that waits for no soldering is over before the first hot air: solvent and a
    hot nozzle do not share a bench."""
    soldered = sum(1 << i for i, job in enumerate(net.jobs) if job.soldered)
    early = [
        job
        for i, job in enumerate(net.jobs)
        if job.task is not None and job.task.kind == "clean" and not net.before[i] & soldered
    ]
    hot = [job for job in net.jobs if job.key in air]
    net.precede(hot, net.mask(early), "clean_first", Why("solvent", (THEN,)))


def add_lifts(net: Net) -> None:
    """Lifts before fittings: what fails there is known before anything is put on a board."""
    lifts = [job for job in net.jobs if job.kind == "lift"]
    fits = [job for job in net.jobs if job.kind == "fit"]
    if lifts:
        net.precede(fits, net.mask(lifts), "lifts_first", Why("lifts_first"))


def add_wires(net: Net, places: Mapping[str, Sequence[Job]]) -> None:
    """Wires after all fittings of their board."""
    wires: dict[str, list[Job]] = {}
    for job in net.jobs:
        if job.kind == "wire":
            wires.setdefault(job.place, []).append(job)
    for place, thens in wires.items():
        loose = Why("lies_loose", (THEN,))
        net.precede(thens, net.mask(places.get(place, ())), "wires_last", loose)


def add_tasks(net: Net) -> None:
    """Preparation first, lifted parts cleaned before they are fitted, the case last."""
    work = [job for job in net.jobs if job.soldered]
    for job in net.jobs:
        task = job.task
        if task is None:
            continue
        if task.kind in ("prepare", "bake", "cut") and not task.after and not task.before:
            net.precede(work, net.mask([job]), "prepare_first", Why("prepares", (job.title,)))
        if task.kind == "clean":
            _clean_before_fit(net, job)
    case = [job for job in net.jobs if job.task and job.task.kind == "fit_case"]
    everything = (1 << len(net.jobs)) - 1
    for job in case:
        firsts = everything & ~net.mask(case) & ~net.after[net.index[job.key]]
        net.precede([job], firsts, "case_last", Why("closes", (job.title,)))


def _clean_before_fit(net: Net, job: Job) -> None:
    """What is cleaned after its lift is cleaned before it is fitted."""
    mask = net.before[net.index[job.key]]
    fed = {
        other.feeds
        for i, other in enumerate(net.jobs)
        if mask >> i & 1 and other.kind == "lift" and other.feeds in net.index
    }
    for key in sorted(key for key in fed if key):
        fit = net.jobs[net.index[key]]
        if not mask >> net.index[key] & 1:
            net.precede([fit], net.mask([job]), "clean_first", Why("cleans", (job.title,)))


def warm_up(net: Net, todo: Sequence[Job], risk: KitRisk | None) -> None:
    """For a newcomer: per technique the easiest replaceable part first, to warm up on."""
    risks = risk_by_key(risk)
    by_technique: dict[str, list[Job]] = {}
    for job in todo:
        item = risks.get(job.key)
        if item is not None and item.options and not item.blocked:
            by_technique.setdefault(item.chosen.technique, []).append(job)
    for jobs in by_technique.values():
        easy = [job for job in jobs if not job.irreplaceable]
        if not easy or len(jobs) < 2:
            continue
        first = max(easy, key=lambda job: risks[job.key].chosen.first_time.mid)
        best = risks[first.key].chosen.first_time.mid
        harder = [job for job in jobs if risks[job.key].chosen.first_time.mid < best]
        net.precede(harder, net.mask([first]), "warm_up", Why("easiest", (first.ref,)))


def risk_by_key(risk: KitRisk | None) -> dict[str, JobRisk]:
    """Job risks by key, whether or not the roll-up carries its own table."""
    if risk is None:
        return {}
    return risk.by_key or {item.job.key: item for item in risk.jobs}
