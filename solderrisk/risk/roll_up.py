"""Roll-up: from the chosen techniques of all jobs to first-time yield, working boards,
counts of faults, money and hours.

In every sample all joints of a skill share one psi and all jobs one world; means are taken
last, because the mean of a product is not the product of means.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import steady
from solderrisk.risk.hands import HIGH, LOW, Hand, sample_range
from solderrisk.risk.outcomes import Outcome, used_up
from solderrisk.risk.results import Range
from solderrisk.risk.work import Stock
from solderrisk.risk.yields import count_at_most

Floats = NDArray[np.float64]

STRATA = 64


@dataclass(frozen=True)
class Share:
    """``count`` equal jobs done by one technique. ``part_cost`` is what one lost part
    costs; ``stock``: what parts they share with others, where spares are left."""

    outcome: Outcome
    skill: str
    count: int
    part_cost: float
    stock: Stock | None = None

    @property
    def fails(self) -> Floats:
        """Hazard of one job, what all of a stock use up not counted."""
        return self.outcome.fails if self.stock is None else self.outcome.board


@dataclass(frozen=True)
class Totals:
    """Per sample: first time, works at first power, working, expected faults and the sum of
    their squares, minutes, money for lost parts and damage."""

    first_time: Floats
    first_power: Floats
    working: Floats
    faults: Floats
    squares: Floats
    minutes: Floats
    money: Floats


def roll_up(shares: Sequence[Share], hands: Mapping[str, Hand], spoiled: float = 0.0) -> Totals:
    """Combine all jobs. ``spoiled`` is the chance that work without solder spoils it."""
    samples = next(iter(hands.values())).samples
    sums = np.zeros((7, samples))
    for skill in sorted({share.skill for share in shares}):
        sums += hands[skill].at_samples(_tables([s for s in shares if s.skill == skill]))
    first, power, fails, faults, squares, minutes, money = sums
    fails = fails + _used_up(shares, hands)
    sound = 1 - spoiled
    return Totals(
        np.exp(-first),
        np.exp(-power) * sound,
        np.exp(-fails) * sound,
        *(faults, squares, minutes, money),
    )


def _tables(shares: Sequence[Share]) -> Floats:
    tables = np.zeros((7, *shares[0].outcome.fails.shape))
    for share in shares:
        outcome, table, count = share.outcome, share.outcome.table, share.count
        tables[0] += count * table.first
        tables[1] += count * table.power
        tables[2] += count * share.fails
        tables[3] += count * table.faults
        tables[4] += count * table.squares
        tables[5] += count * outcome.minutes
        tables[6] += count * (outcome.parts * share.part_cost + table.damage)
    return tables


def working_of(shares: Sequence[Share], hands: Mapping[str, Hand]) -> Floats:
    """Chance per sample that everything works in the end."""
    fails = np.zeros(next(iter(hands.values())).samples)
    for skill in sorted({share.skill for share in shares}):
        own = (share.count * share.fails for share in shares if share.skill == skill)
        fails = fails + hands[skill].at_samples(np.asarray(sum(own)))
    return np.exp(-fails - _used_up(shares, hands))


def _used_up(shares: Sequence[Share], hands: Mapping[str, Hand]) -> Floats:
    """Hazard, by sample, that jobs which share parts use up more than there are."""
    total = np.zeros(next(iter(hands.values())).samples)
    for stock in dict.fromkeys(share.stock for share in shares):
        if stock is not None:
            mine = [share for share in shares if share.stock == stock]
            keep = (np.exp(-hands[s.skill].at_samples(s.outcome.table.part)) for s in mine)
            counts = (share.count for share in mine)
            total = total + used_up(stock.spares, list(zip(counts, keep, strict=True)))
    return total


def failure_shares(
    shares: Sequence[Share], hands: Mapping[str, Hand], working: Floats
) -> list[float]:
    """Share of the kit's expected failure that one job of each entry carries.

    In a sample, failure 1 - W is split in proportion to each job's hazard: the split that
    adds up whatever the order. Over all jobs the shares sum to 1 (0 if nothing can fail).
    """
    hazard = -np.log(np.maximum(working, 1e-300))
    scale = np.where(hazard > 0, (1 - working) / np.maximum(hazard, 1e-15), 1.0)
    grids = {
        skill: hand.on_tables(scale)
        for skill, hand in hands.items()
        if any(share.skill == skill for share in shares)
    }
    carried = [float(np.vdot(share.outcome.fails, grids[share.skill])) for share in shares]
    total = sum(one * share.count for one, share in zip(carried, shares, strict=True))
    return [steady(one / total) if total > 0 else 0.0 for one in carried]


def fault_range(totals: Totals) -> Range:
    """Number of faults to expect: its mean, and the 5 % and 95 % quantiles of the count,
    chance and doubt together."""
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
    """First time, first power, working, loss and hours as ranges. ``stake``: what a kit that
    does not work has cost."""
    loss = totals.money + stake * (1 - totals.working)
    return {
        "first_time": sample_range(totals.first_time),
        "first_power": sample_range(totals.first_power),
        "working": sample_range(totals.working),
        "loss": sample_range(loss),
        "hours": sample_range(totals.minutes / 60),
    }
