"""The level a job asks for, by hand-made chances; defined in ``skill_needed``."""

from __future__ import annotations

import pytest

from solderrisk.model.bench import LEVELS, Bench, Builder, Level
from solderrisk.risk.results import Asked
from solderrisk.risk.skill import skill_needed
from tests.risk.risk_scene import BARE, DECENT, FULL, REFERENCE, assessed, job_of, lift_kit

DATA = REFERENCE.risk.parameters.replaced({"placement_chance": 0.98, "skill_slack": 0.01})


def chances(*values: float) -> dict[Level, float]:
    return dict(zip(LEVELS, values, strict=True))


@pytest.mark.parametrize(
    ("found", "level", "asked"),
    [
        # 98 % asked and reached from 'several' on.
        (chances(0.2, 0.9, 0.981, 0.99, 0.999), "several", Asked(0.98)),
        # Even trained hands stay at 95 %: 94 % is as good as it gets.
        (chances(0.2, 0.8, 0.93, 0.945, 0.95), "regular", Asked(0.95, 0.01, "trained")),
        # Trained hands reach 98.5 %: 97.5 % is within the slack.
        (chances(0.2, 0.8, 0.9, 0.976, 0.985), "regular", Asked(0.985, 0.01, "trained")),
        (chances(0.98, 0.99, 0.99, 0.995, 0.999), "never", Asked(0.98)),
        (chances(0.0, 0.0, 0.0, 0.0, 0.0), None, None),
    ],
)
def test_level_and_reason(
    found: dict[Level, float], level: Level | None, asked: Asked | None
) -> None:
    needed = skill_needed(found, DATA)
    assert needed.level == level
    assert needed.asked == asked


def test_risk_that_no_skill_removes_does_not_ask_for_the_impossible() -> None:
    """A part out of a corroded donor may be dead whoever lifts it."""
    kit = lift_kit("LQFP-100", irreplaceable=True, condition="leaked_cell")
    found = job_of(kit, FULL, "lift:U1")
    trained = assessed(kit, FULL, Builder(name="x", level="trained")).by_key["lift:U1"]
    assert trained.chosen.after_mending.mid < DATA["placement_chance"]
    assert found.skill_needed is not None
    assert found.skill_asked is not None
    assert found.skill_asked.most == "trained"


@pytest.mark.parametrize("bench", [BARE, DECENT, FULL])
def test_no_level_only_where_blocked(bench: Bench) -> None:
    for footprint in ("LQFP-100", "SHIELDED-12", "QFN-32"):
        for risk in assessed(lift_kit(footprint, irreplaceable=True), bench).jobs:
            assert (risk.skill_needed is None) == risk.blocked
