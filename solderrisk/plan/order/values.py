"""What each job puts at stake and how it ends the work; what a change on the bench takes, and
the blocks of work that an order falls into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import prod

from solderrisk.model.base import Parameters
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Extra, Kit
from solderrisk.plan.order.edges import Edge, Edges, Row, Why, bits, mask_of
from solderrisk.plan.order.rules import joint_side, risk_by_key
from solderrisk.plan.results import Reason, Stage
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
    lifted = {job.feeds: risks[job.key].worth for job in jobs if job.key in risks}
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
        return float(1.0 - works ** risk.fail_share.get(job.key, 0.0))

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


MODES_SHOWN = 3
REASONS_KEPT = 3
REFS_KEPT = 301  # references of one reason: more than anybody is told

RULE_ORDER = (
    "locked",
    "gate",
    "heat_reach",
    "access",
    "side",
    "kit",
    "lift_before_fit",
    "clean_first",
    "lifts_first",
    "prepare_first",
    "warm_up",
    "wires_last",
    "case_last",
)


def stages_of(
    keys: Sequence[str],
    jobs: Sequence[Job],
    risk: KitRisk,
    edges: Sequence[Edge],
    *,
    parameters: Parameters,
) -> tuple[Stage, ...]:
    """The order cut into blocks: work of one kind at one set-up of tool, tip, heat and side,
    techniques mixed only where each is short; a gate closes a block, and what cannot be
    replaced has one of its own.

    A gate is no part of ``keys`` of its stage; every other job is in exactly one stage.
    """
    by_key = {job.key: job for job in jobs}
    risks = risk_by_key(risk)
    blocks = _blocks([by_key[key] for key in keys], risks, parameters)
    known = _Known(risks, risk.fail_share, Edges.of(jobs, edges), parameters)
    stages: list[Stage] = []
    before: Spot | None = None
    for number, (block, gate) in enumerate(blocks, start=1):
        stages.append(known.stage(number, block, gate, before))
        spots = [spot_of(job, risks.get(job.key)) for job in block]
        before = next((spot for spot in reversed(spots) if spot), before)
    return tuple(stages)


def _blocks(
    work: Sequence[Job], risks: Mapping[str, JobRisk], parameters: Parameters
) -> list[tuple[list[Job], Job | None]]:
    """Runs of one technique, short ones at one set-up put together, with the gate that
    closes each; a run that has lasted long is cut where another footprint begins."""
    runs: list[list[Job]] = []
    lasted = 0.0
    for job in work:
        last = runs[-1][-1] if runs else None
        same = last is not None and _technique(last, risks) == _technique(job, risks)
        if last is not None and same and job.gate is None:
            long = lasted > parameters["order_stage_min"]
            if not long or last.footprint == job.footprint:
                runs[-1].append(job)
                lasted += _minutes([job], risks, parameters)
                continue
        runs.append([job])
        lasted = _minutes([job], risks, parameters)
    blocks: list[tuple[list[Job], Job | None]] = []
    block: list[Job] = []
    for run in runs:
        if run[0].gate is not None:
            blocks.append((block, run[0]))
            block = []
            continue
        short = _minutes([*block, *run], risks, parameters) <= parameters["order_stage_merge_min"]
        if block and not (short and _kind(block[-1], risks) == _kind(run[0], risks)):
            blocks.append((block, None))
            block = []
        block = [*block, *run]
    return [*blocks, (block, None)] if block else blocks


def _minutes(work: Sequence[Job], risks: Mapping[str, JobRisk], parameters: Parameters) -> float:
    return sum(minutes_of(job, risks.get(job.key), parameters) for job in work)


def _kind(job: Job, risks: Mapping[str, JobRisk]) -> tuple[object, ...]:
    spot = spot_of(job, risks.get(job.key))
    return (job.kind, job.irreplaceable, spot.setup if spot else None)


def _technique(job: Job, risks: Mapping[str, JobRisk]) -> tuple[object, ...]:
    spot = spot_of(job, risks.get(job.key))
    return (*_kind(job, risks), spot.technique if spot else "")


@dataclass(frozen=True)
class _Known:
    """What is known of blocks: chances, shares of the fatal risk, what waits for what."""

    risks: Mapping[str, JobRisk]
    shares: Mapping[str, float]
    edges: Edges
    parameters: Parameters

    def stage(self, number: int, block: list[Job], gate: Job | None, before: Spot | None) -> Stage:
        items = [self.risks[job.key] for job in block if job.key in self.risks]
        usable = [item for item in items if item.options and not item.blocked]
        spot = spot_of(block[0], self.risks.get(block[0].key)) if block else None
        moved = spot is not None and (before is None or before.place != spot.place)
        return Stage(
            number=number,
            work=tuple(block),
            options=tuple(item.chosen for item in usable),
            turned=spot.place if spot is not None and moved and spot.place[0] else None,
            faults=_worst_faults(usable),
            test=gate,
            minutes=_minutes([*block, *([gate] if gate else [])], self.risks, self.parameters),
            share=sum(self.shares.get(job.key, 0.0) for job in block),
            reasons=self._reasons(block, gate),
            wait_hours=max((job.task.wait_hours or 0.0 for job in block if job.task), default=0.0),
        )

    def _reasons(self, block: Sequence[Job], gate: Job | None) -> tuple[Reason, ...]:
        """That a later test covers the work is told where nothing else is."""
        edges = self.edges
        mine = mask_of([edges.place[job.key] for job in block])
        own = mine | (1 << edges.place[gate.key] if gate else 0)
        kinds = [
            (rule, waits)
            for rule, rows in edges.by_rule.items()
            for waits in (True, False)
            if any(_out_of_block(row, waits, mine, own) for row in rows)
        ]
        told = sorted(kinds, key=lambda kind: _rank(*kind))[:REASONS_KEPT]
        return tuple(self._reason(rule, waits, mine, own) for rule, waits in told)

    def _reason(self, rule: str, waits: bool, mine: int, own: int) -> Reason:
        """All edges of a rule into or out of a block."""
        edges = self.edges
        block = others = 0
        whys: dict[Why, None] = {}
        for row in edges.by_rule[rule]:
            firsts = _out_of_block(row, waits, mine, own)
            if firsts:
                block |= 1 << row.then if waits else firsts
                others |= firsts if waits else 1 << row.then
                if len(whys) < 2:
                    whys.update((edge.why, None) for edge in edges.told(row, firsts))
        why = next(iter(whys)) if len(whys) == 1 else None
        return Reason(rule, waits, self._refs(block), self._refs(others), why)

    def _refs(self, numbers: int) -> tuple[str, ...]:
        return tuple(self.edges.jobs[number].ref for number in bits(numbers)[:REFS_KEPT])


def _out_of_block(row: Row, waits: bool, mine: int, own: int) -> int:
    """The first jobs of a row that leads into a block from outside, or out of it."""
    inside = own >> row.then & 1
    if waits:
        return row.firsts & ~own if mine >> row.then & 1 else 0
    return 0 if inside else row.firsts & mine


def _worst_faults(usable: Sequence[JobRisk]) -> tuple[str, ...]:
    weight: dict[str, float] = {}
    for item in usable:
        for mode in item.chosen.modes:
            weight[mode.title] = weight.get(mode.title, 0.0) + mode.total.mid
    worst = sorted(weight, key=lambda title: (-weight[title], title))[:MODES_SHOWN]
    return tuple(title for title in worst if weight[title] > 0)


def _rank(rule: str, waits: bool) -> int:
    """Telling reasons first; that a later test covers the work goes without saying."""
    place = RULE_ORDER.index(rule) if rule in RULE_ORDER else len(RULE_ORDER)
    return 2 * len(RULE_ORDER) if rule == "gate" and not waits else place
