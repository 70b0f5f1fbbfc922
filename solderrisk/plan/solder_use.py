"""Solder, flux and fume of a kit's work, and what an inspector accepts of its joints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import cast

from solderrisk.model.bench import Bench, Solder
from solderrisk.model.jobs import Job
from solderrisk.model.physics_data import AcceptanceClass
from solderrisk.model.reference import Reference
from solderrisk.physics.acceptance import acceptance_lines
from solderrisk.physics.alignment import alignment
from solderrisk.physics.fumes import kit_fume
from solderrisk.physics.results import Alignment, Fume, SolderNeed
from solderrisk.physics.solder_volume import added_flux_mg, solder_need
from solderrisk.plan.costs import group_needs
from solderrisk.risk.results import KitRisk


def solder_needs(
    jobs: tuple[Job, ...], bench: Bench, reference: Reference
) -> dict[Job, SolderNeed]:
    """Solder for each distinct job, with the bench's finest wire and the flux put on by hand."""
    wires = [solder for solder in bench.solders if not solder.paste and solder.wire_mm is not None]
    wire = min(wires, key=lambda solder: solder.wire_mm or 0.0, default=None)
    return {job: _solder_need(job, wire, reference) for job in group_needs(jobs)}


def _solder_need(job: Job, wire: Solder | None, reference: Reference) -> SolderNeed:
    if job.footprint is None or job.board is None:
        raise ValueError(f"{job.key} is no soldered job")
    need = solder_need(
        job.footprint,
        job.board,
        density_g_cm3=reference.physics.alloys[job.alloy].density_g_cm3,
        wire_mm=wire.wire_mm if wire else None,
        flux_percent=wire.flux_percent if wire else 0.0,
        data=reference.physics,
    )
    if job.footprint.through_hole:
        return need
    by_hand = added_flux_mg(job.footprint, reference.physics)
    return replace(need, flux_mg=need.flux_mg + by_hand)


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
        job: acceptance_lines(job.footprint, job.board.thickness_mm, asked, reference.physics)
        for job in group_needs(jobs)
        if job.kind == "fit" and job.footprint is not None and job.board is not None
    }


def air_of(
    risk: KitRisk, needs: Mapping[Job, SolderNeed], bench: Bench, reference: Reference
) -> Fume | None:
    """Fume at the pace at which this builder uses up the kit's flux, by the hottest tip."""
    done = [job for job in risk.jobs if not job.blocked]
    flux_mg = sum(needs[job.job.alike].flux_mg for job in done)
    minutes = sum(job.chosen.minutes.mid for job in done)
    tips = [tip_c for job in done if (tip_c := job.chosen.settings.tip_c) is not None]
    return kit_fume(flux_mg, minutes, bench, reference.physics, max(tips, default=None))
