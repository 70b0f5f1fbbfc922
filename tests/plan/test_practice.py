"""Pass marks against the binomial, and the ladder's states."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.stats import beta, binom

from solderrisk.files.loading import load_builder
from solderrisk.files.reference import load_reference
from solderrisk.model.bench import LEVELS, Builder, Record, SkillLevel
from solderrisk.model.plan_data import Exercise
from solderrisk.model.problems import UserProblem
from solderrisk.plan.practice import (
    SequentialTest,
    _in_turn,
    _rising,
    _with_unnamed,
    joints_needed,
    ladder,
    level_marks,
    part_mark,
    pass_mark,
    pass_marks,
    record_of,
)
from solderrisk.report.people import claim_words, mark_words, record_words

REFERENCE = load_reference()


def test_a_ladder_is_cut_to_an_aim_or_to_the_skills_of_a_kit() -> None:
    every = ladder(Builder(name="b"), REFERENCE)
    aimed = ladder(Builder(name="b"), REFERENCE, aim="before hot air")
    ids = {step.id for step in aimed}
    assert {"air_lifts", "small_chips", "first_joints"} <= ids
    assert "wires" not in ids
    assert all(set(step.after) <= ids for step in aimed)
    cut = ladder(Builder(name="b"), REFERENCE, skills={"wiring"})
    assert [step.id for step in cut] == ["first_joints", "wires"]
    assert len(every) > len(aimed) > len(cut)
    with pytest.raises(UserProblem, match="no practice is called 'juggling'"):
        ladder(Builder(name="b"), REFERENCE, aim="juggling")


@settings(max_examples=60)
@given(st.floats(0.003, 0.3), st.floats(0.6, 0.95), st.integers(0, 3))
def test_a_pass_mark_is_the_fewest_joints_that_show_it(
    rate: float, confidence: float, allowed: int
) -> None:
    """A builder at the very rate passes with at most 1 - confidence (binomial tail of scipy);
    with one joint fewer the mark would claim too much."""
    mark = pass_mark(rate, confidence, allowed)
    assert binom.cdf(allowed, mark.joints, rate) <= 1 - confidence + 1e-9
    assert binom.cdf(allowed, mark.joints - 1, rate) > 1 - confidence - 1e-9


def test_a_known_pass_mark() -> None:
    # The rule of three's exact form: 59 clean trials show 5 % with 95 % confidence.
    assert pass_mark(0.05, 0.95).joints == 59
    # Success-run tables of reliability handbooks: 22 clean, 38 with one fault, for 90 %/90 %.
    assert pass_mark(0.10, 0.90, 0).joints == 22
    assert pass_mark(0.10, 0.90, 1).joints == 38


def test_more_faults_allowed_ask_for_more_joints() -> None:
    for step in ladder(Builder(name="b"), REFERENCE):
        joints = [mark.joints for mark in step.marks]
        assert joints[0] < joints[1] < joints[2]
        first = step.marks[0].allowed
        assert [mark.allowed for mark in step.marks] == [first, first + 1, first + 2]
        assert step.hours > 0
        assert step.sequential[0] < step.sequential[1] < step.sequential[2]
        assert step.sequential[0] >= 1


def exercise(**changes: object) -> Exercise:
    values = {
        "id": "x", "title": "x", "skill": "hot_air", "shows": "few", "material": "scrap",
        "steps": ("lift",), "joint_minutes": 1.0, "joint_price": 0.0, "source": "assumed: test",
    }  # fmt: skip
    return Exercise(**{**values, **changes})  # type: ignore[arg-type]


def test_fine_pitch_counts_whole_packages_and_never_one_alone() -> None:
    # 59 joints show 5 % with 95 %: one package of 100 would do, but three are asked.
    mark = part_mark(exercise(joints_per_part=100, least_parts=3), 0.05, 0.95)
    assert (mark.joints, mark.parts, mark.rate) == (300, 3, 0.05)
    # 59 joints need two packages of 48.
    assert part_mark(exercise(joints_per_part=48), 0.05, 0.95).parts == 2
    # Eight faults in 300 still show 5 % (Clopper-Pearson by scipy); each further one asks for a
    # part more, even where three would do.
    assert stats.beta.ppf(0.95, 9, 292) < 0.05 < stats.beta.ppf(0.95, 10, 291)
    marks = pass_marks(exercise(joints_per_part=100, least_parts=3), 0.05, 0.95)
    assert [mark.parts for mark in marks] == [3, 4, 5]
    assert [mark_words(mark) for mark in marks[:2]] == [
        "3 parts with at most 8 faults", "4 parts with at most 9 faults",
    ]  # fmt: skip


@given(st.integers(1, 8), st.integers(0, 2), st.floats(0.01, 0.2))
def test_a_lift_is_one_trial_per_part(least: int, allowed: int, rate: float) -> None:
    """Parts are good or spoiled: the binomial tail of scipy over parts, not joints."""
    of = exercise(joints_per_part=48, least_parts=least, whole_part=True)
    mark = part_mark(of, rate, 0.8, allowed)
    assert mark.parts >= least
    assert mark.joints == 48 * mark.parts
    assert binom.cdf(allowed, mark.parts, mark.rate) <= 0.2 + 1e-6
    assert "parts spoiled" in claim_words(mark)
    assert "joint" not in mark_words(mark)


def test_a_record_on_one_part_does_not_claim_a_rung_of_parts() -> None:
    step = next(s for s in ladder(Builder(name="b"), REFERENCE) if s.id == "low_melt_lifts")

    def state(joints: int) -> str:
        record = Record(skill=step.skill, joints=joints, faults=0)
        builder = Builder(name="b", level="never", records=(record,))
        return next(s for s in ladder(builder, REFERENCE) if s.id == step.id).state

    assert step.marks[0].parts >= 3
    assert state(2 * step.joints_per_part) == "open"
    assert state(step.marks[0].joints) == "claimed"


def test_higher_levels_ask_for_more_joints() -> None:
    marks = level_marks(REFERENCE, (0.8, 0.95))
    assert all(row[0].joints < row[1].joints for row in marks.values())
    clean = [marks[level][0].joints for level in LEVELS]
    assert clean == sorted(clean)
    assert len(set(clean)) == len(clean)


def test_states_by_description() -> None:
    states = {step.id: step.state for step in ladder(Builder(name="b", level="never"), REFERENCE)}
    assert set(states.values()) == {"open"}
    # One level for everything names no skill: nothing is passed by it.
    steps = ladder(Builder(name="b", level="trained"), REFERENCE)
    assert {step.state for step in steps} == {"open"}
    skills = tuple(
        SkillLevel(skill=skill.id, level="trained") for skill in REFERENCE.risk.levels.skills
    )
    steps = ladder(Builder(name="b", skills=skills), REFERENCE)
    assert {step.state for step in steps} == {"believed"}
    assert not any(step.ready for step in steps)


def test_a_newcomer_has_passed_nothing_that_was_not_named() -> None:
    assert {step.state for step in ladder(load_builder("newcomer"), REFERENCE)} == {"open"}


def test_a_level_of_one_skill_counts_for_that_skill() -> None:
    first = ladder(Builder(name="b", level="never"), REFERENCE)[0]
    skilled = Builder(
        name="b", level="never", skills=(SkillLevel(skill=first.skill, level="trained"),)
    )
    for step in ladder(skilled, REFERENCE):
        assert step.state == ("believed" if step.skill == first.skill else "open")


def test_states_by_record() -> None:
    step = ladder(Builder(name="b", level="never"), REFERENCE)[0]
    mark = step.marks[0]

    def state(joints: int, faults: int) -> str:
        record = Record(skill=step.skill, joints=joints, faults=faults)
        builder = Builder(name="b", level="never", records=(record,))
        return ladder(builder, REFERENCE)[0].state

    assert state(mark.joints, 0) == "claimed"
    assert state(mark.joints - 1, 0) == "open"
    assert state(mark.joints, 1) == "open"
    assert state(step.marks[1].joints, 1) == "claimed"


def test_without_a_record_every_fault_rate_is_possible() -> None:
    assert {step.fault_bound for step in ladder(Builder(name="b"), REFERENCE)} == {1.0}


def test_records_add_up_and_are_told() -> None:
    records = tuple(Record(skill="hot_air", joints=j, faults=f) for j, f in ((40, 1), (60, 1)))
    other = Record(skill="wiring", joints=500, faults=0)
    builder = Builder(name="b", records=(*records, other))
    assert record_of(builder, "hot_air") == (100, 2)
    step = next(s for s in ladder(builder, REFERENCE) if s.skill == "hot_air")
    # Clopper-Pearson, one-sided, after scipy.
    sure = step.marks[0].confidence
    bound = beta.ppf(sure, 3, 98)
    assert record_words(step) == (
        f"2 faults in 100 joints: at most {100 * bound:.1f} % faults with {100 * sure:.0f} % "
        "confidence"
    )
    clean = ladder(Builder(name="b"), REFERENCE)[0]
    assert record_words(clean) == "no record yet"


def test_next_steps_wait_for_earlier_ones() -> None:
    steps = ladder(Builder(name="b", level="never"), REFERENCE)
    ready = [step for step in steps if step.ready]
    assert ready
    assert all(not step.after for step in ready)
    assert len(ready) < len(steps)


def test_safety_notes_come_first_until_acknowledged() -> None:
    step = ladder(Builder(name="b"), REFERENCE)[0]
    assert step.missing_notes == step.notes != ()
    told = ladder(Builder(name="b", acknowledged=step.notes[:1]), REFERENCE)[0]
    assert told.missing_notes == step.notes[1:]


@pytest.mark.parametrize("step", ladder(Builder(name="b"), REFERENCE), ids=lambda step: step.id)
def test_every_rung_stands_on_rungs_that_exist(step: object) -> None:
    ids = {each.id for each in ladder(Builder(name="b"), REFERENCE)}
    techniques = {technique.id for technique in REFERENCE.risk.techniques}
    notes = {note.id for note in REFERENCE.plan.safety.notes}
    assert set(step.after) <= ids  # type: ignore[attr-defined]
    assert set(step.unlocks) <= techniques  # type: ignore[attr-defined]
    assert set(step.notes) <= notes  # type: ignore[attr-defined]


def test_what_is_still_needed_after_faults() -> None:
    """Success-run tables, 90 %/90 %: 22 clean, 38 with one fault, 52 with two. Where parts are
    counted a part is spoiled once, however many of its joints were."""
    single = exercise()
    assert joints_needed(single, 0.1, 0, 0, 0.9) == 22
    assert joints_needed(single, 0.1, 10, 1, 0.9) == 28
    assert joints_needed(single, 0.1, 10, 2, 0.9) == 42
    assert joints_needed(single, 0.1, 60, 0, 0.9) == 0
    whole = exercise(joints_per_part=48, least_parts=3, whole_part=True)

    def parts(spoiled: int) -> int:
        """Fewest parts that show what three good ones in a row show (binomial tail of scipy)."""
        shown = 1 - 0.1 ** (1 / 3)
        return next(n for n in range(3, 99) if binom.cdf(spoiled, n, shown) <= 0.1 + 1e-9)

    for joints, faults, spoiled in ((0, 0, 0), (48, 5, 1), (96, 5, 2), (96, 1, 1), (48, 0, 0)):
        expected = 48 * parts(spoiled) - joints
        assert joints_needed(whole, 0.1, joints, faults, 0.9) == expected


def test_what_is_allowed_before_it_counts_as_a_fault_more() -> None:
    """Of 300 joints eight may fail for 5 %; of one part of 48 none may. Where joints or whole parts
    are counted each fault asks for more."""
    package = exercise(joints_per_part=48)
    assert [mark.allowed for mark in pass_marks(package, 0.05, 0.95)] == [0, 1, 2]
    single = exercise(least_parts=100)
    assert [mark.allowed for mark in pass_marks(single, 0.05, 0.95)] == [0, 1, 2]
    whole = exercise(joints_per_part=100, least_parts=3, whole_part=True)
    assert pass_marks(whole, 0.05, 0.95)[0].allowed == 0
    # At the very rate: one fault in n joints shows it and is free.
    n = next(n for n in range(2, 500) if beta.ppf(0.95, 2, n - 1) <= 0.05)
    for joints, free in ((n, 1), (n - 1, 0)):
        of = exercise(joints_per_part=joints)
        assert pass_marks(of, 0.05, 0.95)[0].allowed == free


def test_each_mark_is_a_part_more_than_the_one_before() -> None:
    assert _rising([5, 5, 9], exercise(joints_per_part=2)) == (5, 7, 9)
    assert _rising([5, 3, 3], exercise()) == (5, 6, 7)


def test_a_test_in_turn_passes_with_whole_parts() -> None:
    """Wald: clean after ln 9 / ln(0.95 / 0.85) = 19.8 joints, so 20. A part of 8 joints is done to
    its end, and no fewer than the least; where a part is good or spoiled, 20 parts."""
    test = SequentialTest(good=0.05, bad=0.15)
    assert _in_turn(exercise(), test, 0) == 20
    assert _in_turn(exercise(least_parts=50), test, 0) == 20
    assert _in_turn(exercise(joints_per_part=8), test, 0) == 24
    assert _in_turn(exercise(joints_per_part=8, least_parts=5), test, 0) == 40
    assert _in_turn(exercise(joints_per_part=8, whole_part=True), test, 0) == 160
    assert _in_turn(exercise(joints_per_part=8, whole_part=True, least_parts=40), test, 0) == 320


def test_a_rung_takes_its_joints_and_stops_by_wald() -> None:
    """Hours and price are those of the first mark. In turn a third of its rate passes, the rate
    itself does not, each with the chance that the marks leave."""
    rungs = {e.id: e for e in REFERENCE.plan.practice.exercises}
    doubt = 1 - REFERENCE.plan.practice.confidence
    for step in ladder(Builder(name="b"), REFERENCE):
        rung, mark = rungs[step.id], step.marks[0]
        assert step.hours == pytest.approx(mark.joints * rung.joint_minutes / 60)
        assert step.price == pytest.approx(mark.joints * rung.joint_price)
        test = SequentialTest(good=mark.rate / 3, bad=mark.rate, miss=doubt, harsh=doubt)
        assert step.sequential[0] == _in_turn(rung, test, 0)


def test_the_level_that_a_rung_shows_is_enough_to_be_believed() -> None:
    step = next(s for s in ladder(Builder(name="b"), REFERENCE) if s.shows != LEVELS[0])
    at = LEVELS.index(step.shows)
    for level, state in ((LEVELS[at], "believed"), (LEVELS[at - 1], "open")):
        builder = Builder(name="b", skills=(SkillLevel(skill=step.skill, level=level),))
        assert next(s for s in ladder(builder, REFERENCE) if s.id == step.id).state == state


def test_one_part_is_no_record_of_three() -> None:
    """As many joints as show the rate, but on fewer parts than a rung asks for."""
    step = next(s for s in ladder(Builder(name="b"), REFERENCE) if s.joints_per_part > 1)
    rung = next(e for e in REFERENCE.plan.practice.exercises if e.id == step.id)
    least = rung.least_parts * rung.joints_per_part
    for joints in (least - 1, least):
        record = Record(skill=step.skill, joints=joints, faults=0)
        found = next(s for s in ladder(Builder(name="b", records=(record,)), REFERENCE)
                     if s.id == step.id)  # fmt: skip
        shows = beta.ppf(step.marks[0].confidence, 1, joints) <= found.marks[0].rate
        assert (found.state == "claimed") <= (joints >= least)
        assert (found.state == "claimed") or not shows or joints < least


def test_words_of_an_aim_must_all_fit() -> None:
    ids = {step.id for step in ladder(Builder(name="b"), REFERENCE, aim="Tin-and-join wires")}
    assert ids == {"first_joints", "wires"}
    with pytest.raises(UserProblem):
        ladder(Builder(name="b"), REFERENCE, aim="wires juggling")


def test_a_technique_that_no_rung_names_stands_on_the_first_of_its_skill() -> None:
    rungs = REFERENCE.plan.practice.exercises
    bare = [rung.model_copy(update={"unlocks": ()}) for rung in rungs]
    found = _with_unnamed(bare, REFERENCE.risk.techniques)
    for skill in {technique.skill for technique in REFERENCE.risk.techniques}:
        mine = [rung for rung in found if rung.skill == skill]
        names = {t.id for t in REFERENCE.risk.techniques if t.skill == skill}
        assert [set(rung.unlocks) for rung in mine[:2]] == [names, set()][: len(mine)]
    named = _with_unnamed(rungs, REFERENCE.risk.techniques)
    assert {name for rung in named for name in rung.unlocks} == {
        technique.id for technique in REFERENCE.risk.techniques
    }
