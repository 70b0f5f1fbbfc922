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

from solderrisk.model.question import ALONE, Run
from solderrisk.plan.edges import Edge, Edges
from solderrisk.plan.order_task import OrderTask
from solderrisk.plan.precedence_net import Net
from solderrisk.plan.precedence_rules import warm_up
from solderrisk.plan.results import FittingOrder

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
    the limit of processor time cuts the search short, which the note then says.

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
    return replace(warm, note=f"{warm.note}; easy parts first adds {more:.2f} to the loss")
