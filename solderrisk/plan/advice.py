"""Advice: the cheapest purchases and practice that lift the chance above the target."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.plan_data import PricedTool, brings_something, with_tools
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.plan.results import Advice, Gain, Training
from solderrisk.plan.verdict import AGREES, judged, one_of_each
from solderrisk.risk.engine import Chances, RiskEngine


@dataclass(frozen=True)
class CheapestSet:
    """``chosen`` holds indices, None where no set reaches the target. ``proved`` is false
    when the search ran out of evaluations first."""

    chosen: frozenset[int] | None
    cost: float
    tried: int
    proved: bool


class _OutOfTries(Exception):  # noqa: N818 - ends the search, it is no error
    pass


def cheapest_set(
    costs: Sequence[float],
    chance: Callable[[frozenset[int]], float],
    target: float,
    *,
    most_tries: int = 3000,
    progress: Callable[[int], None] | None = None,
) -> CheapestSet:
    """Search the subsets of ``range(len(costs))``; ``chance`` must never fall when an
    item is added. ``progress`` is told the number of sets tried so far."""
    seen: dict[frozenset[int], bool] = {}
    short: list[frozenset[int]] = []  # sets that do not reach: nothing within them does
    enough: list[frozenset[int]] = []  # sets that reach: everything around them does

    def reaches(items: frozenset[int]) -> bool:
        if any(items <= each for each in short):
            return False
        if any(each <= items for each in enough):
            return True
        if len(seen) >= most_tries:
            raise _OutOfTries
        seen[items] = chance(items) >= target
        (enough if seen[items] else short).append(items)
        if progress is not None:
            progress(len(seen))
        return seen[items]

    everything = frozenset(range(len(costs)))
    if reaches(frozenset()):
        return CheapestSet(frozenset(), 0.0, len(seen), True)
    if not reaches(everything):
        return CheapestSet(None, 0.0, len(seen), True)

    search = _Search(costs, reaches, everything)
    try:
        search.best = trimmed(costs, reaches)
        search.run()
        proved = True
    except _OutOfTries:
        proved = False
    return CheapestSet(search.best, search.cost_of(search.best), len(seen), proved)


class _Search:
    def __init__(
        self,
        costs: Sequence[float],
        reaches: Callable[[frozenset[int]], bool],
        everything: frozenset[int],
    ) -> None:
        self.costs = costs
        self.reaches = reaches
        self.best = everything
        self.everything = everything

    def cost_of(self, items: frozenset[int]) -> float:
        return sum(self.costs[item] for item in sorted(items))

    def run(self) -> None:
        needed = frozenset(i for i in self.everything if not self.reaches(self.everything - {i}))
        self._branch(needed, _dear_first(self.everything - needed, self.costs))

    def _branch(self, chosen: frozenset[int], rest: list[int]) -> None:
        cost, best = self.cost_of(chosen), self.cost_of(self.best)
        if cost >= best or not self.reaches(chosen | frozenset(rest)):
            return
        if self.reaches(chosen):
            self.best = chosen
            return
        # Here something is left: without it what is chosen would reach by the first look.
        if cost + min(self.costs[item] for item in rest) >= best:
            return
        first, others = rest[0], rest[1:]
        self._branch(chosen, others)
        self._branch(chosen | {first}, others)


def trimmed(costs: Sequence[float], reaches: Callable[[frozenset[int]], bool]) -> frozenset[int]:
    """What is left of everything when the dearest things that are not needed are dropped: the
    cheapest set or one near it, in a single round."""
    best = frozenset(range(len(costs)))
    for item in _dear_first(best, costs):
        if reaches(best - {item}):
            best -= {item}
    return best


def _dear_first(items: frozenset[int], costs: Sequence[float]) -> list[int]:
    return sorted(items, key=lambda item: (-costs[item], item))


# Enough to rank sets with common random numbers; the answer is computed anew with all.
SEARCH_SAMPLES = 500
NEAR_BEST = 0.01
Floats = NDArray[np.float64]
MOST_RETRIES = 3
MOST_HELPED = 4
LEAST_HELP = 0.002  # of the chance
LEAST_COST = 0.5  # what costs next to nothing is not endlessly good for its money


@dataclass(frozen=True)
class Choice:
    """Something that can be added: a purchase or practice; ``cost`` counts the hours too."""

    cost: float
    item: PricedTool | Training

    @property
    def tool(self) -> PricedTool | None:
        return None if isinstance(self.item, Training) else self.item

    @property
    def training(self) -> Training | None:
        return self.item if isinstance(self.item, Training) else None


def advise(
    question: Question, engine: RiskEngine, *, cautious: bool = False, run: Run = ALONE
) -> Advice:
    """Search the priced tools and the practice ladder for what makes the verdict a yes.
    ``cautious`` asks the lower end of the chance's range to reach the target.

    Raises:
        UnknownName: the kit names what does not exist.
        Stopped: the caller wants no more.
    """
    search = _AdviceSearch(question.but(pins=()), engine, run)
    wanted, quantile = question.wanted, 0.05 if cautious else 1 - AGREES

    def sure(samples: Floats) -> float:
        return float(np.quantile(samples, quantile))

    found = search.cheapest(wanted, sure)
    # The search ranks with few samples; what it found is looked at with all of them.
    for _ in range(MOST_RETRIES):
        if found.chosen is None:
            break
        if sure(search.chances(found.chosen, question.samples).samples) >= wanted:
            break
        found = search.cheapest(wanted + NEAR_BEST / 2, sure)
    best = found.chosen
    if best is None:
        # Out of reach: what comes within a point of the best mean that all of it would give.
        near = _mean(search.samples(search.everything)) - NEAR_BEST
        best = trimmed(search.costs, lambda items: _mean(search.samples(items)) >= near)
    final = search.chances(best, question.samples)
    trainings = _added_up([c.training for c in search.picked(best) if c.training])
    return Advice(
        reached=found.chosen is not None,
        buys=tuple(c.tool for c in search.picked(best) if c.tool),
        practice=trainings,
        chance=final.working,
        judgement=judged(final.samples, question, possible=not final.blocked),
        wanted=wanted,
        tried=search.tried,
        proved=found.proved,
    )


def _mean(samples: Floats) -> float:
    return float(samples.mean())


class _AdviceSearch:
    """The chance with some choices added; what was tried is kept."""

    def __init__(self, question: Question, engine: RiskEngine, run: Run) -> None:
        self._question, self._engine, self._run = question, engine, run
        self._choices = [*_purchases(question), *_trainings(question)]
        self.costs = [choice.cost for choice in self._choices]
        self.everything = frozenset(range(len(self._choices)))
        self._known: dict[frozenset[int], Floats] = {}

    def picked(self, items: frozenset[int]) -> list[Choice]:
        return [self._choices[item] for item in sorted(items)]

    def chances(self, items: frozenset[int], samples: int) -> Chances:
        self._run.check()
        asked = _with(self._question.but(samples=samples), self.picked(items))
        return self._engine.chances(asked)

    @property
    def tried(self) -> int:
        return len(self._known)

    def samples(self, items: frozenset[int]) -> Floats:
        """Few of them; nothing at all is looked at as the verdict is."""
        if items not in self._known:
            number = SEARCH_SAMPLES if items else self._question.samples
            self._known[items] = self.chances(items, number).samples
            share = 1 - math.exp(-self.tried / 150)
            self._run.tell(share, f"{self.tried} combinations tried")
        return self._known[items]

    def cheapest(self, wanted: float, measure: Callable[[Floats], float]) -> CheapestSet:
        """The cheapest choices whose samples measure up to what is wanted."""
        return cheapest_set(self.costs, lambda items: measure(self.samples(items)), wanted)


def gains(
    question: Question, engine: RiskEngine, ticked: Collection[str] = (), run: Run = ALONE
) -> tuple[Gain, ...]:
    """What every single purchase and practice does, alone and beside the ``ticked`` tools (by
    their ids): most for its cost first, what makes work possible before all. Of practice in a
    skill the amount that gives most for its cost."""
    table = {tool.id: tool for tool in question.reference.plan.tools}
    bench = with_tools(question.bench, [table[name] for name in ticked])
    beside = question.but(bench=bench)
    base, held = engine.chances(question), engine.chances(beside)
    found: dict[str, Gain] = {}
    choices = [*_purchases(question), *_trainings(question)]
    for done, choice in enumerate(choices):
        run.tell(done / len(choices), f"trying {choice.item.title}")
        alone = engine.chances(_with(question, [choice]))
        own = choice.tool is not None and choice.tool.id in ticked
        together = held if own else engine.chances(_with(beside, [choice])) if ticked else alone
        gain = Gain(
            item=choice.item,
            alone=alone.working.mid - base.working.mid,
            together=0.0 if own else together.working.mid - held.working.mid,
            cost=choice.cost,
            helps=_helped(question, base, alone),
            enables=len(set(base.blocked) - set(alone.blocked)),
        )
        name = choice.tool.id if choice.tool else f"practise {choice.item.title}"
        if name not in found or _order(gain) < _order(found[name]):
            found[name] = gain
    run.tell(1.0, "the end")
    return tuple(sorted(found.values(), key=_order))


def _order(gain: Gain) -> tuple[float, float, float]:
    cost = max(gain.cost, LEAST_COST)
    return (-gain.enables / cost, -round(gain.alone, 4) / cost, gain.cost)


def _helped(question: Question, base: Chances, now: Chances) -> tuple[str, ...]:
    """Jobs that become possible, else those whose part of the failure shrinks most."""
    by_key = {job.key: job for job in question.jobs}
    possible = [key for key in base.blocked if key not in now.blocked]
    if not possible and not base.blocked:
        after = {key: share * (1 - now.working.mid) for key, share in now.decisive}
        less = {
            key: share * (1 - base.working.mid) - after.get(key, 0.0)
            for key, share in base.decisive
        }
        possible = [k for k in sorted(less, key=lambda k: (-round(less[k], 6), k)) if
                    less[k] >= LEAST_HELP]  # fmt: skip
    return tuple(job.key for job in one_of_each([by_key[key] for key in possible]))[:MOST_HELPED]


def _with(question: Question, choices: Iterable[Choice]) -> Question:
    """The question with some choices added."""
    choices = list(choices)
    joints = planned(choice.training for choice in choices if choice.training)
    return question.but(
        bench=with_tools(question.bench, [choice.tool for choice in choices if choice.tool]),
        practice=(*question.practice, *joints.items()),
    )


def _purchases(question: Question) -> Iterable[Choice]:
    for tool in question.reference.plan.tools:
        if brings_something(question.bench, tool):
            yield Choice(tool.price, tool)


def _trainings(question: Question) -> Iterable[Choice]:
    reference = question.reference
    data = reference.plan.practice
    titles = {skill.id: skill.title for skill in reference.risk.levels.skills}
    last_rungs = {exercise.skill: exercise for exercise in data.exercises}
    for skill, exercise in last_rungs.items():
        for joints in data.amounts:
            hours = joints * exercise.joint_minutes / 60
            price = joints * exercise.joint_price
            training = Training(skill, titles[skill], joints, hours, price)
            yield Choice(price + hours * question.hour_value, training)


def planned(trainings: Iterable[Training]) -> dict[str, float]:
    """Joints of practice by skill; amounts of one skill add up."""
    joints: dict[str, float] = {}
    for training in trainings:
        joints[training.skill] = joints.get(training.skill, 0.0) + training.joints
    return joints


def _added_up(trainings: Sequence[Training]) -> tuple[Training, ...]:
    """One for each skill."""
    found: dict[str, Training] = {}
    for each in trainings:
        one = found.get(each.skill)
        found[each.skill] = (
            each
            if one is None
            else replace(
                one,
                joints=one.joints + each.joints,
                hours=one.hours + each.hours,
                price=one.price + each.price,
            )
        )
    return tuple(found.values())
