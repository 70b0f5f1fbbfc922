"""Which assumed numbers the chance rests on: directions are common sense, by hand."""

from __future__ import annotations

from functools import lru_cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.model.bench import Bench, Builder, Record
from solderrisk.model.question import Question, Run, Stopped
from solderrisk.plan.sensitivity import Ranking, second_looks, trials, widest
from solderrisk.risk.engine import Chances, RiskEngine
from tests.plan import kit_builder as make
from tests.plan.kit_builder import part
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


class ByHand:
    """An engine that answers as we say: a chance in ten worlds, by faults seen or by checks."""

    def __init__(self, worlds: dict[int, list[float]] | None = None) -> None:
        self.worlds = worlds or {}
        self.asked: list[Question] = []
        self.shares: dict[str, float] = {}
        self.gains: dict[str, float] = {}
        self.chosen: dict[str, str] = {}

    def chances(self, question: Question) -> Chances:
        self.asked.append(question)
        seen = sum(record.faults for record in question.builder.records)
        more = sum(self.gains.get(f"{kind}:{key}", 0.0) for key, kinds in question.looks
                   for kind in kinds)  # fmt: skip
        blind = (gate.ref for gate in question.kit.gates if gate.finds == 0.0)
        more -= sum(self.gains.get(ref, 0.0) for ref in blind)
        samples = np.array(self.worlds.get(seen, [0.5])) + more
        chosen = self.chosen or dict.fromkeys(self.shares, "point_iron")
        return Chances(samples, (), chosen, lambda: self.shares)

    def foreseen(self, question: Question, record: Record) -> tuple[int, ...]:
        return (0, 1, 2, 3) if record.joints > 100 else (0, 1)


def asked_by_hand(*records: Record, **more: Any) -> Question:
    of = make.kit(placements=[part("R1-R2", "R"), part("U1", "SO"), part("J1", "DIP", donor="old")],
                  hour_value=6.0, **more)  # fmt: skip
    builder = Builder(name="p", records=records)
    bench = Bench(name="b", aids=("multimeter",))
    return Question(of, bench, builder, make.LIBRARY, REFERENCE, 0.7)


OPEN, YES, NO = [0.5, 0.9], [0.9, 0.9], [0.5, 0.5]


def test_trials_that_settle_most_come_first_and_what_they_cost() -> None:
    """40 joints show none or one fault, both settle; 150 show none to three, of which two do. The
    last rung of a skill says what a joint takes; an hour counts for 6."""
    engine = ByHand({0: OPEN, 1: NO, 2: NO, 3: OPEN})
    engine.shares = {"fit:R1": 1.0}
    skill = REFERENCE.risk.technique("point_iron").skill
    rung = [e for e in REFERENCE.plan.practice.exercises if e.skill == skill][-1]
    found = trials(asked_by_hand(), engine)  # type: ignore[arg-type]
    assert [(t.joints, t.settles) for t in found] == [(40, 0.5), (150, 0.5)]
    for trial in found:
        hours = trial.joints * rung.joint_minutes / 60
        assert trial.hours == pytest.approx(hours)
        assert trial.cost == pytest.approx(trial.joints * rung.joint_price + 6 * hours)
    assert [o.answer for o in found[1].outcomes] == ["open", "no", "no", "open"]
    many = ByHand({0: OPEN, 1: OPEN, 2: NO, 3: NO})
    many.shares = {"fit:R1": 1.0}
    assert [t.joints for t in trials(asked_by_hand(), many)] == [150]  # type: ignore[arg-type]
    sure = ByHand({0: YES})
    assert trials(asked_by_hand(), sure) == ()  # type: ignore[arg-type]


