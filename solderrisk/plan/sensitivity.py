"""How far the chance moves with each assumed number: what the answer really rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solderrisk.model.question import ALONE, Question, Run
from solderrisk.risk.engine import RiskEngine

# Enough to tell effects apart, with common random numbers for all.
SAMPLES = 500
LEAST_EFFECT = 5e-4
FINALISTS = 2  # tried at both ends, times as many as are asked for
MOST_EFFECTS = 10


@dataclass(frozen=True)
class Effect:
    """The chance of a working result with one number at either end of its range."""

    name: str
    at_low: float
    at_high: float

    @property
    def width(self) -> float:
        return abs(self.at_high - self.at_low)


def sensitivity(question: Question, names: Sequence[str], run: Run = ALONE) -> list[Effect]:
    """The mean chance with each named number at the low and at the high end of its range,
    one at a time, widest effect first. Techniques are chosen anew for every value.

    Raises:
        KeyError: a name that is not among ``reference.assumed()``.
        Stopped: the caller wants no more.
    """
    ranges = {named.name: named.parameter for named in question.reference.assumed()}
    found = []
    for done, name in enumerate(names):
        run.tell(done / max(len(names), 1), f"trying {name}")
        low, high = ranges[name].low, ranges[name].high
        ends = [_chance(question, name, value) for value in (low, high) if value is not None]
        found.append(Effect(name, *ends))
    return sorted(found, key=lambda effect: (-effect.width, effect.name))


def _chance(question: Question, name: str, value: float) -> float:
    """The chance with one number at another value."""
    moved = question.but(reference=question.reference.assuming({name: value}), samples=SAMPLES)
    return RiskEngine(moved.reference).chances(moved).working.mid


def widest(question: Question, engine: RiskEngine, run: Run = ALONE) -> list[Effect]:
    """The numbers that move the chance most, of all that can matter to this builder; those
    that move it by less than ``LEAST_EFFECT`` are left out. Every one is tried at one end of
    its range first, then the most telling at both: some seconds, so run it aside. Raises as
    ``sensitivity``."""
    ranges = {named.name: named.parameter for named in question.reference.assumed()}
    asked = question.but(samples=SAMPLES)
    base = engine.chances(asked).working.mid
    names = candidates(asked, engine)
    moved = {}
    for done, name in enumerate(names):
        run.tell(done / (len(names) + FINALISTS * MOST_EFFECTS), f"trying {name}")
        parameter = ranges[name]
        end = parameter.low if parameter.high == parameter.value else parameter.high
        moved[name] = 0.0 if end is None else abs(_chance(asked, name, end) - base)
    first = sorted(names, key=lambda name: -moved[name])[: FINALISTS * MOST_EFFECTS]
    every = sensitivity(asked, first, Run(cancelled=run.cancelled))
    run.tell(1.0, "trying the end")
    return [effect for effect in every[:MOST_EFFECTS] if effect.width >= LEAST_EFFECT]


def candidates(question: Question, engine: RiskEngine) -> list[str]:
    """Names that can move this kit's chance: the risk's own numbers, fault modes that occur
    in it, and levels that the builder describes themselves by."""
    risk = engine.assess(question)
    modes = {mode.mode for job in risk.jobs for mode in job.chosen.modes}
    builder, reference = question.builder, question.reference
    levels = {builder.level, *(skill.level for skill in builder.skills)}
    found = []
    for named in reference.assumed():
        prefix, _, rest = named.name.partition(".")
        row = rest.partition(".")[0]
        plain = not rest and named.name in reference.risk.parameters.parameters
        if plain or (prefix == "faults" and row in modes) or (prefix == "levels" and row in levels):
            found.append(named.name)
    return found
