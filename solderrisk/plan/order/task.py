"""One ordering task: a kit's jobs grouped into a bare problem, and solved."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from solderrisk.model.base import Parameters
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.plan.order.bounds import Problem, closed_problem, cost_of, make_problem
from solderrisk.plan.order.changes import Changes, fewer_changes
from solderrisk.plan.order.edges import Edges, Waived, mask_of, picked, turned
from solderrisk.plan.order.large import solve_large
from solderrisk.plan.order.net import CyclicOrder, shortest_cycle
from solderrisk.plan.order.rules import risk_by_key
from solderrisk.plan.order.search import Budget, solve
from solderrisk.plan.order.values import (
    Spot,
    Value,
    change_minutes,
    count_changes,
    job_values,
    spot_of,
    stages_of,
    starts,
)
from solderrisk.plan.results import FittingOrder, Move, Search
from solderrisk.risk.results import KitRisk

# When and by whom a search is cut short: limit of processor time, and whoever waits.
Limit = tuple[float, Callable[[], bool] | None]
Tell = Callable[[float], None]

LARGE = 150  # groups of jobs; above it no proof of the best is looked for
TIE = 1e-9  # a change that costs no time still counts where all else is equal


@dataclass(frozen=True)
class Plan:
    """The groups to be ordered, as a bare problem; ``members[i]`` are job places, empty for
    the nodes that stand for a board or donor being begun."""

    problem: Problem
    changes: Changes
    members: tuple[tuple[int, ...], ...]


class Lost(NamedTuple):
    """What a build is expected to lose: see ``FittingOrder``."""

    loss: float
    sunk: float
    fails: float


class OrderTask:
    """What is done, what is to do, and what each job puts at stake. ``hour_value``: money per
    hour where the kit states none; ``done``: job keys already finished, in their order;
    ``waived`` is handed through."""

    def __init__(
        self,
        jobs: Sequence[Job],
        kit: Kit,
        risk: KitRisk,
        parameters: Parameters,
        hour_value: float = 0.0,
        done: Sequence[str] = (),
        waived: Sequence[Waived] = (),
    ) -> None:
        self.jobs, self.kit, self.risk, self.parameters = jobs, kit, risk, parameters
        self.worth = hour_value if kit.hour_value is None else kit.hour_value
        self.place = {job.key: place for place, job in enumerate(jobs)}
        self.finished = [self.place[key] for key in dict.fromkeys(done)]
        self.done, self.waived = tuple(done), tuple(waived)
        risks = risk_by_key(risk)
        self.spots = {job.key: spot_of(job, risks.get(job.key)) for job in jobs}

    def search(
        self, live: Edges, edges: Edges, steps: int, limit: Limit, tell: Tell
    ) -> FittingOrder:
        """Search and dress the result; ``live`` are the edges that still bind."""
        tell(0.0)
        before, after = self._closure(live)
        values, clear = self._values(before)
        plan = self._plan(before, after, values)
        problem = plan.problem
        budget = Budget(steps, *limit, lambda share: tell(0.1 + 0.6 * share))
        found = (solve if problem.size <= LARGE else solve_large)(problem, budget)
        polish = Budget(steps // 3, *limit, lambda share: tell(0.7 + 0.2 * share))
        order, cheapest = fewer_changes(plan.problem, plan.changes, found.order, polish)
        lost = self._lost(plan.problem, order, values, clear)
        slack = max(cost_of(plan.problem, order) - found.bound, 0.0)
        gap = _gap(lost.loss, max(lost.loss - slack, 0.0))
        keys = self._keys(plan, order)
        saved = count_changes(self._keys(plan, found.order), self.spots)
        saved -= count_changes(keys, self.spots)
        made = Search(found.optimal, saved, cheapest, found.stopped or polish.stopped)
        tell(0.9)
        told = self._dressed(keys, edges, lost, gap, made, optimal=found.optimal and gap == 0.0)
        tell(1.0)
        return told

    def priced(
        self,
        keys: Sequence[str],
        live: Edges,
        edges: Edges,
        least: float,
        made: Search | Move,
    ) -> FittingOrder:
        """The loss of a given order, each job by itself."""
        lost = self.lost(keys, live)
        return self._dressed(tuple(keys), edges, lost, _gap(lost.loss, least), made, optimal=False)

    def lost(self, keys: Sequence[str], live: Edges) -> Lost:
        """What a given order loses, what is done at its head."""
        before, _ = self._closure(live)
        values, clear = self._values(before)
        fresh = {k: v for k, v in starts(self.jobs, self.kit).items() if k not in self._begun()}
        cost: list[float] = []
        keep: list[float] = []
        for key in keys[len(self.finished) :]:
            place = self.place[key]
            first = fresh.pop(self.jobs[place].place, 0.0)
            cost.append(values[place].cost + first)
            keep.append(1.0 - values[place].chance)
        problem = make_problem(cost, keep, ())
        return self._lost(problem, range(len(cost)), values, clear)

    def _dressed(
        self,
        keys: tuple[str, ...],
        edges: Edges,
        lost: Lost,
        gap: float,
        made: Search | Move,
        *,
        optimal: bool,
    ) -> FittingOrder:
        return FittingOrder(
            keys=keys,
            stages=stages_of(keys, self.jobs, self.risk, edges, parameters=self.parameters),
            edges=edges,
            expected_loss=lost.loss,
            optimal=optimal,
            gap=gap,
            swaps=count_changes(keys, self.spots),
            made=made,
            waived=self.waived,
            sunk=lost.sunk,
            fails=lost.fails,
        )

    def _values(self, before: Sequence[int]) -> tuple[tuple[Value, ...], float]:
        return job_values(self.jobs, before, self.kit, self.risk, self.parameters, self.worth)

    def _begun(self) -> set[str]:
        return {self.jobs[place].place for place in self.finished}

    def _closure(self, live: Edges) -> tuple[tuple[int, ...], tuple[int, ...]]:
        try:
            return live.before, live.after
        except ValueError:
            raise CyclicOrder(shortest_cycle(live)) from None

    def _plan(self, before: Sequence[int], after: Sequence[int], values: Sequence[Value]) -> Plan:
        over = set(self.finished)
        todo = [place for place in range(len(self.jobs)) if place not in over]
        groups = _groups(self.jobs, todo, before, after, values, self.spots)
        cost: list[float] = []
        keep: list[float] = []
        for places in groups:
            total, survive = 0.0, 1.0
            for place in places:
                total += survive * values[place].cost
                survive *= 1.0 - values[place].chance
            cost.append(total)
            keep.append(survive)
        members = [tuple(places) for places in groups]
        begun = self._begun()
        # A board that is begun with its first job stands before all that is done on it.
        opened: list[int] = []
        for name, price in starts(self.jobs, self.kit).items():
            if name in begun:
                continue
            cost.append(price)
            keep.append(1.0)
            members.append(())
            opened.append(
                mask_of([g for g, m in enumerate(groups) if self.jobs[m[0]].place == name])
            )
        heads = [places[0] for places in groups]
        waits = turned(picked([before[head] for head in heads], heads), len(groups))
        problem = closed_problem(cost, keep, waits, opened)
        spots = [self.spots[self.jobs[m[0]].key] if m else None for m in members]
        return Plan(problem, self._changes(spots), tuple(members))

    def _changes(self, spots: Sequence[Spot | None]) -> Changes:
        kinds = list(dict.fromkeys(spot for spot in spots if spot is not None))
        number = {spot: place for place, spot in enumerate(kinds)}
        money = self.worth / 60
        table = tuple(
            tuple(
                0.0 if a == b else TIE + money * change_minutes(a, b, self.parameters)
                for b in kinds
            )
            for a in kinds
        )
        return Changes(tuple(-1 if s is None else number[s] for s in spots), table)

    def _keys(self, plan: Plan, order: Sequence[int]) -> tuple[str, ...]:
        rest = [place for node in order for place in plan.members[node]]
        return tuple(self.jobs[place].key for place in (*self.finished, *rest))

    def _lost(
        self, problem: Problem, order: Sequence[int], values: Sequence[Value], clear: float
    ) -> Lost:
        """What is kept in the end is no loss; what is sunk already, the kit's own price with
        it, is lost as well where the rest fails."""
        success = clear
        for keep in problem.keep:
            success *= keep
        over, begun = set(self.finished), self._begun()
        sunk, kept = self.kit.price or 0.0, 0.0
        for place, value in enumerate(values):
            if place in over:
                sunk += value.cost
            else:
                kept += value.cost
        for name, amount in starts(self.jobs, self.kit).items():
            if name in begun:
                sunk += amount
            else:
                kept += amount
        offset = sunk * (1.0 - success) - success * kept
        lost = max(cost_of(problem, order) + offset, 0.0)
        return Lost(self.risk.ruined.mid + lost, lost, 1.0 - success)


def _groups(
    jobs: Sequence[Job],
    todo: Sequence[int],
    before: Sequence[int],
    after: Sequence[int],
    values: Sequence[Value],
    spots: Mapping[str, Spot | None],
) -> list[list[int]]:
    """Identical jobs with the same precedence, each group in the jobs' order."""
    table: dict[tuple[object, ...], list[int]] = {}
    for place in todo:
        job = jobs[place]
        sign = (before[place], after[place], values[place], spots[job.key], job.alike)
        table.setdefault(sign, []).append(place)
    return list(table.values())


def _gap(loss: float, least: float) -> float:
    return min((loss - least) / loss, 1.0) if loss > least + TIE else 0.0
