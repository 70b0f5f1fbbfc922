"""Tables per piece of work and technique, and the tooling that is needed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations, product

from solderrisk.model.base import Key
from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Footprint
from solderrisk.model.plan_data import with_tools
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import Rescue
from solderrisk.model.technique import Technique
from solderrisk.physics.handwork import sight
from solderrisk.physics.results import PlateCase
from solderrisk.risk.choice import Candidate
from solderrisk.risk.conditions import Conditions, Eyes, Means, means_of
from solderrisk.risk.detection import able, known_ways, shares
from solderrisk.risk.hands import SkillTables, skill_tables
from solderrisk.risk.heat.bench import Answer, Question, Setup, has, used_alloy
from solderrisk.risk.heat.choice import (
    AirQuestion,
    IronQuestion,
    answer_airs,
    answer_irons,
    answer_plates,
)
from solderrisk.risk.heat.sources import SCENE_VIEW, SOURCES, questions, set_up, suits
from solderrisk.risk.outcomes import FaultTable, Hurt, Outcome, fault_table, outcome
from solderrisk.risk.roll_up import weigh
from solderrisk.risk.work import Case, Work
from solderrisk.risk.worlds import WORLDS, Worlds

MAX_KEPT = 1_000  # about a third of a megabyte each
ALL_TOOLS = (
    *("irons", "hot_air", "preheaters", "hot_plates", "desolderers", "removal_alloys", "room"),
    *SCENE_VIEW,
)
Kept = tuple[object, ...]
Answers = list[Answer]


def view(bench: Bench, fields: tuple[str, ...] = ALL_TOOLS) -> Key:
    """What is on a bench in some of its fields: benches equal in them are alike."""
    return Key(getattr(bench, name) for name in fields)


class Tables:
    """One per set of reference data. ``count``: how many worlds are drawn."""

    def __init__(self, reference: Reference, count: int = WORLDS) -> None:
        self.reference = reference
        self.count = count
        self._worlds: dict[int, tuple[Worlds, SkillTables]] = {}
        self._suited: dict[Key, tuple[Technique, ...]] = {}
        self._alloys: dict[Kept, str] = {}
        self._answers: dict[Kept, Answers] = {}
        self._setups: dict[Kept, Setup] = {}
        self._rows: dict[Kept, list[Setup]] = {}
        self._hurts: dict[Kept, Hurt] = {}
        self._faults: dict[Kept, FaultTable] = {}
        self._outcomes: dict[Kept, Outcome] = {}
        self._means: dict[Kept, Means] = {}
        self._ways: dict[Footprint, tuple[tuple[str, list[Rescue]], ...]] = {}
        self._able: dict[Bench, frozenset[str]] = {}
        self._views: dict[tuple[Bench, tuple[str, ...]], Key] = {}

    # --- set-ups ---

    def techniques(self, work: Work) -> tuple[Technique, ...]:
        """Techniques meant for this kind of work."""
        if work.heated not in self._suited:
            self._suited[work.heated] = tuple(
                t for t in self.reference.risk.techniques if suits(t, work)
            )
        return self._suited[work.heated]

    def setups(self, pairs: Sequence[tuple[Work, Bench]]) -> list[list[Setup]]:
        """Set-ups of every technique for each work on its bench; the heat model is asked
        for all of them together."""
        kept = self._rows
        new = [pair for pair in pairs if (pair[0].heated, pair[1]) not in kept]
        for (work, bench), row in zip(new, self._set_up(new), strict=True):
            kept[(work.heated, bench)] = row
        return [kept[(work.heated, bench)] for work, bench in pairs]

    def _set_up(self, pairs: Sequence[tuple[Work, Bench]]) -> list[list[Setup]]:
        rows = [self._keys(work, bench) for work, bench in pairs]
        self._ask(
            {
                key[:3]: (technique, work, bench)
                for row, (work, bench) in zip(rows, pairs, strict=True)
                for key, technique in row
                if key[:3] not in self._answers
            }
        )
        found = []
        for row, (work, bench) in zip(rows, pairs, strict=True):
            for key, technique in row:
                if key not in self._setups:
                    answers = self._answers[key[:3]]
                    self._setups[key] = set_up(technique, work, bench, answers, self.reference)
            found.append([self._setups[key] for key, _ in row])
        return found

    def _keys(self, work: Work, bench: Bench) -> list[tuple[tuple[object, ...], Technique]]:
        seen, kept = self._view(bench, SCENE_VIEW), self._alloys
        found: list[tuple[tuple[object, ...], Technique]] = []
        for t in self.techniques(work):
            which = (work.heated, t.id, seen)
            if which not in kept:
                kept[which] = used_alloy(t, work, bench, self.reference)
            tools = Key((self._view(bench, SOURCES[t.heat].looks_at), kept[which]))
            found.append(((work.heated, t.id, tools, seen), t))
        return found

    def _view(self, bench: Bench, fields: tuple[str, ...]) -> Key:
        found = self._views.get((bench, fields))
        if found is None:
            found = self._views[(bench, fields)] = view(bench, fields)
        return found

    def _ask(self, missing: dict[Kept, tuple[Technique, Work, Bench]]) -> None:
        asked = {
            key: questions(technique, work, bench, self.reference)
            for key, (technique, work, bench) in missing.items()
        }
        every = [question for found in asked.values() for question in found]
        irons = answer_irons([q for q in every if isinstance(q, IronQuestion)], self.reference)
        airs = answer_airs([q for q in every if isinstance(q, AirQuestion)], self.reference)
        plates = answer_plates([q for q in every if isinstance(q, PlateCase)], self.reference)
        answered: dict[Question, Answer] = {}
        answered.update(irons.items())
        answered.update(airs.items())
        answered.update(plates.items())
        for key, found in asked.items():
            self._answers[key] = [answered[question] for question in found]

    @property
    def full(self) -> bool:
        return max(len(self._setups), len(self._outcomes)) > MAX_KEPT

    # --- tables ---

    def candidates(
        self, cases: Sequence[Case], bench: Bench, eyes: Eyes, seed: int
    ) -> list[list[Candidate]]:
        """Every technique for every case, with its tables in the worlds of ``seed`` where it is
        feasible."""
        setups = self.setups([(case.work, bench) for case in cases])
        worlds, by_skill = self.worlds(seed)
        found = []
        for case, row in zip(cases, setups, strict=True):
            means = self.means(case.work, bench, eyes)
            made = (partial(self._outcome, case, setup, means, worlds, by_skill) for setup in row)
            found.append([Candidate(*both, means.sight) for both in zip(row, made, strict=True)])
        return found

    def worlds(self, seed: int) -> tuple[Worlds, SkillTables]:
        if seed not in self._worlds:
            drawn = Worlds(self.reference, seed, self.count)
            by_skill = skill_tables(drawn)
            drawn.weights = weigh(drawn, by_skill)
            self._worlds[seed] = drawn, by_skill
        return self._worlds[seed]

    def means(self, work: Work, bench: Bench, eyes: Eyes) -> Means:
        """What this person sees of a piece of work on this bench, and works with."""
        key = (work.footprint, bench, eyes)
        if key not in self._means:
            seen = sight(
                work.footprint,
                eyes.acuity_arcmin,
                eyes.near_point_mm,
                bench.magnifiers,
                self.reference.physics,
            )
            found = means_of(work, bench, seen, eyes)
            self._means[key] = replace(found, rescues=self._rescues(work.footprint, bench))
        return self._means[key]

    def _rescues(self, footprint: Footprint, bench: Bench) -> tuple[tuple[str, float], ...]:
        if footprint not in self._ways:
            self._ways[footprint] = known_ways(footprint, self.reference)
        if bench not in self._able:
            self._able[bench] = able(bench, self.reference)
        return shares(self._ways[footprint], self._able[bench])

    def _outcome(
        self, case: Case, setup: Setup, means: Means, worlds: Worlds, by_skill: SkillTables
    ) -> Outcome:
        key = (case.work, setup.heat_key, means, worlds.seed)
        terms = (case.irreplaceable, case.spares, len(case.jobs) if case.spares else 1)
        found = self._outcomes.get((key, terms))
        if found is None:
            table = self._faults.get(key)
            if table is None:
                conditions = Conditions(setup, case.work, means, worlds, by_skill)
                hurt = (case.work.hurt, setup.heat_key, means.hurt, worlds.seed)
                if hurt not in self._hurts:
                    self._hurts[hurt] = Hurt.of(conditions)
                table = fault_table(conditions, self._hurts[hurt])
                self._faults[key] = table
            found = outcome(table, *terms, worlds)
            self._outcomes[(key, terms)] = found
        return found


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
