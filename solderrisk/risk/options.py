"""One job: its options on a bench, which is chosen, and which tools it waits for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import Key
from solderrisk.model.bench import Bench
from solderrisk.model.jobs import Job
from solderrisk.model.plan_data import PricedTool, with_tools
from solderrisk.model.question import Reference
from solderrisk.model.technique import Technique
from solderrisk.risk.choice import Candidate, Choice, Worth
from solderrisk.risk.conditions import Conditions, Eyes
from solderrisk.risk.heat.bench import Setup, has
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.outcomes import FaultTable, Hurt, Outcome, fault_table, outcome
from solderrisk.risk.results import JobRisk, JointHeat, ModeChance, Option, Range
from solderrisk.risk.skill import GRID, NOBODY, SHOWN, Hand, Skilled, row_ranges, skill_tables
from solderrisk.risk.tables import Tables
from solderrisk.risk.work import Case, Work
from solderrisk.risk.worlds import Worlds

LEAST_SHOWN = 1e-4  # modes less likely than one in ten thousand are not listed
TOLD = 2  # options whose modes are spelt out: the chosen one and the runner-up


def option_of(
    candidate: Candidate, hand: Hand, note: str, worth: Worth, *, modes: bool = True
) -> Option:
    """Everything a face shows of a technique for a job. ``note`` says what the belief in
    the person's skill rests on; ``modes``: spell out the fault modes."""
    setup, technique, outcome = candidate.setup, candidate.technique, candidate.outcome
    if outcome is None:
        return Option(
            technique.id,
            technique.title,
            False,
            setup.missing,
            setup.why,
            setup.settings,
            setup.iron_heat,
            setup.air_heat,
            setup.plate_heat,
            setup.low_melt,
            decided=setup.decided,
            skill=technique.skill,
            heat=technique.heat,
            warms=SOURCES[technique.heat].warms,
            case=setup.case,
            joints=_hardest_first(setup),
        )
    ranges = _ranges(outcome, hand, worth)
    return Option(
        technique=technique.id,
        title=technique.title,
        feasible=True,
        why=setup.why,
        settings=setup.settings,
        iron_heat=setup.iron_heat,
        air_heat=setup.air_heat,
        plate_heat=setup.plate_heat,
        low_melt=setup.low_melt,
        sight=candidate.sight,
        first_time=ranges[0],
        after_mending=ranges[1],
        lost=ranges[2],
        loss=ranges[3],
        minutes=ranges[4],
        modes=_modes(outcome, hand, note) if modes else (),
        decided=setup.decided,
        skill=technique.skill,
        heat=technique.heat,
        warms=SOURCES[technique.heat].warms,
        case=setup.case,
        joints=_hardest_first(setup),
    )


def _ranges(outcome: Outcome, hand: Hand, worth: Worth) -> list[Range]:
    """No fault at the first try, works in the end, lost for good, loss, minutes."""
    kept = outcome.met(hand).told
    if worth not in kept:
        table = outcome.table
        money = outcome.parts * worth.part_cost + table.damage + worth.stake * (1 - outcome.works)
        # A lift is about this very part: another one bought does not bring it off whole.
        lift = table.setup.technique.purpose == "lift"
        works = 1 - table.lost if lift else outcome.works
        told = np.stack([np.exp(-table.first), works, table.lost, money, outcome.minutes])
        kept[worth] = row_ranges(hand.mean(told), hand.at_samples(told, SHOWN))
    found: list[Range] = kept[worth]
    return found


def _hardest_first(setup: Setup) -> tuple[JointHeat, ...]:
    return tuple(sorted(setup.joints, key=lambda joint: joint.effort, reverse=True))


def _modes(outcome: Outcome, hand: Hand, note: str) -> tuple[ModeChance, ...]:
    kept = outcome.met(hand).told
    if note not in kept:
        kept[note] = _mode_chances(outcome.table, hand, note)
    found: tuple[ModeChance, ...] = kept[note]
    return found


