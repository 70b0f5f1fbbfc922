"""From a question to everything the faces show: one pure function."""

from __future__ import annotations

from collections.abc import Mapping

from solderrisk.model.question import ALONE, Question, Run
from solderrisk.model.reference import Reference
from solderrisk.plan.cards import cards
from solderrisk.plan.costs import costs
from solderrisk.plan.findings import findings, gave_way
from solderrisk.plan.heating import heat_help
from solderrisk.plan.masking import masking
from solderrisk.plan.order import fitting_order
from solderrisk.plan.order_task import OrderTask
from solderrisk.plan.part_findings import care_of
from solderrisk.plan.precedence import precedence_of
from solderrisk.plan.rescue import rescues
from solderrisk.plan.results import Assessment, Assumed, FittingOrder
from solderrisk.plan.safety import notes_for
from solderrisk.plan.second_looks import second_looks
from solderrisk.plan.solder_use import accepted_of, air_of, solder_uses
from solderrisk.plan.verdict import verdict
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.results import KitRisk


def assess(
    question: Question,
    engine: RiskEngine,
    *,
    order: FittingOrder | None = None,
    run: Run = ALONE,
) -> Assessment:
    """Chance, costs, order, cards and notes. ``order``: keep this order instead of searching
    anew, for quick what-ifs.

    Raises:
        UnknownName: the kit names a footprint, board or donor that does not exist.
        CyclicOrder: the kit's own rules contradict each other.
        Stopped: the caller wants no more.
    """
    kit, bench, jobs, reference = question.kit, question.bench, question.jobs, question.reference
    physics = reference.physics
    risk = engine.assess(question, run.part(0.0, 0.4) if order is None else run)
    looks = second_looks(question, engine, run.part(0.4, 0.6)) if order is None else ()
    if order is None:
        order = best_order(question, risk, run.part(0.6, 0.95))
    run.tell(0.95, "writing the cards")
    uses = solder_uses(risk, reference)
    chosen = {job.job.key: job.chosen for job in risk.jobs if not job.blocked}
    air = air_of(risk, uses, bench, reference)
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
        costs=costs(question, risk, uses),
        order=order,
        cards=cards(
            risk,
            reference,
            uses,
            safety,
            accepted_of(jobs, reference),
            _told(
                care_of(risk, physics),
                masking(risk, kit, order.keys, physics, reference.plan.families),
            ),
            helps,
        ),
        safety=safety,
        findings=(
            *findings(kit, jobs, bench, risk, physics, helps, names),
            *gave_way(order),
        ),
        assumed=assumed(reference),
        second_looks=looks,
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
        run=run,
    )
    worth = question.reference.risk.parameters["hour_value"]
    notes = precedence.notes
    task = OrderTask(question.jobs, question.kit, risk, parameters, worth, notes=notes)
    return fitting_order(task, precedence.edges, run=run)


def tool_names(reference: Reference) -> dict[str, str]:
    """What tools are called in a sentence, by tooling name."""
    return {tool.id: tool.called or tool.title for tool in reference.plan.tools}


def assumed(reference: Reference) -> Assumed:
    """How much of the risk data is judgement, and what the user set."""
    table = reference.risk.parameters.parameters
    judged = sum(parameter.assumed for parameter in table.values())
    return Assumed(judged, len(table), reference.set_by_user())
