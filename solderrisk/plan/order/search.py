"""Search for the cheapest order: exact best-first with a proof, a beam where that is too long.

Both walk over closed sets of done nodes (bit masks). Two facts keep them small: where the
forest's best block may be done at once, some optimal order does it at once; and a node is
never done while one that frees at least as much at a lower cost per risk is available.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush, nsmallest
from time import thread_time

from solderrisk.plan.order.bounds import (
    Forest,
    Problem,
    best_forest,
    cost_of,
    cover,
    ratio_of,
    with_dominance,
)
from solderrisk.plan.order.edges import bits

SLACK = 1e-12
PLACES_A_STEP = 16
Place = tuple[int, int, float, float, int]  # done, available, cost, chance to be here, ranks
Path = tuple[object, ...]  # (earlier path, string of nodes), () at the start


@dataclass(frozen=True)
class Found:
    """An order, its cost, and a proved lower bound on the cost of any order."""

    order: tuple[int, ...]
    cost: float
    bound: float
    states: int
    stopped: bool = False  # by the person or by the clock

    @property
    def optimal(self) -> bool:
        return self.bound >= self.cost * (1 - 1e-9)


@dataclass
class Budget:
    """How much work is allowed: counted in steps, so that results repeat; the clock and the
    person can only cut it short."""

    steps: int
    deadline: float | None = None
    cancelled: Callable[[], bool] | None = None
    progress: Callable[[float], None] | None = None
    used: int = 0
    stopped: bool = False

    def spend(self, steps: int) -> None:
        before = self.used
        self.used += steps
        if before >> 10 != self.used >> 10:
            self._look()

    def _look(self) -> None:
        if self.cancelled is not None and self.cancelled():
            self.stopped = True
        if self.deadline is not None and thread_time() > self.deadline:
            self.stopped = True
        if self.progress is not None:
            self.progress(min(self.used / max(self.steps, 1), 1.0))

    def left(self, share: float = 1.0) -> bool:
        return not self.stopped and self.used < self.steps * share


class Walk:
    """The steps between closed sets, shared by both searches."""

    def __init__(self, problem: Problem, forest: Forest) -> None:
        self.problem, self.forest = problem, forest
        size = problem.size
        self.follow: list[list[int]] = [[] for _ in range(size)]
        for node in range(size):
            for other in bits(cover(problem, node)):
                self.follow[other].append(node)
        self.start = sum(1 << node for node in range(size) if not problem.before[node])
        self.better = _dominators(problem)

    def choices(self, free: int) -> list[int]:
        """The available nodes worth doing next."""
        better = self.better
        return [node for node in bits(free) if not better[node] & free]

    def step(self, done: int, free: int, node: int) -> tuple[int, int]:
        """The done set and the available nodes after one more node."""
        done |= 1 << node
        free &= ~(1 << node)
        before = self.problem.before
        for then in self.follow[node]:
            if not before[then] & ~done:
                free |= 1 << then
        return done, free

    def along(self, string: tuple[int, ...], place: Place) -> Place:
        """Where a string of nodes leads."""
        done, free, cost, alive, ranks = place
        costs, keeps, forest = self.problem.cost, self.problem.keep, self.forest
        for node in string:
            cost += alive * costs[node]
            alive *= keeps[node]
            done, free = self.step(done, free, node)
            ranks = forest.after_node(ranks, node)
        return done, free, cost, alive, ranks

    def strings(self, done: int, free: int, ranks: int) -> list[tuple[int, ...]]:
        """The ways on: a forced block alone, else every choice."""
        block = self.forced(done, ranks)
        return [block] if block else [(node,) for node in self.choices(free)]

    def forced(self, done: int, ranks: int) -> tuple[int, ...]:
        """The forest's first block where the real rules allow it now, else nothing."""
        block = self.forest.first_block(ranks)
        before = self.problem.before
        for node in block:
            if before[node] & ~done:
                return ()
            done |= 1 << node
        return block


def _dominators(problem: Problem) -> list[int]:
    size = problem.size
    rank = [(ratio_of(problem.cost[i], problem.keep[i]), i) for i in range(size)]
    after = problem.after
    masks = [0] * size
    for j in range(size):
        for i in range(size):
            if rank[i] < rank[j] and not after[j] & ~after[i]:
                masks[j] |= 1 << i
        masks[j] &= ~(problem.before[j] | after[j])
    return masks


def best_first(walk: Walk, upper: Found, budget: Budget, share: float) -> Found:
    """Expand closed sets by their bound until the best order is proved or the budget ends."""
    problem, forest = walk.problem, walk.forest
    full = problem.full
    best, order = upper.cost, upper.order
    root = forest.bound(forest.root_ranks)
    seen = {0: 0.0}
    heap: list[tuple[float, int, int, float, float, int, int, Path]] = [
        (root, 0, 0, 0.0, 1.0, walk.start, forest.root_ranks, ())
    ]
    states = 0
    while heap:
        value, _, done, spent, survive, free, ranks, path = heap[0]
        if value >= best * (1 - SLACK):
            return Found(order, best, best, states)
        if not budget.left(share):
            return Found(order, best, min(value, best), states, budget.stopped)
        heappop(heap)
        if spent > seen[done]:
            continue
        states += 1
        strings = walk.strings(done, free, ranks)
        budget.spend(len(strings))
        for string in strings:
            new, at, cost, alive, left = walk.along(string, (done, free, spent, survive, ranks))
            if new in seen and seen[new] <= cost:
                continue
            value = cost + alive * forest.bound(left)
            if value >= best * (1 - SLACK):
                continue
            seen[new] = cost
            trail: Path = (path, string)
            if new == full:
                best, order = cost, unroll(trail)
                continue
            heappush(heap, (value, -new.bit_count(), new, cost, alive, at, left, trail))
    return Found(order, best, best, states)


