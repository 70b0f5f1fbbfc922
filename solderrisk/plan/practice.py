"""The practice ladder: what to practise, with which pass mark, and what is shown already."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from solderrisk.model.builder import LEVELS, Builder, Level
from solderrisk.model.plan_data import Exercise, PracticeData
from solderrisk.model.reference import Reference
from solderrisk.model.risk_data import LevelData
from solderrisk.model.technique import Technique
from solderrisk.plan.claims import SequentialTest, joints_for_claim, upper_bound
from solderrisk.plan.results import PassMark, PracticeStep
from solderrisk.words import percent
from solderrisk.words import rate as rated

ALLOWED_FAULTS = (0, 1, 2)
# A sequential test passes at the level's rate and refuses at this multiple of it.
REFUSED_MULTIPLE = 3.0


def pass_mark(rate: float, confidence: float, allowed: int = 0) -> PassMark:
    """Fewest joints that show ``rate`` with ``confidence`` and ``allowed`` faults."""
    return PassMark(joints_for_claim(rate, confidence, allowed), allowed, rate, confidence)


def ladder(builder: Builder, reference: Reference) -> tuple[PracticeStep, ...]:
    """The whole ladder for a builder, in the order of the file."""
    data, levels = reference.plan.practice, reference.risk.levels
    exercises = _with_unnamed(data.exercises, reference.risk.techniques)
    return tuple(_step(exercise, builder, data, levels) for exercise in exercises)


def _with_unnamed(
    exercises: Sequence[Exercise], techniques: Sequence[Technique]
) -> tuple[Exercise, ...]:
    """Techniques that no exercise names stand on the first rung of their skill."""
    named = {name for exercise in exercises for name in exercise.unlocks}
    rest = [technique for technique in techniques if technique.id not in named]
    found = []
    for exercise in exercises:
        mine = [each.id for each in rest if each.skill == exercise.skill]
        rest = [each for each in rest if each.skill != exercise.skill]
        unlocks = (*exercise.unlocks, *mine)
        found.append(exercise.model_copy(update={"unlocks": unlocks}) if mine else exercise)
    return tuple(found)


def level_marks(
    reference: Reference, confidences: Sequence[float]
) -> dict[Level, tuple[PassMark, ...]]:
    """What shows each level without a fault, whatever the skill, by confidence."""
    return {
        prior.level: tuple(pass_mark(prior.faults_mean, each) for each in confidences)
        for prior in reference.risk.levels.levels
    }


def _step(
    exercise: Exercise, builder: Builder, data: PracticeData, levels: LevelData
) -> PracticeStep:
    rate = levels.prior(exercise.shows).faults_mean
    marks = tuple(part_mark(exercise, rate, data.confidence, each) for each in ALLOWED_FAULTS)
    trial = marks[0].rate
    test = SequentialTest(
        good=trial / REFUSED_MULTIPLE,
        bad=trial,
        miss=1 - data.confidence,
        harsh=1 - data.confidence,
    )
    joints, faults = record_of(builder, exercise.skill)
    enough = joints >= exercise.least_parts * exercise.joints_per_part
    claimed = enough and upper_bound(faults, joints, data.confidence) <= rate
    believed = LEVELS.index(builder.level_of(exercise.skill)) >= LEVELS.index(exercise.shows)
    return PracticeStep(
        id=exercise.id,
        title=exercise.title,
        skill=exercise.skill,
        shows=exercise.shows,
        after=exercise.after,
        material=exercise.material,
        steps=exercise.steps,
        marks=marks,
        sequential=tuple(_in_turn(exercise, test, faults) for faults in ALLOWED_FAULTS),
        hours=marks[0].joints * exercise.joint_minutes / 60,
        price=marks[0].joints * exercise.joint_price,
        unlocks=exercise.unlocks,
        notes=exercise.notes,
        missing_notes=tuple(n for n in exercise.notes if n not in builder.acknowledged),
        state="claimed" if claimed else "believed" if believed else "open",
        record=_record_text(joints, faults, data.confidence),
        skill_title=levels.skill(exercise.skill).title,
        joints_per_part=exercise.joints_per_part,
        counting=_counting(exercise),
        needed=joints_needed(exercise, rate, joints, faults, data.confidence),
    )


def joints_needed(
    exercise: Exercise, rate: float, joints: int, faults: int, confidence: float
) -> int:
    """Clean joints still needed until so many with so few faults show the rate; 0 where they
    do. Each fault made allows one more, at the price of more joints."""
    each = exercise.joints_per_part if exercise.whole_part else 1
    allowed = min(faults, max(joints, each) // each)
    return max(part_mark(exercise, rate, confidence, allowed).joints - joints, 0)


def part_mark(exercise: Exercise, rate: float, confidence: float, allowed: int = 0) -> PassMark:
    """A pass mark in whole parts where an exercise is about parts. Joints of a part that is
    spoiled as a whole are no trials of their own: there parts are counted, and the rate is
    what ``least_parts`` good ones in a row show, which grows no better by more joints each."""
    plain = pass_mark(rate, confidence, allowed)
    if exercise.joints_per_part == 1:
        return plain
    parts = max(exercise.least_parts, math.ceil(plain.joints / exercise.joints_per_part))
    if exercise.whole_part:
        clean = pass_mark(rate, confidence).joints
        first = max(exercise.least_parts, math.ceil(clean / exercise.joints_per_part))
        rate = upper_bound(0, first, confidence)
        # A hair above, so that the count for no spoiled part comes out as it went in.
        parts = max(parts, joints_for_claim(min(rate * (1 + 1e-9), 0.999), confidence, allowed))
    return PassMark(
        parts * exercise.joints_per_part, allowed, rate, confidence, parts, exercise.whole_part
    )


def _in_turn(exercise: Exercise, test: SequentialTest, faults: int) -> int:
    """Joints at which the sequential test passes, in whole parts where parts are counted."""
    trials, each = test.passes_at(faults), exercise.joints_per_part
    if exercise.whole_part:
        return max(trials, exercise.least_parts) * each
    parts = math.ceil(trials / each)
    return max(parts, exercise.least_parts) * each if each > 1 else trials


def _counting(exercise: Exercise) -> str:
    if exercise.whole_part:
        return (
            "a part counts once: good, or spoiled by one lifted land, bent lead or joint torn "
            f"off; note {exercise.joints_per_part} joints for each part tried and one fault for "
            "each spoiled one"
        )
    if exercise.joints_per_part > 1:
        return (
            "every joint and gap that needs mending is a fault, over whole parts of about "
            f"{exercise.joints_per_part} joints"
        )
    return "every joint that needs mending is a fault"


def record_of(builder: Builder, skill: str) -> tuple[int, int]:
    """Joints and faults recorded for a skill."""
    records = [record for record in builder.records if record.skill == skill]
    return sum(r.joints for r in records), sum(r.faults for r in records)


def _record_text(joints: int, faults: int, confidence: float) -> str:
    if joints == 0:
        return "no record yet"
    bound = upper_bound(faults, joints, confidence)
    return (
        f"{faults} faults in {joints} joints: at most {rated(bound)} faults with "
        f"{percent(confidence)} confidence"
    )


def next_steps(steps: Iterable[PracticeStep]) -> tuple[PracticeStep, ...]:
    """Rungs that are open and whose earlier rungs are not."""
    steps = tuple(steps)
    open_ids = {step.id for step in steps if step.state == "open"}
    return tuple(s for s in steps if s.id in open_ids and not open_ids.intersection(s.after))
