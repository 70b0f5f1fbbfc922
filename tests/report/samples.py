"""Hand-made pieces for the tests of the reports."""

from __future__ import annotations

from dataclasses import replace

from solderrisk.model.bench import LEVELS, Level
from solderrisk.model.jobs import Job
from solderrisk.plan.results import Assessment, CostLine, Finding, Judgement, StatementCell
from solderrisk.risk.results import Range

BENCHES = ("bare", "decent", "well-equipped")


def statement_sample() -> tuple[StatementCell, ...]:
    """Five levels by three benches with chances that rise by 5 points a step."""
    return tuple(
        cell(level, bench, around(0.1 + 0.15 * i + 0.05 * j), "fit:U1", "lift:U1")
        for i, level in enumerate(LEVELS)
        for j, bench in enumerate(BENCHES)
    )


def cell(level: Level, bench: str, chance: Range, *decisive: str) -> StatementCell:
    """A cell that is judged by its mean alone; 70 % is wanted."""
    judgement = Judgement("yes" if chance.mid >= 0.699 else "no", float(chance.mid >= 0.699))
    return StatementCell(level, bench, chance, judgement, decisive)


def around(mid: float) -> Range:
    return Range(mid - 0.1, mid, mid + 0.1)


HOSTILE = "<b onload=x>&\"'{}</b>"


def renamed(a: Assessment, text: str) -> Assessment:
    """An assessment in which a person wrote ``text`` wherever a person writes."""
    risks = tuple(replace(risk, job=_renamed_job(risk.job, text)) for risk in a.risk.jobs)
    return replace(
        a,
        kit=a.kit.model_copy(update={"title": text, "name": text, "currency": text[:8]}),
        bench=a.bench.model_copy(update={"title": text, "name": text}),
        builder=a.builder.model_copy(update={"title": text, "name": text}),
        jobs=tuple(_renamed_job(job, text) for job in a.jobs),
        risk=replace(a.risk, jobs=risks, by_key={risk.job.key: risk for risk in risks}),
        cards={
            key: replace(card, work=f"Fit {text}", what=text, orientation=text, cautions=(text,))
            for key, card in a.cards.items()
        },
        costs=replace(a.costs, currency=text[:8], lines=(CostLine(text, 1.0, "part"),)),
        findings=(Finding("note", "no_gate", (text,), about=text),),
    )


def _renamed_job(job: Job, text: str) -> Job:
    footprint = job.footprint
    if footprint is not None:
        footprint = footprint.model_copy(update={"name": text, "title": text, "mark": text})
    return replace(job, title=text, note=text, footprint=footprint)
