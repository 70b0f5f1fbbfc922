"""Stages: the order in blocks a person can follow, each closed by a gate where there is one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.base import Parameters
from solderrisk.model.jobs import Job
from solderrisk.plan.order.edges import Edge, Edges, Row, bits, mask_of
from solderrisk.plan.order.rules import risk_by_key
from solderrisk.plan.order.values import Spot, minutes_of, spot_of
from solderrisk.plan.results import Reason, Stage
from solderrisk.risk.results import JobRisk, KitRisk

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
        whys: dict[str, None] = {}
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
