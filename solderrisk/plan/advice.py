"""Advice: the cheapest purchases and practice that lift the chance above the target."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.bench import Bench
from solderrisk.model.plan_data import PricedTool, brings_something, with_tools
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.model.reference import Reference
from solderrisk.plan.cheapest import CheapestSet, cheapest_set
from solderrisk.plan.results import Advice
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import Range
from solderrisk.words import likely, percent

# Enough to rank sets with common random numbers; the answer is computed anew with all.
SEARCH_SAMPLES = 500
NEAR_BEST = 0.01


@dataclass(frozen=True)
class Training:
    """Practice in one skill: so many joints, on the material of its last rung."""

    skill: str
    joints: int
    hours: float
    price: float


@dataclass(frozen=True)
class Choice:
    """Something that can be added: a purchase or practice; ``cost`` counts the hours too."""

    cost: float
    tool: PricedTool | None = None
    training: Training | None = None


def advise(
    question: Question, engine: RiskEngine, *, cautious: bool = False, run: Run = ALONE
) -> Advice:
    """Search the priced tools and the practice ladder. ``cautious`` asks the lower end of
    the chance's range to reach the target.

    Raises:
        UnknownName: the kit names what does not exist.
        Stopped: the caller wants no more.
    """
    bench, reference, wanted = question.bench, question.reference, question.wanted
    choices = [*_purchases(bench, reference), *_trainings(reference, question.hour_value)]

    def chance(items: frozenset[int], samples: int = SEARCH_SAMPLES) -> Range:
        run.check()
        chosen = [choices[item] for item in sorted(items)]
        practice = planned([choice.training for choice in chosen if choice.training])
        asked = question.but(
            bench=with_tools(bench, [choice.tool for choice in chosen if choice.tool]),
            practice=tuple(practice.items()),
            pins=(),
            samples=samples,
        )
        return engine.chances(asked).working

    def reached(items: frozenset[int]) -> float:
        working = chance(items)
        return working.low if cautious else working.mid

    def told(tried: int) -> None:
        run.tell(1 - math.exp(-tried / 150), f"{tried} sets tried")

    costs = [choice.cost for choice in choices]
    found = cheapest_set(costs, reached, wanted, progress=told)
    if found.chosen is not None:
        best = found.chosen
    else:
        # Out of reach: what comes within a point of the best that all of it would give.
        near = reached(frozenset(range(len(choices)))) - NEAR_BEST
        nearest = cheapest_set(costs, reached, near, progress=told)
        best = nearest.chosen or frozenset()
    titles = {skill.id: skill.title for skill in reference.risk.levels.skills}
    picked = [choices[i] for i in sorted(best)]
    return _advice(found, picked, chance(best, 2000), wanted, titles)


def _purchases(bench: Bench, reference: Reference) -> Iterable[Choice]:
    for tool in reference.plan.tools:
        if brings_something(bench, tool):
            yield Choice(cost=tool.price, tool=tool)


def _trainings(reference: Reference, hour_value: float) -> Iterable[Choice]:
    data = reference.plan.practice
    last_rungs = {exercise.skill: exercise for exercise in data.exercises}
    for skill, exercise in last_rungs.items():
        for joints in data.amounts:
            hours = joints * exercise.joint_minutes / 60
            price = joints * exercise.joint_price
            training = Training(skill, joints, hours, price)
            yield Choice(cost=price + hours * hour_value, training=training)


def planned(trainings: Iterable[Training]) -> dict[str, float]:
    """Joints of practice by skill; amounts of one skill add up."""
    joints: dict[str, float] = {}
    for training in trainings:
        joints[training.skill] = joints.get(training.skill, 0.0) + training.joints
    return joints


def _advice(
    found: CheapestSet,
    chosen: Sequence[Choice],
    chance: Range,
    target: float,
    titles: Mapping[str, str],
) -> Advice:
    tools = [choice.tool for choice in chosen if choice.tool]
    trainings = [choice.training for choice in chosen if choice.training]
    if found.chosen is None:
        text = (
            f"No set of tools and practice in the list reaches {percent(target)}; this comes "
            f"within a point of the best of them, {likely(chance.mid)}"
        )
    elif not chosen:
        text = f"Nothing is needed: the chance is {likely(chance.mid)} already"
    else:
        short = "a cheaper set may exist: the search was cut short"
        proof = "no cheaper set does" if found.proved else short
        text = f"With this the chance is {likely(chance.mid)}; {proof}"
    return Advice(
        reached=found.chosen is not None,
        buys=tuple(tool.title for tool in tools),
        practice=tuple(
            f"{joints:.0f} joints: {titles[skill]}" for skill, joints in planned(trainings).items()
        ),
        price=sum(tool.price for tool in tools) + sum(t.price for t in trainings),
        hours=sum(t.hours for t in trainings),
        chance=chance,
        text=text,
        tried=found.tried,
        proved=found.proved,
    )
