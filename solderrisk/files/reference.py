"""The packaged reference data, read once."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from solderrisk.files.yaml_source import read_model
from solderrisk.model.parameters import Parameters
from solderrisk.model.physics_data import (
    Acceptance,
    Alloys,
    HeatTables,
    Materials,
    PhysicsData,
    RemedyData,
)
from solderrisk.model.plan_data import PlanData, PracticeData, PricedTools, SafetyData
from solderrisk.model.reference import Reference
from solderrisk.model.risk_data import FaultData, LevelData, RiskData
from solderrisk.model.technique import TechniqueData

DATA = Path(__file__).resolve().parent.parent / "data"


@lru_cache(maxsize=1)
def load_reference() -> Reference:
    """All reference data. Cached: the files are part of the program."""
    return Reference(physics=physics_data(), risk=risk_data(), plan=plan_data())


def with_prices(reference: Reference, path: Path) -> Reference:
    """The reference with a user's tools and prices; the same id takes the packaged one's place.

    Raises:
        FileProblems: what is wrong with the file, and where.
    """
    own = {tool.id: tool for tool in read_model(path, PricedTools).tools}
    packaged = {tool.id: tool for tool in reference.plan.tools}
    tools = tuple({**packaged, **own}.values())
    return replace(reference, plan=replace(reference.plan, tools=tools))


@lru_cache(maxsize=1)
def physics_data() -> PhysicsData:
    return PhysicsData(
        parameters=read_model(DATA / "physics.yaml", Parameters),
        handwork=read_model(DATA / "handwork.yaml", Parameters),
        alloys=read_model(DATA / "alloys.yaml", Alloys),
        materials=read_model(DATA / "materials.yaml", Materials),
        heat_tables=read_model(DATA / "heat_tables.yaml", HeatTables),
        acceptance=read_model(DATA / "acceptance.yaml", Acceptance),
        remedies=read_model(DATA / "remedies.yaml", RemedyData),
    )


@lru_cache(maxsize=1)
def risk_data() -> RiskData:
    return RiskData(
        parameters=read_model(DATA / "risk.yaml", Parameters),
        technique_data=read_model(DATA / "techniques.yaml", TechniqueData),
        faults=read_model(DATA / "faults.yaml", FaultData),
        levels=read_model(DATA / "levels.yaml", LevelData),
    )


@lru_cache(maxsize=1)
def plan_data() -> PlanData:
    return PlanData(
        parameters=read_model(DATA / "plan.yaml", Parameters),
        costs=read_model(DATA / "costs.yaml", Parameters),
        tools=read_model(DATA / "tools.yaml", PricedTools).tools,
        practice=read_model(DATA / "practice.yaml", PracticeData),
        safety=read_model(DATA / "safety.yaml", SafetyData),
    )
