"""Reports by their kind, and the assessment as data."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from solderrisk.plan.results import Assessment, Card, CostLine, Costs, FittingOrder
from solderrisk.report import order as order_words
from solderrisk.report.findings import finding_remedy, finding_text, note_lines
from solderrisk.report.groups import faults_per_million, troubles
from solderrisk.report.shape import (
    FORMAT,
    CardData,
    CostLineData,
    CostsData,
    JobData,
    OptionData,
    OrderData,
    RangeData,
    ReportData,
    VerdictData,
)
from solderrisk.report.words import (
    asked_of,
    assumption_lines,
    cost_note,
    headline,
    look_text,
    mode_why,
    reasons,
    why_chosen,
    why_not_next,
)
from solderrisk.risk.results import JobRisk, Option, Range
from solderrisk.words import UTF8_MARK

if TYPE_CHECKING:
    from solderrisk.model.bench import Bench
    from solderrisk.model.question import Question
    from solderrisk.plan.results import Assessment
    from solderrisk.session import Session


def as_json(assessment: Assessment) -> str:
    """The data as JSON text, ASCII only, so that every pipe and file bears it."""
    return json.dumps(as_data(assessment), indent=2, allow_nan=False)


def as_data(a: Assessment) -> ReportData:
    """The assessment in JSON's types."""
    return {
        "format": FORMAT,
        "kit": a.kit.name,
        "bench": a.bench.name,
        "builder": a.builder.name,
        "invented": a.kit.invented,
        "verdict": _verdict(a),
        "hours": _range(a.risk.hours),
        "faults": _range(a.risk.faults),
        "faults_per_million": _range(faults_per_million(a.risk)),
        "costs": _costs(a.costs),
        "jobs": [_job(a, job) for job in a.risk.jobs],
        "order": _order(a.order),
        "findings": [
            {
                "level": f.level,
                "text": finding_text(f),
                "remedy": finding_remedy(f),
                "keys": list(f.keys),
            }
            for f in a.findings
        ],
        "rescues": [
            {
                "modes": list(trouble.modes),
                "faults": list(trouble.faults),
                "way": trouble.card.way,
                "lacks": list(trouble.card.lacks),
                "steps": list(trouble.card.steps),
                "risks": trouble.card.risks,
                "tries": trouble.card.tries,
                "stop": trouble.card.stop,
                "lost": trouble.card.lost,
                "source": trouble.card.source,
                "keys": list(trouble.keys),
            }
            for trouble in troubles(a)
        ],
        "second_looks": [
            {
                "key": look.key,
                "kind": look.kind,
                "gain": look.gain,
                "minutes": look.minutes,
                "text": look_text(look),
            }
            for look in a.second_looks
        ],
        "safety": [
            {
                "id": note.id,
                "title": note.title,
                "acknowledge": note.acknowledge,
                "text": list(note_lines(note)),
                "applies_to": list(note.applies_to),
                "source": note.source,
            }
            for note in a.safety
        ],
        "assumptions": assumption_lines(a),
    }


def _range(value: Range) -> RangeData:
    return {"low": value.low, "mid": value.mid, "high": value.high}


def _verdict(a: Assessment) -> VerdictData:
    verdict = a.verdict
    judgement = verdict.judgement
    return {
        "answer": judgement.answer,
        "odds": judgement.odds,
        "possible": judgement.possible,
        "not_counted": judgement.missing,
        "manageable": verdict.manageable,
        "decided": verdict.decided,
        "headline": headline(judgement),
        "chance": _range(verdict.chance),
        "first_time": _range(verdict.first_time),
        "first_power": _range(a.risk.first_power),
        "by_hands": _range(a.risk.by_hands),
        "by_numbers": _range(a.risk.by_numbers),
        "target": verdict.target,
        "reasons": reasons(a),
        "top": list(verdict.top),
    }


def _costs(costs: Costs) -> CostsData:
    return {
        "currency": costs.currency,
        "to_buy": costs.to_buy,
        "bad_case": costs.bad_case,
        "bad_money": costs.bad_money,
        "bad_worth": costs.bad_worth,
        "bad_hours": costs.bad_hours,
        "expected_loss": _range(costs.expected_loss),
        "solder_g": costs.solder_g,
        "solder_wire_m": costs.solder_wire_m,
        "flux_g": costs.flux_g,
        "removal_alloy_g": costs.removal_alloy_g,
        "unpriced": list(costs.unpriced),
        "lines": [_cost_line(line) for line in costs.lines],
    }


def _cost_line(line: CostLine) -> CostLineData:
    return {
        "what": line.what,
        "amount": line.amount or 0.0,
        "kind": line.kind,
        "note": cost_note(line),
    }


