"""From a question to everything the faces show, with the rules of precedence that hold for it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from solderrisk.model.base import Parameters
from solderrisk.model.footprint import Families
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Kit
from solderrisk.model.question import ALONE, Question, Reference, Run
from solderrisk.model.selectors import JobIndex, parted
from solderrisk.physics.results import AirHeat
from solderrisk.plan.cards import cards, rescues
from solderrisk.plan.findings import by_level, findings, gave_way, notes_for, ties_unknown
from solderrisk.plan.heating import falling, hangs_below, heat_help, masking, may_drop
from solderrisk.plan.order.edges import Edges, Row, Waived, Why, mask_of
from solderrisk.plan.order.fitting import fitting_order
from solderrisk.plan.order.net import Net
from solderrisk.plan.order.rules import add_inferred, air_of
from solderrisk.plan.order.task import OrderTask
from solderrisk.plan.part_findings import care_of
from solderrisk.plan.results import Assessment, Assumed, FittingOrder, SecondLook
from solderrisk.plan.verdict import accepted_of, costs, fume_air_of, solder_uses, verdict
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import KitRisk


@dataclass(frozen=True)
class Precedence:
    """All edges, and the inferred ones that gave way to stated rules."""

    edges: Edges
    waived: tuple[Waived, ...] = ()


def precedence_of(
    jobs: Sequence[Job],
    kit: Kit,
    risk: KitRisk | None,
    *,
    parameters: Parameters,
    families: Families,
    reach: Mapping[str, AirHeat] | None = None,
    drops: Collection[str] = (),
    run: Run = ALONE,
) -> Precedence:
    """Stated and inferred precedence.

    ``risk`` tells which technique each job uses and how far its hot air reaches; ``reach``
    (job key -> heat) goes before it. Without either no job uses hot air. ``drops``: keys of
    parts that molten joints do not hold upside down.

    Raises:
        CyclicOrder: the stated rules form a circle.
        Stopped: the caller wants no more.
    """
    run.tell(0.0, "what has to come before what")
    net = Net(jobs, stated_edges(jobs, kit), run)
    add_inferred(net, kit, air_of(jobs, risk, reach), parameters, families, drops)
    return Precedence(net.edges(), net.waived())


def stated_edges(jobs: Sequence[Job], kit: Kit) -> Edges:
    """What the kit states and what cannot be otherwise: each pair once, first reason kept."""
    index = JobIndex.of(jobs)
    place = {job.key: number for number, job in enumerate(jobs)}
    rows: list[Row] = []
    known: dict[int, int] = {}

    def put(firsts: Iterable[str], thens: Iterable[str], rule: str, why: Why) -> None:
        early = mask_of([place[first] for first in firsts])
        for key in thens:
            then = place[key]
            fresh = early & ~known.get(then, 0) & ~(1 << then)
            if fresh:
                known[then] = known.get(then, 0) | fresh
                rows.append(Row(then, fresh, rule, why))

    for job in jobs:
        if job.feeds in index.order and job.feeds is not None:
            put([job.key], [job.feeds], "lift_before_fit", Why("lifted", (job.ref,)))
    for rule in kit.rules:
        first, then = parted(index.keys(rule.first), index.keys(rule.then))
        put(first, then, "kit", Why("stated", (rule.why,)))
    for job in jobs:
        step = job.gate or job.task
        if step is None:
            continue
        after = (key for selector in step.after for key in index.keys(selector))
        before = (key for selector in step.before for key in index.keys(selector))
        first, then = parted(after, before, job.key)
        if job.gate is not None:
            put(first, [job.key], "gate", Why("tests", (job.title,)))
            put([job.key], then, "gate", Why("must_pass", (job.title,)))
        else:
            rule_name = "clean_first" if job.task and job.task.kind == "clean" else "kit"
            put(first, [job.key], "kit", Why("in_kit"))
            put([job.key], then, rule_name, Why("in_kit"))
    return Edges(jobs, rows)


def assess(
    question: Question,
    engine: RiskEngine,
    *,
    order: FittingOrder | None = None,
    detail: bool = True,
    run: Run = ALONE,
) -> Assessment:
    """Chance, costs, order, cards and notes. ``order``: keep this order instead of searching
    anew, for quick what-ifs; ``detail``: work out as well what each check is
    worth and the least tools for what the bench can do.

    Raises:
        UnknownName: the kit names a footprint, board or donor that does not exist.
        CyclicOrder: the kit's own rules contradict each other.
        Stopped: the caller wants no more.
    """
    kit, bench, jobs, reference = question.kit, question.bench, question.jobs, question.reference
    physics = reference.physics
    alone = run.part(0.0, 0.4) if order is None else run
    risk = engine.assess(question, alone, detail=detail)
    checks: tuple[SecondLook, ...] = ()
    if detail and order is None:
        from solderrisk.plan.sensitivity import second_looks

        checks = second_looks(question, engine, run.part(0.4, 0.6))
    order = (
        best_order(question, risk, run.part(0.6, 0.95))
        if order is None
        else priced_anew(question, risk, order)
    )
    run.tell(0.95, "writing the cards")
    uses = solder_uses(risk, reference)
    chosen = {job.job.key: job.chosen for job in risk.jobs if not job.blocked}
    air = fume_air_of(risk, uses, bench, reference)
    safety = notes_for(jobs, chosen, bench, kit, reference.plan.safety, air)
    helps = heat_help(risk, physics)
    names = tool_names(reference)
    return Assessment(
        kit=kit,
        bench=bench,
        builder=question.builder,
        jobs=jobs,
        risk=risk,
        verdict=verdict(risk, question),
        costs=costs(question, risk, uses, order.sunk),
        order=order,
        cards=cards(
            risk,
            reference,
            uses,
            safety,
            accepted_of(jobs, reference),
            _told(
                care_of(risk, physics, reference.plan.families),
                masking(risk, kit, order.keys, physics, reference.plan.families),
                hangs_below(risk, order.keys, physics),
            ),
            helps,
        ),
        safety=safety,
        findings=(
            *by_level(
                (
                    *findings(kit, jobs, bench, risk, physics, helps, names),
                    *ties_unknown(jobs, reference),
                    *falling(risk, order.keys, physics),
                )
            ),
            *gave_way(order),
        ),
        assumed=assumed(reference),
        second_looks=checks,
        tool_names=names,
        rescues=rescues(risk, bench, reference),
    )


def _told(*cautions: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """Cautions from several sides, by job key."""
    found: dict[str, tuple[str, ...]] = {}
    for lines in cautions:
        for key, told in lines.items():
            found[key] = (*found.get(key, ()), *told)
    return found


def best_order(question: Question, risk: KitRisk, run: Run = ALONE) -> FittingOrder:
    """The order of least expected loss, under the rules and what the kit states."""
    plan = question.reference.plan
    parameters = plan.parameters
    precedence = precedence_of(
        question.jobs,
        question.kit,
        risk,
        parameters=parameters,
        families=plan.families,
        drops=may_drop(question.jobs, question.reference.physics),
        run=run,
    )
    worth = question.reference.risk.parameters["hour_value"]
    waived = precedence.waived
    task = OrderTask(question.jobs, question.kit, risk, parameters, worth, waived=waived)
    return fitting_order(task, precedence.edges, run=run)


def priced_anew(question: Question, risk: KitRisk, order: FittingOrder) -> FittingOrder:
    """An order that is kept, with what it loses under other chances."""
    worth, parameters = question.reference.risk.parameters["hour_value"], question.reference.plan
    task = OrderTask(question.jobs, question.kit, risk, parameters.parameters, worth)
    lost = task.lost(order.keys, order.edges)
    return replace(order, expected_loss=lost.loss, sunk=lost.sunk, fails=lost.fails)


def tool_names(reference: Reference) -> dict[str, str]:
    """What tools are called in a sentence, by tooling name."""
    return {tool.id: tool.called or tool.title for tool in reference.plan.tools}


def assumed(reference: Reference) -> Assumed:
    """How much of the risk data is judgement, and what the user set."""
    table = reference.risk.parameters.parameters
    judged = sum(parameter.assumed for parameter in table.values())
    return Assumed(judged, len(table), reference.set_by_user())
