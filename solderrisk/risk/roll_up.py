"""Roll-up: from the chosen techniques of all jobs to first-time yield, working boards,
counts of faults, money and hours.

In every sample all joints of a skill share one psi; means are taken last, because the mean
of a product is not the product of means.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import steady
from solderrisk.risk.hands import GRID, HIGH, LOW, Hand, sample_range
from solderrisk.risk.outcomes import DAMAGE, FAULTS, MINUTES, PARTS, Outcome
from solderrisk.risk.results import Range
from solderrisk.risk.yields import count_at_most

Floats = NDArray[np.float64]

STRATA = 64
_TINY = 1e-300


@dataclass(frozen=True)
class Share:
    """``count`` equal jobs done by one technique. ``part_cost`` is what one lost part
    costs."""

    outcome: Outcome
    skill: str
    count: int
    part_cost: float


@dataclass(frozen=True)
class Totals:
    """Per sample: first time, working, expected faults and the sum of their squares,
    minutes, money for lost parts and damage."""

    first_time: Floats
    working: Floats
    faults: Floats
    squares: Floats
    minutes: Floats
    money: Floats


def roll_up(shares: Sequence[Share], hands: Mapping[str, Hand], spoiled: float = 0.0) -> Totals:
    """Combine all jobs. ``spoiled`` is the chance that work without solder spoils it."""
    samples = len(next(iter(hands.values())).psi)
    sums = np.zeros((6, samples))
    for skill in sorted({share.skill for share in shares}):
        tables = np.zeros((6, len(GRID)))
        for share in shares:
            if share.skill == skill:
                tables += share.count * _tables(share)
        sums += hands[skill].at_samples(tables)
    return Totals(
        np.exp(sums[0]), np.exp(sums[1]) * (1 - spoiled), sums[2], sums[3], sums[4], sums[5]
    )


def _tables(share: Share) -> Floats:
    outcome = share.outcome
    rows = outcome.rows
    money = rows[PARTS] * share.part_cost + rows[DAMAGE]
    return np.stack(
        [outcome.table.log_first, outcome.log_work, rows[FAULTS], outcome.table.squares,
         rows[MINUTES], money]
    )  # fmt: skip


def failure_shares(
    shares: Sequence[Share], hands: Mapping[str, Hand], working: Floats
) -> list[float]:
    """Share of the kit's expected failure that one job of each entry carries.

    In a sample, failure 1 - W is split in proportion to each job's -log(chance): the split
    that adds up whatever the order. Over all jobs the shares sum to 1 (0 if nothing can
    fail).
    """
    logs = np.log(np.maximum(working, _TINY))
    with np.errstate(invalid="ignore"):
        scale = np.where(logs < 0, (1 - working) / -np.minimum(logs, -1e-15), 1.0)
    grids = {skill: hand.on_grid(scale) for skill, hand in hands.items()}
    carried = [float(-share.outcome.log_work @ grids[share.skill]) for share in shares]
    total = sum(one * share.count for one, share in zip(carried, shares, strict=True))
    return [steady(one / total) if total > 0 else 0.0 for one in carried]


def fault_range(totals: Totals) -> Range:
    """Number of faults to expect: its mean, and the 5 % and 95 % quantiles of the count,
    chance and doubt about the person together."""
    order = np.argsort(totals.faults, kind="stable")
    picked = order[((np.arange(STRATA) + 0.5) * len(order) / STRATA).astype(int)]
    mean, squares = totals.faults[picked], totals.squares[picked]

    def at_most(count: int) -> float:
        return float(count_at_most(count, mean, squares).mean())

    return Range(
        float(_first_count(at_most, LOW)),
        steady(totals.faults.mean()),
        float(_first_count(at_most, HIGH)),
    )


def _first_count(at_most: Callable[[int], float], level: float) -> int:
    low, high = -1, 1
    while at_most(high) < level:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if at_most(middle) >= level else (middle, high)
    return high


def ranges(totals: Totals, stake: float) -> dict[str, Range]:
    """First time, working, loss and hours as ranges. ``stake``: what a kit that does not
    work has cost."""
    loss = totals.money + stake * (1 - totals.working)
    return {
        "first_time": sample_range(totals.first_time),
        "working": sample_range(totals.working),
        "loss": sample_range(loss),
        "hours": sample_range(totals.minutes / 60),
    }
