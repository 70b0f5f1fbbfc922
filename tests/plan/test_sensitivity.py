"""Which assumed numbers the chance rests on: directions are common sense, by hand."""

from __future__ import annotations

from functools import lru_cache

import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.model.question import Run, Stopped
from solderrisk.plan.sensitivity import Ranking, trials, widest
from solderrisk.risk.engine import RiskEngine
from tests.risk.risk_scene import DECENT, FULL, REFERENCE, asked, engine, lift_kit

ASKED = asked(lift_kit("LQFP-48", irreplaceable=True), FULL)


@lru_cache(maxsize=1)
def ranking() -> Ranking:
    return widest(ASKED, engine())


def test_widest_come_first_and_shares_are_shares() -> None:
    shares = [effect.share for effect in ranking().effects]
    assert shares == sorted(shares, reverse=True)
    assert 0.2 < sum(shares) + ranking().hands < 1.3
    assert 0 < ranking().hands < 1


def test_more_faults_less_chance_better_hunting_more() -> None:
    found = {effect.name: effect for effect in ranking().effects}
    assert found["dead_rate"].at_high < found["dead_rate"].at_low
    assert found["bridge_rate"].at_high < found["bridge_rate"].at_low
    assert found["hunt_meter"].at_high > found["hunt_meter"].at_low
    assert set(found["hunt_meter"].others) == {"hunt_joints", "hunt_power"}


def test_an_effect_is_what_setting_the_number_does() -> None:
    """The same as asked with the number known at either end, all worlds else alike."""
    found = next(effect for effect in ranking().effects if effect.name == "dead_rate")
    known = REFERENCE.risk.parameters.at("dead_rate")
    for value, told in ((known.low, found.at_low), (known.high, found.at_high)):
        assert value is not None
        moved = ASKED.but(reference=REFERENCE.assuming({"dead_rate": value}))
        chance = type(engine())(moved.reference).assess(moved).by_numbers.mid
        assert told == pytest.approx(chance, abs=0.02)


def test_progress_rises_and_it_can_be_stopped() -> None:
    seen: list[float] = []
    widest(ASKED, engine(), Run(lambda share, _: seen.append(share)))
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    with pytest.raises(Stopped):
        widest(ASKED, engine(), Run(cancelled=lambda: True))


def test_blocked_kit_rests_on_nothing() -> None:
    none = ASKED.but(bench=DECENT.model_copy(update={"irons": ()}))
    found = widest(none, engine())
    assert (found.hands, found.effects) == (0.0, ())


def test_a_trial_says_what_each_outcome_would_mean() -> None:
    question = open_inputs("water-lamp", "bare", "newcomer")
    found = trials(question, RiskEngine(question.reference))
    assert found
    for trial in found:
        assert 0 < trial.settles <= 1
        faults = [outcome.faults for outcome in trial.outcomes]
        chances = [outcome.chance.mid for outcome in trial.outcomes]
        assert faults == sorted(faults)
        assert chances == sorted(chances, reverse=True)
        assert trial.outcomes[0].answer != "no"
        assert trial.outcomes[-1].answer != "yes"
    settles = [trial.settles for trial in found]
    assert settles == sorted(settles, reverse=True)


def test_a_settled_answer_needs_no_trial() -> None:
    assert trials(ASKED.but(target=0.001), engine()) == ()
    assert trials(ASKED.but(target=0.999999), engine()) == ()
