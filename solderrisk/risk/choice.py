"""Which techniques: those with which the whole kit most likely works; among equals, the cheaper.

The kit's chance is a mean over products, so a technique is judged by what it does to the
kit, not alone. What is bought, learned or recorded can then never make the choice worse.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import Parameters, steady
from solderrisk.model.technique import Technique
from solderrisk.physics.results import Sight
from solderrisk.risk.heat.bench import Setup
from solderrisk.risk.outcomes import Met, Outcome
from solderrisk.risk.skill import Hand

Floats = NDArray[np.float64]

SWEEPS = 6
LEAST_GAIN = 1e-9


@dataclass(frozen=True)
class Worth:
    """What is at stake for a job: money."""

    part_cost: float  # one more part, with its share of postage
    stake: float  # the kit, if it never works
    hour_value: float


@dataclass(frozen=True, eq=False)
class Candidate:
    """A technique for a job; ``outcome`` is None where it is not feasible, and worked out when
    it is asked for."""

    setup: Setup
    work_out: Callable[[], Outcome]
    sight: Sight | None = None

    @property
    def feasible(self) -> bool:
        return self.setup.feasible

    @cached_property
    def outcome(self) -> Outcome | None:
        return self.work_out() if self.feasible else None

    @property
    def technique(self) -> Technique:
        return self.setup.technique


class Row(tuple[Candidate, ...]):
    """All candidates for a piece of work. Two rows are the same if they are one object."""

    __hash__ = object.__hash__
    __eq__ = object.__eq__
    __ne__ = object.__ne__

    @cached_property
    def feasible(self) -> tuple[Candidate, ...]:
        return tuple(candidate for candidate in self if candidate.feasible)

    @cached_property
    def judged(self) -> dict[object, tuple[Judged, ...]]:
        """What some hands make of it: figures alone, since many hands may ask."""
        return {}


@dataclass(frozen=True, eq=False)
class Judged:
    """A feasible candidate in somebody's hands. ``chance`` of one job; ``cost``: money and time
    of all equal ones, whatever else happens; ``tried``: the first of its skill does not beat it
    in everything."""

    candidate: Candidate
    chance: float
    cost: float
    tried: bool


@dataclass(frozen=True)
class Alternatives:
    """``count`` equal jobs and what could do them, ``pin``: only this where it is feasible."""

    count: int
    candidates: Row
    worth: Worth
    pin: str | None


@dataclass(frozen=True)
class Choice:
    """``order``: the chosen one, others by chance, then what is not feasible, that which
    lacks least first. ``equals``: techniques that leave the kit's chance the same to what is
    told, alone or together with all else of their skill."""

    order: tuple[Candidate, ...]
    pinned: bool
    equals: tuple[str, ...]

    @property
    def chosen(self) -> Candidate | None:
        return self.order[0] if self.order and self.order[0].feasible else None


@dataclass(frozen=True, eq=False)
class _Rival:
    judged: Judged
    met: Met
    count: int

    @property
    def candidate(self) -> Candidate:
        return self.judged.candidate

    @property
    def chance(self) -> float:
        return self.judged.chance

    @property
    def cost(self) -> float:
        return self.judged.cost

    @cached_property
    def fails(self) -> Floats:
        """By sample, of all equal jobs together."""
        return self.count * self.met.fails


def choose(
    groups: Sequence[Alternatives],
    hands: Mapping[str, Hand],
    data: Parameters,
    *,
    every: bool = True,
) -> list[Choice]:
    """A technique for every group of equal jobs. ``every``: others are put in order as well,
    even where one is pinned."""
    rivals = [_rivals(group, hands, every) for group in groups]
    allowed = [_allowed(found, group.pin) for found, group in zip(rivals, groups, strict=True)]
    able = [n for n, found in enumerate(allowed) if found]
    open_ = [allowed[n] for n in able]
    taken = _thrifty(open_, _best(open_), data)
    picked = dict(zip(able, taken, strict=True))
    if not every:
        return [_alone(picked.get(n)) for n in range(len(groups))]
    same = dict(zip(able, _same([rivals[n] for n in able], taken, hands, data), strict=True))
    return [
        _choice(group, rivals[n], picked.get(n), same.get(n, set()))
        for n, group in enumerate(groups)
    ]


def _rivals(group: Alternatives, hands: Mapping[str, Hand], every: bool) -> list[_Rival]:
    able = group.candidates.feasible
    if not every:
        able = tuple(c for c in able if c.technique.id == group.pin) or able
    return [_rival(judged, hands, group.count) for judged in _judged(able, group, hands)]


def _rival(judged: Judged, hands: Mapping[str, Hand], count: int) -> _Rival:
    outcome = judged.candidate.outcome
    assert outcome is not None
    return _Rival(judged, outcome.met(hands[judged.candidate.technique.skill]), count)


def _judged(
    able: tuple[Candidate, ...], group: Alternatives, hands: Mapping[str, Hand]
) -> tuple[Judged, ...]:
    """The likeliest first."""
    own = tuple(hands[candidate.technique.skill] for candidate in able)
    key, kept = (able, own, group.worth, group.count), group.candidates.judged
    if key not in kept:
        kept[key] = _judge(able, group, own)
    return kept[key]


def _judge(
    able: Sequence[Candidate], group: Alternatives, hands: Sequence[Hand]
) -> tuple[Judged, ...]:
    figures = [
        (*_figures(candidate, hand, group), candidate)
        for candidate, hand in zip(able, hands, strict=True)
    ]
    figures.sort(key=lambda each: (-each[0], each[1], each[2].technique.id))
    best: dict[str, tuple[float, float, Candidate]] = {}
    found = []
    for each in figures:
        first = best.setdefault(each[2].technique.skill, each)
        found.append(Judged(each[2], each[0], each[1], first is each or not _beats(first, each)))
    return tuple(found)


def _figures(candidate: Candidate, hand: Hand, group: Alternatives) -> tuple[float, float]:
    """Chance and cost."""
    outcome = candidate.outcome
    assert outcome is not None
    met, worth = outcome.met(hand), group.worth
    spent = met.parts * worth.part_cost + met.damage + met.minutes * (worth.hour_value / 60)
    return met.chance, group.count * steady(spent + candidate.technique.consumables)


def _beats(one: tuple[float, float, Candidate], other: tuple[float, float, Candidate]) -> bool:
    """In cost, and in every world and for every hand."""
    a, b = one[2].outcome, other[2].outcome
    assert a is not None
    assert b is not None
    return other[1] >= one[1] and bool((b.fails >= a.fails).all())


def _allowed(rivals: list[_Rival], pin: str | None) -> list[_Rival]:
    pinned = [r for r in rivals if r.candidate.technique.id == pin]
    return pinned or [r for r in rivals if r.judged.tried]


def _best(groups: Sequence[Sequence[_Rival]]) -> list[_Rival]:
    """What makes the kit likeliest to work: each group in turn, and all of one skill at once,
    until nothing gets better."""
    picked = [found[0] for found in groups]
    several = [n for n, found in enumerate(groups) if len(found) > 1]
    if not several:
        return picked
    fails = np.asarray(sum(rival.fails for rival in picked))
    now = _works(fails)
    for _ in range(SWEEPS):
        before = list(picked)
        for n in several:
            rest = fails - picked[n].fails
            tried = [_works(rest + rival.fails) for rival in groups[n]]
            most = max(tried)
            if most > now + LEAST_GAIN:
                picked[n], now = groups[n][tried.index(most)], most
                fails = rest + picked[n].fails
        for changed in _by_skill(groups, picked):
            moved = fails + sum(new.fails - picked[n].fails for n, new in changed.items())
            works = _works(moved)
            if works > now + LEAST_GAIN:
                fails, now = np.asarray(moved), works
                for n, new in changed.items():
                    picked[n] = new
        if picked == before:
            break
    return picked


def _works(fails: Floats) -> float:
    return steady(np.exp(-fails).mean())


def _by_skill(
    groups: Sequence[Sequence[_Rival]], picked: Sequence[_Rival]
) -> Iterable[dict[int, _Rival]]:
    """All that could be done with another skill, done with it."""
    skills = sorted({r.candidate.technique.skill for found in groups for r in found})
    for skill in skills:
        changed = {}
        for n, found in enumerate(groups):
            other = next((r for r in found if r.candidate.technique.skill == skill), None)
            if other is not None and picked[n].candidate.technique.skill != skill:
                changed[n] = other
        if len(changed) > 1:
            yield changed


def _thrifty(
    groups: Sequence[Sequence[_Rival]], picked: Sequence[_Rival], data: Parameters
) -> list[_Rival]:
    """Cheaper ones where the job's chance is the same, most money saved first, as long as
    all of them together leave the kit's chance as it is."""
    found = list(picked)
    fails = np.asarray(sum(rival.fails for rival in picked)) if picked else np.zeros(1)
    least = _works(fails) - data["same_kit_chance"]
    cheaper = [
        (steady(rival.cost - picked[n].cost), n, rival.candidate.technique.id, rival)
        for n, rivals in enumerate(groups)
        for rival in rivals
        if rival.chance >= picked[n].chance - data["same_chance"]
        and rival.cost < picked[n].cost - LEAST_GAIN
    ]
    done = set()
    for _, n, _, rival in sorted(cheaper, key=lambda item: item[:3]):
        moved = fails - picked[n].fails + rival.fails
        if n not in done and _works(moved) >= least:
            found[n], fails = rival, moved
            done.add(n)
    return found


