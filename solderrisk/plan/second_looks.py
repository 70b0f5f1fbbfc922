"""Second looks: what a check by somebody else, a meter or a gate is worth."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.bench import Bench
from solderrisk.model.builder import Builder
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Gate, Kit
from solderrisk.model.library import Library
from solderrisk.model.reference import Reference
from solderrisk.plan.results import SecondLook
from solderrisk.risk.engine import Chances, RiskEngine, Stopped
from solderrisk.words import about_minutes

Looks = Mapping[str, Collection[str]]

# Groups of alike jobs that are tried, the riskiest first; the rest cannot matter more.
MOST_GROUPS = 12
SAMPLES = 1000
SMALLEST_GAIN = 0.0005
KINDS = {"second_person": "look by another person", "continuity": "continuity check with a meter"}


@dataclass(frozen=True)
class _Question:
    """Everything that stays the same while checks are tried one by one."""

    kit: Kit
    jobs: Sequence[Job]
    bench: Bench
    builder: Builder
    library: Library
    engine: RiskEngine
    seed: int

    def found(self, looks: Looks) -> Chances:
        """The answer for this kit with some further checks."""
        return self._chances(self.kit, self.jobs, looks)

    def without(self, gate: Gate) -> float:
        """The chance if this gate found nothing. The gate itself stays: rules name it."""
        gates = tuple(
            each.model_copy(update={"finds": 0.0}) if each.ref == gate.ref else each
            for each in self.kit.gates
        )
        kit = self.kit.model_copy(update={"gates": gates})
        return self._chances(kit, jobs_of(kit, self.library), {}).working.mid

    def _chances(self, kit: Kit, jobs: Sequence[Job], looks: Looks) -> Chances:
        return self.engine.chances(
            jobs, kit, self.bench, self.builder, samples=SAMPLES, seed=self.seed, looks=looks
        )


def second_looks(
    kit: Kit,
    bench: Bench,
    builder: Builder,
    library: Library,
    reference: Reference,
    *,
    engine: RiskEngine | None = None,
    seed: int = 20,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[SecondLook, ...]:
    """What each check adds to the chance of a working result, best first.

    A gate is worth what the chance falls without it. Checks that the bench gives to every
    job anyway (a second person at hand) gain nothing and are left out.

    Raises:
        Stopped: ``cancelled`` said so.
    """
    engine = engine or RiskEngine(reference)
    jobs = jobs_of(kit, library)
    question = _Question(kit, jobs, bench, builder, library, engine, seed)
    found = question.found({})
    by_key = {job.key: job for job in jobs}
    groups = _groups([by_key[key] for key, share in found.decisive if share > 0])
    looks = [
        *_checks(question, groups, found.working.mid, reference, cancelled),
        *_gates(question, found.working.mid, cancelled),
    ]
    worth = [look for look in looks if look.gain >= SMALLEST_GAIN]
    return tuple(sorted(worth, key=lambda look: (-look.gain, look.key, look.kind)))


def _groups(ranked: Iterable[Job]) -> list[list[Job]]:
    groups: dict[Job, list[Job]] = {}
    for job in ranked:
        groups.setdefault(job.alike, []).append(job)
    return list(groups.values())[:MOST_GROUPS]


def _checks(
    question: _Question,
    groups: list[list[Job]],
    base: float,
    reference: Reference,
    cancelled: Callable[[], bool] | None,
) -> Iterable[SecondLook]:
    data = reference.plan.costs
    for group in groups:
        joints = sum(job.footprint.joint_count for job in group if job.footprint)
        refs = ", ".join(job.ref for job in group[:4]) + (" and others" if len(group) > 4 else "")
        for kind in ("second_person", "continuity"):
            if not _possible(kind, group[0], question.bench):
                continue
            if cancelled is not None and cancelled():
                raise Stopped("stopped")
            gain = question.found({job.key: (kind,) for job in group}).working.mid - base
            minutes = joints * data[f"{kind}_minutes_per_joint"]
            text = f"{KINDS[kind]} of {refs}: {100 * gain:+.1f} % for {about_minutes(minutes)}"
            yield SecondLook(group[0].key, kind, gain, minutes, text)


def _possible(kind: str, job: Job, bench: Bench) -> bool:
    if kind == "second_person":
        return not bench.has("second_person")
    # A lifted part has no joints to measure yet.
    return job.kind != "lift" and bench.has("multimeter")


def _gates(
    question: _Question, base: float, cancelled: Callable[[], bool] | None
) -> Iterable[SecondLook]:
    for gate in question.kit.gates:
        if cancelled is not None and cancelled():
            raise Stopped("stopped")
        gain = base - question.without(gate)
        text = f"gate '{gate.title}': worth {100 * gain:+.1f} % for {about_minutes(gate.minutes)}"
        yield SecondLook(f"gate:{gate.ref}", "gate", gain, gate.minutes, text)
