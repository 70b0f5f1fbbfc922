"""The cheapest set of things that lifts a monotone chance above a target.

Exact branch and bound: a branch is left when it costs as much as the best set found, or
when even everything that remains would not reach the target.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class CheapestSet:
    """``chosen`` holds indices, None where no set reaches the target. ``proved`` is false
    when the search ran out of evaluations first."""

    chosen: frozenset[int] | None
    cost: float
    tried: int
    proved: bool


class _OutOfTries(Exception):  # noqa: N818 - ends the search, it is no error
    pass


def cheapest_set(
    costs: Sequence[float],
    chance: Callable[[frozenset[int]], float],
    target: float,
    *,
    most_tries: int = 3000,
    progress: Callable[[int], None] | None = None,
) -> CheapestSet:
    """Search the subsets of ``range(len(costs))``; ``chance`` must never fall when an
    item is added. ``progress`` is told the number of sets tried so far."""
    seen: dict[frozenset[int], bool] = {}

    def reaches(items: frozenset[int]) -> bool:
        if items not in seen:
            if len(seen) >= most_tries:
                raise _OutOfTries
            seen[items] = chance(items) >= target
            if progress is not None:
                progress(len(seen))
        return seen[items]

    everything = frozenset(range(len(costs)))
    if reaches(frozenset()):
        return CheapestSet(frozenset(), 0.0, len(seen), True)
    if not reaches(everything):
        return CheapestSet(None, 0.0, len(seen), True)

    search = _Search(costs, reaches, everything)
    try:
        search.shrink()
        search.run()
        proved = True
    except _OutOfTries:
        proved = False
    return CheapestSet(search.best, search.cost_of(search.best), len(seen), proved)


class _Search:
    def __init__(
        self,
        costs: Sequence[float],
        reaches: Callable[[frozenset[int]], bool],
        everything: frozenset[int],
    ) -> None:
        self.costs = costs
        self.reaches = reaches
        self.best = everything
        self.everything = everything

    def cost_of(self, items: frozenset[int]) -> float:
        return sum(self.costs[item] for item in sorted(items))

    def shrink(self) -> None:
        """A first good set: drop the dearest things that are not needed."""
        for item in self._dear_first(self.everything):
            if self.reaches(self.best - {item}):
                self.best = self.best - {item}

    def run(self) -> None:
        needed = frozenset(i for i in self.everything if not self.reaches(self.everything - {i}))
        self._branch(needed, self._dear_first(self.everything - needed))

    def _branch(self, chosen: frozenset[int], rest: list[int]) -> None:
        cost = self.cost_of(chosen)
        if cost >= self.cost_of(self.best) or not self.reaches(chosen | frozenset(rest)):
            return
        if self.reaches(chosen):
            self.best = chosen
            return
        if not rest:
            return
        first, others = rest[0], rest[1:]
        self._branch(chosen, others)
        self._branch(chosen | {first}, others)

    def _dear_first(self, items: frozenset[int]) -> list[int]:
        return sorted(items, key=lambda item: (-self.costs[item], item))
