"""What would change an answer: the cheapest way out, and single purchases and practices."""

from __future__ import annotations

from collections.abc import Sequence

from solderrisk.plan.results import Assessment, Gain
from solderrisk.report.words import item_name
from solderrisk.words import WIDTH, column, counted, cut, short_list

GAINS_SHOWN = 3


def _way_out(a: Assessment, alone: Sequence[Gain]) -> list[str]:
    """The cheapest tools that open every blocked job, unless one thing alone does it for
    less."""
    tools = [line for line in a.costs.lines if line.kind == "tool" and line.amount is not None]
    jobs = sum(job.blocked for job in a.risk.jobs)
    price = sum(line.amount for line in tools if line.amount is not None)
    if len(tools) < 2 or any(g.enables >= jobs and g.price <= price for g in alone):
        return []
    name = column(" + ".join(line.what for line in tools), 44)
    opened = f"opens {counted(jobs, 'job')}"
    return [f"  {name}{f'{price:.0f} {a.kit.currency}':>10}{'':>8}{opened:>13}"]


def change_rows(a: Assessment, gains: Sequence[Gain]) -> list[str]:
    """The best of what is for sale or can be practised."""
    if not a.verdict.judgement.has_figure:
        missing = "  " + cut(f"a footprint for {short_list(a.kit.not_counted)}", WIDTH - 2)
        return ["", "WHAT WOULD DECIDE IT", missing]
    if a.verdict.judgement.answer == "yes" or not gains:
        return []
    now = a.verdict.chance.mid
    telling = [g for g in gains if g.enables or _points(now + g.alone) > _points(now)]
    best = sorted(telling, key=lambda g: (-g.enables, -round(g.alone, 3), g.cost))[:GAINS_SHOWN]
    rows = _way_out(a, best)
    if not best and not rows:
        return ["", "WHAT WOULD CHANGE IT", "  no single thing in the list of tools and practice"]
    currency = a.kit.currency
    for gain in best:
        then = f"{_points(now)} -> {_points(now + gain.alone)}"
        if gain.enables:
            then = f"opens {counted(gain.enables, 'job')}"
        hours = f"{gain.hours:.1f} h" if gain.hours else ""
        name = column(item_name(gain.item), 44)
        rows.append(f"  {name}{f'{gain.price:.0f} {currency}':>10}{hours:>8}{then:>13}")
    return ["", f"{'WHAT WOULD CHANGE IT':46}{'price':>10}{'time':>8}{'works, %':>13}", *rows]


def _points(chance: float) -> int:
    return round(100 * chance)
