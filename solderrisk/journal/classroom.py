"""Several builders against several kits: who may start what, and what helps most of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solderrisk.model.bench import Bench, Builder
from solderrisk.model.kit import Kit
from solderrisk.model.plan_data import PricedTool, brings_something, with_tools
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import Range

SEARCH_SAMPLES = 500
MOST_BENCHES = 3  # different benches for which purchases are tried


@dataclass(frozen=True)
class Person:
    """Somebody of the class; ``builder`` with all that is known of them."""

    builder: Builder
    bench: Bench


@dataclass(frozen=True)
class Practice:
    """Practice in one skill that lifts somebody over the target."""

    skill: str
    joints: int


@dataclass(frozen=True)
class Place:
    """One person before one kit. ``may_start``: the chance reaches the target; ``practice``:
    the least practice in one skill that is enough where it does not, None if none is."""

    person: str
    kit: str
    chance: Range
    target: float
    may_start: bool
    practice: Practice | None


@dataclass(frozen=True)
class Purchase:
    """One tool for the whole bench of ``bench``; ``lifts``: (person, kit) that then reach
    the target."""

    tool: str
    price: float
    bench: str
    lifts: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ClassPlan:
    """``places`` by person, then kit; ``purchases`` best first, by people and kits lifted
    for the price; ``unread``: safety notes that each person still has to read; ``left_out``:
    benches that no purchases were tried for."""

    places: tuple[Place, ...]
    purchases: tuple[Purchase, ...]
    unread: dict[str, tuple[str, ...]]
    left_out: tuple[str, ...]


def class_plan(
    people: Sequence[Person],
    kits: Sequence[Kit],
    question: Question,
    engine: RiskEngine,
    run: Run = ALONE,
) -> ClassPlan:
    """Everybody before every kit. ``question`` gives library, numbers and target."""
    asked = {
        (person.builder.name, kit.name): question.but(
            kit=kit, bench=person.bench, builder=person.builder
        )
        for person in people
        for kit in kits
    }
    places = []
    for n, ((name, kit), each) in enumerate(asked.items()):
        run.tell(0.7 * n / len(asked), f"{name}: {kit}")
        places.append(_place(name, kit, each, engine))
    failing = {(p.person, p.kit) for p in places if not p.may_start}
    run.tell(0.7, "looking for what to buy")
    purchases, left_out = _purchases(people, asked, failing, engine, run)
    must = [n.id for n in question.reference.plan.safety.notes if n.acknowledge]
    unread = {
        person.builder.name: tuple(n for n in must if n not in person.builder.acknowledged)
        for person in people
    }
    return ClassPlan(tuple(places), purchases, unread, left_out)


def _place(name: str, kit: str, question: Question, engine: RiskEngine) -> Place:
    chance, wanted = engine.chances(question).working, question.wanted
    may_start = chance.mid >= wanted
    practice = None if may_start else _practice(question, engine)
    return Place(name, kit, chance, wanted, may_start, practice)


def _practice(question: Question, engine: RiskEngine) -> Practice | None:
    """The least practice in one skill that is enough; of several skills the likeliest."""
    data = question.reference.plan.practice
    most = max(data.amounts)

    def chance(skill: str, joints: int) -> float:
        asked = question.but(practice=((skill, float(joints)),), samples=SEARCH_SAMPLES)
        return engine.chances(asked).working.mid

    skills = dict.fromkeys(exercise.skill for exercise in data.exercises)
    best = max(skills, key=lambda skill: chance(skill, most))
    enough = (joints for joints in sorted(data.amounts) if chance(best, joints) >= question.wanted)
    joints = next(enough, None)
    return None if joints is None else Practice(best, joints)


def _purchases(
    people: Sequence[Person],
    asked: dict[tuple[str, str], Question],
    failing: set[tuple[str, str]],
    engine: RiskEngine,
    run: Run,
) -> tuple[tuple[Purchase, ...], tuple[str, ...]]:
    by_bench: dict[Bench, list[tuple[str, str]]] = {}
    for person in people:
        mine = [pair for pair in asked if pair[0] == person.builder.name and pair in failing]
        by_bench.setdefault(person.bench, []).extend(mine)
    ranked = sorted(by_bench.items(), key=lambda item: (-len(item[1]), item[0].name))
    wanting = [(bench, pairs) for bench, pairs in ranked if pairs]
    found = [
        purchase
        for bench, pairs in wanting[:MOST_BENCHES]
        for purchase in _for_bench(bench, pairs, asked, engine, run)
    ]
    found.sort(key=lambda p: (-len(p.lifts) / max(p.price, 1.0), p.price, p.tool))
    return tuple(found), tuple(bench.name for bench, _ in wanting[MOST_BENCHES:])


def _for_bench(
    bench: Bench,
    pairs: Sequence[tuple[str, str]],
    asked: dict[tuple[str, str], Question],
    engine: RiskEngine,
    run: Run,
) -> list[Purchase]:
    reference = asked[pairs[0]].reference
    found = []
    for tool in reference.plan.tools:
        if not brings_something(bench, tool):
            continue
        run.check()
        better = with_tools(bench, [tool])
        lifts = tuple(pair for pair in pairs if _lifted(asked[pair], better, engine))
        if lifts:
            found.append(Purchase(_name(tool), tool.price, bench.name, lifts))
    return found


def _lifted(question: Question, bench: Bench, engine: RiskEngine) -> bool:
    asked = question.but(bench=bench, pins=(), samples=SEARCH_SAMPLES)
    return engine.chances(asked).working.mid >= question.wanted


def _name(tool: PricedTool) -> str:
    return tool.title
