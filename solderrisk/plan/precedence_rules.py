"""Precedence inferred from what the parts are: heat, sides, heights, wires, case.

Each rule speaks for itself; they are applied from the strongest to the weakest, and each
gives way to what stands already.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin, tan

from solderrisk.model.families import Families
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.parameters import Parameters
from solderrisk.physics.results import AirHeat
from solderrisk.plan.precedence_net import Net
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
    net: Net, kit: Kit, air: Mapping[str, Air], parameters: Parameters, families: Families
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
    for job in group:
        own = air.get(job.key)
        why: dict[str, str] = {}
        for other in hot:
            reason = _heat_reason(other, job, own, families)
            if reason:
                why[other.job.key] = reason
        firsts = [other.job for other in hot if other.job.key in why]
        net.precede(job, firsts, "heat_reach", why)


def _heat_reason(hot: Air, job: Job, own: Air | None, families: Families) -> str:
    """Why the hot job goes before the other one, '' where it need not."""
    if hot.job is job or job.footprint is None:
        return ""
    name = hot.job.ref
    if hot.plate:
        return "" if own and own.plate else f"the plate for {name} heats the whole board"
    if own is not None:
        return ""
    soft = families.spares_air(job.footprint)
    gap = gap_mm(hot.job, job, whole=False)
    if gap is None or hot.heat is None:
        return f"hot air on {name}: {job.ref} does not bear it" if soft else ""
    if hot.job.side != job.side:
        return ""
    reach = hot.heat.plastic_radius_mm if soft else hot.heat.reflow_radius_mm
    if gap >= reach:
        return ""
    harm = "softens" if soft else "would come loose"
    return f"{job.ref}, {gap:.0f} mm from {name}, {harm}: its hot air reaches {reach:.0f} mm"


def add_donor_heat(
    net: Net, group: Sequence[Job], air: Mapping[str, Air], families: Families
) -> None:
    """On a donor the other way round: what heat would hurt is lifted off first."""
    soft = [
        job
        for job in group
        if job.key not in air and job.footprint is not None and families.spares_air(job.footprint)
    ]
    for job in group:
        if job.key in air:
            text = f"it comes off before hot air on {job.ref} reaches it"
            net.precede(job, soft, "heat_reach", text)


def add_sides(net: Net, group: Sequence[Job], parameters: Parameters) -> None:
    """The flatter surface-mount side, then the other, then through-hole parts."""
    flat = [job for job in group if job.footprint and not job.footprint.through_hole]
    through = [job for job in group if job.footprint and job.footprint.through_hole]
    for job in through:
        text = f"with {job.ref} in its holes the board no longer lies flat"
        net.precede(job, flat, "side", text)
    sides = {side: [job for job in flat if job.side == side] for side in ("top", "bottom")}
    if not (sides["top"] and sides["bottom"]):
        return
    tallest = {side: max(_height(job) for job in jobs) for side, jobs in sides.items()}
    first = "top" if tallest["top"] < tallest["bottom"] else "bottom"
    for job in sides[OTHER_SIDE[first]]:
        if _height(job) > parameters["order_low_mm"]:
            text = f"{job.ref} keeps the board from lying flat for the {first} side"
            net.precede(job, sides[first], "side", text)


def add_heights(net: Net, group: Sequence[Job], parameters: Parameters, families: Families) -> None:
    """Low before tall where the tall one blocks the iron, the hand or the flat board."""
    ranks = {job.key: height_class(job, parameters, families) for job in group}
    slope = tan(radians(parameters["order_approach_deg"]))
    rise = parameters["order_rise_mm"]
    place = {job.key: number for number, job in enumerate(group)}
    alike = _alike(group, ranks)
    for tall in sorted(group, key=lambda job: ranks[job.key]):
        height, rank = _height(tall), ranks[tall.key]
        word = "tall" if height > parameters["order_low_mm"] else "heavy"
        why: dict[str, str] = {}
        firsts = []
        for low in (low for jobs in alike if _matters(jobs[0], tall, ranks, rise) for low in jobs):
            if low is tall:
                continue
            gap = gap_mm(low, tall) if height - _height(low) >= rise else None
            if gap is not None and gap * slope < height:
                near = f"{height:.0f} mm tall and {gap:.1f} mm away"
                why[low.key] = f"{tall.ref}, {near}, blocks the iron"
            elif ranks[low.key] < rank:
                why[low.key] = f"low parts go before {tall.ref}, {word}: room for hand and iron"
            else:
                continue
            firsts.append(low)
        net.precede(tall, sorted(firsts, key=lambda job: place[job.key]), "access", why)


def _alike(group: Sequence[Job], ranks: Mapping[str, int]) -> list[list[Job]]:
    """Jobs that stand in one another's way alike: kits have many parts and few shapes."""
    found: dict[tuple[bool, str, float, int], list[Job]] = {}
    for job in group:
        key = (_through(job), job.side, _height(job), ranks[job.key])
        found.setdefault(key, []).append(job)
    return list(found.values())