def test_three_trials_are_told_and_ten_numbers_are_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    engine = ByHand({0: OPEN, 1: NO, 2: NO, 3: NO})
    techniques = {each.skill: each.id for each in REFERENCE.risk.techniques}
    engine.chosen = dict(zip(("fit:R1", "fit:U1"), list(techniques.values())[:2], strict=True))
    told = trials(asked_by_hand(), engine)  # type: ignore[arg-type]
    assert [trial.settles for trial in told] == [0.75, 0.75, 0.5]
    assert told[0].skill != told[1].skill
    asked: list[int] = []

    def makeup(question: Question, most: int, run: Run) -> Any:
        asked.append(most)
        named = SimpleNamespace(names=("a", "b"), cause="c", at_low=0.1, at_high=0.4, share=0.5)
        unnamed = SimpleNamespace(**{**vars(named), "names": ()})
        return SimpleNamespace(hands=0.2, doubts=[named, unnamed])

    monkeypatch.setattr("solderrisk.plan.sensitivity.unheard", lambda *_: None)
    engine.makeup, engine.reported = makeup, lambda seed: ()  # type: ignore[attr-defined]
    shares: list[float] = []
    found = widest(asked_by_hand(), engine, Run(lambda share, _: shares.append(share)))  # type: ignore[arg-type]
    assert (asked, found.hands, len(found.trials)) == ([10], 0.2, 3)
    assert [(e.name, e.others, e.width, e.share) for e in found.effects] == [
        ("a", ("b",), pytest.approx(0.3), 0.5), ("c", (), pytest.approx(0.3), 0.5),
    ]  # fmt: skip
    assert (shares[0], shares[-1]) == (0.9, 1.0)


def test_a_trial_is_made_on_the_day_that_is_asked_of_or_the_newest_record_s() -> None:
    old, new, none = (Record(skill="wiring", joints=1, faults=0, date=day)
                      for day in ("2020-01-01", "2021-05-05", None))  # fmt: skip

    def day(question: Question) -> set[str | None]:
        engine = ByHand({0: OPEN, 1: NO})
        engine.shares = {"fit:R1": 1.0}
        trials(question, engine)  # type: ignore[arg-type]
        kept = len(question.builder.records)
        return {q.builder.records[-1].date for q in engine.asked if len(q.builder.records) > kept}

    assert day(asked_by_hand(old, new, none)) == {"2021-05-05"}
    assert day(asked_by_hand(none)) == {None}
    assert day(asked_by_hand(new).but(as_of="2022-02-02")) == {"2022-02-02"}


def test_what_each_check_is_worth_by_hand() -> None:
    """Best first; what gains less than half a thousandth is left out, and so is what carries no
    risk. Alike parts are looked at together, a lift is not measured."""
    gates = [{"ref": "g", "title": "Rails", "after": ["R1"], "minutes": 4.0},
             {"ref": "h", "title": "Little", "after": ["R1"]},
             {"ref": "i", "title": "Less", "after": ["R1"]}]  # fmt: skip
    engine = ByHand()
    engine.shares = {"fit:R1": 0.4, "fit:R2": 0.3, "lift:J1": 0.2, "fit:U1": 0.0}
    engine.gains = {"second_person:fit:R1": 0.01, "second_person:fit:R2": 0.02,
                    "continuity:fit:R1": 0.0003, "second_person:lift:J1": 0.0625,
                    "continuity:lift:J1": 0.3, "second_person:fit:U1": 0.3, "g": 0.125,
                    "h": 0.0006, "i": 0.0004}  # fmt: skip
    found = second_looks(asked_by_hand(gates=gates), engine)  # type: ignore[arg-type]
    assert [(look.key, look.kind, look.refs) for look in found] == [
        ("gate:g", "gate", ()),
        ("lift:J1", "second_person", ("J1",)),
        ("fit:R1", "second_person", ("R1", "R2")),
        ("gate:h", "gate", ()),
    ]
    assert [look.gain for look in found] == pytest.approx([0.125, 0.0625, 0.03, 0.0006])
    each = REFERENCE.plan.costs["second_person_minutes_per_joint"]
    assert [look.minutes for look in found[:3]] == pytest.approx([4.0, 2 * each, 4 * each])
    assert {question.samples for question in engine.asked} == {1000}
    assert (found[0].title, found[2].title) == ("Rails", "")
    # Techniques stay as they were chosen.
    assert engine.asked[0].pins == ()
    assert {dict(q.pins)["fit:R1"] for q in engine.asked[1:]} == {"point_iron"}
