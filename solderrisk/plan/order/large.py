"""Orders of many hundred pieces of work: a good one at once, and a bound that shows how good.

A piece of work is worth doing early together with all that it still waits for: the string
with the least cost per risk goes next. Sums are kept as whole numbers, so that the order
does not hang on the sequence in which a processor adds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from heapq import heappop, heappush
from math import frexp, inf, log

import numpy as np
from numpy.typing import NDArray

from solderrisk.plan.order.bounds import Problem, best_forest, cost_of, ratio_of, with_dominance
from solderrisk.plan.order.edges import bits
from solderrisk.plan.order.search import Budget, Found, reinsert

Floats = NDArray[np.float64]
Nodes = NDArray[np.intp]
String = tuple[float, int, float, float]  # ratio, its first node, cost, chance to survive

ROWS = 256  # rows of a bit table that are spread out at a time
EXACT_BITS = 51  # sums of whole numbers below 2 to this are exact
FOREST_MOST = 1000  # nodes; its pairs are looked at one by one
TRIED = 12  # pairs of sets, twice
DEEPEST = 60  # pairs inside pairs
RISKLESS = 1e300  # the ratio of what cannot fail: it may wait


def solve_large(problem: Problem, budget: Budget) -> Found:
    """A good order with a lower bound on the cost of any."""
    order = by_strings(problem, budget)
    bound = Relaxed(problem).bound()
    if problem.size <= FOREST_MOST:
        # Rules that are few and scattered have no sets to part by.
        forest = best_forest(with_dominance(problem, rounds=1), passes=0)
        bound = max(bound, forest.bound(forest.root_ranks))
    found = Found(order, cost_of(problem, order), bound, 0, budget.stopped)
    if found.optimal:
        return found
    order = reinsert(problem, order, budget)
    return Found(order, cost_of(problem, order), bound, 0, budget.stopped)


def by_strings(problem: Problem, budget: Budget) -> tuple[int, ...]:
    """Always next: what, with all that it still waits for, costs least per risk."""
    size = problem.size
    cost, risk = _whole(problem.cost), _whole([-log(keep) for keep in problem.keep])
    costs, risks = _closed_sums(problem)
    ratio = _ratio(costs, risks)
    order: list[int] = []
    done = 0
    # Scopes inside one another: all; what the chosen one waits for; and so on down.
    scopes: list[tuple[int, Nodes]] = [(-1, np.arange(size))]
    while not budget.stopped:
        node, scope = scopes.pop()
        scope = scope[ratio[scope] < inf]
        if len(scope):
            scopes.append((node, scope))
            node = int(scope[np.argmin(ratio[scope])])
            waits = problem.before[node] & ~done
            if waits:
                scopes.append((node, _numbers(waits)))
                continue
        if node < 0:
            break
        budget.spend(1 + size // 2048)
        order.append(node)
        done |= 1 << node
        ratio[node] = inf
        later = _numbers(problem.after[node] & ~done)
        costs[later] -= cost[node]
        risks[later] -= risk[node]
        ratio[later] = _ratio(costs[later], risks[later])
    left = [node for node in range(size) if not done >> node & 1]
    # Stopped: whatever waits for less first.
    return (*order, *sorted(left, key=lambda n: (problem.before[n].bit_count(), n)))


class Relaxed:
    """The least cost under fewer rules, such that it can be told: a lower bound.

    Where all of one set wait for all of another, the two are solved apart and put in series;
    what is neither runs beside them, its own rules kept. Where no such pair is found,
    everything waits for one other alone.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        ratio = closed_ratio(problem)
        self.rank = np.empty(problem.size, np.int64)
        self.rank[np.argsort(ratio, kind="stable")] = np.arange(problem.size)

    def bound(self) -> float:
        total, alive = 0.0, 1.0
        for _, _, cost, keep in self.strings(self.problem.full):
            total += alive * cost
            alive *= keep
        return total

    def strings(self, nodes: int, depth: int = 0) -> list[String]:
        """The best order of a set under fewer rules, as strings of rising ratio."""
        split = self._split(nodes) if depth < DEEPEST else None
        if split is None:
            return self._forest(nodes)
        first, then = split
        both = _series(self.strings(first, depth + 1), self.strings(then, depth + 1))
        rest = nodes & ~first & ~then
        return sorted(both + self.strings(rest, depth + 1)) if rest else both

    def _split(self, nodes: int) -> tuple[int, int] | None:
        """The largest two sets, of those tried, of which the second waits for all the first."""
        before, after = self.problem.before, self.problem.after
        waits: dict[int, int] = {}
        for node in bits(nodes):
            mask = before[node] & nodes
            if mask:
                waits[mask] = waits.get(mask, 0) + 1
        most = sorted(waits, key=lambda mask: -mask.bit_count() * waits[mask])[:TRIED]
        by_size = sorted(waits, key=int.bit_count)
        best, found = 0, None
        for mask in dict.fromkeys([*most, *by_size[:: max(1, len(by_size) // TRIED)]]):
            then = nodes
            for node in bits(mask):
                then &= after[node]
                if not then:
                    break
            first = nodes if then else 0
            for node in bits(then):
                first &= before[node]
            value = first.bit_count() * then.bit_count()
            if value > best:
                best, found = value, (first, then)
        return found

    def _forest(self, nodes: int) -> list[String]:
        """Each waits for the heaviest of what it waits for: Horn's rule, strings in heaps."""
        problem, ends = self.problem, self.problem.size
        hanging: dict[int, list[String]] = {}
        down = sorted(bits(nodes), key=lambda n: ((problem.before[n] & nodes).bit_count(), n))
        for node in reversed(down):
            strings = hanging.pop(node, [])
            cost, keep = problem.cost[node], problem.keep[node]
            while strings and strings[0][0] < ratio_of(cost, keep):
                _, _, more, chance = heappop(strings)
                cost, keep = cost + keep * more, keep * chance
            heappush(strings, (ratio_of(cost, keep), node, cost, keep))
            waits = _numbers(problem.before[node] & nodes)
            up = int(waits[np.argmax(self.rank[waits])]) if len(waits) else ends
            small, large = sorted((strings, hanging.get(up, [])), key=len)
            for string in small:
                heappush(large, string)
            hanging[up] = large
        return sorted(hanging[ends])


def _series(first: list[String], then: list[String]) -> list[String]:
    """One after the other: a string that is worse than the one after it takes that along."""
    for _, node, cost, keep in then:
        while first and first[-1][0] >= ratio_of(cost, keep):
            _, _, early, chance = first.pop()
            cost, keep = early + chance * cost, chance * keep
        first.append((ratio_of(cost, keep), node, cost, keep))
    return first


def closed_ratio(problem: Problem) -> Floats:
    """Cost per risk of every node together with all that it waits for."""
    return _ratio(*_closed_sums(problem))


def _closed_sums(problem: Problem) -> tuple[Floats, Floats]:
    cost, risk = _whole(problem.cost), _whole([-log(keep) for keep in problem.keep])
    costs, risks = cost.copy(), risk.copy()
    for start, table in _tables(problem.before, problem.size):
        costs[start : start + len(table)] += table @ cost
        risks[start : start + len(table)] += table @ risk
    return costs, risks


def _whole(values: Sequence[float]) -> Floats:
    """Values in whole numbers of a unit that keeps every sum of them exact."""
    _, power = frexp(sum(values))
    return np.rint(np.asarray(values) * 2.0 ** (EXACT_BITS - power))


def _ratio(costs: Floats, risks: Floats) -> Floats:
    """Cost per risk: 0 for what costs nothing."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(risks > 0, costs / risks, RISKLESS)
    return np.asarray(np.where(costs > 0, ratio, 0.0))


def _numbers(mask: int) -> Nodes:
    return np.asarray(bits(mask), np.intp)


def _tables(masks: Sequence[int], size: int) -> Iterator[tuple[int, Floats]]:
    """Masks spread out: the first row's number, and rows by columns of 0 and 1."""
    width = (size + 7) // 8
    for start in range(0, len(masks), ROWS):
        packed = b"".join(mask.to_bytes(width, "little") for mask in masks[start : start + ROWS])
        table = np.frombuffer(packed, np.uint8).reshape(-1, width)
        yield start, np.unpackbits(table, axis=1, bitorder="little")[:, :size].astype(np.float64)
