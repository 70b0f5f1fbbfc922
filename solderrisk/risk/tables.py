"""Tables per piece of work and technique."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from solderrisk.model.base import Key
from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Footprint
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import Rescue
from solderrisk.model.technique import Technique
from solderrisk.physics.handwork import sight
from solderrisk.physics.results import PlateCase
from solderrisk.risk.choice import Candidate
from solderrisk.risk.conditions import Conditions, Eyes, Means, means_of
from solderrisk.risk.detection import able, known_ways, shares
from solderrisk.risk.hands import SkillTables, skill_tables
from solderrisk.risk.heat.bench import Answer, Question, Setup, used_alloy
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
