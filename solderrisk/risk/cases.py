"""Equal jobs of a kit gathered into cases: what is computed once and counted often."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.parameters import Parameters
from solderrisk.model.reference import Reference
from solderrisk.risk.work import Surroundings, Work, surroundings, work_of


@dataclass(frozen=True)
class Case:
    """Jobs that differ in nothing that matters. ``jobs`` share the ``spares``."""

    work: Work
    jobs: tuple[Job, ...]
    price: float
    spares: int
    irreplaceable: bool
    pin: str | None


class Keeper(Protocol):
    """Remembers surroundings and hands out one ``Work`` for equal ones."""

    def around(self, jobs: Sequence[Job], kit: Kit) -> Surroundings | None: ...
    def keep_around(self, jobs: Sequence[Job], kit: Kit, found: Surroundings) -> None: ...
    def same(self, work: Work) -> Work: ...


def cases_of(
    jobs: Sequence[Job],
    kit: Kit,
    reference: Reference,
    looks: Mapping[str, Collection[str]],
    pins: Mapping[str, str],
    keeper: Keeper,
) -> tuple[Case, ...]:
    """The soldered jobs of a kit in cases. Parts share spares where value and all else are
    equal; a fit fed by the lift of an irreplaceable part is irreplaceable too."""
    around = keeper.around(jobs, kit)
    if around is None:
        around = surroundings(jobs, kit, reference.risk.parameters)
        keeper.keep_around(jobs, kit, around)
    precious = {job.feeds for job in jobs if job.irreplaceable and job.feeds}
    groups: dict[tuple[object, ...], list[Job]] = {}
    works: dict[tuple[object, ...], Work] = {}
    for job in jobs:
        if not job.soldered:
            continue
        work = keeper.same(work_of(job, around, looks))
        pin = pins.get(job.key, job.technique)
        once = job.irreplaceable or job.key in precious
        key = (id(work), job.price_each, job.spares, once, pin, job.title if job.spares else "")
        groups.setdefault(key, []).append(job)
        works[key] = work
    return tuple(
        Case(works[key], tuple(found), found[0].price_each, found[0].spares, bool(key[3]),
             pins.get(found[0].key, found[0].technique))
        for key, found in groups.items()
    )  # fmt: skip


def stake_of(jobs: Sequence[Job], kit: Kit, data: Parameters) -> float:
    """What a kit that never works has cost: boards, fitted parts, what nobody sells, and
    the hours put into it."""
    fits = [job for job in jobs if job.kind == "fit"]
    parts = sum(
        max(job.price_each, data["irreplaceable_worth"]) if job.irreplaceable else job.price_each
        for job in fits
    )
    joints = sum(job.footprint.joint_count for job in jobs if job.footprint is not None)
    hour = data["hour_value"] if kit.hour_value is None else kit.hour_value
    hours = joints * data["joint_minutes_guess"] / 60
    return sum(board.price for board in kit.boards) + parts + hours * hour
