"""The assessment as rows of a table: found, filtered, sorted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from solderrisk.model.jobs import Job
from solderrisk.model.library import Library
from solderrisk.report.words import Band, band_of, job_name
from solderrisk.risk.results import JobRisk
from solderrisk.words import one_line, plain

if TYPE_CHECKING:
    from solderrisk.plan.results import Assessment

SORTS = ("risk", "reference", "chance", "loss", "time", "pitch")


@dataclass(frozen=True)
class JobRow:
    """One soldered job as the tables show it."""

    key: str
    name: str
    part: str
    technique: str
    place: str
    kind: str
    band: Band
    works: float
    first_time: float
    loss: float
    minutes: float
    pitch_mm: float
    share: float
    text: str  # everything a filter may find, folded


@dataclass(frozen=True, eq=False)
class Shown:
    """An assessment with what every screen looks up in it; built off the screen's thread."""

    assessment: Assessment
    rows: tuple[JobRow, ...]
    jobs: dict[str, Job]
    risks: dict[str, JobRisk]
    stage_of: dict[str, int]  # job key -> index into the order's stages

    @classmethod
    def of(cls, assessment: Assessment) -> Shown:
        risk = assessment.risk
        return cls(
            assessment,
            tuple(_row(job, risk.fail_share.get(job.job.key, 0.0)) for job in risk.jobs),
            {job.key: job for job in assessment.jobs},
            {job.job.key: job for job in risk.jobs},
            {key: i for i, s in enumerate(assessment.order.stages) for key in s.keys},
        )

    @cached_property
    def _parts(self) -> Library:
        return Library.of(job.footprint for job in self.jobs.values() if job.footprint)

    def about(self, query: str) -> list[JobRow]:
        """Rows whose name or text holds the query, or whose part everyday words find."""
        want = query.casefold().strip()
        search = self._parts.search(query)
        parts = {f.name for f in search.found if not search.left_out}
        found = [
            row
            for row in self.rows
            if want in row.text or want in row.name.casefold() or self._part_of(row) in parts
        ]
        return sorted(found, key=lambda row: (row.name.casefold() != want, natural(row.name)))

    def _part_of(self, row: JobRow) -> str:
        footprint = self.jobs[row.key].footprint
        return footprint.name if footprint else ""


def _row(risk: JobRisk, share: float) -> JobRow:
    job, footprint = risk.job, risk.job.footprint
    assert footprint is not None
    chosen = risk.chosen if risk.options else None
    technique = "none possible" if risk.blocked or chosen is None else plain(chosen.title)
    band = band_of(risk)
    part = one_line(f"{job.title}", 60)
    text = (
        " ".join((job.ref, job.kind, job.title, footprint.name, footprint.family, technique))
        + f" {job.place} {band.word} {'hot air' if chosen and chosen.air_heat else ''}"
    )
    return JobRow(
        key=job.key,
        name=job_name(job),
        part=part,
        technique=technique,
        place=job.place,
        kind=job.kind,
        band=band,
        works=0.0 if chosen is None or risk.blocked else chosen.after_mending.mid,
        first_time=0.0 if chosen is None or risk.blocked else chosen.first_time.mid,
        loss=chosen.loss.mid if chosen else 0.0,
        minutes=chosen.minutes.mid if chosen else 0.0,
        pitch_mm=footprint.pitch_mm or 99.0,
        share=share,
        text=text.casefold(),
    )


def filtered(rows: tuple[JobRow, ...], words: str) -> list[JobRow]:
    """Rows that hold every word; '-word' leaves rows out that hold it."""
    wanted = words.casefold().split()
    keep = [w for w in wanted if not (w.startswith("-") and len(w) > 1)]
    drop = [w[1:] for w in wanted if w.startswith("-") and len(w) > 1]
    return [
        row
        for row in rows
        if all(w in row.text for w in keep) and not any(w in row.text for w in drop)
    ]


_KEYS: dict[str, Callable[[JobRow], Any]] = {
    "risk": lambda r: (-r.band.rank, r.works, -r.loss),
    "reference": lambda r: natural(r.name),
    "chance": lambda r: (r.works,),
    "loss": lambda r: (-r.loss,),
    "time": lambda r: (-r.minutes,),
    "pitch": lambda r: (r.pitch_mm,),
}


def ordered(rows: list[JobRow], by: str, *, backwards: bool = False) -> list[JobRow]:
    return sorted(rows, key=_KEYS[by], reverse=backwards)


def natural(name: str) -> tuple[object, ...]:
    """Sort key in which C2 comes before C10."""
    parts: list[object] = []
    digits = ""
    for character in name.casefold() + " ":
        if character.isdecimal():
            digits += character
            continue
        if digits:
            parts.append((1, int(digits[:15]), ""))
            digits = ""
        parts.append((0, 0, character))
    return tuple(parts)


def best_match(rows: list[JobRow], words: str) -> str | None:
    """The row a person means by a reference: equal first, then beginning, then any."""
    want = words.casefold().strip()
    if not want:
        return rows[0].key if rows else None
    names = [(row.name.casefold(), row.key) for row in rows]
    equal = (key for name, key in names if name == want or key.casefold().endswith(":" + want))
    begins = (key for name, key in names if name.startswith(want))
    return next(equal, None) or next(begins, None) or (rows[0].key if rows else None)
