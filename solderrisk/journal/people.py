"""What a journal knows of a person: practice, experience at the bench, safety notes read."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence

from solderrisk.journal.learning import Cell, cells_of, known_share
from solderrisk.journal.place import JournalProblem
from solderrisk.journal.recording import MAX_COUNT, plain
from solderrisk.journal.state import live, standing_undos
from solderrisk.journal.store import Entry, Journal, Stored
from solderrisk.model.bench import Builder, ModeCount, Record
from solderrisk.model.plan_data import Exercise, Note
from solderrisk.model.question import Reference
from solderrisk.plan.practice import joints_needed, record_of


def note_version(note: Note) -> str:
    """Changes with the wording, so that a changed note is asked for again."""
    text = "\n".join((note.title, *note.text))
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def notes_read(journal: Journal, who: str, notes: Iterable[Note]) -> dict[str, str]:
    """Ids of the notes that a person has read as they stand now, with the date."""
    versions = {note.id: note_version(note) for note in notes}
    found: dict[str, str] = {}
    for event in live(own_events(journal)):
        body = event.body
        if (
            event.kind == "read"
            and event.who == who
            and versions.get(body["note"]) == body["version"]
        ):
            found.setdefault(body["note"], event.at[:10])
    return found


def read_note(journal: Journal, who: str, note: Note) -> Stored | None:
    """Write down that a note was read; once per person and wording.

    Raises:
        JournalProblem: nothing was written.
    """
    if note.id in notes_read(journal, who, [note]):
        return None
    body = {"note": note.id, "version": note_version(note)}
    who = plain(who, "name", 200)
    return journal.append([Entry("", "read", body, who, who)])[0]


def own_events(journal: Journal) -> list[Stored]:
    """Events of this journal that belong to no build."""
    return [event for event in journal.events("") if event.journal == journal.id]


# --- practice ---


def practise_run(
    journal: Journal,
    reference: Reference,
    who: str,
    exercise_id: str,
    joints: int,
    faults: Mapping[str, int],
    spoiled: int = 0,
) -> Stored:
    """Write down one practice run.

    Raises:
        JournalProblem: it makes no sense; nothing was written.
    """
    exercise = exercise_of(reference, exercise_id)
    modes = {mode.id for mode in reference.risk.faults.modes}
    for mode in faults:
        if mode not in modes:
            raise JournalProblem(f"no fault {mode[:40]!a}; there are: {', '.join(sorted(modes))}")
    if not 1 <= joints <= MAX_COUNT:
        raise JournalProblem(f"--joints {joints}: write a number from 1 to {MAX_COUNT}")
    parts = joints // exercise.joints_per_part
    if sum(faults.values()) > joints:
        raise JournalProblem(f"{sum(faults.values())} faults in {joints} joints: count again")
    if spoiled > max(parts, 1):
        raise JournalProblem(f"{spoiled} parts spoiled of {parts}: count again")
    body = {
        "exercise": exercise.id,
        "skill": exercise.skill,
        "joints": joints,
        "parts": parts,
        "faults": [{"mode": mode, "count": n} for mode, n in sorted(faults.items()) if n],
        "spoiled": spoiled,
    }
    who = plain(who, "name", 200)
    return journal.append([Entry("", "practice", body, who, who)])[0]


def exercise_of(reference: Reference, exercise_id: str) -> Exercise:
    exercises = reference.plan.practice.exercises
    found = next((e for e in exercises if e.id == exercise_id), None)
    if found is None:
        known = ", ".join(e.id for e in exercises)
        raise JournalProblem(f"no exercise {exercise_id[:40]!a}; there are: {known}")
    return found


def take_back(journal: Journal, who: str) -> Stored:
    """Take this person's last practice run or note back; again: the one before.

    Raises:
        JournalProblem: there is nothing to take back.
    """
    mine = [event for event in live(own_events(journal)) if event.who == who]
    if not mine:
        raise JournalProblem(f"{who} has recorded no practice here to take back")
    journal.append([Entry("", "undo", {"targets": [mine[-1].number]}, who, who)])
    return mine[-1]


def restore(journal: Journal, who: str) -> None:
    """Take the last taking back of this person back.

    Raises:
        JournalProblem: nothing was taken back.
    """
    undos = [event for event in standing_undos(own_events(journal)) if event.who == who]
    if not undos:
        raise JournalProblem("nothing was taken back that could be restored")
    journal.append([Entry("", "undo", {"targets": [undos[-1].number]}, who, who)])


def practice_records(journal: Journal, who: str, reference: Reference) -> tuple[Record, ...]:
    """A record for each exercise and day of a person's practice."""
    whole = {e.id: e.whole_part for e in reference.plan.practice.exercises}
    sums: dict[tuple[str, str, str], list[int]] = {}
    for event in live(own_events(journal)):
        if event.kind != "practice" or event.who != who:
            continue
        body = event.body
        faults = sum(fault["count"] for fault in body["faults"])
        if whole.get(body["exercise"]):
            faults = body["spoiled"]
        held = sums.setdefault((event.at[:10], body["exercise"], body["skill"]), [0, 0])
        held[0] += body["joints"]
        held[1] += faults
    return tuple(
        Record(skill=skill, joints=joints, faults=min(faults, joints), date=day)
        for (day, _, skill), (joints, faults) in sums.items()
    )


