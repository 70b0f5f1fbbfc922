"""What is left of a build's risk, given what was done, looked at, found and tested so far.

Every job brings a hazard of ending the kit. What was seen changes it: a fault that a look
or a gate would have shown with some chance, and did not, is less likely by Bayes' rule,
never impossible; an open fault is certain; a failed gate makes what it covers suspect.
Hazards are scaled by the ratio of after to before, so that an untouched build stands
exactly at its forecast. What was seen also tells of the hand and of the numbers that nobody
measured: each sample counts by how likely it made that, for what is still to do as well.
How well looks and gates find is taken as stated.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

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
from solderrisk.risk.roll_up import tempered

Floats = NDArray[np.float64]

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

    @property
    def left(self) -> float:
        """Chance that it ends the kit, before anybody looks."""
        return self.eye * self.seen + (1 - self.eye) * self.unseen


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
    seen = _Seen(a, reference, state, fates_of(a, reference) if fates is None else fates)
    told = {
        risk.job.key: _Bearer(risk, seen, {m.mode: m.each.mid for m in risk.chosen.modes})
        for risk in a.risk.jobs
    }
    suspects = _suspects(seen.failed(told))
    dead = state.hopeless or any(_no_way_on(a, state, key) for key in state.unsettled)
    left = _left(seen, dead)
    ranked = sorted(
        ((key, float(holds)) for key, holds in suspects.items()),
        key=lambda item: (-item[1], item[0]),
    )
    return Standing(
        chance=left.chance,
        loss=left.loss(a, _stake(a, reference, state)),
        hours=_hours(a, reference, state),
        suspects=tuple(ranked),
        hazard={key: float(bearer.ratio(suspects.get(key))) for key, bearer in told.items()},
        ask=state.unsettled,
    )


Amount = float | Floats  # in the middle, or by sample


class _Bearer:
    """A soldered job's hazard before and after what is known; ``shows``: chance that it now
    holds a fault which a gate could notice; ``likely``: logarithm of the chance of what was
    seen of it. ``chances``: of each mode, per opportunity."""

    def __init__(self, risk: JobRisk, seen: _Seen, chances: Mapping[str, Amount]) -> None:
        job = seen.job(risk.job.key)
        passed = seen.passed_after(job)
        as_planned = not job.technique or job.technique == risk.chosen.technique
        self.before: Amount = 0.0
        self.after: Amount = 0.0
        self.shows: Amount = 0.0
        self.likely: Amount = 0.0
        for mode in risk.chosen.modes if not risk.blocked else ():
            fate, p = seen.fates[risk.job.key][mode.mode], chances[mode.mode]
            count, still = mode.opportunities, fate.left
            found = sum(f.times for f in job.faults if f.mode == mode.mode)
            kept = max(count - found, 0) if job.done else count
            finds = [fate.eye] if job.done and job.looked else []
            finds += [share * fate.shows for share in passed]
            missed = p
            for share in finds:
                missed = _unseen(missed, share)
            if as_planned:
                quiet = 1 - math.prod(1 - share for share in finds)
                self.likely = self.likely + found * np.log(np.maximum(p, _TINY))
                self.likely = self.likely + kept * np.log1p(-p * quiet)
            if mode.severity == "cosmetic":
                continue
            self.before = self.before + count * p * still
            open_faults = min(job.open.get(mode.mode, 0), count)
            if job.done and job.looked:
                still = fate.unseen
            self.after = self.after + open_faults * fate.seen + kept * missed * still
            if job.done:
                self.shows = self.shows + kept * missed * fate.shows + open_faults

    def ratio(self, holds: Amount | None) -> Amount:
        """Of the hazard after to before. ``holds``: chance that it holds what a gate showed."""
        more = 1.0 if holds is None else np.maximum(holds / np.maximum(self.shows, _TINY), 1.0)
        before = np.maximum(self.before, _TINY)
        return np.where(np.asarray(self.before) > 0, self.after * more / before, 1.0)


@dataclass(frozen=True)
class _Seen:
    """What is known of a build, and what becomes of its faults."""

    a: Assessment
    reference: Reference
    state: BuildState
    fates: Fates

    def job(self, key: str) -> JobState:
        return self.state.jobs.get(key) or JobState(key)

    def touched(self, key: str) -> bool:
        job = self.job(key)
        return bool(job.done or job.faults)

    def finds(self, key: str) -> float:
        """Share of what shows that a gate finds."""
        gate = next((job.gate for job in self.a.jobs if job.key == key), None)
        if gate is None:
            return 0.0
        kind = self.reference.risk.parameters[f"gate_{gate.kind}"]
        return kind if gate.finds is None else gate.finds

    def passed_after(self, job: JobState) -> list[float]:
        """Shares that the gates passed since the job was done find of what it holds."""
        found = []
        for planned in self.state.sheet.jobs:
            gate = self.state.jobs[planned.key]
            if gate.passed and job.done and gate.done > job.done and job.key in planned.covers:
                found.append(self.finds(planned.key))
        return found

    def failed(self, bearers: Mapping[str, _Bearer]) -> Iterable[_Failed]:
        """Gates that failed and that no fault found since explains."""
        for planned in self.state.sheet.jobs:
            if self.state.jobs[planned.key].passed is not False:
                continue
            failed = max(
                e.number
                for e in self.state.events
                if e.kind == "gate" and e.body["key"] == planned.key
            )
            covered = [k for k in planned.covers if k in bearers and self.state.jobs[k].done]
            if any(f.number > failed for key in covered for f in self.state.jobs[key].faults):
                continue
            finds = max(self.finds(planned.key), _TINY)
            yield _Failed(finds, {key: -np.expm1(-bearers[key].shows) for key in covered})


@dataclass(frozen=True)
class _Failed:
    """A failed gate: the share that it ``finds``, and the chance of each job under it that it
    holds something."""

    finds: float
    shows: dict[str, Amount]

    @cached_property
    def quiet(self) -> Amount:
        """Chance that it would have passed."""
        return math.prod(1 - self.finds * q for q in self.shows.values())


def _suspects(failed: Iterable[_Failed]) -> dict[str, Amount]:
    """The chance, by Bayes' rule, that each job under a failed gate holds a fault."""
    found: dict[str, Amount] = {}
    for gate in failed:
        if np.all(gate.quiet >= 1 - _TINY):
            continue
        for key, q in gate.shows.items():
            others = gate.quiet / np.maximum(1 - gate.finds * q, _TINY)
            after = q * (1 - (1 - gate.finds) * others) / np.maximum(1 - gate.quiet, _TINY)
            found[key] = np.maximum(found.get(key, 0.0), np.minimum(after, 1.0))
    return found


