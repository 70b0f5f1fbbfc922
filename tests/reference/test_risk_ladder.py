"""Rungs of the ladder are passed by the hand that they describe about as often at fine pitch as
with holes: binomial tails (scipy) over the Beta of the level."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Builder
from solderrisk.plan.practice import PracticeStep, ladder
from solderrisk.risk.person import Rates, per_joint
from solderrisk.risk.skill import hand_of, prior_of

REFERENCE = load_reference()
LADDER = {step.id: step for step in ladder(Builder(name="x"), REFERENCE)}


def passed(step: PracticeStep) -> float:
    """Chance that somebody at the level which a rung shows passes it at the first mark."""
    rates, risk = Rates(REFERENCE), REFERENCE.risk
    index = [skill.id for skill in risk.levels.skills].index(step.skill)
    skill = risk.levels.skills[index]
    table = per_joint(risk.technique(skill.usual), skill.usual_pitch_mm, rates.worlds,
                      rates.by_skill)  # fmt: skip
    hand = hand_of(prior_of(risk.levels.prior(step.shows)), index, 2000, rates.worlds)
    faults = np.minimum(hand.at_samples(table), 1.0)
    mark = step.marks[0]
    return float(stats.binom.cdf(mark.allowed, mark.joints, faults).mean())


@pytest.mark.parametrize(
    ("holes", "fine"),
    [("first_joints", "fine_pitch_dummy"), ("heavy_tabs", "fine_pitch_again")],
)
def test_fine_pitch_is_passed_about_as_often_as_holes(holes: str, fine: str) -> None:
    one, other = passed(LADDER[holes]), passed(LADDER[fine])
    assert 0.25 < one < 0.6
    assert 0.5 < other / one < 2


def test_marks_at_fine_pitch_allow_what_is_predicted_there() -> None:
    mark = LADDER["fine_pitch_dummy"].marks[0]
    assert mark.allowed > 0
    assert mark.rate > 2 * REFERENCE.risk.levels.prior("few").faults_mean
