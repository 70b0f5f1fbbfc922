"""What is left of a build's risk, given what was done, looked at, found and tested so far.

Every job brings a hazard of ending the kit. What was seen changes it: a fault that a look
or a gate would have shown with some chance, and did not, is less likely by Bayes' rule,
never impossible; an open fault is certain; a failed gate makes what it covers suspect.
Hazards are scaled by the ratio of after to before, so that an untouched build stands
exactly at its forecast.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solderrisk.journal.state import BuildState, JobState
from solderrisk.model.base import Parameters
from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Footprint
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import FaultMode
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.results import Assessment
from solderrisk.risk.detection import able, known_ways, shares
from solderrisk.risk.results import JobRisk, Range

Floats = NDArray[np.float64]

NOTHING = Range(0.0, 0.0, 0.0)
LOW, HIGH = 0.05, 0.95
_TINY = 1e-12


@dataclass(frozen=True)
class Standing:
    """Where a build stands. ``hours`` are those left; ``suspects``: after a failed gate, jobs
    by the chance that they hold what it showed, worst first; ``hazard``: by job key, what is
    left of the forecast's hazard (1 untouched, above 1 worse); ``ask``: jobs whose lost part
    asks for a spare, another one, or the end."""

    chance: Range
    loss: Range
    hours: Range
    suspects: tuple[tuple[str, float], ...]
    hazard: Mapping[str, float]
    ask: tuple[str, ...]


@dataclass(frozen=True)
class Fate:
    """What becomes of one fault of a mode. ``eye``: share that a look finds; ``seen`` and
    ``unseen``: chance that it ends the kit, found by a look or not; ``shows``: chance that
    it keeps something from working, which a gate can notice."""

    eye: float
    seen: float
    unseen: float
    shows: float


Fates = Mapping[str, Mapping[str, Fate]]  # by job key, then by mode


def fates_of(assessment: Assessment, reference: Reference) -> Fates:
    """What becomes of each fault of each soldered job; the same until the plan changes."""
    dealt: dict[Footprint, dict[str, float]] = {}
    can = able(assessment.bench, reference)
    found = {}
    for risk in assessment.risk.jobs:
        part = risk.job.footprint
        if part is not None and part not in dealt:
            dealt[part] = dict(shares(known_ways(part, reference), can))
        found[risk.job.key] = {
            mode.mode: fate_of(
                reference.risk.faults[mode.mode], risk, assessment.bench, reference,
                dealt[part].get(mode.mode, 1.0) if part is not None else 1.0,
            )
            for mode in (() if risk.blocked else risk.chosen.modes)
        }  # fmt: skip
    return found


def standing(
    assessment: Assessment, reference: Reference, state: BuildState, fates: Fates | None = None
) -> Standing:
    """The chance, the loss and the hours from here on. ``fates``: kept from ``fates_of``."""
    a = assessment
    known = fates_of(a, reference) if fates is None else fates
    bearers = {
        risk.job.key: _Bearer(risk, a, reference, state, known[risk.job.key])
        for risk in a.risk.jobs
    }
    hazards = {key: bearer.after for key, bearer in bearers.items()}
    suspects = _suspects(a, reference, state, bearers)
    for key, holds in suspects.items():
        hazards[key] *= max(holds / max(bearers[key].shows, _TINY), 1.0)
    ratio = {
        key: hazards[key] / bearer.before if bearer.before > 0 else 1.0
        for key, bearer in bearers.items()
    }
    dead = state.hopeless or any(_no_way_on(a, state, key) for key in state.unsettled)
    chance, samples = _chance(a, ratio, dead)
    ranked = sorted(suspects.items(), key=lambda item: (-item[1], item[0]))
    return Standing(
        chance=chance,
        loss=_loss(a, ratio, samples, _stake(a, reference, state)),
        hours=_hours(a, reference, state),
        suspects=tuple(ranked),
        hazard=ratio,
        ask=state.unsettled,
    )


class _Bearer:
    """A soldered job's hazard before and after what is known; ``shows``: chance that it now
    holds a fault which a gate could notice."""

    def __init__(
        self,
        risk: JobRisk,
        a: Assessment,
        reference: Reference,
        state: BuildState,
        fates: Mapping[str, Fate],
    ) -> None:
        job = state.jobs.get(risk.job.key) or JobState(risk.job.key)
        passed = _passed_after(a, reference.risk.parameters, state, job)
        self.before = self.after = self.shows = 0.0
        for mode in risk.chosen.modes if not risk.blocked else ():
            if mode.severity == "cosmetic":
                continue
            fate = fates[mode.mode]
            p, count = mode.each.mid, mode.opportunities
            self.before += count * p * (fate.eye * fate.seen + (1 - fate.eye) * fate.unseen)
            open_faults = min(job.open.get(mode.mode, 0), count)
            known = sum(f.times for f in job.faults if f.mode == mode.mode) if job.done else 0
            self.after += open_faults * fate.seen
            count = max(count - known, 0)
            if job.done:
                p = _unseen(p, fate.eye) if job.looked > 0 else p
                for finds in passed:
                    p = _unseen(p, finds * fate.shows)
            looked = bool(job.done and job.looked)
            still = fate.unseen if looked else fate.eye * fate.seen + (1 - fate.eye) * fate.unseen
            self.after += count * p * still
            if job.done:
                self.shows += count * p * fate.shows + open_faults


def _unseen(p: float, finds: float) -> float:
    """Bayes' rule: a fault of chance ``p`` that did not show where it would have with chance
    ``finds``."""
    return p * (1 - finds) / max(1 - p * finds, _TINY)


def _passed_after(a: Assessment, data: Parameters, state: BuildState, job: JobState) -> list[float]:
    """Shares that the gates passed since the job was done find of what it holds."""
    found = []
    for planned in state.sheet.jobs:
        gate = state.jobs[planned.key]
        if gate.passed and job.done and gate.done > job.done and job.key in planned.covers:
            found.append(_finds(a, data, planned.key))
    return found


def _finds(a: Assessment, data: Parameters, key: str) -> float:
    gate = next((job.gate for job in a.jobs if job.key == key), None)
    if gate is None:
        return 0.0
    return data[f"gate_{gate.kind}"] if gate.finds is None else gate.finds


def fate_of(
    kind: FaultMode, risk: JobRisk, bench: Bench, reference: Reference, dealt: float = 1.0
) -> Fate:
    """What becomes of one fault of this kind, by the same figures as the forecast. ``dealt``:
    share of such faults that this bench can deal with at all."""
    data = reference.risk.parameters
    eye = kind.seen * data["look_finds"] * _sees(risk, data)
    hunt = data["hunt_meter" if bench.has("multimeter") else "hunt_bare"]
    success = data["mend_success"]
    fatal = data["pad_damage"] * data["pad_damage_fatal"]
    again = max(1 - success - fatal, 0.0)
    tries = round(data["mend_tries"])
    destroyed = sum(fatal * again**n for n in range(tries))
    fails = dealt * (destroyed + again**tries * kind.harm) + (1 - dealt) * kind.harm
    seen = kind.part_share + (1 - kind.part_share) * fails
    missed = hunt * fails + (1 - hunt) * kind.harm
    killed = kind.part_share + (1 - kind.part_share) * kind.powered_share
    unseen = killed + (1 - killed) * missed
    return Fate(eye, seen, unseen, max(kind.harm, kind.part_share))


def _sees(risk: JobRisk, data: Parameters) -> float:
    """Share of a good look that magnification and the part's body leave."""
    sight, footprint = risk.chosen.sight, risk.job.footprint
    power = 1.0
    if sight is not None and sight.needed_x > 0:
        power = min(1.0, sight.have_x / sight.needed_x) ** data["look_power"]
    kinds = {group.kind for group in footprint.pads} if footprint is not None else set()
    hidden = data["ball_seen"] if "ball" in kinds else 1.0
    return power * min(hidden, data["hidden_seen"] if "no_lead" in kinds else 1.0)


