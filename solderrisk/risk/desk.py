"""What has been worked out already: set-ups, tables and fates, by small numbers.

Footprints and benches are deep values; hashing them for every look-up would cost more than
the look-up saves. Equal values get one number once.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from solderrisk.model.bench import Bench
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.reference_set import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.sight import sight
from solderrisk.risk.burden import Burden, Fate, burden, fate
from solderrisk.risk.cases import Case
from solderrisk.risk.faults import HandName, Scene
from solderrisk.risk.heat_choice import (
    AirAnswer,
    AirQuestion,
    IronAnswer,
    IronQuestion,
    answer_airs,
    answer_irons,
)
from solderrisk.risk.setups import Setup
from solderrisk.risk.tables import tables_of
from solderrisk.risk.techniques import HEAT_VIEW, SCENE_VIEW, questions, set_up, suits
from solderrisk.risk.work import Surroundings, Work

MAX_KEPT = 50_000
MAX_BENCHES = 1000
ALL_TOOLS = (
    *("irons", "hot_air", "preheaters", "desolderers", "removal_alloys", "room"),
    *SCENE_VIEW,
)
Answers = list[IronAnswer | AirAnswer]
Key = tuple[object, ...]


class EyesLike(Protocol):
    @property
    def hand(self) -> HandName: ...
    @property
    def acuity_arcmin(self) -> float: ...
    @property
    def near_point_mm(self) -> float: ...


class Desk:
    """One per set of reference data."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.tables = tables_of(reference.risk)
        self._works: dict[Key, tuple[int, Work]] = {}
        self._numbers: dict[int, int] = {}
        self._values: dict[object, int] = {}
        self._around: dict[int, tuple[Kit, int, Surroundings]] = {}
        self._benches: dict[int, tuple[Bench, dict[tuple[str, ...], int]]] = {}
        self._suited: dict[int, tuple[Technique, ...]] = {}
        self._answers: dict[Key, Answers] = {}
        self._setups: dict[Key, Setup] = {}
        self._burdens: dict[Key, Burden] = {}
        self._fates: dict[Key, Fate] = {}

    # --- numbers for values ---

    def same(self, work: Work) -> Work:
        """The first work equal to this one; parts and boards are told apart by identity."""
        key = tuple(
            id(value) if name in ("footprint", "board") else value
            for name, value in vars(work).items()
        )
        found = self._works.get(key)
        if found is None:
            found = (len(self._works), work)
            self._works[key] = found
            self._numbers[id(work)] = found[0]
        return found[1]

    def number(self, work: Work) -> int:
        number = self._numbers.get(id(work))
        return self.number(self.same(work)) if number is None else number

    def bench_number(self, bench: Bench, fields: tuple[str, ...] = ALL_TOOLS) -> int:
        """One number for benches that are equal in some fields."""
        value = (fields, *(getattr(bench, name) for name in fields))
        return self._values.setdefault(value, len(self._values))

    def around(self, jobs: Sequence[Job], kit: Kit) -> Surroundings | None:
        held = self._around.get(id(kit))
        return held[2] if held is not None and held[0] is kit and held[1] == len(jobs) else None

    def keep_around(self, jobs: Sequence[Job], kit: Kit, found: Surroundings) -> None:
        if len(self._around) > 64:
            self._around.clear()
        self._around[id(kit)] = (kit, len(jobs), found)

    # --- set-ups ---

    def techniques(self, work: Work) -> tuple[Technique, ...]:
        """Techniques meant for this kind of work."""
        number = self.number(work)
        if number not in self._suited:
            self._suited[number] = tuple(
                t for t in self.reference.risk.techniques if suits(t, work)
            )
        return self._suited[number]

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
        number, scene = self.number(work), self._view(bench, SCENE_VIEW)
        return [
            ((number, t.id, self._view(bench, HEAT_VIEW[t.heat]), scene), t)
            for t in self.techniques(work)
        ]

    def _view(self, bench: Bench, fields: tuple[str, ...]) -> int:
        """As ``bench_number``, remembered per bench object."""
        held = self._benches.get(id(bench))
        if held is None or held[0] is not bench:
            if len(self._benches) > MAX_BENCHES:
                self._benches.clear()
            held = (bench, {})
            self._benches[id(bench)] = held
        if fields not in held[1]:
            held[1][fields] = self.bench_number(bench, fields)
        return held[1][fields]

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

    def forget(self) -> None:
        """Drop set-ups and tables once there are very many."""
        if len(self._setups) > MAX_KEPT or len(self._fates) > MAX_KEPT:
            for kept in (self._answers, self._setups, self._burdens, self._fates):
                kept.clear()

    # --- tables ---

    def fate(self, case: Case, setup: Setup, bench: Bench, eyes: EyesLike) -> Fate | None:
        """The tables of a feasible set-up for a case; None where it is not feasible."""
        if not setup.feasible:
            return None
        scene = self._view(bench, SCENE_VIEW)
        person = (eyes.hand, eyes.acuity_arcmin, eyes.near_point_mm)
        key = (id(setup), self.number(case.work), scene, person)
        terms = (case.irreplaceable, case.spares, len(case.jobs) if case.spares else 1)
        found = self._fates.get((*key, terms))
        if found is None:
            table = self._burdens.get(key)
            if table is None:
                table = burden(self.scene(case.work, setup, bench, eyes))
                self._burdens[key] = table
            found = fate(table, *terms, self.reference.risk.parameters)
            self._fates[(*key, terms)] = found
        return found

    def scene(self, work: Work, setup: Setup, bench: Bench, eyes: EyesLike) -> Scene:
        """Everything the hazards of a set-up depend on."""
        seen = sight(
            work.footprint,
            eyes.acuity_arcmin,
            eyes.near_point_mm,
            bench.magnifiers,
            self.reference.physics,
        )
        return Scene(setup, work, bench, seen, eyes.hand, self.reference, self.tables)
