"""One tool more never lowers a chance: of any demo kit, or of any job's best technique."""

from __future__ import annotations

from functools import lru_cache
from types import SimpleNamespace

import numpy as np
import pytest

from solderrisk.files.loading import load_bench, load_builder, load_kit
from solderrisk.model.bench import Bench
from solderrisk.model.plan_data import with_tools
from solderrisk.model.question import Question
from solderrisk.risk import choice
from solderrisk.risk.engine import Chances
from tests.risk.risk_scene import REFERENCE, engine, library

KITS = ("river-recorder", "rain-counter", "water-lamp")
BENCHES = ("bare", "decent", "well-equipped")
WHAT = load_bench("decent")
WHO = load_builder("hobbyist")
ROUNDING = 1e-9
LITTLE = 5e-4  # what choosing cheaper equals may cost the kit


@lru_cache(maxsize=3)
def question(kit_name: str) -> Question:
    return Question(load_kit(kit_name, library()), WHAT, WHO, library(), REFERENCE, samples=300)


def whole(kit_name: str, bench: Bench) -> Chances:
    return engine().chances(question(kit_name).but(bench=bench))


def best_of_each(kit_name: str, bench: Bench) -> dict[str, float]:
    found = engine().assess(question(kit_name).but(bench=bench))
    return {
        job.job.key: max((o.after_mending.mid for o in job.options if o.feasible), default=0.0)
        for job in found.jobs
    }


@pytest.mark.parametrize("bench_name", BENCHES)
@pytest.mark.parametrize("kit_name", KITS)
def test_no_tool_lowers_the_chance(kit_name: str, bench_name: str) -> None:
    bench = load_bench(bench_name)
    before, each_before = whole(kit_name, bench), best_of_each(kit_name, bench)
    for tool in REFERENCE.plan.tools:
        better = with_tools(bench, [tool])
        after = whole(kit_name, better)
        assert after.working.mid >= before.working.mid - LITTLE, tool.id
        assert len(after.blocked) <= len(before.blocked), tool.id
        for key, chance in best_of_each(kit_name, better).items():
            assert chance >= each_before[key] - LITTLE, (tool.id, key)


def test_the_right_tools_raise_it() -> None:
    """So that the test above cannot pass by tools doing nothing."""
    bench = load_bench("decent")
    tools = {tool.id: tool for tool in REFERENCE.plan.tools}
    for wanted in ("microscope", "hot_air"):
        better = with_tools(bench, [tools[wanted]])
        raised = best_of_each("river-recorder", better)
        before = best_of_each("river-recorder", bench)
        assert any(raised[key] > before[key] + ROUNDING for key in raised), wanted


def test_a_kit_of_no_hope_can_still_be_told_apart() -> None:
    """Thousands of joints: the chance is nought in figures until the change is made."""
    hand = SimpleNamespace(world=np.arange(10) % 5)
    gap = choice._Gap(
        [SimpleNamespace(fails=np.full(10, 900.0))],  # type: ignore[list-item]
        {"iron": hand},  # type: ignore[dict-item]
        REFERENCE.risk.parameters,
    )
    with np.errstate(over="raise", invalid="raise"):
        assert gap.none(np.full(10, 5.0))
        assert not gap.none(np.full(10, -900.0))
