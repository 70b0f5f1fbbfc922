"""Advice: the cheapest purchases and practice that lift the chance above the target."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from solderrisk.model.bench import Bench
from solderrisk.model.builder import LEVELS, Builder, Level, SkillLevel
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.priced_tool import PricedTool, brings_something, with_tools
from solderrisk.model.reference_set import Reference
from solderrisk.plan.cheapest import CheapestSet, cheapest_set
from solderrisk.plan.practice import ladder
from solderrisk.plan.results import Advice, PracticeStep
from solderrisk.risk.kit import RiskEngine, assess_risk
from solderrisk.risk.results import KitRisk

# Enough to rank sets with common random numbers; the answer is computed anew with all.
SEARCH_SAMPLES = 500


@dataclass(frozen=True)
class Training:
    """Practice in one skill up to the pass mark of a level, earlier rungs included."""

    skill: str
    level: Level
    hours: float
    price: float
    title: str


@dataclass(frozen=True)
class Choice:
    """Something that can be added: a purchase or practice; ``cost`` counts the hours too."""

    cost: float
    tool: PricedTool | None = None
    training: Training | None = None


def advise(
    kit: Kit,
    bench: Bench,
    builder: Builder,
    library: Library,
    reference: Reference,
    *,
    target: float | None = None,
    cautious: bool = False,
    engine: RiskEngine | None = None,
    seed: int = 20,
    progress: Callable[[float, str], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Advice:
    """Search the priced tools and the practice ladder. ``cautious`` asks the lower end of
    the chance's range to reach the target.

    Raises:
        UnknownName: the kit names what does not exist.
    """
    engine = engine or RiskEngine(reference)
    jobs = jobs_of(kit, library)
    wanted = target or kit.target_chance or reference.plan.costs["target_chance"]
    hour_value = reference.plan.costs["hour_value"] if kit.hour_value is None else kit.hour_value
    choices = [*_purchases(bench, reference), *_trainings(builder, reference, hour_value)]

    def risk_with(items: frozenset[int], samples: int) -> KitRisk:
        chosen = [choices[item] for item in sorted(items)]
        return assess_risk(
            jobs,
            kit,
            with_tools(bench, [choice.tool for choice in chosen if choice.tool]),
            trained(builder, [choice.training for choice in chosen if choice.training]),
            reference,
            samples=samples,
            seed=seed,
            engine=engine,
            cancelled=cancelled,
        )

    def chance(items: frozenset[int]) -> float:
        working = risk_with(items, SEARCH_SAMPLES).working
        return working.low if cautious else working.mid

    def told(tried: int) -> None:
        if progress is not None:
            progress(min(0.95, tried / 200), f"{tried} sets tried")

    found = cheapest_set([choice.cost for choice in choices], chance, wanted, progress=told)
    best = frozenset(range(len(choices))) if found.chosen is None else found.chosen
    return _advice(found, [choices[i] for i in sorted(best)], risk_with(best, 2000), wanted)


def _purchases(bench: Bench, reference: Reference) -> Iterable[Choice]:
    for tool in reference.plan.tools:
        if brings_something(bench, tool):
            yield Choice(cost=tool.price, tool=tool)


def _trainings(builder: Builder, reference: Reference, hour_value: float) -> Iterable[Choice]:
    steps = ladder(builder, reference)
    for step in steps:
        if step.state != "open":
            continue
        rungs = [step, *_before(step, steps)]
        hours = sum(rung.hours for rung in rungs)
        price = sum(rung.price for rung in rungs)
        training = Training(step.skill, step.shows, hours, price, step.title)
        yield Choice(cost=price + hours * hour_value, training=training)


def _before(step: PracticeStep, steps: Sequence[PracticeStep]) -> list[PracticeStep]:
    """Open rungs that have to be climbed first."""
    by_id = {each.id: each for each in steps}
    found: dict[str, PracticeStep] = {}
    waiting = list(step.after)
    while waiting:
        rung = by_id[waiting.pop()]
        if rung.id not in found and rung.state == "open":
            found[rung.id] = rung
            waiting.extend(rung.after)
    return list(found.values())


def trained(builder: Builder, trainings: Iterable[Training]) -> Builder:
    """The builder once the pass marks are met; no level ever falls."""
    levels = {skill.skill: skill.level for skill in builder.skills}
    for training in trainings:
        now = levels.get(training.skill, builder.level)
        if LEVELS.index(training.level) > LEVELS.index(now):
            levels[training.skill] = training.level
    skills = tuple(SkillLevel(skill=skill, level=level) for skill, level in sorted(levels.items()))
    return builder.model_copy(update={"skills": skills})


def _advice(found: CheapestSet, chosen: Sequence[Choice], risk: KitRisk, target: float) -> Advice:
    tools = [choice.tool for choice in chosen if choice.tool]
    trainings = [choice.training for choice in chosen if choice.training]
    reached = found.chosen is not None
    if not reached:
        text = (
            f"Nothing in the list of tools and practice reaches {target:.0%}: with all of it the "
            f"chance is {risk.working.mid:.0%}"
        )
    elif not chosen:
        text = f"Nothing is needed: the chance is {risk.working.mid:.0%} already"
    else:
        proof = (
            "no cheaper set does" if found.proved else "a cheaper set may exist: search cut short"
        )
        text = f"With this the chance is {risk.working.mid:.0%}; {proof}"
    return Advice(
        reached=reached,
        buys=tuple(f"{tool.title}" for tool in tools) if reached else (),
        practice=tuple(f"{t.title}: reach '{t.level}'" for t in trainings) if reached else (),
        price=sum(tool.price for tool in tools) + sum(t.price for t in trainings)
        if reached
        else 0.0,
        hours=sum(t.hours for t in trainings) if reached else 0.0,
        chance=risk.working,
        text=text,
        tried=found.tried,
        proved=found.proved,
    )
