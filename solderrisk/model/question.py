"""What is asked, and how the asking goes: the two values that every answer is made from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Self

from solderrisk.model.bench import Bench
from solderrisk.model.builder import Builder
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.reference import Reference

SAMPLES = 2000
SEED = 20

Progress = Callable[[float, str], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True)
class Question:
    """Can this builder, with this bench, manage this kit? The same question has the same
    answer. ``target``: the chance wanted, where not the kit's own; ``pins``: job key and
    technique; ``practice``: skill and joints of practice planned; ``looks``: job key and
    further checks, 'second_person' or 'continuity'; ``as_of``: the day on which records are as
    old as they are, the newest record's where not given; ``samples`` and ``seed`` draw what is not
    known."""

    kit: Kit
    bench: Bench
    builder: Builder
    library: Library
    reference: Reference
    target: float | None = None
    pins: tuple[tuple[str, str], ...] = ()
    practice: tuple[tuple[str, float], ...] = ()
    looks: tuple[tuple[str, tuple[str, ...]], ...] = ()
    as_of: str | None = None
    samples: int = SAMPLES
    seed: int = SEED

    @cached_property
    def jobs(self) -> tuple[Job, ...]:
        """The kit's work.

        Raises:
            UnknownName: the kit names a footprint, board or donor that does not exist.
        """
        return jobs_of(self.kit, self.library)

    @property
    def wanted(self) -> float:
        """The chance that is wanted, 0..1: asked for, the kit's own, or the usual one."""
        if self.target is not None:
            return self.target
        own = self.kit.target_chance
        return self.reference.plan.costs["target_chance"] if own is None else own

    @property
    def hour_value(self) -> float:
        """What an hour at the bench counts for, in the kit's currency."""
        own = self.kit.hour_value
        return self.reference.risk.parameters["hour_value"] if own is None else own

    def but(self, **changes: Any) -> Self:
        """The same question with some fields changed."""
        other = replace(self, **changes)
        if not {"kit", "library"} & changes.keys():
            vars(other)["jobs"] = self.jobs
        return other


class Stopped(Exception):  # noqa: N818 - it is asked for
    """The caller asked to stop."""


@dataclass(frozen=True)
class Run:
    """Tells how far a long answer is, and is asked whether it is still wanted."""

    progress: Progress | None = None
    cancelled: Cancelled | None = None

    def check(self) -> None:
        """Goes on while the answer is wanted.

        Raises:
            Stopped: the caller wants no more.
        """
        if self.cancelled is not None and self.cancelled():
            raise Stopped("stopped")

    def part(self, low: float, high: float) -> Run:
        """The run of a part of the answer, which goes from share ``low`` to ``high``."""
        told = self.progress
        if told is None:
            return self
        return Run(lambda share, what: told(low + share * (high - low), what), self.cancelled)

    def tell(self, share: float, what: str) -> None:
        """How far it is, 0..1, and with what; raises as ``check``."""
        self.check()
        if self.progress is not None:
            self.progress(share, what)


ALONE = Run()  # nobody waits to be told
