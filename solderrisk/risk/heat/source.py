"""What a source of heat has to tell of itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from solderrisk.model.bench import Bench
from solderrisk.model.reference import Reference
from solderrisk.model.technique import Heat, Technique
from solderrisk.risk.conditions import Conditions, Raw
from solderrisk.risk.heat.setup import Answer, Question, Setup
from solderrisk.risk.results import Lines, Option, Warms
from solderrisk.risk.work import Work


def _no_lines(option: Option) -> Lines:
    return ()


@dataclass(frozen=True)
class HeatSource:
    """One kind of heating, everything that others ask about it.

    ``looks_at``: the fields of a bench that its answers depend on. ``warms``: only the joint,
    what stands around as well, or the whole board. ``sides``: those of a board it can heat.
    ``questions`` to the heat model for a technique, a piece of work, the alloy that has to melt
    and a bench; ``set_up`` from a base and the answers, in their order; ``overheats``: the
    hazard of too much heat; ``lines``: its settings for a card, and ``last_lines`` what comes
    after solder, flux and time.
    """

    name: Heat
    looks_at: tuple[str, ...]
    warms: Warms
    questions: Callable[[Technique, Work, str, Bench, Reference], list[Question]]
    set_up: Callable[[Setup, Sequence[Answer], Work, Bench, Reference], Setup]
    overheats: Callable[[Conditions], Iterable[Raw]]
    lines: Callable[[Option], Lines]
    last_lines: Callable[[Option], Lines] = _no_lines
    sides: tuple[str, ...] = ("top", "bottom")


def nothing_to_ask(
    technique: Technique, work: Work, alloy: str, bench: Bench, reference: Reference
) -> list[Question]:
    """For sources whose answer needs no heat model."""
    return []
