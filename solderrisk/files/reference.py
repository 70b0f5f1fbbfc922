"""The packaged reference data, read once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

from solderrisk.files.text import FileProblems, Problem, read_text
from solderrisk.files.yaml_source import read_model, read_model_with_marks
from solderrisk.files.yaml_text import Source
from solderrisk.model.base import Parameter, Parameters
from solderrisk.model.footprint import Families
from solderrisk.model.kit_check import unknown
from solderrisk.model.physics_data import (
    Acceptance,
    Alloys,
    HeatTables,
    Materials,
    PhysicsData,
    RemedyData,
)
from solderrisk.model.plan_data import (
    BenchWhen,
    JournalData,
    PlanData,
    PooledRates,
    PracticeData,
    PricedTools,
    SafetyData,
)
from solderrisk.model.problems import Loc
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import (
    FaultData,
    LevelData,
    ReportedKits,
    RescueData,
    RiskData,
)
from solderrisk.model.technique import STENCIL, TechniqueData

DATA = Path(__file__).resolve().parent.parent / "data"
PARTS_OF_MODES = ("fine_lead",)  # a part of bent_lead with a factor of its own

Named = tuple[Loc, str, str]  # where a name stands, of what, and the name


@cache
def load_reference() -> Reference:
    """All reference data. Cached: the files are part of the program."""
    return read_reference(DATA)


def read_reference(folder: Path) -> Reference:
    """The reference data of a folder, with every name in them known.

    Raises:
        FileProblems: what is wrong with the files, and where.
    """
    found = Reference(physics_data(folder), risk_data(folder), plan_data(folder))
    problems = _name_problems(folder, found)
    if problems:
        raise FileProblems(problems)
    return found


def with_rates(reference: Reference, path: Path, own: str = "") -> Reference:
    """The reference with pooled rates in place of the packaged ones. ``own``: the mark of a
    share that is left out of them, because its journal is used as well.

    Raises:
        FileProblems: what is wrong with the file, and where.
    """
    marked = read_model_with_marks(path, PooledRates)
    pooled, known = marked.value, set(reference.plan.journal.rates.values())
    wrong = [
        marked.source.problem(("rates", name), f"no rate that can be pooled; {_there(known)}")
        for name in pooled.rates
        if name not in known
    ]
    if wrong:
        raise FileProblems(wrong)
    without = next((share.without for share in pooled.shares if own and share.mark == own), {})
    rates = {name: _times(rate, without.get(name, 1.0)) for name, rate in pooled.rates.items()}
    table = {**reference.risk.parameters.parameters, **rates}
    return replace(reference, risk=replace(reference.risk, parameters=Parameters(parameters=table)))


def _times(rate: Parameter, factor: float) -> Parameter:
    if factor == 1.0:
        return rate
    ends = {
        name: end * factor
        for name, end in (("low", rate.low), ("high", rate.high))
        if end is not None
    }
    told = {"value": rate.value * factor, "source": f"{rate.source}, your own share left out"}
    return rate.model_copy(update={**told, **ends})


def _there(names: set[str]) -> str:
    return f"there are: {', '.join(sorted(names))}"


def with_prices(reference: Reference, path: Path) -> Reference:
    """The reference with a user's tools and prices; the same id takes the packaged one's place.

    Raises:
        FileProblems: what is wrong with the file, and where.
    """
    given = read_model(path, PricedTools)
    own = {tool.id: tool for tool in given.tools}
    packaged = {tool.id: tool for tool in reference.plan.tools}
    tools = tuple({**packaged, **own}.values())
    aids = tuple(dict.fromkeys((*reference.plan.aids, *given.known_aids)))
    return replace(reference, plan=replace(reference.plan, tools=tools, aids=aids))


@cache
def physics_data(folder: Path = DATA) -> PhysicsData:
    return PhysicsData(
        parameters=read_model(folder / "physics.yaml", Parameters),
        handwork=read_model(folder / "handwork.yaml", Parameters),
        alloys=read_model(folder / "alloys.yaml", Alloys),
        materials=read_model(folder / "materials.yaml", Materials),
        heat_tables=read_model(folder / "heat_tables.yaml", HeatTables),
        acceptance=read_model(folder / "acceptance.yaml", Acceptance),
        remedies=read_model(folder / "remedies.yaml", RemedyData),
    )


@cache
def risk_data(folder: Path = DATA) -> RiskData:
    return RiskData(
        parameters=read_model(folder / "risk.yaml", Parameters),
        technique_data=read_model(folder / "techniques.yaml", TechniqueData),
        faults=read_model(folder / "faults.yaml", FaultData),
        levels=read_model(folder / "levels.yaml", LevelData),
        reported=read_model(folder / "reported_kits.yaml", ReportedKits),
        rescue=read_model(folder / "rescue.yaml", RescueData),
    )


@cache
def families(folder: Path = DATA) -> Families:
    return read_model(folder / "families.yaml", Families)


@cache
def plan_data(folder: Path = DATA) -> PlanData:
    tools = read_model(folder / "tools.yaml", PricedTools)
    return PlanData(
        parameters=read_model(folder / "plan.yaml", Parameters),
        costs=read_model(folder / "costs.yaml", Parameters),
        tools=tools.tools,
        practice=read_model(folder / "practice.yaml", PracticeData),
        safety=read_model(folder / "safety.yaml", SafetyData),
        families=families(folder),
        aids=tools.known_aids,
        journal=read_model(folder / "journal.yaml", JournalData),
    )


# Names in one file that another file, or another part of it, must know


def _name_problems(folder: Path, found: Reference) -> list[Problem]:
    """Unknown names with file, place and the nearest known name."""
    known = {
        "need": [need.id for need in found.risk.technique_data.needs],
        "rule for tips": [rule.id for rule in found.risk.technique_data.tips],
        "skill": [skill.id for skill in found.risk.levels.skills],
        "tool": [tool.id for tool in found.plan.tools],
        "aid": list(found.plan.aids),
        "fault mode": [*(mode.id for mode in found.risk.faults.modes), *PARTS_OF_MODES],
        "parameter": list(found.risk.parameters.parameters),
        "technique": [technique.id for technique in found.risk.techniques],
        "safety note": [note.id for note in found.plan.safety.notes],
    }
    named = {
        "techniques.yaml": _named_by_techniques(found.risk.technique_data),
        "practice.yaml": _named_by_practice(found.plan.practice),
        "safety.yaml": _named_by_safety(found.plan.safety),
        "rescue.yaml": _named_by_rescue(found.risk.rescue),
    }
    problems = []
    for file, names in named.items():
        wrong = [each for each in names if each[2] not in known[each[1]]]
        if wrong:
            source = Source(str(folder / file), read_text(folder / file))
            told = (unknown(loc, what, name, known[what]) for loc, what, name in wrong)
            problems += [source.problem(each.loc, each.message) for each in told]
    return problems


def _named_by_techniques(data: TechniqueData) -> Iterator[Named]:
    for n, need in enumerate(data.needs):
        own: Loc = ("needs", n)
        yield from (((*own, "met_by", i), "tool", tool) for i, tool in enumerate(need.met_by))
        when: Loc = (*own, "met_when")
        aids = enumerate(need.met_when.aids)
        yield from (((*when, "aids", i), "aid", aid) for i, aid in aids)
        if need.met_when.tips and need.met_when.tips.wide_from:
            yield (*when, "tips", "wide_from"), "parameter", need.met_when.tips.wide_from
    for heat, tools in data.boosters.items():
        yield from ((("boosters", heat, i), "tool", tool) for i, tool in enumerate(tools))
    for n, technique in enumerate(data.techniques):
        own = ("techniques", n)
        yield (*own, "tip"), "rule for tips", technique.tip
        yield (*own, "other_tip"), "rule for tips", technique.other_tip
        yield (*own, "skill"), "skill", technique.skill
        for field, needs in (("needs", technique.needs), ("lifted_needs", technique.lifted_needs)):
            for i, group in enumerate(needs):
                yield from (((*own, field, i, k), "need", need) for k, need in enumerate(group))
        yield from (((*own, "factors", mode), "fault mode", mode) for mode in technique.factors)
        if technique.hand_paste is not None:
            yield (*own, "hand_paste"), "need", STENCIL
            paste: Loc = (*own, "hand_paste", "factors")
            factors = technique.hand_paste.factors
            yield from (((*paste, mode), "fault mode", mode) for mode in factors)


def _named_by_rescue(data: RescueData) -> Iterator[Named]:
    for n, rescue in enumerate(data.rescues):
        for i, group in enumerate(rescue.needs):
            yield from (
                (("rescues", n, "needs", i, k), "need", need) for k, need in enumerate(group)
            )


def _named_by_practice(data: PracticeData) -> Iterator[Named]:
    for n, exercise in enumerate(data.exercises):
        own: Loc = ("exercises", n)
        yield (*own, "skill"), "skill", exercise.skill
        unlocks, notes = enumerate(exercise.unlocks), enumerate(exercise.notes)
        yield from (((*own, "unlocks", i), "technique", name) for i, name in unlocks)
        yield from (((*own, "notes", i), "safety note", name) for i, name in notes)


def _named_by_safety(data: SafetyData) -> Iterator[Named]:
    for n, note in enumerate(data.notes):
        own: Loc = ("notes", n)
        for i, when in enumerate(note.when):
            skills = enumerate(when.skills)
            yield from (((*own, "when", i, "skills", k), "skill", name) for k, name in skills)
        benches: list[tuple[Loc, BenchWhen]] = [
            *(((*own, "bench", i), each) for i, each in enumerate(note.bench)),
            *(((*own, "extra", i, "when"), line.when) for i, line in enumerate(note.extra)),
        ]
        for place, each in benches:
            for field, aids in (("aids", each.aids), ("aids_missing", each.aids_missing)):
                yield from (((*place, field, i), "aid", aid) for i, aid in enumerate(aids))
