"""How far the chance moves with each assumed number: what the answer really rests on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from solderrisk.model.bench import Bench
from solderrisk.model.builder import Builder
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.reference import Reference
from solderrisk.risk.engine import RiskEngine, Stopped

# Enough to tell effects apart, with common random numbers for all.
SAMPLES = 500
LEAST_EFFECT = 5e-4
FINALISTS = 2  # tried at both ends, times as many as are asked for

Progress = Callable[[float, str], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True)
class Effect:
    """The chance of a working result with one number at either end of its range."""

    name: str
    at_low: float
    at_high: float

    @property
    def width(self) -> float:
        return abs(self.at_high - self.at_low)


@dataclass(frozen=True)
class _Asked:
    """The question whose answer is tried with other numbers."""

    jobs: Sequence[Job]
    kit: Kit
    bench: Bench
    builder: Builder
    reference: Reference

    def chance(self, name: str, value: float) -> float:
        moved = RiskEngine(self.reference.assuming({name: value}))
        found = moved.chances(self.jobs, self.kit, self.bench, self.builder, samples=SAMPLES)
        return found.working.mid


def sensitivity(
    jobs: Sequence[Job],
    kit: Kit,
    bench: Bench,
    builder: Builder,
    reference: Reference,
    engine: RiskEngine,
    names: Sequence[str],
    *,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> list[Effect]:
    """The mean chance with each named number at the low and at the high end of its range,
    one at a time, widest effect first. Techniques are chosen anew for every value.

    Raises:
        KeyError: a name that is not among ``reference.assumed()``.
        Stopped: ``cancelled`` said so.
    """
    ranges = {named.name: named.parameter for named in reference.assumed()}
    asked = _Asked(jobs, kit, bench, builder, reference)
    found = []
    for done, name in enumerate(names):
        _tell(done / max(len(names), 1), name, progress, cancelled)
        low, high = ranges[name].low, ranges[name].high
        ends = [asked.chance(name, value) for value in (low, high) if value is not None]
        found.append(Effect(name, *ends))
    return sorted(found, key=lambda effect: (-effect.width, effect.name))


def widest(
    jobs: Sequence[Job],
    kit: Kit,
    bench: Bench,
    builder: Builder,
    reference: Reference,
    engine: RiskEngine,
    *,
    count: int = 10,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> list[Effect]:
    """The numbers that move the chance most, of all that can matter to this builder; those
    that move it by less than ``LEAST_EFFECT`` are left out. Every one is tried at one end of
    its range first, then the most telling at both: some seconds, so run it aside. Raises as
    ``sensitivity``."""
    ranges = {named.name: named.parameter for named in reference.assumed()}
    asked = _Asked(jobs, kit, bench, builder, reference)
    base = engine.chances(jobs, kit, bench, builder, samples=SAMPLES).working.mid
    names = candidates(jobs, kit, bench, builder, reference, engine)
    moved = {}
    for done, name in enumerate(names):
        _tell(done / (len(names) + FINALISTS * count), name, progress, cancelled)
        parameter = ranges[name]
        end = parameter.low if parameter.high == parameter.value else parameter.high
        moved[name] = 0.0 if end is None else abs(asked.chance(name, end) - base)
    first = sorted(names, key=lambda name: -moved[name])[: FINALISTS * count]
    every = sensitivity(jobs, kit, bench, builder, reference, engine, first, cancelled=cancelled)
    _tell(1.0, "the end", progress, cancelled)
    return [effect for effect in every[:count] if effect.width >= LEAST_EFFECT]


def candidates(
    jobs: Sequence[Job],
    kit: Kit,
    bench: Bench,
    builder: Builder,
    reference: Reference,
    engine: RiskEngine,
) -> list[str]:
    """Names that can move this kit's chance: the risk's own numbers, fault modes that occur
    in it, and levels that the builder describes themselves by."""
    risk = engine.assess(jobs, kit, bench, builder, samples=SAMPLES)
    modes = {mode.mode for job in risk.jobs for mode in job.chosen.modes}
    levels = {builder.level, *(skill.level for skill in builder.skills)}
    found = []
    for named in reference.assumed():
        prefix, _, rest = named.name.partition(".")
        row = rest.partition(".")[0]
        plain = not rest and named.name in reference.risk.parameters.parameters
        if plain or (prefix == "faults" and row in modes) or (prefix == "levels" and row in levels):
            found.append(named.name)
    return found


def _tell(share: float, name: str, progress: Progress | None, cancelled: Cancelled | None) -> None:
    if cancelled is not None and cancelled():
        raise Stopped("stopped")
    if progress is not None:
        progress(share, f"trying {name}")
