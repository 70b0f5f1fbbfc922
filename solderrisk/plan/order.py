"""The fitting order: least expected loss under precedence, then few changes on the bench.

Identical placements with the same precedence are one group: some best order does them in
a row. The loss of an order is what is sunk when something fails for good, money and hours.
Extra loss is accepted only where it is worth less than the time of the changes it saves,
and is stated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from time import thread_time

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.parameters import Parameters
from solderrisk.model.question import Cancelled, Progress
from solderrisk.plan.edges import Edge, Edges
from solderrisk.plan.order_task import OrderTask
from solderrisk.plan.precedence_net import Net
from solderrisk.plan.precedence_rules import warm_up
from solderrisk.plan.results import FittingOrder
from solderrisk.risk.results import KitRisk

# Far beyond what the counted steps take: the clock shall not decide an order.
TIME_LIMIT_S = 60.0


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
    notes: Sequence[str] = (),
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    time_limit_s: float = TIME_LIMIT_S,
) -> FittingOrder:
    """The order of all jobs with its proof or its gap.

    ``hour_value``: money per hour where the kit states none. ``locked``: further edges, as
    ``replan.lock`` makes them. ``done``: job keys already finished, in their order; they
    stay in front, whatever the edges say. ``notes`` are handed through. The result depends
    on the input alone unless ``cancelled`` or the limit of processor time cuts the search
    short, which the note then says.

    Raises:
        CyclicOrder: the edges form a circle.
        KeyError: ``done`` names a job that does not exist.
    """
    every = Edges.of(jobs, edges).joined(locked)
    live = every.binding(done)
    steps = int(parameters["order_steps"])
    limit = (thread_time() + time_limit_s, cancelled)

    def tell(share: float) -> None:
        if progress is not None:
            progress(share, "looking for the best order")

    task = OrderTask(jobs, kit, risk, parameters, hour_value, done, tuple(notes))
    if not easy_first:
        return task.search(live, every, steps, limit, tell)
    net = Net(jobs, live)
    warm_up(net, [job for job in jobs if job.key not in set(done)], risk)
    extra = Edges(jobs, net.rows[len(live.rows) :])
    plain = task.search(live, every, steps, limit, lambda share: tell(share / 2))
    later = live.joined(extra), every.joined(extra)
    warm = task.search(*later, steps, limit, lambda share: tell(0.5 + share / 2))
    more = warm.expected_loss - plain.expected_loss
    return replace(warm, note=f"{warm.note}; easy parts first adds {more:.2f} to the loss")


def priced_order(
    keys: Sequence[str],
    jobs: Sequence[Job],
    kit: Kit,
    risk: KitRisk,
    edges: Sequence[Edge],
    *,
    parameters: Parameters,
    least: float,
    note: str,
    hour_value: float = 0.0,
    done: Sequence[str] = (),
    notes: Sequence[str] = (),
) -> FittingOrder:
    """An order made by hand, with its loss, stages and its distance from ``least``, the
    proved least expected loss. ``keys`` begin with ``done``."""
    task = OrderTask(jobs, kit, risk, parameters, hour_value, done, tuple(notes))
    every = Edges.of(jobs, edges)
    return task.priced(keys, every.binding(done), every, least, note)
