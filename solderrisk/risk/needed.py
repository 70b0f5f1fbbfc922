"""The fewest tools with which a piece of work becomes possible."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations, product

from solderrisk.model.bench import Bench
from solderrisk.model.plan_data import with_tools
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Technique
from solderrisk.risk.choice import Candidate
from solderrisk.risk.heat.bench import has
from solderrisk.risk.tables import Tables, view
from solderrisk.risk.work import Case, Work

MAX_BOOSTERS = 2


class Tooling:
    """The fewest tools per piece of work and bench, remembered."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables
        self._kept: dict[tuple[object, ...], tuple[str, ...]] = {}

    def needed(
        self, cases: Sequence[Case], options: Sequence[Sequence[Candidate]], bench: Bench
    ) -> list[tuple[str, ...]]:
        """Blocked cases: the fewest tools to add to this bench. Others: the fewest tools
        with which a bare table can do it."""
        bare = Bench(name="bare table", room=bench.room)
        bases = [bare if any(c.outcome is not None for c in found) else bench for found in options]
        for base in (bare, bench):
            asked = {
                self._key(case, base): case.work
                for case, own in zip(cases, bases, strict=True)
                if own is base and self._key(case, base) not in self._kept
            }
            found = smallest_sets(list(asked.values()), base, self.tables)
            self._kept.update(zip(asked, found, strict=True))
        return [self._kept[self._key(c, base)] for c, base in zip(cases, bases, strict=True)]

    def _key(self, case: Case, base: Bench) -> tuple[object, ...]:
        return case.work.heated, view(base)


def smallest_sets(works: Sequence[Work], base: Bench, tables: Tables) -> list[tuple[str, ...]]:
    """Ids of the fewest tools to add to a bench so that some technique is feasible, the
    cheapest of equally few; () where none helps or nothing needs to be added.

    Sets are tried in rounds over all works, so that the heat model is asked in batches.
    """
    queues = [_tries(work, base, tables) for work in works]
    answers: list[tuple[str, ...] | None] = [None] * len(works)
    benches: dict[tuple[str, ...], Bench] = {}
    tools = {tool.id: tool for tool in tables.reference.plan.tools}
    for turn in range(max((len(queue) for queue in queues), default=0)):
        asked = [n for n, queue in enumerate(queues) if answers[n] is None and turn < len(queue)]
        if not asked:
            break
        pairs = []
        for n in asked:
            ids = queues[n][turn]
            if ids not in benches:
                benches[ids] = with_tools(base, [tools[i] for i in ids])
            pairs.append((works[n], benches[ids]))
        for n, setups in zip(asked, tables.setups(pairs), strict=True):
            if any(setup.feasible for setup in setups):
                answers[n] = queues[n][turn]
    return [answer or () for answer in answers]


def _tries(work: Work, base: Bench, tables: Tables) -> list[tuple[str, ...]]:
    """Sets of tools worth trying, fewest first, then cheapest."""
    reference = tables.reference
    prices = {tool.id: tool.price for tool in reference.plan.tools}
    found = {
        ids
        for technique in tables.techniques(work)
        for ids in _sets_for(technique, work, base, reference, prices)
    }
    return sorted(found, key=lambda ids: (len(ids), sum(prices[i] for i in ids), ids))


def _sets_for(
    technique: Technique,
    work: Work,
    base: Bench,
    reference: Reference,
    prices: dict[str, float],
) -> Iterable[tuple[str, ...]]:
    data = reference.risk.technique_data
    parameters = reference.risk.parameters
    unmet = [
        [tool for need in group for tool in data.need(need).met_by if tool in prices]
        for group in technique.needs_for(work.footprint, work.lifted)
        if not any(has(data.need(need), base, parameters) for need in group)
    ]
    boosters = [tool for tool in data.boosters.get(technique.heat, ()) if tool in prices]
    more = [extra for size in range(MAX_BOOSTERS + 1) for extra in combinations(boosters, size)]
    for chosen in product(*unmet):
        for extra in more:
            yield tuple(sorted({*chosen, *extra}))
