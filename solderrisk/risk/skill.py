"""What is believed of a person's hands: faults per ordinary joint as a Beta distribution.

The self-described level gives the prior; records update it, older joints weigh less.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from solderrisk.model.builder import Builder, Level, Record
from solderrisk.model.parameters import Parameters
from solderrisk.model.risk_data import LevelPrior, RiskData
from solderrisk.risk.yields import learning_factor
from solderrisk.words import LEVEL_WORDS


@dataclass(frozen=True)
class Belief:
    """Beta(``a``, ``b``) of faults per ordinary joint. ``note`` says what it rests on."""

    a: float
    b: float
    note: str = ""

    @property
    def mean(self) -> float:
        return self.a / (self.a + self.b)


def prior_of(level: LevelPrior) -> Belief:
    return Belief(level.faults_a, level.faults_b, f"{LEVEL_WORDS[level.level]}, no record")


def updated(prior: Belief, records: tuple[Record, ...], forgetting: float) -> Belief:
    """The belief after records, in their order. The prior itself is not forgotten, so
    joints without a fault never make it worse."""
    if not records:
        return prior
    bad, good = 0.0, 0.0
    for record in records:
        kept = forgetting**record.joints
        # Weight of the record's own joints, the last one counting 1.
        weight = (1 - kept) / (1 - forgetting) if forgetting < 1 else float(record.joints)
        share = min(record.faults / record.joints, 1.0)
        bad = bad * kept + weight * share
        good = good * kept + weight * (1 - share)
    faults = sum(record.faults for record in records)
    joints = sum(record.joints for record in records)
    return Belief(prior.a + bad, prior.b + good, f"your record {faults} in {joints}")


def practised(belief: Belief, done: float, more: float, rate: float) -> Belief:
    """What to expect after ``more`` joints of practice: the mean falls along the learning
    curve, the doubt (``a``) stays. For planning only; a claim needs a record."""
    if more <= 0:
        return belief
    mean = belief.mean * learning_factor(done, more, rate)
    b = belief.a * (1 - mean) / mean
    return Belief(belief.a, b, f"{belief.note}; {more:.0f} joints of practice planned")


def beliefs_of(
    builder: Builder,
    data: RiskData,
    *,
    practice: Mapping[str, float] | None = None,
) -> dict[str, Belief]:
    """The belief for every skill. ``practice`` maps skills to joints that are planned.

    Raises:
        KeyError: a record, level or plan names a skill that does not exist.
    """
    planned = practice or {}
    for name in (*(r.skill for r in builder.records), *(s.skill for s in builder.skills), *planned):
        data.levels.skill(name)
    found = {}
    for skill in data.levels.skills:
        level = data.levels.prior(builder.level_of(skill.id))
        records = tuple(sorted(
            (r for r in builder.records if r.skill == skill.id), key=lambda r: r.date or ""
        ))  # fmt: skip
        belief = updated(prior_of(level), records, data.parameters["forgetting"])
        done = level.joints_done + sum(record.joints for record in records)
        found[skill.id] = practised(
            belief, done, planned.get(skill.id, 0.0), data.parameters["learning_rate"]
        )
    return found


def beliefs_at(level: Level, data: RiskData) -> dict[str, Belief]:
    """The belief for every skill of somebody at a level, without any record."""
    belief = prior_of(data.levels.prior(level))
    return {skill.id: belief for skill in data.levels.skills}


@dataclass(frozen=True)
class Skilled:
    """The level that a job asks for, and what was asked of it; no level where blocked."""

    level: Level | None = None
    why: str = ""


NOBODY = Skilled()


def skill_needed(chances: Mapping[Level, float], data: Parameters) -> Skilled:
    """The lowest level at which a job works in the end often enough.

    ``chances``: of the best technique on the bench, by level from least to most done; all 0
    where the job is blocked. Enough is ``placement_chance``, or less where the job has risks
    that no skill removes (a lifted part that was dead, corrosion): then within
    ``skill_slack`` of what the highest level reaches.
    """
    wanted, slack = data["placement_chance"], data["skill_slack"]
    top, best = list(chances.items())[-1]
    if best <= 0.0:
        return NOBODY
    enough = min(wanted, best - slack)
    level = next(level for level, chance in chances.items() if chance >= enough)
    if enough == wanted:
        return Skilled(level, f"{100 * wanted:.3g} % asked")
    return Skilled(
        level, f"within {100 * slack:g} % of the {100 * best:.1f} % that {top} hands reach"
    )
