"""Precedence: what must come before what, and why. Stated rules first, then inferred ones.

What the kit states (rules, gates, tasks) and what is physically so (a lift before its
fitting) must hold; a circle among these is an error. Rules inferred from heights, heat and
sides give way where they would contradict the stated ones, and say so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.families import Families
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.parameters import Parameters
from solderrisk.model.question import ALONE, Run
from solderrisk.model.selectors import JobIndex, parted
from solderrisk.physics.results import AirHeat
from solderrisk.plan.edges import Edges, Row, mask_of
from solderrisk.plan.precedence_net import CyclicOrder, Net, shortest_cycle
from solderrisk.plan.precedence_rules import add_inferred, air_of
from solderrisk.risk.results import KitRisk

__all__ = ["CyclicOrder", "Precedence", "edges_of", "precedence_of", "shortest_cycle"]


@dataclass(frozen=True)
class Precedence:
    """All edges, and in words the inferred ones that gave way to stated rules."""

    edges: Edges
    notes: tuple[str, ...] = ()


def edges_of(
    jobs: Sequence[Job],
    kit: Kit,
    risk: KitRisk | None,
    *,
    parameters: Parameters,
    families: Families,
    reach: Mapping[str, AirHeat] | None = None,
) -> Edges:
    """Every precedence edge of a kit with its rule and reason; see ``precedence_of``."""
    return precedence_of(
        jobs, kit, risk, parameters=parameters, families=families, reach=reach
    ).edges


def precedence_of(
    jobs: Sequence[Job],
    kit: Kit,
    risk: KitRisk | None,
    *,
    parameters: Parameters,
    families: Families,
    reach: Mapping[str, AirHeat] | None = None,
    run: Run = ALONE,
) -> Precedence:
    """Stated and inferred precedence.

    ``risk`` tells which technique each job uses and how far its hot air reaches; ``reach``
    (job key -> heat) goes before it. Without either no job uses hot air.

    Raises:
        CyclicOrder: the stated rules form a circle.
        Stopped: the caller wants no more.
    """
    run.tell(0.0, "what has to come before what")
    net = Net(jobs, stated_edges(jobs, kit), run)
    add_inferred(net, kit, air_of(jobs, risk, reach), parameters, families)
    return Precedence(net.edges(), net.notes())


def stated_edges(jobs: Sequence[Job], kit: Kit) -> Edges:
    """What the kit states and what cannot be otherwise: each pair once, first reason kept."""
    index = JobIndex.of(jobs)
    place = {job.key: number for number, job in enumerate(jobs)}
    rows: list[Row] = []
    known: dict[int, int] = {}

    def put(firsts: Iterable[str], thens: Iterable[str], rule: str, why: str) -> None:
        early = mask_of([place[first] for first in firsts])
        for key in thens:
            then = place[key]
            fresh = early & ~known.get(then, 0) & ~(1 << then)
            if fresh:
                known[then] = known.get(then, 0) | fresh
                rows.append(Row(then, fresh, rule, why))

    for job in jobs:
        if job.feeds in index.order and job.feeds is not None:
            put([job.key], [job.feeds], "lift_before_fit", f"{job.ref} is lifted, then fitted")
    for rule in kit.rules:
        first, then = parted(index.keys(rule.first), index.keys(rule.then))
        put(first, then, "kit", rule.why)
    for job in jobs:
        step = job.gate or job.task
        if step is None:
            continue
        after = (key for selector in step.after for key in index.keys(selector))
        before = (key for selector in step.before for key in index.keys(selector))
        first, then = parted(after, before, job.key)
        if job.gate is not None:
            put(first, [job.key], "gate", f"'{job.title}' tests it")
            put([job.key], then, "gate", f"'{job.title}' must pass before more is put at stake")
        else:
            rule_name = "clean_first" if job.task and job.task.kind == "clean" else "kit"
            put(first, [job.key], "kit", "stated in the kit")
            put([job.key], then, rule_name, "stated in the kit")
    return Edges(jobs, rows)
