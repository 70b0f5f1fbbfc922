"""What a bench does to pieces of work, worked out once: set-ups, fault tables, outcomes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TypeVar

from solderrisk.model.base import Key
from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Footprint
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import Rescue
from solderrisk.model.technique import Technique
from solderrisk.physics.handwork import sight
from solderrisk.physics.results import PlateCase
from solderrisk.risk.choice import Candidate, Row
from solderrisk.risk.conditions import Conditions, Eyes, Means, means_of
from solderrisk.risk.detection import known_ways, lacks, shares
from solderrisk.risk.hands import SkillTables, skill_tables
from solderrisk.risk.heat.bench import Answer, Question, Setup
from solderrisk.risk.heat.choice import (
    AirQuestion,
    IronQuestion,
    answer_airs,
    answer_irons,
    answer_plates,
)
from solderrisk.risk.heat.sources import questions, set_up, suits
from solderrisk.risk.outcomes import FaultTable, Hurt, Outcome, fault_table, outcome
from solderrisk.risk.reads import KeptByReads, Reads
from solderrisk.risk.roll_up import weigh
from solderrisk.risk.work import Case, Work
from solderrisk.risk.worlds import WORLDS, Worlds

MAX_BYTES = 300_000_000
SETUP_BYTES = 5_000  # about
Terms = tuple[bool, int, int]  # nobody sells it, spares, parts that share them
Ways = tuple[tuple[str, list[Rescue]], ...]
K = TypeVar("K")
V = TypeVar("V")
M = TypeVar("M", Hurt, FaultTable, Outcome)


def _of(kept: dict[K, KeptByReads[V]], key: K) -> KeptByReads[V]:
    found = kept.get(key)
    return kept.setdefault(key, KeptByReads()) if found is None else found


def _terms(case: Case) -> Terms:
    return case.irreplaceable, case.spares, len(case.jobs) if case.spares else 1


@dataclass
class _Wanted:
    """A set-up that is looked for, and what is read of its bench where it has to be made."""

    technique: Technique
    work: Work
    bench: Bench
    kept: KeptByReads[Setup]
    reads: Reads = field(default_factory=Reads)
    asked: Sequence[Question] = ()

    def __post_init__(self) -> None:
        self.setup = self.kept.find(self.bench)

    def ask(self, reference: Reference) -> Sequence[Question]:
        seen = self.reads.of(self.bench)
        self.asked = questions(self.technique, self.work, seen, reference)
        return self.asked

    def make(self, answers: Mapping[Question, Answer], reference: Reference) -> None:
        given = [answers[question] for question in self.asked]
        made = set_up(self.technique, self.work, self.reads.of(self.bench), given, reference)
        self.setup = self.kept.keep(self.reads, made, self.bench)


class Tables:
    """One per set of reference data. ``count``: how many worlds are drawn."""

    def __init__(self, reference: Reference, count: int = WORLDS) -> None:
        self.reference = reference
        self.count = count
        self.held_bytes = 0
        self._worlds: dict[int, tuple[Worlds, SkillTables]] = {}
        self._suited: dict[Key, tuple[Technique, ...]] = {}
        self._answers: dict[Question, Answer] = {}
        self._setups: dict[tuple[Key, str], KeptByReads[Setup]] = {}
        self._ways: dict[Footprint, Ways] = {}
        self._means: dict[tuple[Footprint, Eyes], KeptByReads[Means]] = {}
        self._rows: dict[Key, KeptByReads[Row]] = {}
        self._hurts: dict[tuple[Key, Key, int], KeptByReads[Hurt]] = {}
        self._faults: dict[Hurt, KeptByReads[FaultTable]] = {}
        self._outcomes: dict[tuple[FaultTable, Terms], Outcome] = {}

    @property
    def full(self) -> bool:
        return self.held_bytes > MAX_BYTES

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
        wanted = [
            [
                _Wanted(technique, work, bench, _of(self._setups, (work.heated, technique.id)))
                for technique in self.techniques(work)
            ]
            for work, bench in pairs
        ]
        new = [each for row in wanted for each in row if each.setup is None]
        self._ask([question for each in new for question in each.ask(self.reference)])
        for each in new:
            each.make(self._answers, self.reference)
        self.held_bytes += SETUP_BYTES * len(new)
        return [[each.setup for each in row if each.setup is not None] for row in wanted]

    def _ask(self, wanted: Sequence[Question]) -> None:
        new = [question for question in wanted if question not in self._answers]
        irons = answer_irons([q for q in new if isinstance(q, IronQuestion)], self.reference)
        airs = answer_airs([q for q in new if isinstance(q, AirQuestion)], self.reference)
        plates = answer_plates([q for q in new if isinstance(q, PlateCase)], self.reference)
        self._answers.update(irons.items())
        self._answers.update(airs.items())
        self._answers.update(plates.items())

    # --- tables ---

    def candidates(self, cases: Sequence[Case], bench: Bench, eyes: Eyes, seed: int) -> list[Row]:
        """Every technique for every case, with its tables in the worlds of ``seed`` where it is
        feasible. A case's row stays the same one as long as nothing on the bench that it rests
        on changes."""
        kept = [_of(self._rows, Key((case.work, _terms(case), eyes, seed))) for case in cases]
        found = [rows.find(bench) for rows in kept]
        new = [n for n, row in enumerate(found) if row is None]
        reads = {n: Reads() for n in new}
        seen = {n: reads[n].of(bench) for n in new}
        setups = self.setups([(cases[n].work, seen[n]) for n in new])
        for n, own in zip(new, setups, strict=True):
            row = self._row(cases[n], own, self.means(cases[n].work, seen[n], eyes), seed)
            found[n] = kept[n].keep(reads[n], row, bench)
        return [row for row in found if row is not None]

    def _row(self, case: Case, setups: Sequence[Setup], means: Means, seed: int) -> Row:
        worlds, by_skill = self.worlds(seed)
        made = (partial(self._outcome, case, setup, means, worlds, by_skill) for setup in setups)
        return Row(Candidate(*both, means.sight) for both in zip(setups, made, strict=True))

    def worlds(self, seed: int) -> tuple[Worlds, SkillTables]:
        if seed not in self._worlds:
            drawn = Worlds(self.reference, seed, self.count)
            by_skill = skill_tables(drawn)
            drawn.weights = weigh(drawn, by_skill)
            self._worlds[seed] = drawn, by_skill
        return self._worlds[seed]

    def means(self, work: Work, bench: Bench, eyes: Eyes) -> Means:
        """What this person sees of a piece of work on this bench, and works with."""

        def made(bench: Bench) -> Means:
            person = eyes.acuity_arcmin, eyes.near_point_mm
            seen = sight(work.footprint, *person, bench.magnifiers, self.reference.physics)
            found = means_of(work, bench, seen, eyes)
            return replace(found, rescues=self._rescues(work.footprint, bench))

        return _of(self._means, (work.footprint, eyes)).get(made, bench)

    def _rescues(self, footprint: Footprint, bench: Bench) -> tuple[tuple[str, float], ...]:
        if footprint not in self._ways:
            self._ways[footprint] = known_ways(footprint, self.reference)
        known = self._ways[footprint]
        ways = {way.id: way for _, found in known for way in found}
        able = (name for name, way in ways.items() if not lacks(way, bench, self.reference))
        return shares(known, frozenset(able))

    def _outcome(
        self, case: Case, setup: Setup, means: Means, worlds: Worlds, by_skill: SkillTables
    ) -> Outcome:
        work = case.work

        def seen(work: Work, means: Means) -> Conditions:
            return Conditions(setup, work, means, worlds, by_skill)

        hurts = _of(self._hurts, (work.heated, setup.heat_key, worlds.seed))
        hurt = hurts.get(lambda *both: self._held(Hurt.of(seen(*both))), work, means)
        faults = _of(self._faults, hurt)
        table = faults.get(lambda *both: self._held(fault_table(seen(*both), hurt)), work, means)
        terms = _terms(case)
        found = self._outcomes.get((table, terms))
        if found is None:
            found = self._outcomes[table, terms] = self._held(outcome(table, *terms, worlds))
        return found

    def _held(self, made: M) -> M:
        self.held_bytes += made.nbytes
        return made