@dataclass(frozen=True)
class _Left:
    """By sample what counts, the chance from here on, and the share of the hazard left."""

    weights: Floats
    works: Floats
    hazard: Floats

    @property
    def chance(self) -> Range:
        return _weighed(self.works, self.weights)

    def loss(self, a: Assessment, stake: float) -> Range:
        """Money for parts shrinks with the hazard that is left; the stake goes with the chance."""
        ruined = a.risk.ruined_samples
        money = a.risk.ruined.mid if ruined is None or len(self.works) == 1 else ruined
        return _weighed(
            money * np.minimum(self.hazard, 1.0) + stake * (1 - self.works), self.weights
        )


def _left(seen: _Seen, dead: bool) -> _Left:
    risk = seen.a.risk
    samples = risk.working_samples
    if dead or samples is None or not len(samples):
        return _Left(np.ones(1), np.zeros(1), np.zeros(1))
    before = -np.log(np.maximum(samples, 1e-300))
    bearers, fails = {}, {}
    for one in risk.jobs:
        key = one.job.key
        drawn = risk.drawn(key) if risk.drawn is not None and seen.touched(key) else None
        if drawn is not None:
            bearers[key], fails[key] = _Bearer(one, seen, drawn.chances), drawn.fails
    failed = list(seen.failed(bearers))
    suspects = _suspects(failed)
    logs, hazard = np.zeros(len(samples)), before.copy()
    for key, bearer in bearers.items():
        logs += bearer.likely
        hazard += fails[key] * (bearer.ratio(suspects.get(key)) - 1)
    for gate in failed:
        logs += np.log(np.maximum(1 - gate.quiet, _TINY))
    hazard = np.maximum(hazard, 0.0)
    weights = tempered(logs, seen.reference.risk.parameters["recorded_least_share"])
    return _Left(weights, np.exp(-hazard), hazard / np.maximum(before, _TINY))


def _weighed(values: Floats, weights: Floats) -> Range:
    """Mean, 5 % and 95 % points of values that do not count alike."""
    order = np.argsort(values, kind="stable")
    ordered, share = values[order], weights[order] / weights.sum()
    low, high = np.interp((LOW, HIGH), np.cumsum(share) - share / 2, ordered)
    mean = float(ordered @ share)
    return Range(min(float(low), mean), mean, max(float(high), mean))


def _unseen(p: Amount, finds: float) -> Amount:
    """Bayes' rule: a fault of chance ``p`` that did not show where it would have with chance
    ``finds``."""
    return p * (1 - finds) / np.maximum(1 - p * finds, _TINY)


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


def _no_way_on(a: Assessment, state: BuildState, key: str) -> bool:
    job = next((job for job in a.jobs if job.key == key), None)
    fed = {j.feeds for j in a.jobs if j.irreplaceable and j.feeds}
    if job is None or not (job.irreplaceable or key in fed):
        return False
    return sum(1 for what in state.jobs[key].lost if what == "part") > job.spares


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
