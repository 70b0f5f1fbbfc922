"""An assessment as rows for a spreadsheet."""

from __future__ import annotations

import csv
import io

from solderrisk.plan.results import Assessment
from solderrisk.risk.results import JobRisk
from solderrisk.words import LEVEL_WORDS, named, one_line

# What a spreadsheet may take for a formula at the beginning of a cell.
STARTS_FORMULA = ("=", "+", "-", "@")

COLUMNS = (
    "position_in_order",
    "kind",
    "ref",
    "value",
    "footprint",
    "board_or_donor",
    "technique",
    "chance",
    "chance_low",
    "chance_high",
    "first_time",
    "expected_loss",
    "expected_loss_low",
    "expected_loss_high",
    "currency",
    "minutes",
    "minutes_low",
    "minutes_high",
    "share_of_failure",
    "skill_needed",
    "tooling_needed",
)


def as_csv(a: Assessment) -> str:
    """A heading and one row per soldered job, in the kit's order; chances 0..1."""
    order = {key: n for n, key in enumerate(a.order.keys, start=1)}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for risk in a.risk.jobs:
        writer.writerow(_row(risk, order.get(risk.job.key), a))
    return out.getvalue()


def _row(risk: JobRisk, place: int | None, a: Assessment) -> list[str | int]:
    job, option = risk.job, risk.chosen
    return [
        "" if place is None else place,
        job.kind,
        as_text(job.ref),
        as_text(job.title),
        as_text(job.footprint.name if job.footprint is not None else ""),
        as_text(job.place),
        "" if risk.blocked else as_text(option.title),
        f"{option.after_mending.mid:.4f}",
        f"{option.after_mending.low:.4f}",
        f"{option.after_mending.high:.4f}",
        f"{option.first_time.mid:.4f}",
        *(f"{end:.2f}" for end in (option.loss.mid, option.loss.low, option.loss.high)),
        as_text(a.kit.currency),
        *(f"{end:.1f}" for end in (option.minutes.mid, option.minutes.low, option.minutes.high)),
        f"{a.risk.fail_share.get(job.key, 0.0):.4f}",
        LEVEL_WORDS[risk.skill_needed] if risk.skill_needed else "no level is enough",
        as_text(named(risk.tooling_needed, a.tool_names)),
    ]


def as_text(text: str) -> str:
    """A cell that no spreadsheet computes: an apostrophe goes before what looks like one."""
    flat = one_line(text)
    return f"'{flat}" if flat.startswith(STARTS_FORMULA) else flat
