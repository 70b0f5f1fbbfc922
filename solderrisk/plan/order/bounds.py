"""The ordering problem bare of kits: least expected cost under precedence, and bounds on it.

Every node is a piece of work with a cost and a chance that all goes on after it. The cost
of an order is ``sum_i c_i * prod_{j before i} q_j``: what is spent until the end or until
something fails for good (least-cost fault detection). Sets of nodes are bit masks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from solderrisk.plan.order.edges import bits, turned

CHUNK_BITS = 10


@dataclass(frozen=True)
class Problem:
    """``cost[i]`` >= 0, ``keep[i]`` in (0, 1]: the chance that the work survives node i.
    ``before`` and ``after`` hold all predecessors and successors (transitively closed)."""

    cost: tuple[float, ...]
    keep: tuple[float, ...]
    before: tuple[int, ...]
    after: tuple[int, ...]

    @property
    def size(self) -> int:
        return len(self.cost)

    @property
    def full(self) -> int:
        return (1 << self.size) - 1


def make_problem(
    cost: Sequence[float], keep: Sequence[float], arcs: Sequence[tuple[int, int]]
) -> Problem:
    """Build a problem from plain arcs (first, then).

    Raises:
        ValueError: the arcs have a cycle, or an amount is outside its range.
    """
    if any(not c >= 0 for c in cost) or any(not 0 < q <= 1 for q in keep):
        raise ValueError("costs must be >= 0 and survival chances in (0, 1]")
    before, after = closure(len(cost), arcs)
    return Problem(tuple(cost), tuple(keep), before, after)


def closed_problem(
    cost: Sequence[float], keep: Sequence[float], before: Sequence[int], opened: Sequence[int]
) -> Problem:
    """A problem whose predecessors are known. The nodes after those of ``before`` wait for
    nothing; ``opened`` holds what each of them stands before, besides what follows that."""
    size = len(before)
    waits = [*before, *(0 for _ in opened)]
    after = turned(before, size)
    for number, mask in enumerate(opened):
        for node in bits(mask):
            mask |= after[node]
        for node in bits(mask):
            waits[node] |= 1 << size + number
    return Problem(tuple(cost), tuple(keep), tuple(waits), tuple(turned(waits, len(waits))))


def closure(size: int, arcs: Sequence[tuple[int, int]]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """All predecessors and all successors of every node, as bit masks.

    Raises:
        ValueError: the arcs have a cycle.
    """
    direct: list[list[int]] = [[] for _ in range(size)]
    waits = [0] * size
    for first, then in arcs:
        direct[first].append(then)
        waits[then] += 1
    ready = [node for node in range(size) if not waits[node]]
    before = [0] * size
    for node in ready:
        mask = before[node] | 1 << node
        for then in direct[node]:
            before[then] |= mask
            waits[then] -= 1
            if not waits[then]:
                ready.append(then)
    if len(ready) < size:
        raise ValueError("the arcs have a cycle")
    after = [0] * size
    for node in reversed(ready):
        for then in direct[node]:
            after[node] |= after[then] | 1 << then
    return tuple(before), tuple(after)


def ratio_of(cost: float, keep: float) -> float:
    """Cost per chance of failing: small goes first. 0 for what costs nothing."""
    if cost <= 0:
        return 0.0
    return cost / (1.0 - keep) if keep < 1.0 else inf


def cost_of(problem: Problem, order: Sequence[int]) -> float:
    """The expected cost of a whole or partial order from the start."""
    total, survive = 0.0, 1.0
    for node in order:
        total += survive * problem.cost[node]
        survive *= problem.keep[node]
    return total


def with_dominance(problem: Problem, rounds: int = 20) -> Problem:
    """Add arcs that some optimal order keeps anyway.

    Where i waits for no more than j, holds up at least what j holds up, and has the lower
    cost per risk, interchange shows that i goes first. Repeated until nothing is added.
    """
    size = problem.size
    rank = [(ratio_of(problem.cost[i], problem.keep[i]), i) for i in range(size)]
    by_ratio = [node for _, node in sorted(rank)]
    for _ in range(rounds):
        before, after = problem.before, problem.after
        arcs: list[tuple[int, int]] = []
        for place, i in enumerate(by_ratio):
            before_i, after_i = before[i], after[i]
            related = before_i | after_i
            for j in by_ratio[place + 1 :]:
                if not related >> j & 1 and not before_i & ~before[j] and not after[j] & ~after_i:
                    arcs.append((i, j))
        if not arcs:
            break
        arcs.extend((i, j) for j in range(size) for i in bits(cover(problem, j)))
        before, after = closure(size, arcs)
        problem = Problem(problem.cost, problem.keep, before, after)
    return problem


def cover(problem: Problem, node: int) -> int:
    """The direct predecessors of a node: those not implied by another one."""
    left = found = problem.before[node]
    for other in bits(left):
        found &= ~problem.before[other]
    return found


class Forest:
    """A relaxation in which every node waits for at most one other: solved by Horn's rule.

    ``block[v]`` is the best string that starts with v inside its subtree. Blocks are ranked
    by cost per risk once; the rest of any closed set is a set of ranks, so its bound is a
    walk over bits. Chunks of ranks are remembered.
    """

    def __init__(self, problem: Problem, parent: Sequence[int]) -> None:
        size = problem.size
        self.problem = problem
        children: list[list[int]] = [[] for _ in range(size)]
        for node, up in enumerate(parent):
            if up >= 0:
                children[up].append(node)
        self.block: list[tuple[int, ...]] = [()] * size
        value = [(0.0, 1.0)] * size
        hanging: list[list[int]] = [[] for _ in range(size)]
        for node in _leaves_first(parent, children):
            self.block[node], value[node], hanging[node] = self._merge(
                node, children[node], value, hanging
            )
        ratios = [ratio_of(*value[node]) for node in range(size)]
        ranked = sorted(range(size), key=lambda node: (ratios[node], node))
        self.ranked = ranked
        self.rank_cost = [value[node][0] for node in ranked]
        self.rank_keep = [value[node][1] for node in ranked]
        rank = [0] * size
        for place, node in enumerate(ranked):
            rank[node] = place
        self.tree_ranks = [0] * size
        for node in _leaves_first(parent, children):
            mask = 1 << rank[node]
            for below in hanging[node]:
                mask |= self.tree_ranks[below]
            self.tree_ranks[node] = mask
        self.child_ranks = [0] * size
        for node in range(size):
            for child in children[node]:
                self.child_ranks[node] |= self.tree_ranks[child]
        self.root_ranks = 0
        for node in range(size):
            if parent[node] < 0:
                self.root_ranks |= self.tree_ranks[node]
        self._chunks: list[dict[int, tuple[float, float]]] = [
            {0: (0.0, 1.0)} for _ in range(size // CHUNK_BITS + 1)
        ]

    def _merge(
        self,
        node: int,
        children: Sequence[int],
        value: Sequence[tuple[float, float]],
        hanging: Sequence[list[int]],
    ) -> tuple[tuple[int, ...], tuple[float, float], list[int]]:
        """Grow the node's block by the best block below it while that lowers its ratio."""
        cost, keep = self.problem.cost[node], self.problem.keep[node]
        string = [node]
        below = sorted((ratio_of(*value[child]), child) for child in children)
        while below and below[0][0] < ratio_of(cost, keep):
            _, best = below.pop(0)
            cost, keep = cost + keep * value[best][0], keep * value[best][1]
            string.extend(self.block[best])
            below.extend((ratio_of(*value[other]), other) for other in hanging[best])
            below.sort()
        return tuple(string), (cost, keep), [other for _, other in below]

    def after_node(self, ranks: int, node: int) -> int:
        """The ranks left once ``node`` is done as well."""
        return ranks & ~self.tree_ranks[node] | self.child_ranks[node]

    def bound(self, ranks: int) -> float:
        """The least cost of what is left, counted from now, were the forest the only rule."""
        total, survive = 0.0, 1.0
        chunk = 0
        mask = (1 << CHUNK_BITS) - 1
        while ranks:
            part = ranks & mask
            if part:
                known = self._chunks[chunk].get(part)
                if known is None:
                    known = self._fold(chunk, part)
                total += survive * known[0]
                survive *= known[1]
            ranks >>= CHUNK_BITS
            chunk += 1
        return total

    def _fold(self, chunk: int, part: int) -> tuple[float, float]:
        total, survive = 0.0, 1.0
        for place in bits(part << chunk * CHUNK_BITS):
            total += survive * self.rank_cost[place]
            survive *= self.rank_keep[place]
        self._chunks[chunk][part] = (total, survive)
        return total, survive

    def order(self) -> list[int]:
        """The order the forest would do, were it the only rule."""
        return [node for rank in bits(self.root_ranks) for node in self.block[self.ranked[rank]]]

    def first_block(self, ranks: int) -> tuple[int, ...]:
        """The string of nodes the forest would do first."""
        return self.block[self.ranked[(ranks & -ranks).bit_length() - 1]]


