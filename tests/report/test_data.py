"""The report as JSON."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from pydantic import ConfigDict, TypeAdapter, with_config

from solderrisk.plan.results import Assessment
from solderrisk.report.data import as_data, as_json
from solderrisk.report.shape import FORMAT, ReportData
from tests.report.samples import HOSTILE, renamed

SHAPE = TypeAdapter(with_config(ConfigDict(strict=True, extra="forbid"))(ReportData))


@pytest.mark.parametrize("which", ["hard", "lacking", "easy"])
def test_has_the_shape_that_is_described(which: str, request: pytest.FixtureRequest) -> None:
    SHAPE.validate_python(json.loads(as_json(request.getfixturevalue(which))))


def test_the_shape_refuses_what_it_does_not_describe(easy: Assessment) -> None:
    data: dict[str, Any] = json.loads(as_json(easy))
    with pytest.raises(ValueError, match="surprise"):
        SHAPE.validate_python({**data, "surprise": 1})
    del data["verdict"]["target"]
    with pytest.raises(ValueError, match=r"verdict\.target"):
        SHAPE.validate_python(data)


def test_is_plain_ascii_and_comes_back(hard: Assessment) -> None:
    told = as_json(renamed(hard, f"{HOSTILE} µ ☂ \ud800"))
    assert told.isascii()
    assert json.loads(told)["kit"].endswith("µ ☂ \ud800")
    assert json.loads(as_json(hard)) == as_data(hard)


def test_every_number_is_finite(lacking: Assessment) -> None:
    def numbers(value: object) -> list[float]:
        if isinstance(value, dict):
            return [n for each in value.values() for n in numbers(each)]
        if isinstance(value, list):
            return [n for each in value for n in numbers(each)]
        return [value] if isinstance(value, float) else []

    assert all(math.isfinite(n) for n in numbers(as_data(lacking)))


def test_figures_hang_together(hard: Assessment) -> None:
    data = as_data(hard)
    assert data["format"] == FORMAT == 1
    keys = {job["key"] for job in data["jobs"]}
    assert set(data["verdict"]["top"]) <= keys
    assert keys <= set(data["order"]["keys"])
    assert sum(job["share_of_failure"] for job in data["jobs"]) == pytest.approx(1)
    lines = sum(line["amount"] for line in data["costs"]["lines"])
    assert lines == pytest.approx(data["costs"]["to_buy"])
    for job in data["jobs"]:
        assert 0 <= job["chance"]["low"] <= job["chance"]["mid"] <= job["chance"]["high"] <= 1
        assert job["options"][0]["technique"] == job["technique"]
