"""Second looks: what a check by somebody else, a meter or a gate is worth."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from solderrisk.model.bench import Bench
from solderrisk.model.builder import Builder
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.reference_set import Reference
from solderrisk.plan.results import SecondLook
from solderrisk.plan.spoken import minutes_text
from solderrisk.risk.kit import RiskEngine, Stopped

Looks = Mapping[str, Collection[str]]

# Groups of alike jobs that are tried, the riskiest first; the rest cannot matter more.
MOST_GROUPS = 12
SMALLEST_GAIN = 0.0005
KINDS = {"second_person": "look by another person", "continuity": "continuity check with a meter"}


@dataclass(frozen=True)
class _Question:
    """Everything that stays the same while checks are tried one by one."""

    kit: Kit
    bench: Bench
    builder: Builder
    library: Library
    engine: RiskEngine
    seed: int

    def working(self, looks: Looks, kit: Kit | None = None) -> float:
        kit = kit or self.kit
        jobs = jobs_of(kit, self.library)
        return self.engine.chances(
            jobs, kit, self.bench, self.builder, samples=1000, seed=self.seed, looks=looks
        ).working.mid


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
    question = _Question(kit, bench, builder, library, engine, seed)
    jobs = jobs_of(kit, library)
    found = engine.chances(jobs, kit, bench, builder, samples=1000, seed=seed)
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
            gain = question.working({job.key: (kind,) for job in group}) - base
            minutes = joints * data[f"{kind}_minutes_per_joint"]
            text = f"{KINDS[kind]} of {refs}: {100 * gain:+.1f} % for {minutes_text(minutes)}"
            yield SecondLook(group[0].key, kind, gain, minutes, text)


def _possible(kind: str, job: Job, bench: Bench) -> bool:
    if kind == "second_person":
        return not bench.has("second_person")
    # A lifted part has no joints to measure yet.
    return job.kind != "lift" and bench.has("multimeter")


def _gates(
    question: _Question, base: float, cancelled: Callable[[], bool] | None
) -> Iterable[SecondLook]:
    kit = question.kit
    for gate in kit.gates:
        if cancelled is not None and cancelled():
            raise Stopped("stopped")
        # Rules and gates that name it would dangle: only its own finding power is taken away.
        without = tuple(
            g.model_copy(update={"finds": 0.0}) if g.ref == gate.ref else g for g in kit.gates
        )
        gain = base - question.working({}, kit.model_copy(update={"gates": without}))
        text = f"gate '{gate.title}': worth {100 * gain:+.1f} % for {minutes_text(gate.minutes)}"
        yield SecondLook(f"gate:{gate.ref}", "gate", gain, gate.minutes, text)