def _leaves_first(parent: Sequence[int], children: Sequence[Sequence[int]]) -> list[int]:
    down = [node for node in range(len(parent)) if parent[node] < 0]
    for node in down:
        down.extend(children[node])
    return down[::-1]


def best_forest(problem: Problem, *, rounds: int = 4, passes: int = 2) -> Forest:
    """A forest with a high bound.

    For every node the direct predecessor that comes last is kept: by weight first, then
    for ``rounds`` by the order of the forest so far. Then ``passes`` rounds of trying every
    other direct predecessor, kept where the bound of the whole rises.
    """
    covers = [bits(cover(problem, node)) for node in range(problem.size)]
    parent = [max(c, key=lambda p: _weight(problem, p)) if c else -1 for c in covers]
    forest = Forest(problem, parent)
    best, trial = forest.bound(forest.root_ranks), forest
    for _ in range(rounds):
        turn = {node: place for place, node in enumerate(trial.order())}
        later = [max(c, key=turn.__getitem__) if c else -1 for c in covers]
        trial = Forest(problem, later)
        value = trial.bound(trial.root_ranks)
        if value > best:
            forest, best, parent = trial, value, later
    for _ in range(passes):
        changed = False
        for node, choices in enumerate(covers):
            for other in choices:
                kept = parent[node]
                if other == kept:
                    continue
                parent[node] = other
                trial = Forest(problem, parent)
                value = trial.bound(trial.root_ranks)
                if value > best * (1 + 1e-12):
                    forest, best, changed = trial, value, True
                else:
                    parent[node] = kept
        if not changed:
            break
    return forest


def _weight(problem: Problem, node: int) -> tuple[float, int]:
    """How late a predecessor tends to be: its ratio together with all it waits for."""
    cost, keep = problem.cost[node], problem.keep[node]
    for other in bits(problem.before[node]):
        cost += problem.cost[other]
        keep *= problem.keep[other]
    return ratio_of(cost, keep), node
