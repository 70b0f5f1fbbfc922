"""What each job puts at stake and how it ends the work; what a change on the bench takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import prod

from solderrisk.model.base import Parameters
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Extra, Kit
from solderrisk.plan.order.edges import bits
from solderrisk.plan.order.rules import joint_side, risk_by_key
from solderrisk.risk.results import JobRisk, KitRisk, Settings
from solderrisk.words import donor_at

MOST = 0.99  # nothing is taken as certain to fail: the rest would have no order


@dataclass(frozen=True)
class Value:
    """``cost``: money and hours sunk once the job is done; ``chance``: that it ends the work
    for good at this point."""

    cost: float
    chance: float


@dataclass(frozen=True)
class Spot:
    """What is set up on the bench for a job; None parts do not apply."""

    tool: tuple[object, ...]
    tip: tuple[object, ...]
    heat: tuple[object, ...]
    place: tuple[str, str]
    technique: str

    @property
    def setup(self) -> tuple[object, ...]:
        """What another job must share to need no change."""
        return (self.tool, self.tip, self.heat, self.place)


# The bench after hours of waiting.
COLD = Spot(("waiting",), (), (), ("", ""), "")


def job_values(
    jobs: Sequence[Job],
    before: Sequence[int],
    kit: Kit,
    risk: KitRisk,
    parameters: Parameters,
    hour_value: float,
) -> tuple[tuple[Value, ...], float]:
    """A value per job, and the chance that nothing unseen is left in the end.

    Part of the fatal faults shows at once, the rest at a later test: a gate ends the work
    with the chance that it finds what the work before it has hidden. ``before`` holds each
    job's predecessors as a mask.
    """
    risks = risk_by_key(risk)
    hidden = parameters["order_hidden_share"]
    lost = fatal_chances(jobs, kit, risk, parameters)
    unseen = [chance * hidden for chance in lost]
    chances = [1.0 - (1.0 - p) / (1.0 - u) for p, u in zip(lost, unseen, strict=True)]
    gates = [place for place, job in enumerate(jobs) if job.gate is not None]
    for place in sorted(gates, key=lambda g: (before[g].bit_count(), g)):
        gate = jobs[place].gate
        assert gate is not None
        finds = gate.finds
        if finds is None:
            finds = risk.gate_finds[gate.kind]
        passes = 1.0
        for other in bits(before[place]):
            passes *= 1.0 - finds * unseen[other]
            unseen[other] = unseen[other] * (1.0 - finds) / (1.0 - finds * unseen[other])
        chances[place] = 1.0 - passes
    clear = 1.0
    for chance in unseen:
        clear *= 1.0 - chance
    lifted = {job.feeds: risks[job.key].worth for job in jobs if job.feeds and job.key in risks}
    costs = [
        _sunk(job, kit, risks.get(job.key), lifted.get(job.key, 0.0), parameters, hour_value)
        for job in jobs
    ]
    return tuple(Value(c, p) for c, p in zip(costs, chances, strict=True)), clear


def fatal_chances(
    jobs: Sequence[Job], kit: Kit, risk: KitRisk, parameters: Parameters
) -> list[float]:
    """The chance of each job to end the work for good, seen or unseen: of the kit's chance not
    to work, what its share is, so that all together make up that chance. What this bench
    cannot do at all is tried early, before anything is sunk."""
    blocked = {item.job.key for item in risk.jobs if item.blocked or not item.options}
    sound = prod(1.0 - job.spoils for job in jobs)
    works = min(max(risk.working.mid / sound, 0.0), 1.0) if sound > 0 else 0.0

    def chance(job: Job) -> float:
        if job.task is not None:
            return 0.0 if _own_thing(job, kit) else job.spoils
        if blocked:
            return parameters["order_blocked_fatal"] if job.key in blocked else 0.0
        share = risk.fail_share.get(job.key, 0.0)
        return 1.0 - works**share if share > 0 else 0.0

    return [min(chance(job), MOST) for job in jobs]


def _own_thing(job: Job, kit: Kit) -> bool:
    """A task on a case or display of its own spoils that alone, not the boards."""
    return job.task is not None and any(_commits(job, extra) for extra in kit.extras)


def _commits(job: Job, extra: Extra) -> bool:
    return extra.committed_by in (job.ref, job.key)


def minutes_of(job: Job, item: JobRisk | None, parameters: Parameters) -> float:
    """The time a job takes, minutes."""
    if job.task is not None or job.gate is not None:
        return job.minutes
    known = item.chosen.minutes.mid if item and item.options else 0.0
    return known if known > 0 else parameters["order_default_min"]


def _sunk(
    job: Job,
    kit: Kit,
    item: JobRisk | None,
    lifted: float,
    parameters: Parameters,
    hour_value: float,
) -> float:
    """Money and hours put in by a job. ``lifted``: what the part was worth on its donor; what
    nobody sells counts for more than its price. Waiting holds the work up a little."""
    hours = minutes_of(job, item, parameters) / 60
    if job.task is not None:
        hours += (job.task.wait_hours or 0.0) * parameters["order_wait_share"]
    # A lifted part is still a loose part: its price is at stake once it is fitted.
    price = 0.0
    if job.kind in ("fit", "wire"):
        price = max(job.price_each, item.worth if item else 0.0, lifted)
    if job.task is not None or job.gate is not None:
        price += sum(extra.price for extra in kit.extras if _commits(job, extra))
    return price + hours * hour_value


def starts(jobs: Sequence[Job], kit: Kit) -> dict[str, float]:
    """Boards and donors that are sunk with the first job on them: job place -> price."""
    used = {job.place for job in jobs if job.place}
    boards = {board.name: board.price for board in kit.boards}
    donors = {f"donor:{donor.name}": donor.price for donor in kit.donors}
    return {
        place: price for place, price in {**boards, **donors}.items() if place in used and price > 0
    }


def spot_of(job: Job, item: JobRisk | None) -> Spot | None:
    """The bench set-up of a job; None for tasks and gates, which need no change unless they
    let everything get cold."""
    if not job.soldered:
        waits = job.task is not None and (job.task.wait_hours or 0.0) > 0.0
        return COLD if waits else None
    usable = item is not None and bool(item.options) and not item.blocked
    chosen = item.chosen if item is not None and usable else None
    s = chosen.settings if chosen else Settings()
    return Spot(
        tool=(s.iron, s.air, s.desolderer, s.removal_alloy),
        tip=(s.tip_width_mm, s.tip_shape, s.nozzle_mm, s.bore_mm),
        heat=(s.tip_c, s.air_c, s.preheat_c),
        place=(job.place, joint_side(job)),
        technique=chosen.technique if chosen else "",
    )


def change_minutes(one: Spot, other: Spot, parameters: Parameters) -> float:
    """Minutes between two jobs; another tool includes its tip and heat. After waiting all is
    taken up anew; to begin waiting takes none."""
    if other == COLD:
        return 0.0
    minutes = 0.0
    if one.tool != other.tool:
        minutes += parameters["order_change_tool_min"]
    else:
        if one.tip != other.tip:
            minutes += parameters["order_change_tip_min"]
        if one.heat != other.heat:
            minutes += parameters["order_change_heat_min"]
    if one.place[0] != other.place[0]:
        donor = any(donor_at(spot.place[0]) for spot in (one, other))
        minutes += parameters[f"order_change_{'donor' if donor else 'board'}_min"]
    elif one.place != other.place:
        minutes += parameters["order_turn_board_min"]
    return minutes


def count_changes(keys: Sequence[str], spots: Mapping[str, Spot | None]) -> int:
    """Changes of tool, tip, temperature, side or board along an order."""
    changes = 0
    last: Spot | None = None
    for key in keys:
        spot = spots[key]
        if spot is None or spot == COLD:
            continue
        if last is not None and spot.setup != last.setup:
            changes += 1
        last = spot
    return changes