def _mode_chances(faults: FaultTable, hand: Hand, note: str) -> tuple[ModeChance, ...]:
    count = faults.hurt.count
    chances, hazards = faults.hurt.chances, faults.hurt.hazards
    mean = hand.mean(chances)
    shown = np.flatnonzero(mean >= LEAST_SHOWN)
    one = hand.at_samples(chances[shown], SHOWN)
    times = count[shown, None]
    several = 1 - (1 - one) ** times
    totals = np.where(count[shown] > 1, several.mean(axis=1), mean[shown])
    each, total = row_ranges(mean[shown], one), row_ranges(totals, several)
    found = []
    for n, index in enumerate(shown.tolist()):
        hazard = hazards[index]
        mode = hazard.mode
        chance = ModeChance(
            mode.id,
            mode.title,
            hazard.count,
            each[n],
            total[n],
            mode.severity,
            hazard.why,
            mode.per,
            note,
        )
        found.append(chance)
    found.sort(key=lambda chance: -chance.total.mid)
    return tuple(found)


class Needed(NamedTuple):
    """The cheapest tools with which some technique is feasible and its heat decided; where
    none are, those with which one ``helps``: feasible, and whether it is hot enough open."""

    ids: tuple[str, ...]
    helps: tuple[str, ...] = ()


NOTHING = Needed(())


def job_risk(
    job: Job,
    choice: Choice,
    hands: Mapping[str, Hand],
    notes: Mapping[str, str],
    worth: Worth,
    *,
    findings: tuple[str, ...] = (),
    skill: Skilled = NOBODY,
    tooling: Needed = NOTHING,
) -> JobRisk:
    """The job with its options, the chosen one first. Modes are spelt out for the first
    two; pin another technique to see its own."""
    options = tuple(
        option_of(c, hands[c.technique.skill], notes[c.technique.skill], worth, modes=n < TOLD)
        for n, c in enumerate(choice.order)
    )
    blocked = not options or not options[0].feasible
    if not options:
        nothing = "no technique is known for this kind of part"
        options = (Option("none", "no technique", False, (nothing,), nothing),)
    return JobRisk(
        job=job,
        options=options,
        blocked=blocked,
        skill_needed=skill.level,
        tooling_needed=tooling.ids,
        tooling_helps=tooling.helps if blocked else (),
        findings=findings,
        skill_asked=skill.asked,
        equals=choice.equals,
        pinned=choice.pinned,
    )


MAX_BOOSTERS = 2
TOOLS = (
    *("irons", "hot_air", "preheaters", "hot_plates", "desolderers", "removal_alloys", "room"),
    *("solders", "fluxes", "magnifiers", "aids"),
)
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class User:
    """Whose hands, by skill, and eyes the tools are for."""

    eyes: Eyes
    hands: Mapping[str, Hand]