def unroll(path: Path) -> tuple[int, ...]:
    """The nodes of a linked path, first to last."""
    strings: list[tuple[int, ...]] = []
    while path:
        earlier, string = path
        strings.append(string)  # type: ignore[arg-type]
        path = earlier  # type: ignore[assignment]
    return tuple(node for string in reversed(strings) for node in string)


def beam(walk: Walk, width: int, budget: Budget) -> tuple[tuple[int, ...], float]:
    """The best order found keeping ``width`` sets per layer, and a bound that holds for all
    orders: the least bound among what was dropped, or the cost found."""
    problem, forest = walk.problem, walk.forest
    full = problem.full
    layers: list[dict[int, tuple[float, float, float, int, int, Path]]] = [
        {} for _ in range(problem.size + 1)
    ]
    layers[0][0] = (forest.bound(forest.root_ranks), 0.0, 1.0, walk.start, forest.root_ranks, ())
    dropped = float("inf")
    for layer in layers[:-1]:
        kept = list(layer.items())
        limit = 1 if budget.stopped else width
        if len(kept) > limit:
            kept = nsmallest(limit + 1, kept, key=lambda item: (item[1][0], item[0]))
            dropped = min(dropped, kept.pop()[1][0])
        for done, (_, spent, survive, free, ranks, path) in kept:
            strings = walk.strings(done, free, ranks)
            budget.spend(len(strings))
            for string in strings:
                new, at, cost, alive, left = walk.along(string, (done, free, spent, survive, ranks))
                target = layers[new.bit_count()]
                known = target.get(new)
                if known is None or cost < known[1]:
                    value = cost + alive * forest.bound(left)
                    target[new] = (value, cost, alive, at, left, (path, string))
        layer.clear()
    value, cost, *_, path = layers[-1][full]
    return unroll(path), min(dropped, cost)


def reinsert(
    problem: Problem, order: Sequence[int], budget: Budget, rounds: int = 4
) -> tuple[int, ...]:
    """Move single nodes to where they cost least, until nothing improves."""
    best = list(order)
    for _ in range(rounds):
        changed = False
        for node in order:
            if not budget.left():
                return tuple(best)
            place = best.index(node)
            target, seen = _best_place(problem, best, place)
            budget.spend(seen // PLACES_A_STEP)
            if target != place:
                best.pop(place)
                best.insert(target, node)
                changed = True
        if not changed:
            break
    return tuple(best)


def _best_place(problem: Problem, order: Sequence[int], place: int) -> tuple[int, int]:
    """The index that a node should move to, and how many were tried; gains are compared at the
    same start."""
    node = order[place]
    cost, keep = problem.cost[node], problem.keep[node]
    best_gain, target, seen = 1e-12, place, 1
    string_cost, string_keep, ahead = 0.0, 1.0, 1.0
    for index in range(place - 1, -1, -1):
        other = order[index]
        if problem.before[node] >> other & 1:
            break
        other_keep = problem.keep[other]
        string_cost = problem.cost[other] + other_keep * string_cost
        string_keep *= other_keep
        ahead /= other_keep
        now = string_cost + string_keep * cost
        gain = (now - (cost + keep * string_cost)) * ahead
        seen += 1
        if gain > best_gain * (1 + 1e-9):
            best_gain, target = gain, index
    string_cost, string_keep = 0.0, 1.0
    for index in range(place + 1, len(order)):
        other = order[index]
        if problem.after[node] >> other & 1:
            break
        string_cost += string_keep * problem.cost[other]
        string_keep *= problem.keep[other]
        gain = (cost + keep * string_cost) - (string_cost + string_keep * cost)
        seen += 1
        if gain > best_gain * (1 + 1e-9):
            best_gain, target = gain, index
    return target, seen


def solve(problem: Problem, budget: Budget, *, passes: int = 2, narrow: int = 12) -> Found:
    """The cheapest order with its proof, or a good one with a bound.

    A narrow beam first; then best-first search for half of the budget; then, without a
    proof, as wide a beam as the rest allows.
    """
    if not problem.size:
        return Found((), 0.0, 0.0, 0)
    tight = with_dominance(problem)
    forest = best_forest(tight, passes=passes)
    walk = Walk(tight, forest)
    order, low = beam(walk, narrow, budget)
    narrow_steps = max(budget.used, 1)
    order = reinsert(problem, order, budget)
    found = Found(order, cost_of(problem, order), low, 0)
    if found.optimal:
        return found
    exact = best_first(walk, found, budget, share=0.5)
    if exact.optimal:
        return exact
    low = max(low, exact.bound)
    width = narrow * max(budget.steps - budget.used, 0) // narrow_steps
    order = exact.order
    if width >= 2 * narrow and budget.left():
        wide, _ = beam(walk, width, budget)
        wide = reinsert(problem, wide, budget)
        order = min(order, wide, key=lambda o: cost_of(problem, o))
    cost = cost_of(problem, order)
    return Found(order, cost, min(low, cost), exact.states, budget.stopped)
