"""What to know first: findings and the safety notes that apply."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache

from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Footprint
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Board, Kit, PlaneLink
from solderrisk.model.physics_data import PhysicsData
from solderrisk.model.plan_data import BenchWhen, Note, SafetyData, When
from solderrisk.model.question import Reference
from solderrisk.model.selectors import JobIndex
from solderrisk.physics.joint import doubted_link
from solderrisk.physics.results import Fume
from solderrisk.plan.heating import Help
from solderrisk.plan.part_findings import (
    board_care,
    heat_doubt,
    holes,
    leads_to_cut,
    moisture,
    other_solder,
    washing,
    whom,
)
from solderrisk.plan.results import Finding, FittingOrder, SafetyNote
from solderrisk.plan.verdict import by_needs
from solderrisk.risk.results import KitRisk, Option
from solderrisk.words import plain

FUME_NOTE = "fumes"


def notes_for(
    jobs: Sequence[Job],
    chosen: Mapping[str, Option],
    bench: Bench,
    kit: Kit,
    data: SafetyData,
    air: Fume | None = None,
) -> tuple[SafetyNote, ...]:
    """The notes that apply, in the file's order, each with the jobs it applies to.

    ``chosen``: how a job is done, by its key; jobs without one are matched by all else. A
    note that the bench or the kit's own words call for may apply to no single job. ``air``:
    the estimate that goes with the note on fume.
    """
    found = []
    for note in data.notes:
        keys = tuple(
            job.key
            for job in jobs
            if any(_calls(when, job, chosen.get(job.key)) for when in note.when)
        )
        if keys or _kit_calls(note, kit) or any(_on_bench(when, bench) for when in note.bench):
            text = (*_text(note, bench), data.closing)
            told = air if note.id == FUME_NOTE else None
            found.append(
                SafetyNote(note.id, note.title, text, note.acknowledge, keys, note.source, told)
            )
    return tuple(found)


def _text(note: Note, bench: Bench) -> tuple[str, ...]:
    extra = tuple(line.text for line in note.extra if _on_bench(line.when, bench))
    return (*note.text, *extra)


def _calls(when: When, job: Job, option: Option | None) -> bool:
    """Whether this job meets every part of the condition that is set."""
    return all(_checks(when, job, option))


def _checks(when: When, job: Job, option: Option | None) -> Iterator[bool]:
    if when.kinds:
        yield job.kind in when.kinds
    if when.heats:
        yield option is not None and option.heat in when.heats
    if when.skills:
        yield option is not None and option.skill in when.skills
    if when.families:
        yield job.footprint is not None and job.footprint.family in when.families
    if when.preheated:
        yield option is not None and option.settings.preheat_c is not None
    if when.metals:
        put_on = option.settings.solders if option is not None else ()
        alloys = (job.alloy, *(solder.alloy for solder in put_on))
        yield job.soldered and any(_holds(alloy, when.metals) for alloy in alloys)
    if when.task_kinds:
        yield job.task is not None and job.task.kind in when.task_kinds
    if when.gate_kinds:
        yield job.gate is not None and job.gate.kind in when.gate_kinds
    if when.donor_conditions:
        yield job.kind == "lift" and job.donor_condition in when.donor_conditions
    if when.words:
        yield _says(" ".join((job.title, job.note, job.ref)), when.words)


def _kit_calls(note: Note, kit: Kit) -> bool:
    """Words of a note that stand in the kit's title, donors or extras."""
    words = tuple(word for when in note.when for word in when.words)
    names = [kit.name, kit.title, *(d.name for d in kit.donors), *(e.name for e in kit.extras)]
    return bool(words) and _says(" ".join(names), words)


def _on_bench(when: BenchWhen, bench: Bench) -> bool:
    return all(_bench_checks(when, bench))


def _bench_checks(when: BenchWhen, bench: Bench) -> Iterator[bool]:
    if when.aids:
        yield any(bench.has(aid) for aid in when.aids)
    if when.aids_missing:
        yield any(not bench.has(aid) for aid in when.aids_missing)
    if when.extraction:
        yield bench.extraction in when.extraction
    if when.flux_kinds:
        yield any(flux.kind in when.flux_kinds for flux in bench.fluxes)
    if when.removal_metals:
        yield any(_holds(alloy, when.removal_metals) for alloy in bench.removal_alloys)
    if when.solder_metals:
        yield any(_holds(solder.alloy, when.solder_metals) for solder in bench.solders)


def _holds(alloy: str, metals: Sequence[str]) -> bool:
    """Whether an alloy's name by composition, such as Sn63Pb37, names one of the metals."""
    return bool(set(re.findall(r"[A-Z][a-z]?", alloy)) & set(metals))


@lru_cache(maxsize=256)
def _pattern(words: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, words))})\b", re.IGNORECASE)


def _says(text: str, words: Sequence[str]) -> bool:
    return _pattern(tuple(words)).search(text) is not None


AMBIGUOUS_CHIP_CODES = frozenset({"0402", "0603", "1005", "1210"})


def findings(
    kit: Kit,
    jobs: Sequence[Job],
    bench: Bench,
    risk: KitRisk,
    data: PhysicsData | None = None,
    helps: Help | None = None,
    names: Mapping[str, str] | None = None,
) -> tuple[Finding, ...]:
    """Everything worth telling of the kit on this bench. ``data``: for what standards say of
    holes and moisture; ``helps``: what would heat the joints in doubt, by job key; ``names``:
    what tools are called."""
    return (
        *_not_counted(kit),
        *_blocked(risk, names or {}),
        *_cables(kit),
        *_chip_codes(kit),
        *_donors(kit, jobs),
        *_unprotected(kit, jobs),
        *_case(kit, jobs),
        *(holes(kit, jobs, data) if data else ()),
        *moisture(risk, data, bench),
        *heat_doubt(risk, helps or {}),
        *other_solder(risk),
        *washing(risk, bench),
        *leads_to_cut(risk, bench),
        *board_care(kit),
        *_bench(bench, jobs),
    )