class Tooling:
    """The cheapest tools per piece of work and bench, remembered."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables
        self._kept: dict[tuple[object, ...], Needed] = {}
        self._stated = Worlds(tables.reference, 0, 0)
        self._skills = skill_tables(self._stated)
        self._alone: dict[tuple[object, ...], Floats] = {}
        self._means: dict[tuple[object, ...], tuple[Hand, float]] = {}  # in the hand asked last

    def needed(
        self, cases: Sequence[Case], choices: Sequence[Choice], bench: Bench, user: User
    ) -> list[Needed]:
        """Blocked cases: the cheapest tools to add to this bench. Others: the cheapest tools
        with which a bare table can do it. Both with the lens that these eyes need."""
        bare = Bench(name="bare table", room=bench.room)
        bases = [bare if choice.chosen is not None else bench for choice in choices]
        for base in (bare, bench):
            asked = {
                self._key(case, base): case.work
                for case, own in zip(cases, bases, strict=True)
                if own is base and self._key(case, base) not in self._kept
            }
            found = cheapest_sets(list(asked.values()), base, self.tables)
            self._kept.update(zip(asked, found, strict=True))
        every = []
        for case, choice, base in zip(cases, choices, bases, strict=True):
            kept = self._kept[self._key(case, base)]
            # Where no tool is enough no lens is.
            lens = self._lens(case, choice, kept.ids, bench, user) if kept.ids else None
            every.append(kept if lens is None else Needed(tuple(sorted({*kept.ids, lens}))))
        return every

    def _lens(
        self, case: Case, choice: Choice, ids: Sequence[str], bench: Bench, user: User
    ) -> str | None:
        """The cheapest lens to buy for such a case where it can be done, None where it needs
        none; where it is blocked, one beside those that the bench has."""
        reference = self.tables.reference
        chosen = choice.chosen
        if chosen is None:
            tools = {tool.id: tool for tool in reference.plan.tools}
            bench = with_tools(bench, [tools[name] for name in ids])
            (row,) = self.tables.setups([(case.work, bench)])
            setup = next((s for s in row if s.feasible and s.decided), None)
        else:
            bench, setup = bench.model_copy(update={"magnifiers": ()}), chosen.setup
        if setup is None:
            return None
        lenses = sorted(
            (tool for tool in reference.plan.tools if tool.adds.magnifiers),
            key=lambda tool: (tool.price, tool.id),
        )
        return self._enough(case, setup, bench, lenses, user)

    def _enough(
        self, case: Case, setup: Setup, bench: Bench, lenses: Sequence[PricedTool], user: User
    ) -> str | None:
        """The first lens, none before any, with which all of these jobs work as often as a
        placement should, or nearly as often as with the best one."""
        data = self.tables.reference.risk.parameters

        chances: dict[str | None, float] = {None: self._works(case, setup, bench, user)}
        for tool in lenses:
            if max(chances.values()) >= data["placement_chance"]:
                break
            chances[tool.id] = self._works(case, setup, with_tools(bench, [tool]), user)
        enough = min(data["placement_chance"], max(chances.values()) - data["lens_slack"])
        return next(name for name, chance in chances.items() if chance >= enough)

    def _works(self, case: Case, setup: Setup, bench: Bench, user: User) -> float:
        """Chance that all of these jobs work in these eyes and hands, every number as stated:
        whether a lens is enough hangs little on the rest."""
        means = self.tables.means(case.work, bench, user.eyes)
        key = (case.work, case.irreplaceable, case.spares, setup.heat_key, means)
        if key not in self._alone:
            conditions = Conditions(setup, case.work, means, self._stated, self._skills)
            table = fault_table(conditions, Hurt.of(conditions))
            found = outcome(table, case.irreplaceable, case.spares, 1, self._stated)
            self._alone[key] = found.works[0]
        hand = user.hands[setup.technique.skill]
        kept = self._means.get(key)
        if kept is None or kept[0] is not hand:
            mean = float(np.interp(hand.psi, GRID, self._alone[key]).mean())
            kept = self._means[key] = (hand, mean)
        return kept[1] ** len(case.jobs)

    def _key(self, case: Case, base: Bench) -> tuple[object, ...]:
        return case.work.heated, Key(getattr(base, name) for name in TOOLS)


def cheapest_sets(works: Sequence[Work], base: Bench, tables: Tables) -> list[Needed]:
    """The cheapest tools to add to a bench so that some technique is feasible and its heat is
    decided: what may not be enough is not told as what is needed. Nothing where none helps or
    nothing needs to be added.

    Sets are tried in rounds over all works, so that the heat model is asked in batches.
    """
    queues = [_tries(work, base, tables) for work in works]
    answers: list[tuple[str, ...] | None] = [None] * len(works)
    helps: list[tuple[str, ...]] = [()] * len(works)
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
            able = [setup for setup in setups if setup.feasible]
            if any(setup.decided for setup in able):
                answers[n] = queues[n][turn]
            elif able and not helps[n]:
                helps[n] = queues[n][turn]
    pairs_of = zip(answers, helps, strict=True)
    return [Needed((), help_) if ids is None else Needed(ids) for ids, help_ in pairs_of]


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
