"""An anonymous summary of a journal, to be pooled with those of others.

No names, kits, notes, readings or dates but quarters; small cells are merged until they hold
enough opportunities, faults and exposure alike, zeros kept.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Sequence
from typing import Annotated, Any, Literal, NamedTuple, Self

from pydantic import Field, ValidationError, model_validator

from solderrisk.journal.learning import Cell, cells_of
from solderrisk.journal.people import own_events
from solderrisk.journal.place import JournalProblem, told
from solderrisk.journal.state import live
from solderrisk.journal.store import Journal, canonical
from solderrisk.model.base import Frozen, Many
from solderrisk.model.question import Reference

ANY = "any"
# What is given up first where a cell is too small.
MERGED = ("quarter", "tools", "pitch", "technique", "level")
MAX_BYTES = 4 * 2**20
MAX_CELLS = 20_000

Name = Annotated[str, Field(min_length=1, max_length=60)]


class Shared(Frozen):
    """A cell: ``expected`` are the faults that the packaged numbers foretell for somebody of
    that level, geometry and heat included."""

    mode: Name
    technique: Name
    pitch: Name
    level: Name
    tools: Name
    quarter: Annotated[str, Field(pattern=r"^(\d{4}-Q[1-4]|any)$")]
    practice: bool
    opportunities: Annotated[int, Field(ge=1, le=10**9)]
    faults: Annotated[int, Field(ge=0, le=10**9)]
    expected: Annotated[float, Field(ge=0, le=1e9)]

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if self.faults > self.opportunities:
            raise ValueError(f"{self.faults} faults in {self.opportunities} joints cannot be")
        return self


class Summary(Frozen):
    """A share file. A later ``edition`` of the same ``id`` holds all of an earlier one."""

    format: Literal[1]
    id: Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
    edition: Annotated[int, Field(ge=1, le=10**9)]
    withheld: Annotated[int, Field(ge=0)] = Field(
        0, description="opportunities in cells too small to be shared"
    )
    cells: Annotated[Many[Shared], Field(max_length=MAX_CELLS)]


class _Key(NamedTuple):
    mode: str
    technique: str
    pitch: str
    level: str
    tools: str
    quarter: str
    practice: bool


_Sums = dict[_Key, list[float]]  # opportunities, faults, expected


def summary_of(journal: Journal, reference: Reference) -> Summary:
    """Everything looked over and practised so far, as a share file.

    Raises:
        JournalProblem: there is nothing to share yet.
    """
    sums: _Sums = {}
    scale = _scales(journal, reference)
    for cell in cells_of(journal):
        key = _Key(
            cell.mode, cell.technique, cell.pitch, cell.level, cell.tools, cell.quarter, False
        )
        expected = cell.opportunities * cell.mid * scale(cell)
        _add(sums, key, cell.opportunities, cell.seen, expected)
    for key, opportunities, faults in _practice(journal, reference):
        _add(sums, key, opportunities, faults, 0.0)
    if not sums:
        raise JournalProblem(
            f"{journal.path}: nothing to share yet: record jobs as looked over with 'looked'"
        )
    kept, withheld = merged(sums, int(reference.plan.journal["merge_below"]))
    cells = tuple(
        Shared(
            **key._asdict(),
            opportunities=int(n),
            faults=int(k),
            expected=float(f"{expected:.4g}"),
        )
        for key, (n, k, expected) in sorted(kept.items())
    )
    share_id, edition = journal.next_edition()
    return Summary(format=1, id=share_id, edition=edition, withheld=withheld, cells=cells)


def _add(sums: _Sums, key: _Key, opportunities: float, faults: float, expected: float) -> None:
    held = sums.setdefault(key, [0.0, 0.0, 0.0])
    held[0] += opportunities
    held[1] += faults
    held[2] += expected


def _scales(journal: Journal, reference: Reference) -> Any:
    """What turns a told chance into the packaged numbers' one for the level alone: the
    belief that a record had formed and rates set by the user are taken out."""
    from solderrisk.journal.forecast import kept_forecast

    told: dict[str, tuple[dict[str, float], dict[str, float]]] = {}
    for build in journal.builds():
        beliefs = kept_forecast(journal, build).get("beliefs", {})
        rates = json.loads(journal.kept(build.body["kept"]["rates"]))
        told[build.build] = (beliefs, rates)
    names, packaged = reference.plan.journal.rates, reference.risk.parameters

    def scale(cell: Cell) -> float:
        beliefs, rates = told[cell.build]
        level = next((p for p in reference.risk.levels.levels if p.level == cell.level), None)
        mean = beliefs.get(cell.skill, 0.0)
        by_level = level.faults_mean / mean if level is not None and mean > 0 else 1.0
        name = names.get(cell.mode)
        used = rates.get(name, 0.0) if name else 0.0
        return by_level * (packaged[name] / used if name and used > 0 else 1.0)

    return scale


def _practice(journal: Journal, reference: Reference) -> Iterable[tuple[_Key, int, int]]:
    for event in live(own_events(journal)):
        if event.kind != "practice":
            continue
        body = event.body
        quarter = f"{event.at[:4]}-Q{(int(event.at[5:7]) + 2) // 3}"
        seen = {fault["mode"]: fault["count"] for fault in body["faults"]}
        for mode in seen or {ANY: 0}:
            key = _Key(mode, body["skill"], ANY, ANY, ANY, quarter, True)
            yield key, body["joints"], min(seen.get(mode, 0), body["joints"])


def merged(sums: _Sums, least: int) -> tuple[_Sums, int]:
    """Cells below ``least`` opportunities merged upward, one thing given up after another;
    and the opportunities of what stays too small, which is withheld."""
    held = {key: list(values) for key, values in sums.items()}
    for name in MERGED:
        grown: _Sums = {}
        for key, values in held.items():
            wide = (
                key
                if values[0] >= least
                else _Key._make(
                    ANY if field == name else value
                    for field, value in zip(_Key._fields, key, strict=True)
                )
            )
            _add(grown, wide, *values)
        held = grown
    kept = {key: values for key, values in held.items() if values[0] >= least}
    rest = sum(values[0] for key, values in held.items() if key not in kept)
    return kept, int(rest)


def share_text(summary: Summary) -> str:
    return canonical(summary.model_dump(mode="json")) + "\n"


def share_mark(journal: Journal) -> str:
    """What pooled rates call this journal's share; '' where nothing was shared yet."""
    share = journal.share_id()
    return mark_of(share) if share else ""


