"""What it costs, what is used up, and whether it is worth it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.base import Parameters
from solderrisk.model.bench import LEVELS, Bench, Builder, Solder
from solderrisk.model.footprint import PadGroup
from solderrisk.model.jobs import Job, placement_refs
from solderrisk.model.kit import Kit, Placement
from solderrisk.model.physics_data import AcceptanceClass
from solderrisk.model.plan_data import PricedTool
from solderrisk.model.question import ALONE, Question, Reference, Run
from solderrisk.physics.acceptance import acceptance_lines, alignment
from solderrisk.physics.handwork import kit_fume
from solderrisk.physics.results import Alignment, Fume
from solderrisk.physics.solder_volume import added_flux_mg, solder_need
from solderrisk.plan.results import CostLine, Costs, Judgement, SolderUse, StatementCell, Verdict
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import JobRisk, KitRisk, Range
from solderrisk.risk.skill import sample_range
from solderrisk.risk.work import WIRE_ENDS
from solderrisk.words import named


def solder_uses(risk: KitRisk, reference: Reference) -> dict[str, tuple[SolderUse, ...]]:
    """Solder of each soldered job by its key, with the flux put on by hand."""
    kept: dict[tuple[object, ...], tuple[SolderUse, ...]] = {}
    found = {}
    for item in risk.jobs:
        option = item.chosen
        joints = tuple((joint.group, joint.solder) for joint in option.joints)
        sort = item.job.alike, item.blocked, option.settings.solders, joints
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


def fume_air_of(
    risk: KitRisk, uses: Mapping[str, Sequence[SolderUse]], bench: Bench, reference: Reference
) -> Fume | None:
    """Fume at the pace at which this builder uses up the kit's flux, by the hottest tip."""
    done = [job for job in risk.jobs if not job.blocked]
    flux_mg = sum(use.need.flux_mg for job in done for use in uses[job.job.key])
    minutes = sum(job.chosen.minutes.mid for job in done)
    tips = [tip_c for job in done if (tip_c := job.chosen.settings.tip_c) is not None]
    return kit_fume(flux_mg, minutes, bench, reference.physics, max(tips, default=None))


@dataclass(frozen=True)
class Consumables:
    """Solder, flux and removal alloy for the whole kit, waste included."""

    solder_g: float
    solder_wire_m: float
    flux_g: float
    removal_alloy_g: float


def expected_loss(risk: KitRisk, sunk: float) -> Range:
    """What a build of this kit loses on average: what is ruined on the way and bought again,
    and what has gone in by the time it turns out not to work, ``sunk`` in the mean of all."""
    works, ruined = risk.working_samples, risk.ruined_samples
    if works is None or ruined is None:
        return Range(*(risk.ruined.mid + sunk for _ in range(3)))
    each = sunk / (1 - works.mean()) if works.mean() < 1 else 0.0
    return sample_range(ruined + each * (1 - works))


def costs(
    question: Question, risk: KitRisk, uses: Mapping[str, Sequence[SolderUse]], sunk: float
) -> Costs:
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
    loss = expected_loss(risk, sunk)
    again = max(loss.high - money - worth - hours, 0.0)
    return Costs(
        lines=tuple(lines),
        to_buy=to_buy,
        bad_case=money + worth + hours + again,
        bad_money=money + again,
        bad_worth=worth,
        bad_hours=hours,
        expected_loss=loss,
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


TOP = 6
# So much of what is not known has to agree for a yes or a no.
AGREES = 0.8
TINY = 1e-9


def judged(samples: NDArray[np.float64], question: Question, *, possible: bool = True) -> Judgement:
    """One rule for all: yes or no where four fifths of what is not known agree, else open.
    ``samples``: chances of a working result, each as likely. What cannot be done is a no
    whatever the chance; a kit with references that nothing counts, or with parts off a burnt
    board, has no yes; with too many of the former there is no answer at all."""
    odds = float(np.mean(samples >= question.wanted)) if possible else 0.0
    missing = len(question.kit.not_counted)
    counted = sum(job.kind == "fit" for job in question.jobs)
    burnt = tuple(job.ref for job in question.jobs if job.donor_condition == "burnt")
    found = Judgement("open", odds, possible, missing, counted, burnt)
    if possible and not found.has_figure:
        return found
    if odds <= 1 - AGREES + TINY:
        return replace(found, answer="no")
    sure = odds >= AGREES - TINY and not missing and not burnt
    return replace(found, answer="yes") if sure else found


def verdict(risk: KitRisk, question: Question) -> Verdict:
    """Compare the chance of a working result with what is wanted."""
    blocked = any(job.blocked for job in risk.jobs)
    samples, chance = risk.working_samples, risk.working
    if samples is None:
        samples = np.array([chance.low, chance.mid, chance.high])
    return Verdict(
        judgement=judged(samples, question, possible=not blocked),
        chance=chance,
        first_time=risk.first_time,
        target=question.wanted,
        top=top_jobs(risk, TOP),
    )


def top_jobs(risk: KitRisk, count: int) -> tuple[str, ...]:
    """Keys of the jobs that carry most of the failure, one of each sort, worst first."""
    ranked = sorted(risk.fail_share.items(), key=lambda item: (-item[1], item[0]))
    worst = one_of_each([risk.by_key[key].job for key, share in ranked if share > 0])
    return tuple(job.key for job in worst[:count])


def one_of_each(jobs: Sequence[Job]) -> list[Job]:
    """The first of every sort of alike jobs, in their order."""
    return list({job.alike: job for job in reversed(jobs)}.values())[::-1]


def by_needs(blocked: Iterable[JobRisk]) -> dict[tuple[str, ...], list[JobRisk]]:
    """Blocked jobs by the kind of work and the tools that would do them."""
    groups: dict[tuple[str, ...], list[JobRisk]] = {}
    for risk in blocked:
        groups.setdefault((risk.job.kind, *risk.tooling_needed), []).append(risk)
    return groups


DECISIVE = 3


def difficulty_statement(
    question: Question, benches: Sequence[Bench], engine: RiskEngine, run: Run = ALONE
) -> tuple[StatementCell, ...]:
    """One cell per level and bench, levels from least to most done, each judged as the verdict
    is; the question's own bench and builder do not count.

    Raises:
        Stopped: the caller wants no more.
    """
    by_key = {job.key: job for job in question.jobs}
    cells: list[StatementCell] = []
    for level in LEVELS:
        builder = Builder(name=level, level=level)
        for bench in benches:
            run.tell(len(cells) / (len(LEVELS) * len(benches)), f"{level}, {bench.name}")
            asked = question.but(bench=bench, builder=builder, pins=())
            found = engine.chances(asked)
            ranked = [by_key[key] for key, share in found.decisive if share > 0]
            decisive = tuple(job.key for job in one_of_each(ranked)[:DECISIVE])
            judgement = judged(found.samples, asked, possible=not found.blocked)
            cells.append(StatementCell(level, bench.name, found.working, judgement, decisive))
    run.tell(1.0, "done")
    return tuple(cells)
