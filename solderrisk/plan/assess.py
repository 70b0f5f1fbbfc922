"""From a kit, a bench and a builder to everything the faces show: one pure function."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import cast

from solderrisk.model.acceptance import AcceptanceClass
from solderrisk.model.bench import Bench, Solder
from solderrisk.model.builder import Builder
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.reference_set import Reference
from solderrisk.physics.acceptance import acceptance_lines
from solderrisk.physics.fumes import kit_fume
from solderrisk.physics.results import Fume, SolderNeed
from solderrisk.physics.solder_volume import added_flux_mg, solder_need
from solderrisk.plan.cards import cards
from solderrisk.plan.costs import costs, group_needs
from solderrisk.plan.findings import findings
from solderrisk.plan.order import fitting_order
from solderrisk.plan.precedence import precedence_of
from solderrisk.plan.results import Assessment, FittingOrder
from solderrisk.plan.verdict import verdict
from solderrisk.risk.kit import RiskEngine, assess_risk
from solderrisk.risk.results import KitRisk
from solderrisk.safety.notes import notes_for

SAMPLES = 2000
SEED = 20

Progress = Callable[[float, str], None]
Cancelled = Callable[[], bool]


def assess(
    kit: Kit,
    bench: Bench,
    builder: Builder,
    library: Library,
    reference: Reference,
    *,
    target: float | None = None,
    samples: int = SAMPLES,
    seed: int = SEED,
    pins: Mapping[str, str] | None = None,
    engine: RiskEngine | None = None,
    order: FittingOrder | None = None,
    easy_first: bool = False,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Assessment:
    """Chance, costs, order, cards and notes. Deterministic for a given seed.

    ``pins`` maps job keys to techniques. ``order``: keep this order instead of searching
    anew, for quick what-ifs.

    Raises:
        UnknownName: the kit names a footprint, board or donor that does not exist.
        CyclicOrder: the kit's own rules contradict each other.
    """
    jobs = jobs_of(kit, library)
    risk = assess_risk(
        jobs,
        kit,
        bench,
        builder,
        reference,
        samples=samples,
        seed=seed,
        pins=pins,
        engine=engine,
        progress=progress,
        cancelled=cancelled,
    )
    if order is None:
        parameters = reference.plan.parameters
        precedence = precedence_of(jobs, kit, risk, parameters=parameters)
        order = fitting_order(
            jobs,
            kit,
            risk,
            precedence.edges,
            parameters=parameters,
            hour_value=reference.plan.costs["hour_value"],
            easy_first=easy_first,
            notes=precedence.notes,
            progress=progress,
            cancelled=cancelled,
        )
    needs = solder_needs(jobs, bench, reference)
    techniques = {job.job.key: job.chosen.technique for job in risk.jobs if not job.blocked}
    air = air_of(risk, needs, bench, reference)
    safety = notes_for(jobs, techniques, bench, kit, reference.plan.safety, air)
    wanted = target if target is not None else kit.target_chance
    return Assessment(
        kit=kit,
        bench=bench,
        builder=builder,
        jobs=jobs,
        risk=risk,
        verdict=verdict(risk, reference.plan.costs["target_chance"] if wanted is None else wanted),
        costs=costs(kit, risk, needs, tool_prices(reference), reference.plan.costs),
        order=order,
        cards=cards(risk, reference.risk.techniques, needs, safety, accepted_of(jobs, reference)),
        safety=safety,
        findings=findings(kit, jobs, bench, risk),
        assumptions=assumptions(reference, risk),
    )


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


def accepted_of(jobs: tuple[Job, ...], reference: Reference) -> dict[Job, tuple[str, ...]]:
    """What an inspector would accept of the joints of each distinct part that is fitted."""
    asked = int(reference.risk.parameters["acceptance_class"])
    return {
        job: acceptance_lines(
            job.footprint, job.board.thickness_mm, cast(AcceptanceClass, asked), reference.physics
        )
        for job in group_needs(jobs)
        if job.kind == "fit" and job.footprint is not None and job.board is not None
    }


def air_of(
    risk: KitRisk, needs: Mapping[Job, SolderNeed], bench: Bench, reference: Reference
) -> Fume | None:
    """Fume at the pace at which this builder uses up the kit's flux."""
    done = [job for job in risk.jobs if not job.blocked]
    flux_mg = sum(needs[job.job.alike].flux_mg for job in done)
    minutes = sum(job.chosen.minutes.mid for job in done)
    return kit_fume(flux_mg, minutes, bench, reference.physics)


def tool_prices(reference: Reference) -> dict[str, float]:
    """Invented prices by tooling name."""
    return {tool.id: tool.price for tool in reference.plan.tools}


def assumptions(reference: Reference, risk: KitRisk) -> tuple[str, ...]:
    """The assumed values that matter most, in words."""
    assumed = [p for p in reference.risk.parameters.parameters.values() if p.assumed]
    return (
        f"{len(assumed)} of {len(reference.risk.parameters.parameters)} risk parameters are sized "
        "by judgement: no published rate of hand-solder faults per joint is known",
        "ranges are the 5 % and 95 % quantiles of what is not known about the builder's skill",
        "heat margins within about 25 K are undecided: contact between tip and joint dominates",
    )


@dataclass
class Session:
    """A kit that is looked at again and again: keeps what a what-if need not recompute."""

    kit: Kit
    library: Library
    reference: Reference
    seed: int = SEED
    engine: RiskEngine = field(init=False)

    def __post_init__(self) -> None:
        self.engine = RiskEngine(self.reference)

    def assess(
        self,
        bench: Bench,
        builder: Builder,
        *,
        target: float | None = None,
        pins: Mapping[str, str] | None = None,
        order: FittingOrder | None = None,
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
    ) -> Assessment:
        """As ``assess``; with ``order`` the search for an order is left out."""
        return assess(
            self.kit,
            bench,
            builder,
            self.library,
            self.reference,
            target=target,
            seed=self.seed,
            pins=pins,
            engine=self.engine,
            order=order,
            progress=progress,
            cancelled=cancelled,
        )