def by_level(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Blockers first."""
    rank = {"blocker": 0, "caution": 1, "note": 2}
    return tuple(sorted(found, key=lambda finding: rank[finding.level]))


def _blocked(risk: KitRisk, names: Mapping[str, str]) -> Iterable[Finding]:
    """What cannot be done here, why by the way that lacks least, and the cheapest way out, or
    what may be one."""
    blocked = by_needs(job for job in risk.jobs if job.blocked)
    for (kind, *tools), members in blocked.items():
        helps = sorted({tool for member in members for tool in member.tooling_helps})
        yield Finding(
            "blocker",
            "cannot_surely" if helps and not tools else "cannot",
            *whom(member.job for member in members),
            names=(kind, *(names.get(tool, plain(tool)) for tool in tools or helps)),
            of=members[0].chosen,
        )


def _not_counted(kit: Kit) -> Iterable[Finding]:
    if kit.not_counted:
        yield Finding("blocker", "not_counted", tuple(kit.not_counted))


def ties_unknown(jobs: Sequence[Job], reference: Reference) -> tuple[Finding, ...]:
    """Boards whose copper nobody knows: how many of their pins are taken as on planes."""
    doubted = [
        (job, pins)
        for job in jobs
        if job.footprint is not None and job.board is not None
        if (pins := _doubted_pins(job.footprint, job.board, job.links))
    ]
    if not doubted:
        return ()
    figures = [float(sum(pins for _, pins in doubted)), 0.0, 0.0, 0.0]
    for job, pins in doubted:
        assert job.footprint is not None
        number = reference.plan.families.tied_share(job.footprint.family)
        share = reference.risk.parameters.at(number)
        for n, end in enumerate(share.ends, 1):
            figures[n] += pins * end
    places = tuple(dict.fromkeys(job.place for job, _ in doubted))
    return (Finding("caution", "ties_unknown", names=places, figures=tuple(figures)),)


def _doubted_pins(footprint: Footprint, board: Board, links: Sequence[PlaneLink]) -> int:
    pads = footprint.pads
    return sum(g.count for g in pads if doubted_link(footprint, g, board, links) is not None)


def _cables(kit: Kit) -> Iterable[Finding]:
    for wire in kit.wires:
        have = wire.conductors or wire.connections
        if wire.connections > have:
            yield Finding(
                "caution",
                "short_cable",
                keys=(f"wire:{wire.ref}",),
                names=("reused",) if wire.reused else (),
                figures=(have, wire.connections),
                about=wire.ref,
            )


def _chip_codes(kit: Kit) -> Iterable[Finding]:
    by_code: dict[str, list[str]] = {}
    for placement in kit.placements:
        code = placement.footprint.split("-")[-1]
        if code in AMBIGUOUS_CHIP_CODES:
            by_code.setdefault(code, []).append(placement.refs)
    for code, refs in by_code.items():
        yield Finding("note", "chip_code", tuple(refs), names=(code,))


def _donors(kit: Kit, jobs: Sequence[Job]) -> Iterable[Finding]:
    washes = (task for task in kit.tasks if task.kind == "clean")
    cleaned = _named((selector for task in washes for selector in task.before), jobs)
    for donor in kit.donors:
        lifts = [j for j in jobs if j.kind == "lift" and j.donor == donor.name]
        if donor.condition not in ("corroded", "leaked_cell", "burnt") or not lifts:
            continue
        if not all(job.key in cleaned for job in lifts):
            names = (donor.name, donor.condition)
            yield Finding("caution", "unwashed_donor", *whom(lifts), names=names)


def _named(selectors: Iterable[str], jobs: Sequence[Job]) -> set[str]:
    index = JobIndex.of(jobs)
    return {key for selector in selectors for key in index.keys(selector)}


def _unprotected(kit: Kit, jobs: Sequence[Job]) -> Iterable[Finding]:
    guarded = _named((selector for gate in kit.gates for selector in gate.before), jobs)
    bare = [j for j in jobs if j.kind == "fit" and j.irreplaceable and j.key not in guarded]
    if bare:
        yield Finding("caution", "no_gate", *whom(bare))


def _case(kit: Kit, jobs: Sequence[Job]) -> Iterable[Finding]:
    guarded = _named((selector for gate in kit.gates for selector in gate.before), jobs)
    for task in kit.tasks:
        key = f"task:{task.ref}"
        if task.kind == "fit_case" and key not in guarded:
            yield Finding("caution", "untested_case", keys=(key,), about=task.ref)


def _bench(bench: Bench, jobs: Sequence[Job]) -> Iterable[Finding]:
    meters = bench.has("multimeter") or bench.has("oscilloscope")
    if not meters and any(job.kind == "gate" for job in jobs):
        yield Finding("caution", "no_meter")
    if bench.extraction == "none":
        yield Finding("caution", "no_extraction")


def gave_way(order: FittingOrder) -> tuple[Finding, ...]:
    """Inferred rules that the kit's own rules overrule: told, so that nobody is surprised."""
    return tuple(Finding("note", "gave_way", of=waived) for waived in order.waived)
