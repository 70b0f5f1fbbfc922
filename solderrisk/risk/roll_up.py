"""The roll-up of a kit, what reported kits say of it, and where its doubt comes from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import steady
from solderrisk.model.question import ALONE, Reference, Run
from solderrisk.model.risk_data import ReportedKit, ReportedKits
from solderrisk.risk.conditions import Conditions, Eyes, Means
from solderrisk.risk.heat.bench import Setup
from solderrisk.risk.outcomes import Hurt, Outcome, fault_table, outcome, used_up
from solderrisk.risk.person import stood_up
from solderrisk.risk.results import Drawn, Range
from solderrisk.risk.skill import (
    HIGH,
    LOW,
    Hand,
    SkillTables,
    count_at_most,
    hand_of,
    prior_of,
    sample_range,
    skill_tables,
)
from solderrisk.risk.work import Case, Stock
from solderrisk.risk.worlds import EDGE, Worlds

Floats = NDArray[np.float64]

STRATA = 64


@dataclass(frozen=True)
class Share:
    """``count`` equal jobs done by one technique. ``part_cost`` is what one lost part
    costs; ``stock``: what parts they share with others, where spares are left."""

    outcome: Outcome
    skill: str
    count: int
    part_cost: float
    stock: Stock | None = None

    @property
    def fails(self) -> Floats:
        """Hazard of one job, what all of a stock use up not counted."""
        return self.outcome.fails if self.stock is None else self.outcome.board


def share_of(case: Case, made: Outcome, part_cost: float, worlds: Worlds) -> Share:
    """What a case's jobs do to the kit. A technique is chosen by what the part is worth; here
    it counts whether the kit can go on without it."""
    count, stock = len(case.jobs), case.ends
    if stock is not None and case.stock is None:
        made = outcome(made.table, True, stock.spares, count, worlds)
    shared = stock if stock is not None and stock.spares else None
    return Share(made, made.table.setup.technique.skill, count, part_cost, shared)


@dataclass(frozen=True)
class Totals:
    """Per sample: first time, works at first power, working, expected faults and the sum of
    their squares, minutes, money for lost parts and damage."""

    first_time: Floats
    first_power: Floats
    working: Floats
    faults: Floats
    squares: Floats
    minutes: Floats
    money: Floats


def roll_up(shares: Sequence[Share], hands: Mapping[str, Hand], spoiled: float = 0.0) -> Totals:
    """Combine all jobs. ``spoiled`` is the chance that work without solder spoils it."""
    samples = next(iter(hands.values())).samples
    sums = np.zeros((7, samples))
    for skill in sorted({share.skill for share in shares}):
        sums += hands[skill].at_samples(_tables([s for s in shares if s.skill == skill]))
    first, power, fails, faults, squares, minutes, money = sums
    fails = fails + _used_up(shares, hands)
    sound = 1 - spoiled
    return Totals(
        np.exp(-first),
        np.exp(-power) * sound,
        np.exp(-fails) * sound,
        *(faults, squares, minutes, money),
    )


def _tables(shares: Sequence[Share]) -> Floats:
    tables = np.zeros((7, *shares[0].outcome.fails.shape))
    for share in shares:
        outcome, table, count = share.outcome, share.outcome.table, share.count
        tables[0] += count * table.first
        tables[1] += count * table.power
        tables[2] += count * share.fails
        tables[3] += count * table.faults
        tables[4] += count * table.squares
        tables[5] += count * outcome.minutes
        tables[6] += count * (outcome.parts * share.part_cost + table.damage)
    return tables


def working_of(shares: Sequence[Share], hands: Mapping[str, Hand]) -> Floats:
    """Chance per sample that everything works in the end."""
    fails = np.zeros(next(iter(hands.values())).samples)
    for skill in sorted({share.skill for share in shares}):
        own = (share.count * share.fails for share in shares if share.skill == skill)
        fails = fails + hands[skill].at_samples(np.asarray(sum(own)))
    return np.exp(-fails - _used_up(shares, hands))


def _used_up(shares: Sequence[Share], hands: Mapping[str, Hand]) -> Floats:
    """Hazard, by sample, that jobs which share parts use up more than there are."""
    total = np.zeros(next(iter(hands.values())).samples)
    for stock in dict.fromkeys(share.stock for share in shares):
        if stock is not None:
            mine = [share for share in shares if share.stock == stock]
            keep = (np.exp(-hands[s.skill].at_samples(s.outcome.table.part)) for s in mine)
            counts = (share.count for share in mine)
            total = total + used_up(stock.spares, list(zip(counts, keep, strict=True)))
    return total


def drawn_of(
    cases: Sequence[Case], shares: Sequence[Share | None], hands: Mapping[str, Hand]
) -> Callable[[str], Drawn | None]:
    """What is behind a job in all samples, worked out when its key is asked for."""
    place = {job.key: n for n, case in enumerate(cases) for job in case.jobs}

    @cache
    def of_case(number: int) -> Drawn | None:
        share = shares[number]
        if share is None:
            return None
        hand, hurt = hands[share.skill], share.outcome.table.hurt
        modes = (told.mode.id for told in hurt.hazards)
        chances = dict(zip(modes, hand.at_samples(hurt.chances), strict=True))
        return Drawn(hand.at_samples(share.outcome.fails), chances)

    return lambda key: of_case(place[key]) if key in place else None


def failure_shares(
    shares: Sequence[Share], hands: Mapping[str, Hand], working: Floats
) -> list[float]:
    """Share of the kit's expected failure that one job of each entry carries.

    In a sample, failure 1 - W is split in proportion to each job's hazard: the split that
    adds up whatever the order. Over all jobs the shares sum to 1 (0 if nothing can fail).
    """
    hazard = -np.log(np.maximum(working, 1e-300))
    scale = np.where(hazard > 0, (1 - working) / np.maximum(hazard, 1e-15), 1.0)
    grids = {
        skill: hand.on_tables(scale)
        for skill, hand in hands.items()
        if any(share.skill == skill for share in shares)
    }
    carried = [float(np.vdot(share.outcome.fails, grids[share.skill])) for share in shares]
    total = sum(one * share.count for one, share in zip(carried, shares, strict=True))
    return [steady(one / total) if total > 0 else 0.0 for one in carried]


def fault_range(totals: Totals) -> Range:
    """Number of faults to expect: its mean, and the 5 % and 95 % quantiles of the count,
    chance and doubt together."""
    order = np.argsort(totals.faults, kind="stable")
    picked = order[((np.arange(STRATA) + 0.5) * len(order) / STRATA).astype(int)]
    mean, squares = totals.faults[picked], totals.squares[picked]

    def at_most(count: int) -> float:
        return float(count_at_most(count, mean, squares).mean())

    return Range(
        float(_first_count(at_most, LOW)),
        steady(totals.faults.mean()),
        float(_first_count(at_most, HIGH)),
    )


def _first_count(at_most: Callable[[int], float], level: float) -> int:
    low, high = -1, 1
    while at_most(high) < level:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if at_most(middle) >= level else (middle, high)
    return high


def ranges(totals: Totals) -> dict[str, Range]:
    """First time, first power, working, money for what is ruined, and hours as ranges."""
    return {
        "first_time": sample_range(totals.first_time),
        "first_power": sample_range(totals.first_power),
        "working": sample_range(totals.working),
        "ruined": sample_range(totals.money),
        "hours": sample_range(totals.minutes / 60),
    }


SAMPLES = 2_000
STEPS = 30
_LEAST = 1e-9


@dataclass(frozen=True)
class Compared:
    """A reported kit: how often such kits are predicted to come out well, before any report is
    heard and after all of them, against how often they did, and what that counts for."""

    kit: ReportedKit
    before: float
    after: float
    counts: float

    @property
    def seen(self) -> float:
        return self.kit.good / self.kit.of


def weigh(worlds: Worlds, by_skill: SkillTables, heard: ReportedKits | None = None) -> Floats:
    """Weights of the worlds, of mean 1: by how likely what was reported, or ``heard`` of it, is
    in each, and no further than to the effect of a share of them."""
    data = worlds.reference.risk.reported if heard is None else heard
    counts = worlds.reference.risk.parameters["reported_weight"]
    logs = np.zeros(worlds.count)
    for kit in data.kits:
        chance = np.clip(by_world(kit, worlds, by_skill), _LEAST, 1 - _LEAST)
        share = data.weights[kit.quality] * counts
        logs += share * (kit.good * np.log(chance) + (kit.of - kit.good) * np.log1p(-chance))
    return tempered(logs, data.least_share)


def tempered(logs: Floats, least_share: float) -> Floats:
    """Weights of mean 1 from the logarithms of likelihoods, flattened as far as needed to be
    worth that share of as many equal ones."""
    low, high = 0.0, 1.0
    for step in range(STEPS):
        power = 1.0 if step == 0 else (low + high) / 2
        weights = np.exp(power * (logs - logs.max()))
        effect = weights.sum() ** 2 / (weights**2).sum() / len(weights)
        if effect < least_share:
            high = power
        elif power == 1.0:
            break
        else:
            low = power
    return np.asarray(weights / weights.mean())


def by_world(kit: ReportedKit, worlds: Worlds, by_skill: SkillTables) -> Floats:
    """Chance of a reported kit in every world, of anybody at its level."""
    risk = worlds.reference.risk
    level = risk.levels.prior(kit.level)
    belief = prior_of(level, risk.parameters["guided_factor"] if kit.guided else 1.0)
    hand: Hand = hand_of(belief, 0, SAMPLES, worlds)
    joints = sum(part.joints * part.count for part in kit.parts)
    eyes = Eyes(level.hand, 1.0, 250.0, kit.guided)
    hazard = np.zeros_like(by_skill.dwell_spread)
    for part in kit.parts:
        technique = risk.technique(part.technique)
        found = stood_up(technique, part.pitch_mm, part.joints, worlds, by_skill, by=eyes,
                         polarised=part.polarised, suspects=joints)  # fmt: skip
        table = fault_table(found, Hurt.of(found))
        ends = outcome(table, False, 0, 1, worlds).fails
        hazard += part.count * (table.power if kit.asks == "first_power" else ends)
    by_psi = hand.weights.sum(axis=0)
    return np.asarray(np.exp(-hazard[1:]) @ by_psi)


def compared(worlds: Worlds, by_skill: SkillTables) -> tuple[Compared, ...]:
    data, weights = worlds.reference.risk.reported, worlds.weights
    chances = [(kit, by_world(kit, worlds, by_skill)) for kit in data.kits]
    return tuple(
        Compared(kit, float(chance.mean()), float((chance * weights).mean()),
                 kit.of * data.weights[kit.quality])
        for kit, chance in chances
    )  # fmt: skip


MANY = 400
FEW = 100
SPARE = 5  # tried at both ends, more than are told
LEAST_WIDTH = 2e-3  # of the chance


@dataclass(frozen=True)
class Doubt:
    """A cause of doubt: the numbers that it moves, the share of the whole variance that goes
    with it, and the chance with it at its 5 % and at its 95 % point."""

    cause: str
    names: tuple[str, ...]
    share: float
    at_low: float
    at_high: float

    @property
    def width(self) -> float:
        return abs(self.at_high - self.at_low)


@dataclass(frozen=True)
class Makeup:
    """``hands``: share of the variance that is the builder's alone; ``doubts``: what goes with
    single causes, largest first; the rest is what several do together."""

    hands: float
    doubts: tuple[Doubt, ...]


@dataclass(frozen=True)
class Chosen:
    """A case with the set-up chosen for it."""

    case: Case
    setup: Setup
    means: Means


@dataclass(frozen=True)
class Plan:
    """What is done and by whom; ``sound``: chance that work without solder spoils nothing."""

    reference: Reference
    chosen: Sequence[Chosen]
    hands: Mapping[str, Hand]
    sound: float
    seed: int

    def worlds(self, each: int, known: Sequence[Mapping[str, float]] = ({},)) -> Worlds:
        """Worlds with no more nodes than the middles of the hands lie between."""
        nodes = np.unique(np.concatenate([hand.nodes for hand in self._used.values()]))
        return Worlds(self.reference, self.seed, each, known, nodes)

    def by_world(self, worlds: Worlds) -> Floats:
        """Chance that all works, of the hands in the middle of their samples."""
        by_skill = skill_tables(worlds)
        shares = [self._share(chosen, worlds, by_skill) for chosen in self.chosen]
        middle = {skill: hand.everywhere(worlds) for skill, hand in self._used.items()}
        return working_of(shares, middle) * self.sound

    @property
    def _used(self) -> dict[str, Hand]:
        used = {chosen.setup.technique.skill for chosen in self.chosen} or set(self.hands)
        return {skill: hand for skill, hand in self.hands.items() if skill in used}

    def _share(self, chosen: Chosen, worlds: Worlds, by_skill: SkillTables) -> Share:
        case, setup = chosen.case, chosen.setup
        found = Conditions(setup, case.work, chosen.means, worlds, by_skill)
        table = fault_table(found, Hurt.of(found))
        made = outcome(table, case.irreplaceable, case.spares, len(case.jobs), worlds)
        return share_of(case, made, 0.0, worlds)


def makeup(plan: Plan, working: Floats, by_hands: Floats, most: int, run: Run = ALONE) -> Makeup:
    """``working``: samples of the chance, ``by_hands``: those where every number is as stated;
    ``most``: how many causes to tell. Which they are is seen from many worlds at once, their
    shares from all worlds with the one cause at either end."""
    run.tell(0.0, "drawing many worlds")
    many = plan.worlds(MANY)
    chance = plan.by_world(many)
    whole = max(float(working.var()), 1e-12)
    told = {cause: _goes_with(chance, score) for cause, score in many.causes.items()}
    few = Worlds(plan.reference, plan.seed, FEW)
    weights = weigh(few, skill_tables(few))
    hands = steady(min(float(by_hands.var()) / whole, 1.0))
    first = sorted(told, key=lambda cause: (-steady(told[cause]), cause))[: most + SPARE]
    if not first:
        return Makeup(hands, ())
    run.tell(0.3, "weighing them")
    ends = [{cause: end} for cause in first for end in (-EDGE, EDGE)]
    chances = plan.by_world(plan.worlds(FEW, ends)).reshape(len(first), 2, FEW)
    # Each with one cause known, all worlds else counting as they do.
    doubts = []
    for cause, ends in zip(first, (chances * weights).mean(axis=2).tolist(), strict=True):
        low, high = (steady(end) for end in ends)
        share = min(((high - low) / (2 * EDGE)) ** 2 / whole, 1.0)
        names = tuple(many.members.get(cause, ()))
        doubts.append(Doubt(cause, names, steady(share), low, high))
    doubts.sort(key=lambda doubt: (-doubt.share, doubt.cause))
    return Makeup(hands, tuple(d for d in doubts[:most] if d.width >= LEAST_WIDTH))


def _goes_with(chance: Floats, score: Floats) -> float:
    """Share of the variance that a straight line in the score takes."""
    if chance.std() < 1e-9 or score.std() < 1e-9:
        return 0.0
    return float(np.corrcoef(chance, score)[0, 1]) ** 2
