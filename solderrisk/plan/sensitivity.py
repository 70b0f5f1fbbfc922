"""How far the chance moves with each assumed number: what the answer really rests on."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.question import ALONE, Question, Run
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.reported import Compared

MOST_EFFECTS = 10


@dataclass(frozen=True)
class Effect:
    """The chance of a working result with one number at its 5 % and at its 95 % point, all
    else as little known as it is. ``share``: of the whole doubt; ``others`` move with it."""

    name: str
    at_low: float
    at_high: float
    share: float = 0.0
    others: tuple[str, ...] = ()

    @property
    def width(self) -> float:
        return abs(self.at_high - self.at_low)


@dataclass(frozen=True)
class Ranking:
    """``hands``: share of the doubt that is the builder's alone; ``effects``, widest first;
    ``reported``: kits that people reported on, against what is predicted of such."""

    hands: float
    effects: tuple[Effect, ...]
    reported: tuple[Compared, ...] = ()


def widest(question: Question, engine: RiskEngine, run: Run = ALONE) -> Ranking:
    """What moves the chance most, and its share of the doubt: a second or two.

    Raises:
        Stopped: the caller wants no more.
    """
    found = engine.makeup(question, MOST_EFFECTS, run)
    run.tell(1.0, "the last of them")
    return Ranking(
        found.hands,
        tuple(
            Effect(doubt.names[0] if doubt.names else doubt.cause, doubt.at_low, doubt.at_high,
                   doubt.share, doubt.names[1:])
            for doubt in found.doubts
        ),
        engine.reported(question.seed),
    )  # fmt: skip
