"""What is kept when a build starts or is planned anew: the inputs, and what was then told.

Calibration compares what is seen only with forecasts kept before it.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter, ValidationError

from solderrisk.journal.place import JournalProblem
from solderrisk.journal.recording import Recorder, plain
from solderrisk.journal.state import BuildState, PlannedJob, Sheet
from solderrisk.journal.store import Entry, Journal, Kept, Stored, kept_text, new_id
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.footprint import Footprint
from solderrisk.model.jobs import Job
from solderrisk.model.question import Question, Reference
from solderrisk.model.selectors import JobIndex
from solderrisk.plan.results import Assessment
from solderrisk.risk.results import JobRisk, Range
from solderrisk.risk.skill import Belief

# Classes that records are gathered in; bounds in mm and in powers of a magnifier.
PITCHES = ((0.45, "below 0.5 mm"), (0.6, "0.5 mm"), (0.9, "0.65 to 0.8 mm"), (2.0, "1 to 1.3 mm"))
POWERS = ((1.2, "bare eye"), (4.9, "up to 4x"), (12.0, "5x to 12x"))


@dataclass(frozen=True)
class Told:
    """An assessment as it was told, with the numbers and the beliefs behind it."""

    assessment: Assessment
    reference: Reference
    beliefs: Mapping[str, Belief]

    @property
    def kit(self) -> str:
        return self.assessment.kit.name

    @property
    def builder(self) -> str:
        return self.assessment.builder.name


def kept_of(told: Told) -> list[Kept]:
    """Canonical texts of everything that an assessment was made from and told."""
    a, reference = told.assessment, told.reference
    used = {job.footprint.name: job.footprint for job in a.jobs if job.footprint is not None}
    footprints = [used[name].model_dump(mode="json") for name in sorted(used)]
    return [
        kept_text("kit", a.kit.model_dump(mode="json")),
        kept_text("footprints", footprints),
        kept_text("bench", a.bench.model_dump(mode="json")),
        kept_text("builder", a.builder.model_dump(mode="json")),
        kept_text("rates", rates_of(reference)),
        kept_text("jobs", sheet_of(a, reference)),
        kept_text("forecast", forecast_of(told)),
    ]


def rates_of(reference: Reference) -> dict[str, float]:
    """Every number that a forecast rests on and that can be set, by name."""
    return {name: parameter.value for name, parameter in reference.named().items()}


def sheet_of(assessment: Assessment, reference: Reference) -> dict[str, Any]:
    """The jobs in their fitting order, as ``state.Sheet`` reads them."""
    index = JobIndex.of(assessment.jobs)
    by_key = {job.key: job for job in assessment.jobs}
    return {
        "jobs": [_planned(by_key[key], assessment, index) for key in assessment.order.keys],
        "modes": {mode.id: mode.title for mode in reference.risk.faults.modes},
        "builder": assessment.builder.name,
    }


def _planned(job: Job, a: Assessment, index: JobIndex) -> dict[str, Any]:
    risk = a.risk.by_key.get(job.key)
    named = () if job.gate is None else job.gate.after
    covered = {key for selector in named for key in index.keys(selector)} - {job.key}
    planned = PlannedJob(
        key=job.key,
        ref=job.ref,
        kind=job.kind,
        title=job.title,
        footprint=job.footprint.name if job.footprint else "",
        technique="" if risk is None or risk.blocked else risk.chosen.technique,
        joints=job.footprint.joint_count if job.footprint else 0,
        feeds=job.feeds or "",
        covers=tuple(key for key in a.order.keys if key in covered),
    )
    return planned._asdict()


def forecast_of(told: Told) -> dict[str, Any]:
    """Chances of the kit, and of each mode of each job with its opportunities."""
    a = told.assessment
    return {
        "working": _three(a.verdict.chance),
        "first_time": _three(a.verdict.first_time),
        "faults": _three(a.risk.faults),
        "hours": _three(a.risk.hours),
        "loss": _three(a.costs.expected_loss),
        "beliefs": {skill: belief.mean for skill, belief in told.beliefs.items()},
        "jobs": {risk.job.key: _told(risk, a, told.reference) for risk in a.risk.jobs},
    }


def _told(risk: JobRisk, a: Assessment, reference: Reference) -> dict[str, Any]:
    option = risk.chosen
    if risk.blocked:
        return {"technique": "", "modes": {}}
    skill = reference.risk.technique(option.technique).skill
    return {
        "technique": option.technique,
        "skill": skill,
        "level": a.builder.level_of(skill),
        "pitch": pitch_class(risk.job.footprint),
        "pitch_mm": risk.job.footprint.pitch_mm if risk.job.footprint else None,
        "joints": risk.job.footprint.joint_count if risk.job.footprint else 0,
        "tools": power_class(option.settings.power_x),
        "works": _three(option.after_mending),
        "modes": {mode.mode: [mode.opportunities, *_three(mode.each)] for mode in option.modes},
    }


def pitch_class(footprint: Footprint | None) -> str:
    if footprint is None or not footprint.pitch_mm:
        return "no pitch"
    fine = (name for most, name in PITCHES if footprint.pitch_mm <= most)
    return "through hole" if footprint.through_hole else next(fine, "wide")


def power_class(power_x: float) -> str:
    return next((name for most, name in POWERS if power_x <= most), "over 12x")


def _three(value: Range) -> list[float]:
    return [value.low, value.mid, value.high]


# --- starting and planning anew ---


def stamp_of(path: str | os.PathLike[str] | None) -> list[int]:
    """A file's time of change and size; [] for none. Tells without reading whether it is
    still the same."""
    if path is None:
        return []
    found = os.stat(path)
    return [found.st_mtime_ns, found.st_size]


def start(
    journal: Journal,
    told: Told,
    *,
    source: str,
    stamp: Sequence[int] = (),
    who: str = "",
    writer: str = "",
) -> Recorder:
    """Begin a build of what was assessed.

    Raises:
        JournalProblem: nothing was written.
    """
    kept = kept_of(told)
    who = plain(who or told.builder, "--by", 200)
    body = {
        "kit": told.kit,
        "source": source,
        "stamp": list(stamp),
        "kept": {item.what: item.hash for item in kept},
    }
    entry = Entry(new_id(), "started", body, who, writer or who)
    return Recorder(journal, journal.append([entry], kept)[0], who, writer or who)


def replanned(
    recorder: Recorder,
    told: Told,
    why: str,
    *,
    source: str,
    stamp: Sequence[int] = (),
    matched: Mapping[str, str] | None = None,
) -> Stored:
    """Keep the inputs as they are now; what is done stays done where key and footprint match.

    Raises:
        JournalProblem: work that is recorded has no match in the new plan and ``matched``
            (keys of before to keys of now) does not name one.
    """
    kept = kept_of(told)
    sheet = Sheet.of(sheet_of(told.assessment, told.reference))
    lost = unmatched(recorder.state, sheet, matched or {})
    if lost:
        raise JournalProblem(
            f"the kit has changed: recorded work on {', '.join(lost[:6])} has no job of the same "
            f"name and footprint any more; say what it is now with --match {lost[0]}=KEY, or "
            "start another build with --new"
        )
    body = {
        "why": plain(why, "why", 200),
        "source": source,
        "stamp": list(stamp),
        "kept": {item.what: item.hash for item in kept},
        "matched": dict(matched or {}),
    }
    entry = Entry(recorder.build, "replanned", body, recorder.who, recorder.writer)
    stored = recorder.journal.append([entry], kept)[0]
    recorder.refresh()
    return stored


def asked_again(
    recorder: Recorder, question: Question, *, own_bench: bool, own_builder: bool
) -> Question:
    """The question with the bench and the builder that were kept, where asked for."""
    kept = recorder.base.body["kept"]
    changes: dict[str, Any] = {}
    try:
        if own_bench:
            changes["bench"] = Bench.model_validate_json(recorder.journal.kept(kept["bench"]))
        if own_builder:
            text = recorder.journal.kept(kept["builder"])
            changes["builder"] = Builder.model_validate_json(text)
    except ValidationError:
        raise JournalProblem(
            "the bench or builder kept with this build is of another version of the program; "
            "name yours with --bench and --builder"
        ) from None
    return question.but(**changes)


def unmatched(state: BuildState, now: Sheet, matched: Mapping[str, str]) -> list[str]:
    """Keys with something recorded that have no job of the same key and footprint now."""
    jobs = {job.key: job for job in now.jobs}
    touched = {event.body.get("key") for event in state.events} - {None}
    found = []
    for planned in state.sheet.jobs:
        if planned.key not in touched:
            continue
        new = jobs.get(matched.get(planned.key, planned.key))
        if new is None or (planned.key not in matched and new.footprint != planned.footprint):
            found.append(planned.key)
    return found


_FORECAST = TypeAdapter(dict[str, Any])


def kept_forecast(journal: Journal, event: Stored) -> dict[str, Any]:
    """The forecast that was told at a start or replan."""
    return _FORECAST.validate_json(journal.kept(event.body["kept"]["forecast"]))