def _same(
    groups: Sequence[Sequence[_Rival]],
    picked: Sequence[_Rival],
    hands: Mapping[str, Hand],
    data: Parameters,
) -> list[set[_Rival]]:
    """Of each group those with which the kit's chance is the same, to what is told and to what
    so many worlds can tell: alone, or as all else of one skill is done with it too."""
    found: list[set[_Rival]] = [set() for _ in groups]
    if all(len(rivals) < 2 for rivals in groups):
        return found
    gap = _Gap(picked, hands, data)
    for n, rivals in enumerate(groups):
        found[n] = {r for r in rivals if r is not picked[n] and gap.none(r.fails - picked[n].fails)}
    for changed in _by_skill(groups, picked):
        if gap.none(np.asarray(sum(new.fails - picked[n].fails for n, new in changed.items()))):
            for n, new in changed.items():
                found[n].add(new)
    return found


class _Gap:
    """Whether a change to what was picked changes the kit's chance: by more than is told, and
    by more than another draw of the worlds might."""

    def __init__(
        self, picked: Sequence[_Rival], hands: Mapping[str, Hand], data: Parameters
    ) -> None:
        self.fails = np.asarray(sum(rival.fails for rival in picked))
        self.works = np.exp(-self.fails)
        self.world = next(iter(hands.values())).world
        times = np.bincount(self.world)
        self.drawn = np.flatnonzero(times)
        self.share = times[self.drawn] / len(self.world)
        self.same, self.errors = data["same_chance"], data["same_chance_errors"]

    def none(self, more: Floats) -> bool:
        """``more``: hazard by sample that the change adds."""
        lost = self.works - np.exp(-(self.fails + more))
        mean = lost.mean()
        apart = np.bincount(self.world, lost - mean)[self.drawn] / len(lost) / self.share
        # Spread between worlds over as many as the weighted ones are worth (Kish 1965).
        error = np.sqrt((self.share @ apart**2) * (self.share @ self.share))
        return bool(steady(abs(mean) - self.errors * error) <= self.same)


def _alone(picked: _Rival | None) -> Choice:
    return Choice(() if picked is None else (picked.candidate,), False, ())


def _choice(
    group: Alternatives, rivals: Sequence[_Rival], picked: _Rival | None, same: set[_Rival]
) -> Choice:
    others = [r for r in rivals if r is not picked]
    equals = tuple(r.candidate.technique.title for r in others if r in same)
    first = [] if picked is None else [picked.candidate]
    known = [*first, *(r.candidate for r in others)]
    left = (c for c in group.candidates if c not in known)
    last = sorted(left, key=lambda c: (not c.feasible, len(c.setup.missing), c.technique.id))
    pinned = bool(first) and first[0].technique.id == group.pin
    return Choice((*known, *last), pinned, equals)
