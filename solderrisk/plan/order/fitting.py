"""Fitting order, and what becomes of it when jobs are done, moved or locked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from time import thread_time

from solderrisk.model.jobs import Job
from solderrisk.model.problems import UserProblem
from solderrisk.model.question import ALONE, Run
from solderrisk.plan.order.edges import Edge, Edges, Why, bits
from solderrisk.plan.order.net import Net
from solderrisk.plan.order.rules import warm_up
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.results import FittingOrder, Move, Search

# Far beyond what the counted steps take: the clock shall not decide an order.
TIME_LIMIT_S = 60.0


def fitting_order(
    task: OrderTask,
    edges: Sequence[Edge],
    *,
    easy_first: bool = False,
    locked: Sequence[Edge] = (),
    run: Run = ALONE,
    time_limit_s: float = TIME_LIMIT_S,
) -> FittingOrder:
    """The order of all jobs with its proof or its gap.

    ``locked``: further edges, as ``replan.lock`` makes them. What the task has done stays in
    front, whatever the edges say. The result depends on the input alone unless the caller or
    the limit of processor time cuts the search short, which it then says.

    Raises:
        CyclicOrder: the edges form a circle.
    """
    jobs = task.jobs
    every = Edges.of(jobs, edges).joined(locked)
    live = every.binding(task.done)
    steps = int(task.parameters["order_steps"])
    limit = (thread_time() + time_limit_s, run.cancelled)

    def tell(share: float) -> None:
        if run.progress is not None:
            run.progress(share, "looking for the best order")

    if not easy_first:
        return task.search(live, every, steps, limit, tell)
    net = Net(jobs, live)
    warm_up(net, [job for job in jobs if job.key not in set(task.done)], task.risk)
    extra = Edges(jobs, net.rows[len(live.rows) :])
    plain = task.search(live, every, steps, limit, lambda share: tell(share / 2))
    later = live.joined(extra), every.joined(extra)
    warm = task.search(*later, steps, limit, lambda share: tell(0.5 + share / 2))
    more = warm.expected_loss - plain.expected_loss
    found = warm.made
    return replace(warm, made=replace(found, warm_up=more) if isinstance(found, Search) else found)


class MoveRefused(UserProblem):
    """A step cannot go there; ``edge`` is the rule it would break, None where it is done."""

    def __init__(self, message: str, edge: Edge | None = None) -> None:
        self.edge = edge
        super().__init__(message)


def moved_keys(
    order: FittingOrder,
    edges: Edges,
    key: str,
    before_key: str | None,
    *,
    done: Sequence[str] = (),
) -> tuple[str, ...]:
    """The keys with ``key`` moved to just before ``before_key``, or to the end for None.

    Raises:
        MoveRefused: it would break a rule, or one of the two is done already.
        KeyError: a key is not in the order.
    """
    for name in (key, before_key):
        if name is not None and name not in order.keys:
            raise KeyError(f"no step {name!r} in the order")
        if name in done:
            raise MoveRefused(f"{name} is done already")
    if key == before_key:
        return order.keys
    rest = [other for other in order.keys if other != key]
    place = len(rest) if before_key is None else rest.index(before_key)
    where = {other: 2 * spot for spot, other in enumerate(rest)}
    where[key] = 2 * place - 1
    rules = edges.binding(done)
    for edge in (*rules.into(key), *rules.out(key)):
        if edge.first not in done and where[edge.first] > where[edge.then]:
            raise MoveRefused(
                f"{edge.first} has to come before {edge.then}: {edge.why.told} ({edge.rule})", edge
            )
    return (*rest[:place], key, *rest[place:])


def move(
    task: OrderTask,
    order: FittingOrder,
    edges: Sequence[Edge],
    key: str,
    before_key: str | None,
) -> FittingOrder:
    """The order with one step moved by hand, its loss and stages worked out anew.

    Raises:
        MoveRefused: it would break a rule; the message gives the rule's reason.
        KeyError: a key is not in the order.
    """
    every = Edges.of(task.jobs, edges)
    keys = moved_keys(order, every, key, before_key, done=task.done)
    least = order.expected_loss * (1.0 - order.gap)
    made = Move(key, before_key, 0.0)
    moved = task.priced(keys, every.binding(task.done), every, least, made)
    added = moved.expected_loss - order.expected_loss
    return replace(moved, made=replace(made, added=added))


def lock(order: FittingOrder, key: str) -> tuple[Edge, ...]:
    """Edges that hold a step in its place: after all that is before it, before the rest.

    Raises:
        KeyError: the key is not in the order.
    """
    if key not in order.keys:
        raise KeyError(f"no step {key!r} in the order")
    place = order.keys.index(key)
    why = Why("locked", (key,))
    earlier = (Edge(other, key, "locked", why) for other in order.keys[:place])
    later = (Edge(key, other, "locked", why) for other in order.keys[place + 1 :])
    return (*earlier, *later)


def replan(
    task: OrderTask,
    edges: Sequence[Edge],
    *,
    locked: Sequence[Edge] = (),
    run: Run = ALONE,
) -> FittingOrder:
    """Plan the rest: what the task has done stays in front in the order it was done. What has
    to be done anew after a fault is taken out of that first, by ``still_done``.

    Raises:
        CyclicOrder: the edges form a circle.
        KeyError: a key that is no job.
    """
    return fitting_order(task, edges, locked=locked, run=run)


def still_done(
    jobs: Sequence[Job], edges: Sequence[Edge], done: Sequence[str], again: Sequence[str]
) -> tuple[str, ...]:
    """What stays done once some jobs have to be done anew."""
    known = Edges.of(jobs, edges)
    reached = 0
    for key in again:
        reached |= known.after[known.place[key]]
    anew = set(again)
    for number in bits(reached):
        job = jobs[number]
        if job.gate is not None or (job.task is not None and job.task.kind == "fit_case"):
            anew.add(job.key)
    return tuple(key for key in dict.fromkeys(done) if key not in anew)
