"""What has been worked out already: set-ups, tables and fates, by small numbers.

Footprints and benches are deep values; hashing them for every look-up would cost more than
the look-up saves. Equal values get one number once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solderrisk.model.bench import Bench
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Technique
from solderrisk.physics.results import Sight
from solderrisk.physics.sight import sight
from solderrisk.risk.bench_facts import used_alloy
from solderrisk.risk.burden import Burden, Fate, burden, fate
from solderrisk.risk.cases import Case
from solderrisk.risk.choice import Candidate
from solderrisk.risk.heat_choice import (
    AirAnswer,
    AirQuestion,
    IronAnswer,
    IronQuestion,
    answer_airs,
    answer_irons,
)
from solderrisk.risk.scene import Eyes, Means, Scene, means_of
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

DEEP = ("footprint", "board")
# What the heat model and the choice of techniques look at.
HEATED = ("kind", "footprint", "board", "alloy", "links", "side")


class Numbers:
    """One small number for equal values; each object is hashed once."""

    def __init__(self) -> None:
        self._by_id: dict[int, tuple[object, int]] = {}
        self._by_value: dict[object, int] = {}

    def of(self, value: object) -> int:
        held = self._by_id.get(id(value))
        if held is None or held[0] is not value:
            held = (value, self._by_value.setdefault(value, len(self._by_value)))
            self._by_id[id(value)] = held
        return held[1]


@dataclass(frozen=True)
class _Known:
    work: Work
    number: int
    heat: int


class Desk:
    """One per set of reference data."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.tables = tables_of(reference.risk)
        self._numbers = Numbers()
        self._works: dict[Key, _Known] = {}
        self._known: dict[int, _Known] = {}
        self._heats: dict[Key, int] = {}
        self._views: dict[object, int] = {}
        self._around: dict[int, tuple[Kit, int, Surroundings]] = {}
        self._benches: dict[int, tuple[Bench, dict[tuple[str, ...], int]]] = {}
        self._suited: dict[int, tuple[Technique, ...]] = {}
        self._answers: dict[Key, Answers] = {}
        self._alloys: dict[Key, str] = {}
        self._setups: dict[Key, Setup] = {}
        self._burdens: dict[Key, Burden] = {}
        self._fates: dict[Key, Fate] = {}
        self._seen: dict[Key, tuple[Sight, Means]] = {}

    # --- numbers for values ---

    def same(self, work: Work) -> Work:
        """The first work equal to this one."""
        fields = vars(work)
        key = tuple(
            self._numbers.of(fields[name]) if name in DEEP else value
            for name, value in fields.items()
        )
        found = self._works.get(key)
        if found is None:
            heat = tuple(key[n] for n, name in enumerate(fields) if name in HEATED)
            found = _Known(work, len(self._works), self._heats.setdefault(heat, len(self._heats)))
            self._works[key] = found
            self._known[id(work)] = found
        return found.work

    def known(self, work: Work) -> _Known:
        """A work's numbers: its own, and that of all works which heat alike."""
        found = self._known.get(id(work))
        return self.known(self.same(work)) if found is None else found

    def number(self, work: Work) -> int:
        return self.known(work).number

    def bench_number(self, bench: Bench, fields: tuple[str, ...] = ALL_TOOLS) -> int:
        """One number for benches that are equal in some fields."""
        held = self._benches.get(id(bench))
        if held is None or held[0] is not bench:
            if len(self._benches) > MAX_BENCHES:
                self._benches.clear()
            held = (bench, {})
            self._benches[id(bench)] = held
        if fields not in held[1]:
            value = (fields, *(getattr(bench, name) for name in fields))
            held[1][fields] = self._views.setdefault(value, len(self._views))
        return held[1][fields]

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
        number = self.known(work).heat
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
        number, scene = self.known(work).heat, self.bench_number(bench, SCENE_VIEW)
        kept = self._alloys
        found: list[tuple[Key, Technique]] = []
        for t in self.techniques(work):
            which = (number, t.id, scene)
            if which not in kept:
                kept[which] = used_alloy(t, work, bench, self.reference)
            tools = self.bench_number(bench, HEAT_VIEW[t.heat])
            found.append(((number, t.id, (tools, kept[which]), scene), t))
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
        return max(len(self._setups), len(self._fates)) > MAX_KEPT

    # --- tables ---

    def candidates(self, cases: Sequence[Case], bench: Bench, eyes: Eyes) -> list[list[Candidate]]:
        """Every technique for every case, with its tables where it is feasible."""
        setups = self.setups([(case.work, bench) for case in cases])
        found = []
        for case, row in zip(cases, setups, strict=True):
            seen, means = self.seen(case.work, bench, eyes)
            found.append(
                [Candidate(setup, self._fate(case, setup, means, seen), seen)
                 for setup in row]
            )  # fmt: skip
        return found

    def seen(self, work: Work, bench: Bench, eyes: Eyes) -> tuple[Sight, Means]:
        """What this person sees of a piece of work on this bench, and works with."""
        part = self._numbers.of(work.footprint)
        key = (part, self.bench_number(bench, SCENE_VIEW), eyes)
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

    def _fate(self, case: Case, setup: Setup, means: Means, seen: Sight) -> Fate | None:
        if not setup.feasible:
            return None
        # What the tables depend on, not how it came about: another tip may change nothing.
        heat = (setup.iron_heat, setup.air_heat, setup.low_melt)
        number, technique = self.number(case.work), setup.technique.id
        key = (number, technique, setup.windows, setup.over_s, setup.decided, heat, means)
        terms = (case.irreplaceable, case.spares, len(case.jobs) if case.spares else 1)
        found = self._fates.get((key, terms))
        if found is None:
            table = self._burdens.get(key)
            if table is None:
                table = burden(self.scene(case.work, setup, means, seen))
                self._burdens[key] = table
            found = fate(table, *terms, self.reference.risk.parameters)
            self._fates[(key, terms)] = found
        return found

    def scene(self, work: Work, setup: Setup, means: Means, seen: Sight) -> Scene:
        """Everything the hazards of a set-up depend on."""
        return Scene(setup, work, means, seen.detail_mm, self.reference, self.tables)
