"""Fewer changes on the bench: an order improved by its loss and the time of its changes.

Changes depend on what was done last, so the exact search over done sets alone does not see
them. Small lists are solved exactly over (done set, last set-up); longer ones by moving
whole runs of one set-up together where the rules allow.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from solderrisk.plan.order.bounds import Problem, best_forest, ratio_of
from solderrisk.plan.order.edges import bits
from solderrisk.plan.order.search import Budget, Path, Walk, unroll

EXACT_NODES = 22


@dataclass(frozen=True)
class Changes:
    """``spot[i]``: set-up of node i, -1 where it needs none; ``cost[a][b]``: of a change."""

    spot: tuple[int, ...]
    cost: tuple[tuple[float, ...], ...]

    def total(self, problem: Problem, order: Sequence[int]) -> float:
        """Expected cost of an order plus its changes."""
        total, survive, last = 0.0, 1.0, -1
        costs, keeps, spots, change = problem.cost, problem.keep, self.spot, self.cost
        for node in order:
            total += survive * costs[node]
            survive *= keeps[node]
            spot = spots[node]
            if spot >= 0:
                if last >= 0:
                    total += change[last][spot]
                last = spot
        return total


def fewer_changes(
    problem: Problem, changes: Changes, order: Sequence[int], budget: Budget
) -> tuple[tuple[int, ...], bool]:
    """An order that costs no more with its changes counted; True where that is proved least."""
    if len({spot for spot in changes.spot if spot >= 0}) < 2:
        return tuple(order), False
    starts = [list(order), _by_setup(problem, changes)]
    best = min(
        (_improve(problem, changes, start, budget) for start in starts),
        key=lambda o: changes.total(problem, o),
    )
    if problem.size <= EXACT_NODES:
        exact, proved = exact_changes(problem, changes, best, budget)
        return exact, proved
    return tuple(best), False


def _by_setup(problem: Problem, changes: Changes) -> list[int]:
    """Stay with a set-up as long as it has work; tests come as soon as they pay."""
    ratio = [ratio_of(c, q) for c, q in zip(problem.cost, problem.keep, strict=True)]
    free: list[tuple[float, int]] = []
    alike: dict[int, list[tuple[float, int]]] = {}
    # A waiting node watches the last one that it still waits for.
    watching: dict[int, list[int]] = {-1: list(range(problem.size))}
    done, last, node = 0, -1, -1
    order: list[int] = []
    while len(order) < problem.size:
        for other in watching.pop(node, ()):
            missing = problem.before[other] & ~done
            if missing:
                watching.setdefault(missing.bit_length() - 1, []).append(other)
            else:
                heappush(free, (ratio[other], other))
                heappush(alike.setdefault(changes.spot[other], []), (ratio[other], other))
        for heap in (free, alike.get(last, [])):
            while heap and done >> heap[0][1] & 1:
                heappop(heap)
        node = free[0][1]
        if changes.spot[node] >= 0 and alike.get(last):
            node = alike[last][0][1]
        order.append(node)
        done |= 1 << node
        if changes.spot[node] >= 0:
            last = changes.spot[node]
    return order


def _improve(problem: Problem, changes: Changes, order: list[int], budget: Budget) -> list[int]:
    best, value = order, changes.total(problem, order)
    moved = True
    while moved and budget.left():
        moved = False
        for trial in _moves(problem, changes, best):
            budget.spend(1 + problem.size // 64)
            trial_value = changes.total(problem, trial)
            if trial_value < value * (1 - 1e-9) - 1e-12:
                best, value, moved = trial, trial_value, True
                break
            if not budget.left():
                break
    return best


def _moves(problem: Problem, changes: Changes, order: list[int]) -> Iterator[list[int]]:
    runs = _runs(changes, order)
    for place, (start, end) in enumerate(runs):
        spot = changes.spot[order[start]]
        for later in range(place + 1, len(runs)):
            if changes.spot[order[runs[later][0]]] == spot and spot >= 0:
                yield from _joins(problem, order, (start, end), runs[later])
                break
    for start, end in runs:
        yield from _shifts(problem, order, start, end, [s for s, _ in runs] + [len(order)])


def _runs(changes: Changes, order: Sequence[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for place, node in enumerate(order):
        spot = changes.spot[node]
        if runs and spot >= 0 and changes.spot[order[place - 1]] == spot:
            runs[-1] = (runs[-1][0], place + 1)
        else:
            runs.append((place, place + 1))
    return runs


def _joins(
    problem: Problem, order: list[int], one: tuple[int, int], other: tuple[int, int]
) -> Iterator[list[int]]:
    """Bring two runs of one set-up together: what stands between goes before or after."""
    head, early = order[: one[0]], order[one[0] : one[1]]
    between, late = order[one[1] : other[0]], order[other[0] : other[1]]
    tail = order[other[1] :]
    follows = before_late = 0
    for node in early:
        follows |= problem.after[node]
    for node in late:
        before_late |= problem.before[node]
    if any(follows >> node & 1 and before_late >> node & 1 for node in between):
        return
    must_follow = [node for node in between if follows >> node & 1]
    may_lead = [node for node in between if not follows >> node & 1]
    must_lead = [node for node in between if before_late >> node & 1]
    may_follow = [node for node in between if not before_late >> node & 1]
    yield head + may_lead + early + late + must_follow + tail
    if must_lead != may_lead:
        yield head + must_lead + early + late + may_follow + tail


def _shifts(
    problem: Problem, order: list[int], start: int, end: int, places: Sequence[int]
) -> Iterator[list[int]]:
    """A run moved as a whole to every boundary of runs that the rules allow."""
    run = order[start:end]
    before = after = 0
    for node in run:
        before |= problem.before[node]
        after |= problem.after[node]
    low = start
    while low and not before >> order[low - 1] & 1:
        low -= 1
    high = end
    while high < len(order) and not after >> order[high] & 1:
        high += 1
    for place in places:
        if low <= place < start:
            yield order[:place] + run + order[place:start] + order[end:]
        elif end < place <= high:
            yield order[:start] + order[end:place] + run + order[place:]


def exact_changes(
    problem: Problem, changes: Changes, upper: Sequence[int], budget: Budget
) -> tuple[tuple[int, ...], bool]:
    """Best-first over (done set, last set-up); True where no order is cheaper."""
    forest = best_forest(problem, passes=1)
    walk = Walk(problem, forest)
    order, best = tuple(upper), changes.total(problem, upper)
    spots = changes.spot
    kinds = sorted({spot for spot in spots if spot >= 0})
    enter = {k: min((changes.cost[o][k] for o in kinds if o != k), default=0.0) for k in kinds}
    having = {k: sum(1 << i for i, spot in enumerate(spots) if spot == k) for k in kinds}

    def to_come(done: int, last: int) -> float:
        due = [enter[k] for k in kinds if k != last and having[k] & ~done]
        # The first set-up of all is entered from nothing.
        return sum(due) - (max(due, default=0.0) if last < 0 else 0.0)

    seen: dict[tuple[int, int], float] = {(0, -1): 0.0}
    root = forest.bound(forest.root_ranks) + to_come(0, -1)
    heap: list[tuple[float, int, int, int, float, float, int, int, Path]] = [
        (root, 0, 0, -1, 0.0, 1.0, walk.start, forest.root_ranks, ())
    ]
    while heap:
        value, _, done, last, spent, survive, free, ranks, path = heappop(heap)
        if value >= best * (1 - 1e-12):
            return order, True
        if not budget.left():
            return order, False
        if spent > seen[done, last]:
            continue
        for node in bits(free):
            budget.spend(1)
            new, at = walk.step(done, free, node)
            spot = spots[node] if spots[node] >= 0 else last
            change = changes.cost[last][spot] if last >= 0 and spot != last else 0.0
            cost = spent + survive * problem.cost[node] + change
            if seen.get((new, spot), cost + 1.0) <= cost:
                continue
            alive, left = survive * problem.keep[node], forest.after_node(ranks, node)
            value = cost + alive * forest.bound(left) + to_come(new, spot)
            if value >= best * (1 - 1e-12):
                continue
            seen[new, spot] = cost
            trail: Path = (path, (node,))
            if new == problem.full:
                best, order = cost, unroll(trail)
                continue
            heappush(heap, (value, -new.bit_count(), new, spot, cost, alive, at, left, trail))
    return order, True
