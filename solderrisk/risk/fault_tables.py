"""Fault tables and outcomes, each worked out once: the largest things that are kept."""

from __future__ import annotations

from typing import TypeVar

from solderrisk.model.base import Key
from solderrisk.model.question import Reference
from solderrisk.risk.conditions import Conditions, Means
from solderrisk.risk.hands import SkillTables, skill_tables
from solderrisk.risk.heat.bench import Setup
from solderrisk.risk.outcomes import FaultTable, Hurt, Outcome, fault_table, outcome
from solderrisk.risk.reads import KeptByReads
from solderrisk.risk.roll_up import weigh
from solderrisk.risk.work import Work
from solderrisk.risk.worlds import Worlds

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
