"""The data of the risk layer hang together: names resolve, sources are named."""

from __future__ import annotations

import re

import pytest

from solderrisk.model.bench import LEVELS
from solderrisk.model.plan_data import with_tools
from solderrisk.risk.heat.bench import has
from tests.risk.risk_scene import BARE, FULL, REFERENCE

RISK = REFERENCE.risk
MODES = {mode.id for mode in RISK.faults.modes}
PSEUDO = {"fine_lead"}  # a part of bent_lead with a factor of its own


def test_levels_are_the_builders_levels() -> None:
    assert tuple(prior.level for prior in RISK.levels.levels) == LEVELS


def test_techniques_exercise_known_skills() -> None:
    skills = {skill.id for skill in RISK.levels.skills}
    assert {technique.skill for technique in RISK.techniques} <= skills


def test_factors_name_modes() -> None:
    named = {mode for technique in RISK.techniques for mode in technique.factors}
    assert named <= MODES | PSEUDO


def test_needs_are_known_and_can_be_bought() -> None:
    """What is bought for a need meets it on a bare bench."""
    tools = {tool.id: tool for tool in REFERENCE.plan.tools}
    iron = with_tools(BARE, [tools["regulated_iron"]])
    for need in RISK.technique_data.needs:
        assert need.met_by, need.id
        for tool in need.met_by:
            bench = with_tools(iron if tools[tool].tips_for else BARE, [tools[tool]])
            assert has(need, bench, RISK.parameters), (need.id, tool)


def test_a_full_bench_meets_every_need() -> None:
    tools = {tool.id: tool for tool in REFERENCE.plan.tools}
    bench = with_tools(FULL, [tools[i] for i in ("stencil", "reballing_set", "hot_tweezers")])
    assert all(has(need, bench, RISK.parameters) for need in RISK.technique_data.needs)


def test_unknown_names_are_refused() -> None:
    with pytest.raises(KeyError, match="no technique"):
        RISK.technique("magic")
    with pytest.raises(KeyError, match="no fault mode"):
        RISK.faults["magic"]
    with pytest.raises(KeyError, match="no skill"):
        RISK.levels.skill("magic")


def test_every_technique_can_be_followed() -> None:
    for technique in RISK.techniques:
        assert len(technique.steps) >= 3, technique.id
        assert technique.look_for
        assert all(
            re.match(r"[A-Z]", step) and step.endswith((".", "!")) for step in technique.steps
        )


def test_sources_are_named() -> None:
    for name, parameter in RISK.parameters.parameters.items():
        assert parameter.source.strip(), name
        assert "http" not in parameter.source
    for thing in (*RISK.techniques, *RISK.faults.modes, *RISK.levels.levels):
        assert not re.search(r"https?:|www\.", thing.source)


def test_assumed_rates_have_a_range() -> None:
    """What is sized by judgement says how far one could believe otherwise."""
    for name, parameter in RISK.parameters.parameters.items():
        if name.endswith("_rate") and parameter.assumed:
            assert parameter.low is not None
            assert parameter.high is not None
            assert parameter.low < parameter.value < parameter.high


def test_wide_tip_is_told_the_same_way_everywhere() -> None:
    assert RISK.technique_data.tip_rule("wide").from_mm == RISK.parameters["wide_tip_mm"]
