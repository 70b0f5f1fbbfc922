"""Solder, flux and fume of a kit's work, and what an inspector accepts of its joints."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import cast

from solderrisk.model.bench import Bench, Solder
from solderrisk.model.footprint import PadGroup
from solderrisk.model.jobs import Job
from solderrisk.model.physics_data import AcceptanceClass
from solderrisk.model.reference import Reference
from solderrisk.physics.acceptance import acceptance_lines, alignment
from solderrisk.physics.fumes import kit_fume
from solderrisk.physics.results import Alignment, Fume
from solderrisk.physics.solder_volume import added_flux_mg, solder_need
from solderrisk.plan.costs import group_needs
from solderrisk.plan.results import SolderUse
from solderrisk.risk.results import JobRisk, KitRisk, Option
from solderrisk.risk.work import WIRE_ENDS


def solder_uses(risk: KitRisk, reference: Reference) -> dict[str, tuple[SolderUse, ...]]:
    """Solder of each soldered job by its key, with the flux put on by hand."""
    kept: dict[tuple[Job, Option], tuple[SolderUse, ...]] = {}
    found = {}
    for item in risk.jobs:
        sort = item.job.alike, item.chosen
        if sort not in kept:
            kept[sort] = _uses(item, reference)
        found[item.job.key] = kept[sort]
    return found


def _uses(item: JobRisk, reference: Reference) -> tuple[SolderUse, ...]:
    job, option = item.job, item.chosen
    if job.footprint is None or job.board is None:
        raise ValueError(f"{job.key} is no soldered job")
    if job.kind == "lift" or not (item.blocked or option.settings.solders):
        return ()
    by_hand = 0.0 if job.footprint.through_hole else added_flux_mg(job.footprint, reference.physics)
    usual = next(iter(option.settings.solders), None)
    own = {joint.group: joint.solder for joint in option.joints}
    groups: dict[Solder | None, list[PadGroup]] = {}
    for group in job.footprint.pads:
        groups.setdefault(own.get(group.name, usual), []).append(group)
    thin = sorted(groups, key=lambda solder: 0.0 if solder is None else solder.wire_mm or 0.0)
    uses = [_use(job, solder, groups[solder], reference) for solder in thin]
    need = uses[0].need
    uses[0] = replace(uses[0], need=replace(need, flux_mg=need.flux_mg + by_hand))
    return tuple(uses)


def _use(
    job: Job, solder: Solder | None, groups: Sequence[PadGroup], reference: Reference
) -> SolderUse:
    assert job.footprint is not None
    assert job.board is not None
    ends = WIRE_ENDS * job.connections if job.kind == "wire" else 1
    pads = tuple(group.model_copy(update={"count": group.count * ends}) for group in groups)
    need = solder_need(
        job.footprint.model_copy(update={"pads": pads}),
        job.board,
        density_g_cm3=reference.physics.alloys[solder.alloy if solder else job.alloy].density_g_cm3,
        wire_mm=solder.wire_mm if solder else None,
        flux_percent=solder.flux_percent if solder else 0.0,
        data=reference.physics,
    )
    return SolderUse(solder, tuple(group.name for group in groups), need)


def acceptance_class(reference: Reference) -> AcceptanceClass:
    """The product class that joints are judged by."""
    return cast(AcceptanceClass, int(reference.risk.parameters["acceptance_class"]))


def alignment_of(job: Job, reference: Reference) -> Alignment | None:
    """How far a fitted part may sit off its lands; None where they do not guide it."""
    if job.footprint is None or job.kind != "fit":
        return None
    return alignment(job.footprint, acceptance_class(reference), reference.physics)


def accepted_of(jobs: tuple[Job, ...], reference: Reference) -> dict[Job, tuple[str, ...]]:
    """What an inspector would accept of the joints of each distinct part that is fitted."""
    asked = acceptance_class(reference)
    return {
        job: acceptance_lines(job.footprint, job.board, asked, reference.physics)
        for job in group_needs(jobs)
        if job.kind == "fit" and job.footprint is not None and job.board is not None
    }


def air_of(
    risk: KitRisk, uses: Mapping[str, Sequence[SolderUse]], bench: Bench, reference: Reference
) -> Fume | None:
    """Fume at the pace at which this builder uses up the kit's flux, by the hottest tip."""
    done = [job for job in risk.jobs if not job.blocked]
    flux_mg = sum(use.need.flux_mg for job in done for use in uses[job.job.key])
    minutes = sum(job.chosen.minutes.mid for job in done)
    tips = [tip_c for job in done if (tip_c := job.chosen.settings.tip_c) is not None]
    return kit_fume(flux_mg, minutes, bench, reference.physics, max(tips, default=None))
