"""From a kit, a bench and a builder to everything the faces show: one pure function."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from solderrisk.model.bench import Bench
from solderrisk.model.builder import Builder
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.reference import Reference
from solderrisk.plan.cards import cards
from solderrisk.plan.costs import costs
from solderrisk.plan.findings import findings, gave_way
from solderrisk.plan.heating import heat_help
from solderrisk.plan.masking import masking
from solderrisk.plan.order import fitting_order
from solderrisk.plan.precedence import precedence_of
from solderrisk.plan.results import Assessment, FittingOrder, SecondLook
from solderrisk.plan.safety import notes_for
from solderrisk.plan.second_looks import second_looks
from solderrisk.plan.solder_use import accepted_of, air_of, solder_needs
from solderrisk.plan.verdict import verdict
from solderrisk.risk.engine import RiskEngine, assess_risk
from solderrisk.risk.results import KitRisk
from solderrisk.words import short_list

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
    engine = engine or RiskEngine(reference)
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
    looks: tuple[SecondLook, ...] = ()
    if order is None:
        looks = second_looks(
            kit, bench, builder, library, reference, engine=engine, seed=seed, cancelled=cancelled
        )
        parameters = reference.plan.parameters
        precedence = precedence_of(
            jobs, kit, risk, parameters=parameters, families=reference.plan.families
        )
        order = fitting_order(
            jobs,
            kit,
            risk,
            precedence.edges,
            parameters=parameters,
            hour_value=reference.risk.parameters["hour_value"],
            easy_first=easy_first,
            notes=precedence.notes,
            progress=progress,
            cancelled=cancelled,
        )
    needs = solder_needs(jobs, bench, reference)
    chosen = {job.job.key: job.chosen for job in risk.jobs if not job.blocked}
    air = air_of(risk, needs, bench, reference)
    safety = notes_for(jobs, chosen, bench, kit, reference.plan.safety, air)
    helps = heat_help(risk, reference.physics)
    names = tool_names(reference)
    wanted = target if target is not None else kit.target_chance
    return Assessment(
        kit=kit,
        bench=bench,
        builder=builder,
        jobs=jobs,
        risk=risk,
        verdict=verdict(
            risk,
            reference.plan.costs["target_chance"] if wanted is None else wanted,
            len(kit.not_counted),
            names,
        ),
        costs=costs(
            kit,
            risk,
            needs,
            tool_prices(reference),
            reference.plan.costs,
            least_worth=reference.risk.parameters["irreplaceable_worth"],
            hour_value=reference.risk.parameters["hour_value"],
            names=names,
        ),
        order=order,
        cards=cards(
            risk,
            reference.risk.techniques,
            needs,
            safety,
            reference.plan.parameters,
            accepted_of(jobs, reference),
            masking(risk, kit, order.keys, reference.physics, reference.plan.families),
            helps,
        ),
        safety=safety,
        findings=(
            *findings(kit, jobs, bench, risk, reference.physics, helps, names),
            *gave_way(order),
        ),
        assumptions=(*assumptions(reference), *air_doubts(risk)),
        second_looks=looks,
        tool_names=names,
    )


def tool_prices(reference: Reference) -> dict[str, float]:
    """Invented prices by tooling name."""
    return {tool.id: tool.price for tool in reference.plan.tools}


def tool_names(reference: Reference) -> dict[str, str]:
    """What tools are called in a sentence, by tooling name."""
    return {tool.id: tool.called or tool.title for tool in reference.plan.tools}


def assumptions(reference: Reference) -> tuple[str, ...]:
    """The assumed values that matter most, in words, and those that the user set."""
    table = reference.risk.parameters.parameters
    assumed = sum(parameter.assumed for parameter in table.values())
    own = [
        f"{named.name} is set to {named.parameter.told} by the user"
        for named in reference.set_by_user()
    ]
    return (
        *own,
        f"{assumed} of {len(table)} risk parameters are sized by judgement: no published rate of "
        "hand-solder faults per joint is known",
        "ranges are the 5 % and 95 % quantiles of what is not known about the builder's skill",
        "heat margins inside the band of doubt are undecided: the contact between tip and joint "
        "dominates for irons, what arrives of the jet's heat for hot air",
    )


def air_doubts(risk: KitRisk) -> tuple[str, ...]:
    """Where the hot-air model is used beyond what it was made from, with the work it is about."""
    found: dict[str, list[str]] = {}
    for item in risk.jobs:
        heat = None if item.blocked else item.chosen.air_heat
        for doubt in heat.doubts if heat else ():
            found.setdefault(doubt, []).append(item.job.ref)
    return tuple(
        f"hot air on {short_list(list(dict.fromkeys(refs)))}: {doubt}"
        for doubt, refs in found.items()
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
