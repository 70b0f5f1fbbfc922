"""What trying a kit costs this builder, and what is gone in the bad case."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from solderrisk.model.jobs import Job, placement_refs
from solderrisk.model.kit import Kit, Placement
from solderrisk.model.parameters import Parameters
from solderrisk.model.plan_data import PricedTool
from solderrisk.model.question import Question
from solderrisk.plan.results import CostLine, Costs, SolderUse
from solderrisk.risk.results import KitRisk
from solderrisk.words import named


@dataclass(frozen=True)
class Consumables:
    """Solder, flux and removal alloy for the whole kit, waste included."""

    solder_g: float
    solder_wire_m: float
    flux_g: float
    removal_alloy_g: float


def costs(question: Question, risk: KitRisk, uses: Mapping[str, Sequence[SolderUse]]) -> Costs:
    """Parts, donors, missing tools and consumables.

    The bad case is everything that trying costs: what is bought besides tools, what is owned
    and used up, what nobody sells and the hours. It is never below the upper end of the
    expected loss, which counts what is bought again.
    """
    kit, reference = question.kit, question.reference
    data, least_worth = reference.plan.costs, reference.risk.parameters["irreplaceable_worth"]
    used = consumables(risk, uses, data)
    lines = [
        *_parts(kit),
        *_tools(risk, reference.plan.tools),
        *_consumable_lines(used, data),
    ]
    to_buy = sum(line.amount or 0.0 for line in lines)
    owned_at_risk = sum(d.price for d in kit.donors if d.owned)
    owned_at_risk += sum(b.price for b in kit.boards if b.owned)
    owned_at_risk += sum(p.price_each * len(placement_refs(p)) for p in kit.placements if p.owned)
    tools = sum(line.amount or 0.0 for line in lines if line.kind == "tool")
    money = to_buy - tools + owned_at_risk
    worth = sum(_unbought(placement, least_worth) for placement in kit.placements)
    hours = risk.hours.high * question.hour_value
    again = max(risk.loss.high - money - worth - hours, 0.0)
    return Costs(
        lines=tuple(lines),
        to_buy=to_buy,
        bad_case=money + worth + hours + again,
        bad_money=money + again,
        bad_worth=worth,
        bad_hours=hours,
        expected_loss=risk.loss,
        currency=kit.currency,
        solder_g=used.solder_g,
        solder_wire_m=used.solder_wire_m,
        flux_g=used.flux_g,
        removal_alloy_g=used.removal_alloy_g,
        unpriced=_unpriced(kit),
    )


def _unbought(placement: Placement, least_worth: float) -> float:
    """What a placement's parts are worth beyond what is paid for them here."""
    paid = 0.0 if placement.donor is not None else placement.price_each
    least = least_worth if placement.irreplaceable else 0.0
    return (max(placement.price_each, least) - paid) * len(placement_refs(placement))


def consumables(
    risk: KitRisk, uses: Mapping[str, Sequence[SolderUse]], data: Parameters
) -> Consumables:
    """Sum what every job takes, with the usual waste."""
    waste = data["solder_waste"]
    solder_g = wire_mm = flux_mg = alloy_g = 0.0
    for job_risk in risk.jobs:
        job, option = job_risk.job, job_risk.chosen
        if job.kind == "lift":
            alloy_g += option.low_melt.alloy_g if option.low_melt else 0.0
            continue
        for use in uses[job.key]:
            solder_g += use.need.mass_g
            wire_mm += use.need.wire_mm
            flux_mg += use.need.flux_mg
    return Consumables(solder_g * waste, wire_mm * waste / 1000, flux_mg / 1000, alloy_g)


def _parts(kit: Kit) -> Iterable[CostLine]:
    if kit.price is not None:
        yield CostLine("the kit", kit.price, "part")
    for board in kit.boards:
        if not board.owned and board.price:
            yield CostLine(f"board {board.name}", board.price, "part")
    for donor in kit.donors:
        if not donor.owned and donor.price:
            yield CostLine(f"donor {donor.name}", donor.price, "donor")
    for placement in kit.placements:
        number = len(placement_refs(placement))
        if _bought(placement) and placement.price_each:
            what, price = f"{placement.refs} {placement.footprint}", placement.price_each * number
            yield CostLine(what, price, "part", count=number)
    for wire in kit.wires:
        if not wire.owned and wire.price:
            yield CostLine(f"wire {wire.ref}", wire.price, "part")
    for extra in kit.extras:
        if not extra.owned and extra.price:
            yield CostLine(extra.name, extra.price, "extra")


def _bought(placement: Placement) -> bool:
    return not placement.owned and placement.donor is None


def _unpriced(kit: Kit) -> tuple[str, ...]:
    """References that have to be bought at a price that nobody has said."""
    if kit.price is not None:
        return ()
    return tuple(
        ref
        for placement in kit.placements
        if _bought(placement) and not placement.price_each
        for ref in placement_refs(placement)
    )


def _tools(risk: KitRisk, tools: Iterable[PricedTool]) -> Iterable[CostLine]:
    priced = {tool.id: tool for tool in tools}
    missing = {tool for job in risk.jobs if job.blocked for tool in job.tooling_needed}
    for name in sorted(missing):
        tool = priced.get(name)
        if tool is None:
            yield CostLine(named([name]), None, "tool")
        else:
            yield CostLine(tool.called or tool.title, tool.price, "tool", invented=True)


def _consumable_lines(used: Consumables, data: Parameters) -> Iterable[CostLine]:
    for what, grams, price in (
        ("solder", used.solder_g, data["solder_price"]),
        ("flux", used.flux_g, data["flux_price"]),
        ("removal alloy", used.removal_alloy_g, data["removal_alloy_price"]),
    ):
        if grams > 0:
            yield CostLine(what, grams * price, "consumable", grams=grams, invented=True)


def group_needs(jobs: Sequence[Job]) -> tuple[Job, ...]:
    """The distinct soldered jobs whose solder has to be computed."""
    return tuple(dict.fromkeys(job.alike for job in jobs if job.soldered))
