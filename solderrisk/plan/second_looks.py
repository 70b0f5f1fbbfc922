"""Second looks: what a check by somebody else, a meter or a gate is worth."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from solderrisk.model.bench import Bench
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Gate
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.plan.results import SecondLook
from solderrisk.risk.engine import RiskEngine

# Groups of alike jobs that are tried, the riskiest first; the rest cannot matter more.
MOST_GROUPS = 12
SAMPLES = 1000
SMALLEST_GAIN = 0.0005
KINDS: tuple[Literal["second_person", "continuity"], ...] = ("second_person", "continuity")


@dataclass(frozen=True)
class _Trial:
    """A question that is asked again with one check more or less."""

    question: Question
    engine: RiskEngine
    run: Run

    def chance(self, **changes: Any) -> float:
        self.run.check()
        return self.engine.chances(self.question.but(**changes)).working.mid

    def without(self, gate: Gate) -> float:
        """The chance if this gate found nothing. The gate itself stays: rules name it."""
        kit = self.question.kit
        gates = tuple(
            each.model_copy(update={"finds": 0.0}) if each.ref == gate.ref else each
            for each in kit.gates
        )
        return self.chance(kit=kit.model_copy(update={"gates": gates}))


def second_looks(
    question: Question, engine: RiskEngine, run: Run = ALONE
) -> tuple[SecondLook, ...]:
    """What each check adds to the chance of a working result, best first.

    A gate is worth what the chance falls without it. Checks that the bench gives to every
    job anyway (a second person at hand) gain nothing and are left out.

    Techniques stay as they are chosen: what differs is the check alone.

    Raises:
        Stopped: the caller wants no more.
    """
    question = question.but(looks=(), samples=SAMPLES)
    found = engine.chances(question)
    question = question.but(pins=tuple(found.techniques.items()))
    by_key = {job.key: job for job in question.jobs}
    groups = _groups([by_key[key] for key, share in found.decisive if share > 0])
    trial, base = _Trial(question, engine, run), found.working.mid
    looks = [*_checks(trial, groups, base), *_gates(trial, base)]
    worth = [look for look in looks if look.gain >= SMALLEST_GAIN]
    return tuple(sorted(worth, key=lambda look: (-look.gain, look.key, look.kind)))


def _groups(ranked: Iterable[Job]) -> list[list[Job]]:
    groups: dict[Job, list[Job]] = {}
    for job in ranked:
        groups.setdefault(job.alike, []).append(job)
    return list(groups.values())[:MOST_GROUPS]


def _checks(trial: _Trial, groups: list[list[Job]], base: float) -> Iterable[SecondLook]:
    data = trial.question.reference.plan.costs
    for number, group in enumerate(groups):
        trial.run.tell(number / len(groups), "trying second looks")
        joints = sum(job.footprint.joint_count for job in group if job.footprint)
        refs = tuple(job.ref for job in group)
        for kind in KINDS:
            if not _possible(kind, group[0], trial.question.bench):
                continue
            gain = trial.chance(looks=tuple((job.key, (kind,)) for job in group)) - base
            minutes = joints * data[f"{kind}_minutes_per_joint"]
            yield SecondLook(group[0].key, kind, gain, minutes, refs)


def _possible(kind: str, job: Job, bench: Bench) -> bool:
    if kind == "second_person":
        return not bench.has("second_person")
    # A lifted part has no joints to measure yet.
    return job.kind != "lift" and bench.has("multimeter")


def _gates(trial: _Trial, base: float) -> Iterable[SecondLook]:
    for gate in trial.question.kit.gates:
        gain = base - trial.without(gate)
        yield SecondLook(f"gate:{gate.ref}", "gate", gain, gate.minutes, title=gate.title)
