"""What has been worked out already: answers of the heat model, set-ups, tables, outcomes.

Keys are values: the deep ones among them, footprints and benches, keep their own hash.
"""

from __future__ import annotations

from collections.abc import Sequence

from solderrisk.model.bench import Bench
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.results import Sight
from solderrisk.physics.sight import sight
from solderrisk.risk.choice import Candidate
from solderrisk.risk.conditions import Conditions, Eyes, Means, means_of
from solderrisk.risk.hands import skill_tables
from solderrisk.risk.heat.bench import used_alloy
from solderrisk.risk.heat.choice import (
    AirAnswer,
    AirQuestion,
    IronAnswer,
    IronQuestion,
    answer_airs,
    answer_irons,
)
from solderrisk.risk.heat.setup import Setup
from solderrisk.risk.heat.sources import SCENE_VIEW, SOURCES, questions, set_up, suits
from solderrisk.risk.outcomes import FaultTable, Outcome, fault_table, outcome
from solderrisk.risk.work import Case, Work

MAX_KEPT = 50_000
ALL_TOOLS = (
    *("irons", "hot_air", "preheaters", "desolderers", "removal_alloys", "room"),
    *SCENE_VIEW,
)
Answers = list[IronAnswer | AirAnswer]
Key = tuple[object, ...]


def view(bench: Bench, fields: tuple[str, ...] = ALL_TOOLS) -> Key:
    """What is on a bench in some of its fields: benches equal in them are alike."""
    return tuple(getattr(bench, name) for name in fields)


class Tables:
    """One per set of reference data."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.by_skill = skill_tables(reference.risk)
        self._suited: dict[Key, tuple[Technique, ...]] = {}
        self._alloys: dict[Key, str] = {}
        self._answers: dict[Key, Answers] = {}
        self._setups: dict[Key, Setup] = {}
        self._faults: dict[Key, FaultTable] = {}
        self._outcomes: dict[Key, Outcome] = {}
        self._seen: dict[Key, tuple[Sight, Means]] = {}

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

    def _keys(self, work: Work, bench: Bench) -> list[tuple[Key, Technique]]:
        seen, kept = view(bench, SCENE_VIEW), self._alloys
        found: list[tuple[Key, Technique]] = []
        for t in self.techniques(work):
            which = (work.heated, t.id, seen)
            if which not in kept:
                kept[which] = used_alloy(t, work, bench, self.reference)
            tools = (view(bench, SOURCES[t.heat].looks_at), kept[which])
            found.append(((work.heated, t.id, tools, seen), t))
        return found

    def _ask(self, missing: dict[Key, tuple[Technique, Work, Bench]]) -> None:
        asked = {
            key: questions(technique, work, bench, self.reference)
            for key, (technique, work, bench) in missing.items()
        }
        every = [question for found in asked.values() for question in found]
        irons = answer_irons([q for q in every if isinstance(q, IronQuestion)], self.reference)
        airs = answer_airs([q for q in every if isinstance(q, AirQuestion)], self.reference)
        for key, found in asked.items():
            self._answers[key] = [
                irons[q] if isinstance(q, IronQuestion) else airs[q] for q in found
            ]

    @property
    def full(self) -> bool:
        return max(len(self._setups), len(self._outcomes)) > MAX_KEPT

    # --- tables ---

    def candidates(self, cases: Sequence[Case], bench: Bench, eyes: Eyes) -> list[list[Candidate]]:
        """Every technique for every case, with its tables where it is feasible."""
        setups = self.setups([(case.work, bench) for case in cases])
        found = []
        for case, row in zip(cases, setups, strict=True):
            seen, means = self.seen(case.work, bench, eyes)
            found.append(
                [Candidate(setup, self._outcome(case, setup, means, seen), seen)
                 for setup in row]
            )  # fmt: skip
        return found

    def seen(self, work: Work, bench: Bench, eyes: Eyes) -> tuple[Sight, Means]:
        """What this person sees of a piece of work on this bench, and works with."""
        key = (work.footprint, view(bench, SCENE_VIEW), eyes)
        if key not in self._seen:
            found = sight(
                work.footprint,
                eyes.acuity_arcmin,
                eyes.near_point_mm,
                bench.magnifiers,
                self.reference.physics,
            )
            self._seen[key] = found, means_of(work, bench, found, eyes.hand, self.reference)
        return self._seen[key]

    def _outcome(self, case: Case, setup: Setup, means: Means, seen: Sight) -> Outcome | None:
        if not setup.feasible:
            return None
        # What the tables depend on, not how it came about: another tip may change nothing.
        heat = (setup.iron_heat, setup.air_heat, setup.low_melt)
        key = (
            case.work,
            setup.technique.id,
            setup.windows,
            setup.over_s,
            setup.decided,
            heat,
            means,
        )
        terms = (case.irreplaceable, case.spares, len(case.jobs) if case.spares else 1)
        found = self._outcomes.get((key, terms))
        if found is None:
            table = self._faults.get(key)
            if table is None:
                table = fault_table(self.conditions(case.work, setup, means, seen))
                self._faults[key] = table
            found = outcome(table, *terms, self.reference.risk.parameters)
            self._outcomes[(key, terms)] = found
        return found

    def conditions(self, work: Work, setup: Setup, means: Means, seen: Sight) -> Conditions:
        """Everything the hazards of a set-up depend on."""
        return Conditions(setup, work, means, seen.detail_mm, self.reference, self.by_skill)