def _order(order: FittingOrder) -> OrderData:
    return {
        "keys": list(order.keys),
        "optimal": order.optimal,
        "gap": order.gap,
        "expected_loss": order.expected_loss,
        "note": order_words.note(order),
        "notes": [order_words.waived_text(each) for each in order.waived],
        "stages": [
            {
                "number": stage.number,
                "title": order_words.title(stage),
                "prepare": list(order_words.prepare(stage)),
                "keys": list(stage.keys),
                "inspect": [
                    *(f"look for: {fault}" for fault in stage.faults),
                    *order_words.inspect(stage),
                ],
                "gate": stage.gate,
                "minutes": stage.minutes,
                "wait_hours": stage.wait_hours,
                "why_here": order_words.why_here(stage),
            }
            for stage in order.stages
        ],
    }


def _job(a: Assessment, risk: JobRisk) -> JobData:
    job, option = risk.job, risk.chosen
    return {
        "key": job.key,
        "title": job.title,
        "footprint": job.footprint.name if job.footprint else None,
        "place": job.place,
        "side": job.side,
        "blocked": risk.blocked,
        "technique": None if risk.blocked else option.technique,
        "chance": _range(option.after_mending),
        "first_time": _range(option.first_time),
        "lost": _range(option.lost),
        "loss": _range(option.loss),
        "minutes": _range(option.minutes),
        "decided": option.decided,
        "share_of_failure": a.risk.fail_share.get(job.key, 0.0),
        "skill_needed": risk.skill_needed,
        "skill_why": asked_of(risk),
        "tooling_needed": list(risk.tooling_needed),
        "why": why_chosen(risk),
        "why_not_next": why_not_next(risk),
        "modes": [
            {
                "mode": mode.mode,
                "opportunities": mode.opportunities,
                "each": _range(mode.each),
                "total": _range(mode.total),
                "severity": mode.severity,
                "why": mode_why(mode),
            }
            for mode in option.modes
        ],
        "options": [_option(each) for each in risk.options],
        "card": _card(a.cards[job.key]),
    }


def _option(option: Option) -> OptionData:
    return {
        "technique": option.technique,
        "feasible": option.feasible,
        "missing": list(option.missing),
        "why": option.why,
        "loss": _range(option.loss),
        "chance": _range(option.after_mending),
    }


def _card(card: Card) -> CardData:
    return {
        "settings": [f"{label}: {value}" for label, value in card.settings],
        "steps": list(card.steps),
        "look_for": list(card.look_for),
        "orientation": card.orientation,
        "cautions": list(card.cautions),
        "safety": list(card.safety),
    }


@dataclass(frozen=True)
class Told:
    """What a report is made from: the answer, who gave it, the benches of the difficulty
    statement that a page shows, and what was built and seen, in sentences."""

    session: Session
    question: Question
    found: Assessment
    benches: Sequence[Bench] = ()
    built: Sequence[str] = ()
    day: str = ""
    only: Sequence[str] = ()


@dataclass(frozen=True)
class Kind:
    """``about``: in a few words; ``file_head`` goes in front of a file, not of a pipe."""

    name: str
    ending: str
    about: str
    made: Callable[[Told], str]
    file_head: str = ""


def _page(told: Told) -> str:
    from solderrisk.report.page import DEFAULT, NO_DRAWINGS, Parts, page
    from solderrisk.report.pictures import drawings_of

    session, question, found = told.session, told.question, told.found
    wanted = told.only or DEFAULT
    skills = session.skills(question) if "practice" in wanted else None
    parts = Parts(
        statement=session.statement(question, told.benches) if "statement" in wanted else (),
        gains=session.gains(question) if "verdict" in wanted else (),
        steps=session.ladder(question.builder, question.reference, skills=skills)
        if "practice" in wanted
        else (),
        drawings=drawings_of(found, question, session) if "cards" in wanted else NO_DRAWINGS,
        built=told.built,
        day=told.day,
    )
    return page(found, parts, told.only)


def _text(told: Told) -> str:
    from solderrisk.report.text import text

    return text(told.found, told.session.gains(told.question), show=["all"])


def _json(told: Told) -> str:
    from solderrisk.report.data import as_json

    return as_json(told.found)


def _csv(told: Told) -> str:
    from solderrisk.report.groups import as_csv

    return as_csv(told.found)


KINDS = (
    Kind("html", ".html", "one self-contained page to print, with all there is", _page),
    Kind("text", ".txt", "plain text", _text),
    Kind("csv", ".csv", "a row per placement, for a spreadsheet", _csv, UTF8_MARK),
    Kind("json", ".json", "everything as data", _json),
)


def kind_of_ending(ending: str) -> Kind | None:
    """The kind that a file name's ending asks for."""
    return next((kind for kind in KINDS if kind.ending == ending.lower()), None)