def _suspects(
    a: Assessment, reference: Reference, state: BuildState, bearers: Mapping[str, _Bearer]
) -> dict[str, float]:
    """After a failed gate that no fault found since explains: the chance, by Bayes' rule,
    that each covered job holds one."""
    found: dict[str, float] = {}
    for planned in state.sheet.jobs:
        gate = state.jobs[planned.key]
        if gate.passed is not False:
            continue
        failed = max(
            e.number for e in state.events if e.kind == "gate" and e.body["key"] == planned.key
        )
        covered = [key for key in planned.covers if key in bearers and state.jobs[key].done]
        if any(fault.number > failed for key in covered for fault in state.jobs[key].faults):
            continue
        finds = max(_finds(a, reference.risk.parameters, planned.key), _TINY)
        shows = {key: -math.expm1(-bearers[key].shows) for key in covered}
        quiet = math.prod(1 - finds * q for q in shows.values())
        if quiet >= 1 - _TINY:
            continue
        for key, q in shows.items():
            others = quiet / max(1 - finds * q, _TINY)
            after = q * (1 - (1 - finds) * others) / (1 - quiet)
            found[key] = max(found.get(key, 0.0), min(after, 1.0))
    return found


def _no_way_on(a: Assessment, state: BuildState, key: str) -> bool:
    job = next((job for job in a.jobs if job.key == key), None)
    fed = {j.feeds for j in a.jobs if j.irreplaceable and j.feeds}
    if job is None or not (job.irreplaceable or key in fed):
        return False
    return sum(1 for what in state.jobs[key].lost if what == "part") > job.spares


