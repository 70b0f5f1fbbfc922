"""Several builders before several kits: who is ready for what, and what helps most of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solderrisk.journal.exchange import readable
from solderrisk.journal.people import known
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.kit import Kit
from solderrisk.model.plan_data import brings_something, with_tools
from solderrisk.model.problems import UserProblem
from solderrisk.model.question import ALONE, Question, Reference, Run
from solderrisk.plan.results import Judgement
from solderrisk.plan.verdict import judged
from solderrisk.risk.engine import Chances, RiskEngine
from solderrisk.risk.results import Range

SEARCH_SAMPLES = 500
MOST_BENCHES = 3  # different benches for which purchases are tried
PLACES_SHARE = 0.7  # of the work, for what is told of its progress


@dataclass(frozen=True)
class Person:
    """Somebody of the class; ``builder`` with all that is known of them."""

    builder: Builder
    bench: Bench


@dataclass(frozen=True)
class Practice:
    """Practice in one skill after which the verdict is yes."""

    skill: str
    joints: int


@dataclass(frozen=True)
class Place:
    """One person before one kit, judged as the verdict is. ``practice``: the least in one skill
    that makes it a yes; None where it is one, or none does."""

    person: str
    bench: str
    kit: str
    chance: Range
    target: float
    judgement: Judgement
    practice: Practice | None


@dataclass(frozen=True)
class Purchase:
    """One tool for the whole bench of ``bench``; ``lifts``: (person, kit) whose verdict then
    is yes; ``nearer``: those for whom it becomes possible, or leans more to it."""

    tool: str
    price: float
    bench: str
    lifts: tuple[tuple[str, str], ...]
    nearer: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ClassPlan:
    """``places`` by person, then kit; ``purchases`` best first, by verdicts lifted, then brought
    nearer, for the price; ``unread``: safety notes that each person still has to read;
    ``left_out``: benches that no purchases were tried for."""

    places: tuple[Place, ...]
    purchases: tuple[Purchase, ...]
    unread: dict[str, tuple[str, ...]]
    left_out: tuple[str, ...]


def person_of(
    builder: Builder, bench: Bench, journal_file: str | None, reference: Reference
) -> Person:
    """The builder with what their journal knows, where one is named.

    Raises:
        JournalProblem: it cannot be read.
    """
    if journal_file is not None:
        with readable(journal_file) as journal:
            builder = known(builder, journal, reference)
    return Person(builder, bench)


def class_plan(
    people: Sequence[Person],
    kits: Sequence[Kit],
    question: Question,
    engine: RiskEngine,
    run: Run = ALONE,
) -> ClassPlan:
    """Everybody before every kit. ``question`` gives library, numbers and target.

    Raises:
        UserProblem: two people or two kits of one name.
        Stopped: the caller wants no more.
    """
    _told_apart("builders", [person.builder.name for person in people])
    _told_apart("kits", [kit.name for kit in kits])
    asked = {
        (person.builder.name, kit.name): question.but(
            kit=kit, bench=person.bench, builder=person.builder, pins=()
        )
        for person in people
        for kit in kits
    }
    places = []
    for n, each in enumerate(asked.values()):
        run.tell(PLACES_SHARE * n / len(asked), f"{each.builder.name}: {each.kit.name}")
        places.append(_place(each, engine, run))
    wanting = {(p.person, p.kit): _rank(p.judgement) for p in places if p.judgement.answer != "yes"}
    purchases, left_out = _purchases(people, asked, wanting, engine, run)
    must = [n.id for n in question.reference.plan.safety.notes if n.acknowledge]
    unread = {
        person.builder.name: tuple(n for n in must if n not in person.builder.acknowledged)
        for person in people
    }
    return ClassPlan(tuple(places), purchases, unread, left_out)


def _told_apart(what: str, names: Sequence[str]) -> None:
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise UserProblem(f"two {what} are called {twice!r}; give each a name of its own")


def _judged(question: Question, found: Chances) -> Judgement:
    return judged(found.samples, question, possible=not found.blocked)


def _place(question: Question, engine: RiskEngine, run: Run) -> Place:
    found = engine.chances(question)
    judgement = _judged(question, found)
    helpless = judgement.answer == "yes" or not judgement.possible
    practice = None if helpless else _practice(question, engine, run)
    return Place(
        question.builder.name, question.bench.name, question.kit.name,
        found.working, question.wanted, judgement, practice,
    )  # fmt: skip


def _practice(question: Question, engine: RiskEngine, run: Run) -> Practice | None:
    """The least practice in one skill that is enough; of several skills the likeliest."""
    data = question.reference.plan.practice

    def after(skill: str, joints: int) -> Chances:
        run.check()
        return engine.chances(
            question.but(practice=((skill, float(joints)),), samples=SEARCH_SAMPLES)
        )

    most = max(data.amounts)
    skills = dict.fromkeys(exercise.skill for exercise in data.exercises)
    best = max(skills, key=lambda skill: round(after(skill, most).working.mid, 9))
    for joints in sorted(data.amounts):
        if _judged(question, after(best, joints)).answer == "yes":
            return Practice(best, joints)
    return None


def _purchases(
    people: Sequence[Person],
    asked: dict[tuple[str, str], Question],
    wanting: dict[tuple[str, str], int],
    engine: RiskEngine,
    run: Run,
) -> tuple[tuple[Purchase, ...], tuple[str, ...]]:
    by_bench: dict[Bench, list[tuple[str, str]]] = {}
    for person in people:
        mine = [pair for pair in asked if pair[0] == person.builder.name and pair in wanting]
        by_bench.setdefault(person.bench, []).extend(mine)
    ranked = sorted(by_bench.items(), key=lambda item: (-len(item[1]), item[0].name))
    helped = [(bench, pairs) for bench, pairs in ranked if pairs]
    tried = helped[:MOST_BENCHES]
    found: list[Purchase] = []
    for n, (bench, pairs) in enumerate(tried):
        share = PLACES_SHARE + (1 - PLACES_SHARE) * n / len(tried)
        run.tell(share, f"what to buy for bench {bench.name}")
        now = {pair: wanting[pair] for pair in pairs}
        found += _for_bench(bench, now, asked, engine, run)
    found.sort(key=_best_first)
    return tuple(found), tuple(bench.name for bench, _ in helped[MOST_BENCHES:])


def _best_first(purchase: Purchase) -> tuple[float, float, float, str]:
    price = max(purchase.price, 1.0)
    lifts, nearer = -len(purchase.lifts) / price, -len(purchase.nearer) / price
    return round(lifts, 9), round(nearer, 9), purchase.price, purchase.tool


def _for_bench(
    bench: Bench,
    now: dict[tuple[str, str], int],
    asked: dict[tuple[str, str], Question],
    engine: RiskEngine,
    run: Run,
) -> list[Purchase]:
    found = []
    for tool in next(iter(asked.values())).reference.plan.tools:
        if not brings_something(bench, tool):
            continue
        better = with_tools(bench, [tool])
        then = {pair: _rank(_with_bench(asked[pair], better, engine, run)) for pair in now}
        lifts = tuple(pair for pair, rank in then.items() if rank == YES)
        nearer = tuple(pair for pair, rank in then.items() if now[pair] < rank < YES)
        if lifts or nearer:
            found.append(Purchase(tool.title, tool.price, bench.name, lifts, nearer))
    return found


def _with_bench(question: Question, bench: Bench, engine: RiskEngine, run: Run) -> Judgement:
    run.check()
    asked = question.but(bench=bench, samples=SEARCH_SAMPLES)
    return _judged(asked, engine.chances(asked))


YES = 4


def _rank(found: Judgement) -> int:
    """How good a verdict is: not with these tools, no, too close to call with either leaning,
    yes."""
    if not found.possible:
        return 0
    return {"no": 1, "open": 3 if found.leaning else 2, "yes": YES}[found.answer]
