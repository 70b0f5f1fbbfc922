"""Random instances of the bare ordering problem, and slow but plain ways to solve them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import permutations

from solderrisk.plan.order.bounds import Problem, make_problem


def instance(size: int, seed: int, arcs_per_node: float = 3.0, top: float = 0.1) -> Problem:
    """Costs 0.5..20, chances of failing 0.001..top, random acyclic arcs."""
    rng = random.Random(seed)
    cost = [rng.uniform(0.5, 20) for _ in range(size)]
    keep = [1 - rng.uniform(0.001, top) for _ in range(size)]
    turn = list(range(size))
    rng.shuffle(turn)
    share = arcs_per_node / size
    arcs = [
        (turn[i], turn[j]) for i in range(size) for j in range(i + 1, size) if rng.random() < share
    ]
    return make_problem(cost, keep, arcs)


def awkward(size: int, seed: int) -> Problem:
    """Ties, work that costs nothing and work that never fails."""
    rng = random.Random(seed)
    base = instance(size, seed, arcs_per_node=rng.choice([0.5, 1.5, 3.0]))
    cost = tuple(float(rng.randrange(3)) for _ in range(size))
    keep = tuple(rng.choice([1.0, 0.9, 0.5, 0.5]) for _ in range(size))
    return Problem(cost, keep, base.before, base.after)


def price(problem: Problem, order: Sequence[int]) -> float:
    """Expected cost by its definition, backwards: c1 + q1 (c2 + q2 (...))."""
    value = 0.0
    for node in reversed(order):
        value = problem.cost[node] + problem.keep[node] * value
    return value


def allowed(problem: Problem, order: Sequence[int]) -> bool:
    done = 0
    for node in order:
        if problem.before[node] & ~done:
            return False
        done |= 1 << node
    return done == problem.full


def by_permutations(problem: Problem) -> float:
    """The least expected cost over every order that the arcs allow."""
    return min(
        price(problem, order)
        for order in permutations(range(problem.size))
        if allowed(problem, order)
    )


def values_of_rest(problem: Problem) -> dict[int, float]:
    """For every closed done set the least expected cost of the rest, by dynamic programming."""
    order, seen = [0], {0}
    for done in order:
        for node in range(problem.size):
            new = done | 1 << node
            if new != done and not problem.before[node] & ~done and new not in seen:
                seen.add(new)
                order.append(new)
    values = {problem.full: 0.0}
    for done in sorted(order, key=int.bit_count, reverse=True):
        if done != problem.full:
            values[done] = min(
                problem.cost[node] + problem.keep[node] * values[done | 1 << node]
                for node in range(problem.size)
                if not done >> node & 1 and not problem.before[node] & ~done
            )
    return values