# --- experience at the bench ---


def experience(journal: Journal, who: str, reference: Reference) -> tuple[Record, ...]:
    """What the looked-over jobs of a person's builds say of their skills: one record for
    each build, technique and pitch. Joints count by the share of faults that is found and
    written down, so that silence is no zero."""
    found = []
    groups: dict[tuple[str, str, float], list[Cell]] = {}
    for cell in cells_of(journal, who):
        key = (cell.build, cell.technique, cell.pitch_mm or 0.0)
        groups.setdefault(key, []).append(cell)
    days = {build.build: build.at for build in journal.builds()}
    for (build, _, _), cells in sorted(groups.items()):
        record = _made(cells, days[build], reference)
        if record is not None:
            found.append(record)
    return tuple(found)


def _made(cells: Sequence[Cell], at: str, reference: Reference) -> Record | None:
    joints = sum({cell.key: cell.joints for cell in cells}.values())
    expected = [cell.opportunities * cell.mid for cell in cells]
    shares = [known_share(cell.mode, reference).mid for cell in cells]
    if joints == 0 or sum(expected) == 0:
        return None
    told = sum(e * s for e, s in zip(expected, shares, strict=True)) / sum(expected)
    seen: dict[str, int] = {}
    for cell in cells:
        seen[cell.mode] = seen.get(cell.mode, 0) + cell.seen
    faults = sum(seen.values())
    first = cells[0]
    return Record(
        skill=first.skill,
        joints=max(round(joints * told), faults, 1),
        faults=faults,
        date=at[:10],
        technique=first.technique,
        pitch_mm=first.pitch_mm,
        modes=tuple(ModeCount(mode=mode, faults=n) for mode, n in sorted(seen.items()) if n),
    )


def known(builder: Builder, journal: Journal, reference: Reference) -> Builder:
    """The builder with what the journal adds: records that their file does not hold yet, and
    safety notes read."""
    records = [
        *practice_records(journal, builder.name, reference),
        *experience(journal, builder.name, reference),
    ]
    read = notes_read(journal, builder.name, reference.plan.safety.notes)
    acknowledged = dict.fromkeys((*builder.acknowledged, *read))
    new = [record for record in records if record not in builder.records]
    return builder.model_copy(
        update={"records": (*builder.records, *new), "acknowledged": tuple(acknowledged)}
    )


def still_needed(exercise: Exercise, builder: Builder, reference: Reference) -> int:
    """Clean joints that an exercise's pass mark still needs; 0 where it is passed."""
    rate = reference.risk.levels.prior(exercise.shows).faults_mean
    joints, faults = record_of(builder, exercise.skill)
    confidence = reference.plan.practice.confidence
    return joints_needed(exercise, rate, joints, faults, confidence)
