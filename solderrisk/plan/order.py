"""The fitting order: least expected loss under precedence, then few changes on the bench.

Identical placements with the same precedence are one group: some best order does them in
a row. The loss of an order is what is sunk when something fails for good, money and hours.
Extra loss is accepted only where it is worth less than the time of the changes it saves,
and is stated.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from time import monotonic

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.reference import Parameters
from solderrisk.plan.order_bounds import Problem, bits, closure, cost_of, make_problem
from solderrisk.plan.order_changes import Changes, fewer_changes
from solderrisk.plan.order_search import Budget, Found, solve
from solderrisk.plan.order_values import (
    Spot,
    Value,
    change_minutes,
    count_changes,
    job_values,
    spot_of,
    starts,
)
from solderrisk.plan.precedence_net import CyclicOrder, Net, shortest_cycle
from solderrisk.plan.precedence_rules import risk_by_key, warm_up
from solderrisk.plan.results import Edge, FittingOrder
from solderrisk.plan.stages import stages_of
from solderrisk.risk.results import KitRisk

Progress = Callable[[float, str], None]
Cancelled = Callable[[], bool]

TIE = 1e-9  # a change that costs no time still counts where all else is equal


@dataclass(frozen=True)
class Plan:
    """The groups to be ordered, as a bare problem; ``members[i]`` are job places, empty for
    the nodes that stand for a board or donor being begun."""

    problem: Problem
    changes: Changes
    members: tuple[tuple[int, ...], ...]


def fitting_order(
    jobs: Sequence[Job],
    kit: Kit,
    risk: KitRisk,
    edges: Sequence[Edge],
    *,
    parameters: Parameters,
    hour_value: float = 0.0,
    easy_first: bool = False,
    locked: Sequence[Edge] = (),
    done: Sequence[str] = (),
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    time_limit_s: float = 5.0,
) -> FittingOrder:
    """The order of all jobs with its proof or its gap.

    ``hour_value``: money per hour where the kit states none. ``locked``: further edges, as
    ``replan.lock`` makes them. ``done``: job keys already finished, in their order; they
    stay in front, whatever the edges say. The result depends on the input alone unless the
    clock or ``cancelled`` cuts the search short, which the note then says.

    Raises:
        CyclicOrder: the edges form a circle.
        KeyError: ``done`` names a job that does not exist.
    """
    places = {job.key: place for place, job in enumerate(jobs)}
    finished = [places[key] for key in dict.fromkeys(done)]
    over = set(done)
    every = [*edges, *locked]
    # What is done may have been done out of turn: it waits for nothing any more.
    live = [edge for edge in every if edge.then not in over]
    budget = Budget(
        steps=int(parameters["order_steps"]),
        deadline=monotonic() + time_limit_s,
        cancelled=cancelled,
        progress=None if progress is None else lambda share: progress(share, "order"),
    )
    worth = hour_value if kit.hour_value is None else kit.hour_value
    task = _Task(jobs, finished, kit, risk, parameters, worth)
    if not easy_first:
        return task.run(live, every, budget)
    net = Net(jobs, live)
    warm_up(net, [job for job in jobs if job.key not in over], risk)
    extra = net.edges[len(live) :]
    plain = task.run(live, every, Budget(budget.steps, budget.deadline, cancelled))
    warm = task.run([*live, *extra], [*every, *extra], budget)
    more = warm.expected_loss - plain.expected_loss
    return replace(warm, note=f"{warm.note}; easy parts first adds {more:.2f} to the loss")


class _Task:
    """One ordering task: what is done, what is to do, and what each job puts at stake."""

    def __init__(
        self,
        jobs: Sequence[Job],
        finished: Sequence[int],
        kit: Kit,
        risk: KitRisk,
        parameters: Parameters,
        worth: float,
    ) -> None:
        self.jobs, self.finished = jobs, finished
        self.kit, self.risk, self.parameters, self.worth = kit, risk, parameters, worth
        risks = risk_by_key(risk)
        self.spots = {job.key: spot_of(job, risks.get(job.key)) for job in jobs}

    def run(self, live: Sequence[Edge], edges: Sequence[Edge], budget: Budget) -> FittingOrder:
        """Search and dress the result; ``live`` are the edges that still bind."""
        before, after = self._closure(live)
        values, clear = job_values(
            self.jobs, before, self.kit, self.risk, self.parameters, self.worth
        )
        plan = self._plan(before, after, values)
        found = solve(plan.problem, budget)
        polish = Budget(budget.steps // 3, budget.deadline, budget.cancelled)
        order, cheapest = fewer_changes(plan.problem, plan.changes, found.order, polish)
        keys = self._keys(plan, order)
        loss, least = self._losses(plan.problem, order, found.bound, values, clear)
        gap = min((loss - least) / loss, 1.0) if loss > least + TIE else 0.0
        swaps = count_changes(keys, self.spots)
        saved = count_changes(self._keys(plan, found.order), self.spots) - swaps
        return FittingOrder(
            keys=keys,
            stages=stages_of(keys, self.jobs, self.risk, edges, parameters=self.parameters),
            edges=tuple(edges),
            expected_loss=loss,
            optimal=found.optimal and gap == 0.0,
            gap=gap,
            swaps=swaps,
            note=_note(found, gap, saved, cheapest, found.stopped or polish.stopped),
        )

    def _closure(self, live: Sequence[Edge]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        index = {job.key: place for place, job in enumerate(self.jobs)}
        arcs = [(index[edge.first], index[edge.then]) for edge in live]
        try:
            return closure(len(self.jobs), arcs)
        except ValueError:
            raise CyclicOrder(shortest_cycle(live)) from None

    def _plan(self, before: Sequence[int], after: Sequence[int], values: Sequence[Value]) -> Plan:
        todo = [place for place in range(len(self.jobs)) if place not in set(self.finished)]
        groups = _groups(self.jobs, todo, before, after, values, self.spots)
        group_of = {place: g for g, places in enumerate(groups) for place in places}
        cost: list[float] = []
        keep: list[float] = []
        arcs: list[tuple[int, int]] = []
        for g, places in enumerate(groups):
            total, survive = 0.0, 1.0
            for place in places:
                total += survive * values[place].cost
                survive *= 1.0 - values[place].chance
            cost.append(total)
            keep.append(survive)
            waits = {group_of[i] for i in bits(before[places[0]]) if i in group_of}
            arcs.extend((other, g) for other in sorted(waits))
        members = [tuple(places) for places in groups]
        begun = {self.jobs[place].place for place in self.finished}
        for name, price in starts(self.jobs, self.kit).items():
            if name in begun:
                continue
            node = len(cost)
            cost.append(price)
            keep.append(1.0)
            members.append(())
            arcs.extend(
                (node, g) for g, places in enumerate(groups) if self.jobs[places[0]].place == name
            )
        spots = [self.spots[self.jobs[m[0]].key] if m else None for m in members]
        return Plan(make_problem(cost, keep, arcs), self._changes(spots), tuple(members))

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

    def _losses(
        self,
        problem: Problem,
        order: Sequence[int],
        bound: float,
        values: Sequence[Value],
        clear: float,
    ) -> tuple[float, float]:
        """Expected loss of the order and the least possible. What is kept in the end is no
        loss; what is sunk already is lost as well where the rest fails."""
        success = clear
        for keep in problem.keep:
            success *= keep
        begun = {self.jobs[place].place for place in self.finished}
        prices = starts(self.jobs, self.kit)
        sunk = sum(values[place].cost for place in self.finished)
        sunk += sum(price for name, price in prices.items() if name in begun)
        offset = sunk * (1.0 - success) - success * sum(problem.cost)
        return max(cost_of(problem, order) + offset, 0.0), max(bound + offset, 0.0)


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


def _note(found: Found, gap: float, saved: int, cheapest: bool, stopped: bool) -> str:
    if found.optimal and gap == 0.0:
        text = "optimal: proved that no order has a lower expected loss"
    elif found.optimal:
        text = f"within {gap:.2%} of the least possible expected loss (proved)"
    else:
        text = f"not proved optimal: at most {gap:.2%} of its expected loss could be saved"
    if saved > 0 and gap > 0.0:
        text += f"; {saved} fewer changes of tool, tip, heat or side are worth more"
    if cheapest:
        text += "; with the time for changes counted no order is cheaper (proved)"
    return text + ("; stopped early" if stopped else "")
