"""The cheapest tools with which a piece of work becomes possible."""

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
    """The cheapest tools per piece of work and bench, remembered."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables
        self._kept: dict[tuple[object, ...], tuple[str, ...]] = {}

    def needed(
        self, cases: Sequence[Case], options: Sequence[Sequence[Candidate]], bench: Bench
    ) -> list[tuple[str, ...]]:
        """Blocked cases: the cheapest tools to add to this bench. Others: the cheapest tools
        with which a bare table can do it."""
        bare = Bench(name="bare table", room=bench.room)
        bases = [bare if any(c.feasible for c in found) else bench for found in options]
        for base in (bare, bench):
            asked = {
                self._key(case, base): case.work
                for case, own in zip(cases, bases, strict=True)
                if own is base and self._key(case, base) not in self._kept
            }
            found = cheapest_sets(list(asked.values()), base, self.tables)
            self._kept.update(zip(asked, found, strict=True))
        return [
            self._with_lens(self._kept[self._key(case, base)], own, base)
            for case, own, base in zip(cases, options, bases, strict=True)
        ]

    def _with_lens(
        self, ids: tuple[str, ...], options: Sequence[Candidate], base: Bench
    ) -> tuple[str, ...]:
        """With the cheapest lens, where these eyes need more than the bench has. Nothing is
        added to nothing: where no tool helps no lens does."""
        seen = next((each.sight for each in options if each.sight is not None), None)
        if seen is None or not ids:
            return ids
        data, physics = self.tables.reference.risk.parameters, self.tables.reference.physics
        wanted_x = seen.needed_x * data["near_enough_x"] / physics.handwork["comfort_factor"]
        have_x = max((glass.power_x for glass in base.magnifiers), default=1.0)
        if have_x >= wanted_x:
            return ids
        lenses = sorted(
            (tool.price, tool.id, max(glass.power_x for glass in tool.adds.magnifiers))
            for tool in self.tables.reference.plan.tools
            if tool.adds.magnifiers
        )
        enough = [name for _, name, power_x in lenses if power_x >= wanted_x]
        best = max(lenses, key=lambda lens: lens[2], default=None)
        lens = enough[0] if enough else best[1] if best is not None else None
        return ids if lens is None else tuple(sorted({*ids, lens}))

    def _key(self, case: Case, base: Bench) -> tuple[object, ...]:
        return case.work.heated, view(base)


def cheapest_sets(works: Sequence[Work], base: Bench, tables: Tables) -> list[tuple[str, ...]]:
    """Ids of the cheapest tools to add to a bench so that some technique is feasible and its
    heat is decided: what may not be enough is not told as what is needed. () where none helps
    or nothing needs to be added.

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
            if any(setup.feasible and setup.decided for setup in setups):
                answers[n] = queues[n][turn]
    return [answer or () for answer in answers]


def _tries(work: Work, base: Bench, tables: Tables) -> list[tuple[str, ...]]:
    """Sets of tools worth trying, cheapest first."""
    reference = tables.reference
    prices = {tool.id: tool.price for tool in reference.plan.tools}
    found = {
        ids
        for technique in tables.techniques(work)
        for ids in _sets_for(technique, work, base, reference, prices)
    }
    return sorted(found, key=lambda ids: (sum(prices[i] for i in ids), len(ids), ids))


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
