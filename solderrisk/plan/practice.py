"""Practice: the ladder, its pass marks and what a record may claim."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from solderrisk.model.bench import LEVELS, Builder, Level
from solderrisk.model.plan_data import Exercise, PracticeData
from solderrisk.model.problems import UserProblem
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import LevelData
from solderrisk.model.technique import Technique
from solderrisk.risk.person import Rates
from solderrisk.words import one_line, plain

MAX_JOINTS = 100_000


@dataclass(frozen=True)
class PassMark:
    """``joints`` with at most ``allowed`` faults show a fault rate of at most ``rate`` with
    ``confidence``. ``parts``: the same in whole parts, 0 where joints alone are counted; with
    ``whole_part`` faults and rate are those of parts, each good or spoiled."""

    joints: int
    allowed: int
    rate: float
    confidence: float
    parts: int = 0
    whole_part: bool = False


@dataclass(frozen=True)
class PracticeStep:
    """One rung of the ladder with its pass marks, for one builder."""

    id: str
    title: str
    skill: str
    shows: Level
    after: tuple[str, ...]
    material: str
    steps: tuple[str, ...]
    marks: tuple[PassMark, ...]  # no fault, one fault, two faults allowed
    sequential: tuple[int, ...]  # joints at which a sequential test passes with 0, 1, 2 faults
    hours: float
    price: float
    unlocks: tuple[str, ...]
    notes: tuple[str, ...]  # safety notes to acknowledge first
    missing_notes: tuple[str, ...]  # of these, not yet acknowledged by the builder
    # Shown by records, said of this very skill by the builder, or not.
    state: Literal["claimed", "believed", "open"]
    joints: int = 0  # on record
    faults: int = 0
    fault_bound: float = 1.0  # at most this rate, with the marks' confidence
    skill_title: str = ""
    joints_per_part: int = 1
    needed: int = 0  # clean joints still needed until records show it
    ready: bool = False  # open, and nothing before it is


def joints_for_claim(fault_rate: float, confidence: float, allowed: int = 0) -> int:
    """Fewest joints that, with at most ``allowed`` faults among them, show a fault rate of
    at most ``fault_rate`` with ``confidence``.

    Raises:
        ValueError: rate or confidence outside 0..1, or more than ``MAX_JOINTS`` needed.
    """
    if not (0 < fault_rate < 1 and 0 < confidence < 1 and allowed >= 0):
        raise ValueError(f"no claim for rate {fault_rate}, confidence {confidence}")
    if allowed == 0:
        return math.ceil(math.log1p(-confidence) / math.log1p(-fault_rate) - 1e-9)
    low, high = allowed + 1, MAX_JOINTS
    if upper_bound(allowed, high, confidence) > fault_rate:
        raise ValueError(f"more than {MAX_JOINTS} joints for a rate of {fault_rate}")
    while low < high:
        middle = (low + high) // 2
        if upper_bound(allowed, middle, confidence) <= fault_rate:
            high = middle
        else:
            low = middle + 1
    return low


def upper_bound(faults: int, joints: int, confidence: float) -> float:
    """One-sided Clopper-Pearson upper bound of the fault rate."""
    from scipy.special import betaincinv

    if faults >= joints:
        return 1.0
    return float(betaincinv(faults + 1, joints - faults, confidence))


@dataclass(frozen=True)
class SequentialTest:
    """Wald's test of a fault rate: stop as soon as the record speaks.

    ``good`` is a rate that should pass, ``bad`` one that should not; ``miss`` is the chance
    to pass the bad one, ``harsh`` the chance to refuse the good one.
    """

    good: float
    bad: float
    miss: float = 0.1
    harsh: float = 0.1

    @property
    def slope(self) -> float:
        """Faults per joint along the decision lines."""
        return math.log((1 - self.good) / (1 - self.bad)) / self._scale

    @property
    def pass_intercept(self) -> float:
        return math.log((1 - self.harsh) / self.miss) / self._scale

    @property
    def fail_intercept(self) -> float:
        return math.log((1 - self.miss) / self.harsh) / self._scale

    @property
    def _scale(self) -> float:
        return math.log(self.bad * (1 - self.good) / (self.good * (1 - self.bad)))

    def decide(self, faults: int, joints: int) -> str:
        """'pass', 'fail' or 'go on' after ``joints`` joints with ``faults`` faults."""
        line = self.slope * joints
        if faults <= line - self.pass_intercept:
            return "pass"
        if faults >= line + self.fail_intercept:
            return "fail"
        return "go on"

    def passes_at(self, faults: int) -> int:
        """Joints after which the test passes with this many faults among them."""
        return math.ceil((self.pass_intercept + faults) / self.slope - 1e-9)


ALLOWED_FAULTS = (0, 1, 2)
# A sequential test passes at the level's rate and refuses at this multiple of it.
REFUSED_MULTIPLE = 3.0


def pass_mark(rate: float, confidence: float, allowed: int = 0) -> PassMark:
    """Fewest joints that show ``rate`` with ``confidence`` and ``allowed`` faults."""
    return PassMark(joints_for_claim(rate, confidence, allowed), allowed, rate, confidence)


def ladder(
    builder: Builder,
    reference: Reference,
    *,
    aim: str = "",
    skills: Collection[str] | None = None,
) -> tuple[PracticeStep, ...]:
    """The ladder for a builder, in the order of the file. ``aim`` cuts it to what leads to an
    exercise or skill, ``skills`` to what these need; earlier rungs stay with either.

    Raises:
        UserProblem: no exercise or skill is called like the aim.
    """
    data, levels = reference.plan.practice, reference.risk.levels
    exercises = _with_unnamed(data.exercises, reference.risk.techniques)
    wanted = {e.id for e in exercises if skills is None or e.skill in skills}
    if aim:
        titles = {skill.id: skill.title for skill in levels.skills}
        wanted &= _aimed(exercises, aim, titles)
    wanted = _with_earlier(exercises, wanted)
    rates = Rates(reference)
    steps = [_step(e, builder, data, levels, rates) for e in exercises if e.id in wanted]
    open_ids = {step.id for step in steps if step.state == "open"}
    return tuple(
        replace(step, ready=step.id in open_ids and not open_ids.intersection(step.after))
        for step in steps
    )


def _aimed(exercises: Sequence[Exercise], aim: str, titles: Mapping[str, str]) -> set[str]:
    """Exercises that an aim names: by id, or by words of their title or skill."""
    words = plain(aim).replace("-", " ").casefold().split()
    words = [word for word in words if word != "before"]
    found = set()
    for exercise in exercises:
        named = f"{exercise.id} {exercise.title} {exercise.skill} {titles[exercise.skill]}"
        if all(word in plain(named).replace("-", " ").casefold() for word in words):
            found.add(exercise.id)
    if not found:
        names = ", ".join(plain(exercise.id) for exercise in exercises)
        raise UserProblem(f"no practice is called {one_line(aim, 40)!r}; there are {names}")
    return found


def _with_earlier(exercises: Sequence[Exercise], ids: set[str]) -> set[str]:
    by_id = {exercise.id: exercise for exercise in exercises}
    found, stack = set(ids), list(ids)
    while stack:
        more = set(by_id[stack.pop()].after) - found
        found |= more
        stack += more
    return found


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
    exercise: Exercise, builder: Builder, data: PracticeData, levels: LevelData, rates: Rates
) -> PracticeStep:
    rate = rates.at(exercise.shows, exercise.skill)
    marks = pass_marks(exercise, rate, data.confidence)
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
    # One level for everything says nothing about a skill that the person never named.
    said = next((each.level for each in builder.skills if each.skill == exercise.skill), None)
    believed = said is not None and LEVELS.index(said) >= LEVELS.index(exercise.shows)
    return PracticeStep(
        id=exercise.id,
        title=exercise.title,
        skill=exercise.skill,
        shows=exercise.shows,
        after=exercise.after,
        material=exercise.material,
        steps=exercise.steps,
        marks=marks,
        sequential=_rising([_in_turn(exercise, test, each) for each in ALLOWED_FAULTS], exercise),
        hours=marks[0].joints * exercise.joint_minutes / 60,
        price=marks[0].joints * exercise.joint_price,
        unlocks=exercise.unlocks,
        notes=exercise.notes,
        missing_notes=tuple(n for n in exercise.notes if n not in builder.acknowledged),
        state="claimed" if claimed else "believed" if believed else "open",
        joints=joints,
        faults=faults,
        fault_bound=upper_bound(faults, joints, data.confidence) if joints else 1.0,
        skill_title=levels.skill(exercise.skill).title,
        joints_per_part=exercise.joints_per_part,
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


def pass_marks(exercise: Exercise, rate: float, confidence: float) -> tuple[PassMark, ...]:
    """Marks for no, one and two faults more than the least work of the exercise allows; each
    fault asks for more than the one before."""
    free = _free(exercise, rate, confidence)
    marks = [part_mark(exercise, rate, confidence, free + each) for each in ALLOWED_FAULTS]
    each = exercise.joints_per_part
    risen = _rising([mark.joints for mark in marks], exercise)
    return tuple(
        replace(mark, joints=joints, parts=joints // each if mark.parts else 0)
        for mark, joints in zip(marks, risen, strict=True)
    )


def _free(exercise: Exercise, rate: float, confidence: float) -> int:
    """Faults that the fewest parts of an exercise may have and still show the rate: where a
    hundred joints are made, one at a fine pitch may fail."""
    joints, faults = exercise.least_parts * exercise.joints_per_part, 0
    if exercise.whole_part or exercise.joints_per_part == 1:
        return 0
    while upper_bound(faults + 1, joints, confidence) <= rate:
        faults += 1
    return faults


def _rising(joints: Sequence[int], exercise: Exercise) -> tuple[int, ...]:
    found: list[int] = []
    for number in joints:
        least = found[-1] + exercise.joints_per_part if found else 0
        found.append(max(number, least))
    return tuple(found)


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


def record_of(builder: Builder, skill: str) -> tuple[int, int]:
    """Joints and faults recorded for a skill."""
    records = [record for record in builder.records if record.skill == skill]
    return sum(r.joints for r in records), sum(r.faults for r in records)
