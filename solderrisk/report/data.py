"""An assessment as plain data, for JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from solderrisk.plan.results import Assessment
from solderrisk.risk.results import JobRisk, Range

FORMAT = 1


def as_data(assessment: Assessment) -> dict[str, Any]:
    """The assessment in JSON's types. Chances 0..1, money in the kit's currency."""
    verdict, costs, order = assessment.verdict, assessment.costs, assessment.order
    return {
        "format": FORMAT,
        "kit": assessment.kit.name,
        "bench": assessment.bench.name,
        "builder": assessment.builder.name,
        "invented": assessment.kit.invented,
        "verdict": {
            "manageable": verdict.manageable,
            "decided": verdict.decided,
            "headline": verdict.headline,
            "chance": _range(verdict.chance),
            "first_time": _range(verdict.first_time),
            "target": verdict.target,
            "reasons": list(verdict.reasons),
            "top": list(verdict.top),
        },
        "hours": _range(assessment.risk.hours),
        "faults": _range(assessment.risk.faults),
        "costs": {
            "currency": costs.currency,
            "to_buy": costs.to_buy,
            "bad_case": costs.bad_case,
            "expected_loss": _range(costs.expected_loss),
            "solder_g": costs.solder_g,
            "solder_wire_m": costs.solder_wire_m,
            "flux_g": costs.flux_g,
            "removal_alloy_g": costs.removal_alloy_g,
            "lines": [
                {"what": line.what, "amount": line.amount, "kind": line.kind, "note": line.note}
                for line in costs.lines
            ],
        },
        "jobs": [_job(assessment, job) for job in assessment.risk.jobs],
        "order": {
            "optimal": order.optimal,
            "gap": order.gap,
            "expected_loss": order.expected_loss,
            "note": order.note,
            "stages": [
                {
                    "number": stage.number,
                    "title": stage.title,
                    "prepare": list(stage.prepare),
                    "keys": list(stage.keys),
                    "inspect": list(stage.inspect),
                    "gate": stage.gate,
                    "minutes": stage.minutes,
                    "why_here": stage.why_here,
                }
                for stage in order.stages
            ],
        },
        "findings": [
            {"level": f.level, "text": f.text, "remedy": f.remedy, "keys": list(f.keys)}
            for f in assessment.findings
        ],
        "safety": [
            {
                "id": note.id,
                "title": note.title,
                "acknowledge": note.acknowledge,
                "text": list(note.text),
                "source": note.source,
            }
            for note in assessment.safety
        ],
        "assumptions": list(assessment.assumptions),
    }


def as_json(assessment: Assessment) -> str:
    return json.dumps(as_data(assessment), indent=2, ensure_ascii=False)


def as_csv(assessment: Assessment) -> str:
    """One row per soldered job."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ["key", "footprint", "board", "technique", "chance", "chance_low", "chance_high",
         "first_time", "expected_loss", "share_of_failure", "skill_needed", "tooling_needed"]
    )  # fmt: skip
    for job in assessment.risk.jobs:
        option = job.chosen
        writer.writerow(
            [
                job.job.key,
                job.job.footprint.name if job.job.footprint else "",
                job.job.place,
                "" if job.blocked else option.technique,
                f"{option.after_mending.mid:.4f}",
                f"{option.after_mending.low:.4f}",
                f"{option.after_mending.high:.4f}",
                f"{option.first_time.mid:.4f}",
                f"{option.loss.mid:.2f}",
                f"{assessment.risk.fail_share.get(job.job.key, 0.0):.4f}",
                job.skill_needed or "none",
                "; ".join(job.tooling_needed),
            ]
        )
    return out.getvalue()


def _job(assessment: Assessment, job: JobRisk) -> dict[str, Any]:
    option = job.chosen
    card = assessment.cards[job.job.key]
    return {
        "key": job.job.key,
        "footprint": job.job.footprint.name if job.job.footprint else None,
        "place": job.job.place,
        "blocked": job.blocked,
        "technique": None if job.blocked else option.technique,
        "chance": _range(option.after_mending),
        "first_time": _range(option.first_time),
        "lost": _range(option.lost),
        "loss": _range(option.loss),
        "minutes": _range(option.minutes),
        "decided": option.decided,
        "share_of_failure": assessment.risk.fail_share.get(job.job.key, 0.0),
        "skill_needed": job.skill_needed,
        "tooling_needed": list(job.tooling_needed),
        "why": job.why_chosen,
        "why_not_next": job.why_not_next,
        "modes": [
            {"mode": mode.mode, "opportunities": mode.opportunities, "each": _range(mode.each),
             "total": _range(mode.total), "severity": mode.severity, "why": mode.why}
            for mode in option.modes
        ],
        "options": [
            {"technique": o.technique, "feasible": o.feasible, "missing": list(o.missing),
             "why": o.why, "loss": _range(o.loss), "chance": _range(o.after_mending)}
            for o in job.options
        ],
        "card": {
            "settings": list(card.settings_lines),
            "steps": list(card.steps),
            "look_for": list(card.look_for),
            "orientation": card.orientation,
            "cautions": list(card.cautions),
            "safety": list(card.safety),
        },
    }  # fmt: skip


def _range(value: Range) -> dict[str, float]:
    return {"low": value.low, "mid": value.mid, "high": value.high}