def _matters(low: Job, tall: Job, ranks: Mapping[str, int], rise: float) -> bool:
    lower = ranks[low.key] < ranks[tall.key] or _height(tall) - _height(low) >= rise
    return lower and _in_the_way(low, tall)


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


def gap_mm(one: Job, other: Job, *, whole: bool = True) -> float | None:
    """Clear distance between two bodies, mm; from the first one's centre if not ``whole``.
    None where a position is not known."""
    if one.position is None or other.position is None:
        return None
    ax, ay = _half_box(one) if whole else (0.0, 0.0)
    bx, by = _half_box(other)
    dx = abs(one.position.x_mm - other.position.x_mm) - ax - bx
    dy = abs(one.position.y_mm - other.position.y_mm) - ay - by
    return hypot(max(dx, 0.0), max(dy, 0.0))


def _half_box(job: Job) -> tuple[float, float]:
    if job.footprint is None or job.position is None:
        return 0.0, 0.0
    turn = radians(job.position.rotation_deg)
    long, wide = job.footprint.body.length_mm / 2, job.footprint.body.width_mm / 2
    c, s = abs(cos(turn)), abs(sin(turn))
    return long * c + wide * s, long * s + wide * c


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
        why = {first.key: f"'{first.title}' is the gentler test" for first in firsts}
        net.precede(job, firsts, "gate", why)


def add_solvents(net: Net, air: Mapping[str, Air]) -> None:
    """Cleaning that waits for no soldering is over before the first hot air: solvent and a
    hot nozzle do not share a bench."""
    soldered = sum(1 << i for i, job in enumerate(net.jobs) if job.soldered)
    early = [
        job
        for i, job in enumerate(net.jobs)
        if job.task is not None and job.task.kind == "clean" and not net.before[i] & soldered
    ]
    for job in net.jobs:
        if early and job.key in air:
            text = f"solvent is dry and off the bench before hot air on {job.ref}"
            net.precede(job, early, "clean_first", text)


def add_lifts(net: Net) -> None:
    """Lifts before fittings: what fails there is known before anything is put on a board."""
    lifts = [job for job in net.jobs if job.kind == "lift"]
    fits = [(net.before[i].bit_count(), i) for i, job in enumerate(net.jobs) if job.kind == "fit"]
    text = "what comes off whole is known before anything is fitted"
    if lifts:
        for _, place in sorted(fits):
            net.precede(net.jobs[place], lifts, "lifts_first", text)


def add_wires(net: Net, places: Mapping[str, Sequence[Job]]) -> None:
    """Wires after all fittings of their board."""
    for wire in net.jobs:
        if wire.kind == "wire":
            text = f"{wire.ref} lies loose across the board and is in the way"
            fits = places.get(wire.place, ())
            net.precede(wire, fits, "wires_last", text)


def add_tasks(net: Net) -> None:
    """Preparation first, lifted parts cleaned before they are fitted, the case last."""
    work = [job for job in net.jobs if job.soldered]
    for job in net.jobs:
        task = job.task
        if task is None:
            continue
        text = f"'{job.title}' prepares the work"
        if task.kind in ("prepare", "bake", "cut") and not task.after and not task.before:
            for other in work:
                net.precede(other, [job], "prepare_first", text)
        if task.kind == "clean":
            _clean_before_fit(net, job)
    case = [job for job in net.jobs if job.task and job.task.kind == "fit_case"]
    keys = {job.key for job in case}
    for job in case:
        later = net.after[net.index[job.key]]
        firsts = [
            other
            for i, other in enumerate(net.jobs)
            if other.key not in keys and not later >> i & 1
        ]
        text = f"'{job.title}' closes the work in"
        net.precede(job, firsts, "case_last", text)


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
            text = f"'{job.title}' cleans what was lifted"
            net.precede(fit, [job], "clean_first", text)


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
        for job in jobs:
            if risks[job.key].chosen.first_time.mid < risks[first.key].chosen.first_time.mid:
                text = f"{first.ref} is the easiest of this kind: warm up on it"
                net.precede(job, [first], "warm_up", text)


def risk_by_key(risk: KitRisk | None) -> dict[str, JobRisk]:
    """Job risks by key, whether or not the roll-up carries its own table."""
    if risk is None:
        return {}
    return risk.by_key or {item.job.key: item for item in risk.jobs}