def _chance(a: Assessment, ratio: Mapping[str, float], dead: bool) -> tuple[Range, Floats]:
    samples = a.risk.working_samples
    if dead or samples is None or not len(samples):
        return NOTHING, np.zeros(1)
    shares = a.risk.fail_share
    total = sum(shares.values())
    scale = sum(share * ratio.get(key, 1.0) for key, share in shares.items())
    scale += max(1.0 - total, 0.0)
    with np.errstate(divide="ignore"):
        left = np.exp(np.log(np.maximum(samples, 1e-300)) * scale)
    low, high = np.quantile(left, (LOW, HIGH))
    return Range(float(low), float(left.mean()), float(high)), left


def _loss(a: Assessment, ratio: Mapping[str, float], samples: Floats, stake: float) -> Range:
    """Money for parts shrinks with the hazard that is left; the stake goes with the chance."""
    shares = a.risk.fail_share
    left = a.risk.ruined.mid * min(
        sum(share * ratio.get(key, 1.0) for key, share in shares.items()), 1.0
    )
    lost = left + stake * (1 - samples)
    low, high = np.quantile(lost, (LOW, HIGH))
    return Range(float(low), float(lost.mean()), float(high))


def _stake(a: Assessment, reference: Reference, state: BuildState) -> float:
    """What has gone in by the time the build turns out not to work, what is done with it."""
    worth, done = (
        reference.risk.parameters["hour_value"],
        [k for k in a.order.keys if state.jobs[k].done],
    )
    task = OrderTask(a.jobs, a.kit, a.risk, reference.plan.parameters, worth, done)
    rest = [key for key in a.order.keys if key not in set(done)]
    lost = task.lost((*done, *rest), a.order.edges.binding(done))
    return lost.sunk / lost.fails if lost.fails > 0 else 0.0


def _hours(a: Assessment, reference: Reference, state: BuildState) -> Range:
    low = mid = high = 0.0
    for job in a.jobs:
        now = state.jobs.get(job.key)
        if now is not None and now.done:
            mending = sum(
                count * reference.risk.faults[mode].mend_minutes for mode, count in now.open.items()
            )
            low, mid, high = low + mending, mid + mending, high + mending
            continue
        risk = a.risk.by_key.get(job.key)
        if risk is None:
            low, mid, high = low + job.minutes, mid + job.minutes, high + job.minutes
        elif not risk.blocked:
            took = risk.chosen.minutes
            low, mid, high = low + took.low, mid + took.mid, high + took.high
    return Range(low / 60, mid / 60, high / 60)
