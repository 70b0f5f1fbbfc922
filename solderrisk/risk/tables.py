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
from solderrisk.model.technique import Technique
from solderrisk.physics.handwork import sight
from solderrisk.physics.results import PlateCase
from solderrisk.risk.choice import Candidate, Row
from solderrisk.risk.conditions import Conditions, Eyes, Means, means_of
from solderrisk.risk.detection import able, known_ways, shares
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
from solderrisk.risk.skill import SkillTables, skill_tables
from solderrisk.risk.work import Case, Work
from solderrisk.risk.worlds import WORLDS, Worlds

MAX_BYTES = 350_000_000
SETUP_BYTES = 5_000  # about
K = TypeVar("K")
V = TypeVar("V")


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
        self._faults = FaultTables(reference, count)
        self._made = 0  # set-ups
        self._suited: dict[Key, tuple[Technique, ...]] = {}
        self._answers: dict[Question, Answer] = {}
        self._setups: dict[tuple[Key, str], KeptByReads[Setup]] = {}
        self._able: dict[Bench, frozenset[str]] = {}
        self._means: dict[tuple[Footprint, Bench, Eyes], Means] = {}
        self._benches: dict[tuple[tuple[Case, ...], Bench, Eyes, int], list[Row]] = {}
        self._rows: dict[Key, KeptByReads[Row]] = {}

    @property
    def full(self) -> bool:
        return self._faults.held_bytes + SETUP_BYTES * self._made > MAX_BYTES

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
        self._made += len(new)
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

    def candidates(self, cases: tuple[Case, ...], bench: Bench, eyes: Eyes, seed: int) -> list[Row]:
        """Every technique for every case, with its tables in the worlds of ``seed`` where it is
        feasible. A case's row stays the same one as long as nothing on the bench that it rests
        on changes."""
        key = (cases, bench, eyes, seed)
        if key not in self._benches:
            self._benches[key] = self._candidates(cases, bench, eyes, seed)
        return self._benches[key]

    def _candidates(self, cases: Sequence[Case], bench: Bench, eyes: Eyes, seed: int) -> list[Row]:
        means = [self.means(case.work, bench, eyes) for case in cases]
        kept = [
            _of(self._rows, Key((case.work, _terms(case), own, seed)))
            for case, own in zip(cases, means, strict=True)
        ]
        found = [rows.find(bench) for rows in kept]
        new = [n for n, row in enumerate(found) if row is None]
        reads = {n: Reads() for n in new}
        setups = self.setups([(cases[n].work, reads[n].of(bench)) for n in new])
        for n, own in zip(new, setups, strict=True):
            found[n] = kept[n].keep(reads[n], self._row(cases[n], own, means[n], seed), bench)
        return [row for row in found if row is not None]

    def _row(self, case: Case, setups: Sequence[Setup], means: Means, seed: int) -> Row:
        work_out = partial(self._faults.outcome, case.work, _terms(case))
        return Row(Candidate(s, partial(work_out, s, means, seed), means.sight) for s in setups)

    def worlds(self, seed: int) -> tuple[Worlds, SkillTables]:
        """All worlds of a seed, and what they make of skill."""
        return self._faults.worlds(seed)

    def means(self, work: Work, bench: Bench, eyes: Eyes) -> Means:
        """What this person sees of a piece of work on this bench, and works with."""
        key = (work.footprint, bench, eyes)
        if key not in self._means:
            person = eyes.acuity_arcmin, eyes.near_point_mm
            seen = sight(work.footprint, *person, bench.magnifiers, self.reference.physics)
            found = means_of(work, bench, seen, eyes)
            self._means[key] = replace(found, rescues=self._rescues(work.footprint, bench))
        return self._means[key]

    def _rescues(self, footprint: Footprint, bench: Bench) -> tuple[tuple[str, float], ...]:
        if bench not in self._able:
            self._able[bench] = able(bench, self.reference)
        return shares(known_ways(footprint, self.reference), self._able[bench])


Terms = tuple[bool, int, int]  # nobody sells the part; spares; parts that share them
M = TypeVar("M", Hurt, FaultTable, Outcome)


class FaultTables:
    """One per set of reference data. ``count``: how many worlds are drawn; ``held_bytes``: of
    all tables there are."""

    def __init__(self, reference: Reference, count: int) -> None:
        self.reference = reference
        self.count = count
        self.held_bytes = 0
        self._worlds: dict[int, tuple[Worlds, SkillTables]] = {}
        self._hurts: dict[tuple[Key, Key, int], KeptByReads[Hurt]] = {}
        self._tables: dict[Hurt, KeptByReads[FaultTable]] = {}
        self._outcomes: dict[tuple[FaultTable, Terms], Outcome] = {}

    def worlds(self, seed: int) -> tuple[Worlds, SkillTables]:
        """All worlds of a seed, weighed by what was reported, and what they make of skill."""
        if seed not in self._worlds:
            drawn = Worlds(self.reference, seed, self.count)
            by_skill = skill_tables(drawn)
            drawn.weights = weigh(drawn, by_skill)
            self._worlds[seed] = drawn, by_skill
        return self._worlds[seed]

    def outcome(self, work: Work, terms: Terms, setup: Setup, means: Means, seed: int) -> Outcome:
        """What a set-up does to a piece of work. Neither who looks for faults changes how many
        there are, nor the price of a part how they are mended: each table is kept by what was
        read for it."""
        worlds, by_skill = self.worlds(seed)

        def seen(work: Work, means: Means) -> Conditions:
            return Conditions(setup, work, means, worlds, by_skill)

        hurts = self._hurts.setdefault((work.heated, setup.heat_key, seed), KeptByReads())
        hurt = hurts.get(lambda *both: self._held(Hurt.of(seen(*both))), work, means)
        tables = self._tables.setdefault(hurt, KeptByReads())
        table = tables.get(lambda *both: self._held(fault_table(seen(*both), hurt)), work, means)
        found = self._outcomes.get((table, terms))
        if found is None:
            found = self._outcomes[table, terms] = self._held(outcome(table, *terms, worlds))
        return found

    def _held(self, made: M) -> M:
        self.held_bytes += made.nbytes
        return made
