from __future__ import annotations

from typing import Any

import pytest

from solderrisk.model.bench import Bench, Builder
from solderrisk.model.kit_check import KnownNames, bench_problems, builder_problems
from solderrisk.model.problems import path_text

KNOWN = KnownNames(
    alloys=("Sn63Pb37", "SnBi"), skills=("iron_surface", "hot_air"), notes=("lead", "fumes")
)


@pytest.mark.parametrize(
    ("parts", "lines"),
    [
        ({"solders": [{"alloy": "sn63-pb37"}], "removal_alloys": ["SnBi"]}, []),
        (
            {"solders": [{"alloy": "Sn63Pb38"}]},
            ["solders[0].alloy: unknown alloy 'Sn63Pb38'; did you mean 'Sn63Pb37'?"],
        ),
        (
            {"removal_alloys": ["SnBi", "gallium"]},
            ["removal_alloys[1]: unknown alloy 'gallium'; allowed: Sn63Pb37, SnBi"],
        ),
    ],
)
def test_bench(parts: dict[str, Any], lines: list[str]) -> None:
    bench = Bench.model_validate({"name": "b", **parts})
    assert [f"{path_text(p.loc)}: {p.message}" for p in bench_problems(bench, KNOWN)] == lines
    assert bench_problems(bench, KnownNames()) == []


@pytest.mark.parametrize(
    ("parts", "lines"),
    [
        ({"skills": [{"skill": "hot_air", "level": "few"}], "acknowledged": ["lead"]}, []),
        (
            {"skills": [{"skill": "hot-air", "level": "few"}]},
            ["skills[0].skill: unknown skill 'hot-air'; did you mean 'hot_air'?"],
        ),
        (
            {"skills": [{"skill": "hot_air", "level": level} for level in ("few", "never")]},
            ["skills[1].skill: skill 'hot_air' has two levels; keep one"],
        ),
        (
            {"records": [{"skill": "juggling", "joints": 3, "faults": 4}]},
            [
                "records[0].skill: unknown skill 'juggling'; allowed: iron_surface, hot_air",
                "records[0].faults: 4 faults in 3 joints; at most one a joint",
            ],
        ),
        (
            {"acknowledged": ["fume"]},
            ["acknowledged[0]: unknown safety note 'fume'; did you mean 'fumes'?"],
        ),
    ],
)
def test_builder(parts: dict[str, Any], lines: list[str]) -> None:
    builder = Builder.model_validate({"name": "b", **parts})
    assert [f"{path_text(p.loc)}: {p.message}" for p in builder_problems(builder, KNOWN)] == lines