def mark_of(share: str) -> str:
    return hashlib.sha256(share.encode()).hexdigest()[:16]


def read_summaries(paths: Sequence[str]) -> tuple[list[Summary], list[str]]:
    """Share files, the latest edition of each id; and notes on those that were replaced.

    Raises:
        JournalProblem: a file is none, or the same one was given twice.
    """
    found: dict[str, tuple[Summary, str]] = {}
    notes = []
    for path in paths:
        summary = read_summary(path)
        held = found.get(summary.id)
        if held is not None and held[0].edition == summary.edition:
            raise JournalProblem(
                f"{path}: is the same share as {held[1]}; give each person's file once"
            )
        if held is not None:
            older = path if summary.edition < held[0].edition else held[1]
            notes.append(f"{older}: an earlier edition of the same share is left out")
        if held is None or summary.edition > held[0].edition:
            found[summary.id] = (summary, path)
    return [summary for summary, _ in found.values()], notes


def read_summary(path: str) -> Summary:
    with told(path), open(path, "rb") as file:
        if os.fstat(file.fileno()).st_size > MAX_BYTES:
            raise JournalProblem(f"{path}: over {MAX_BYTES >> 20} MB; this is no share file")
        data = file.read(MAX_BYTES)
    try:
        return Summary.model_validate_json(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(part)[:40] for part in first["loc"]) or "file"
        why = str(first["msg"])
        raise JournalProblem(f"{path}: {place}: {why[:160]}; nothing was written") from None
