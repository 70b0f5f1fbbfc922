"""The commands that learn from the journal: practise, seen, share, pool, class.

Each command gives its exit status and the text for stdout.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from solderrisk.arguments import DEMO_BENCH, DEMO_BUILDER, DEMO_KIT
from solderrisk.journal.exchange import readable
from solderrisk.journal.place import JournalProblem
from solderrisk.journal_cli import OK, Context
from solderrisk.report.people import (
    WHAT_IS_SEEN,
    class_csv,
    class_text,
    rate_line,
    score_lines,
    sentence,
)
from solderrisk.report.words import key_name
from solderrisk.words import chance, counted, likely, minutes, rate

if TYPE_CHECKING:
    import argparse

    from solderrisk.model.bench import Builder
    from solderrisk.model.question import Question, Reference

    Answer = tuple[int, str]

MOST_GROUPS = 40


# --- practice ---


def practise(context: Context) -> Answer:
    """Write down a practice run or a note read, and say what it changes."""
    from solderrisk.files.loading import load_builder
    from solderrisk.files.reference import load_reference
    from solderrisk.journal import people

    args, reference = context.args, load_reference()
    builder = load_builder(args.builder)
    with context.journal() as journal:
        before = people.known(builder, journal, reference)
        if args.read is not None:
            note = next((n for n in reference.plan.safety.notes if n.id == args.read), None)
            if note is None:
                known = ", ".join(n.id for n in reference.plan.safety.notes)
                raise JournalProblem(f"--read {args.read[:40]!a}: no such note; there are: {known}")
            new = people.read_note(journal, builder.name, note)
            return OK, f"{note.title}: {'read' if new else 'was read before'}"
        if args.undo or args.redo:
            if args.undo:
                gone = people.take_back(journal, builder.name)
                return OK, f"taken back: {gone.kind} {gone.body.get('exercise', '')}".strip()
            people.restore(journal, builder.name)
            return OK, "restored"
        if args.joints is None:
            raise JournalProblem("--did: say how many joints with --joints")
        faults = dict(_mode_count(item) for item in args.fault)
        people.practise_run(
            journal, reference, builder.name, args.did, args.joints, faults, args.spoiled
        )
        after = people.known(builder, journal, reference)
    lines = [_still(args.did, after, reference), *_beliefs(args.did, before, after, reference)]
    lines += _kits(args, before, after)
    return OK, "\n".join(lines)


def _mode_count(item: str) -> tuple[str, int]:
    mode, _, count = item.partition("=")
    if count and not (count.isascii() and count.isdecimal() and len(count) < 7):
        raise JournalProblem(f"--fault {item[:40]}: write MODE or MODE=NUMBER, like bridge=2")
    return mode, int(count or 1)


def _still(exercise_id: str, builder: Builder, reference: Reference) -> str:
    from solderrisk.journal.people import exercise_of, still_needed

    exercise = exercise_of(reference, exercise_id)
    needed = still_needed(exercise, builder, reference)
    if needed == 0:
        return f"{exercise.title}: passed"
    return f"{exercise.title}: {counted(needed, 'clean joint')} still needed"


def _beliefs(
    exercise_id: str, before: Builder, after: Builder, reference: Reference
) -> Iterable[str]:
    from solderrisk.files.loading import open_inputs
    from solderrisk.journal.people import exercise_of
    from solderrisk.session import Session

    skill, session = exercise_of(reference, exercise_id).skill, Session()
    question = open_inputs(DEMO_KIT, DEMO_BENCH, DEMO_BUILDER, ())
    was, now = (
        session.beliefs(question.but(builder=builder))[skill].mean for builder in (before, after)
    )
    yield f"faults per ordinary joint believed now: {rate(now)}, before {rate(was)}"


def _kits(args: argparse.Namespace, before: Builder, after: Builder) -> Iterable[str]:
    from solderrisk.files.loading import open_inputs
    from solderrisk.session import Session

    session = Session()
    for kit in args.kits:
        question = open_inputs(kit, args.bench or DEMO_BENCH, args.builder, ())
        was, now = (session.chances(question.but(builder=b)).working for b in (before, after))
        yield f"{question.kit.name}: works {chance(now)}, before {likely(was.mid)}"


def ladder_builder(builder: Builder, path: str | None, reference: Reference) -> Builder:
    """The builder with what their journal knows, where there is one."""
    import os

    from solderrisk.journal.people import known
    from solderrisk.journal.place import default_path

    where = path or default_path()
    if path is None and not os.path.exists(where):
        return builder
    with readable(where) as journal:
        return known(builder, journal, reference)


def with_journal(question: Question, path: str) -> Question:
    """The question with what a journal knows of the builder.

    Raises:
        JournalProblem: it knows of something later than the question's day.
    """
    from solderrisk.journal.people import known

    with readable(path) as journal:
        builder = known(question.builder, journal, question.reference)
    newest = max((record.date for record in builder.records if record.date), default="")
    as_of = question.as_of
    if as_of is not None and newest > as_of:
        raise JournalProblem(
            f"{path}: a record of {newest} is after --as-of {as_of}; give {newest} or a later day"
        )
    return question.but(builder=builder)


def own_share(path: str | None) -> str:
    """What pooled rates call the share of a journal; '' without one."""
    from solderrisk.journal.sharing import share_mark

    if path is None:
        return ""
    with readable(path) as journal:
        return share_mark(journal)


# --- predicted against seen ---


def seen(context: Context) -> Answer:
    from solderrisk.files.reference import load_reference
    from solderrisk.journal.learning import cells_of, compare, score

    args, reference = context.args, load_reference()
    with readable(context.path) as journal:
        cells = cells_of(journal, args.by)
    told = score(cells, reference)
    groups = compare(cells, reference, args.group)
    if args.json:
        found = {"score": _plain(told), "groups": [_plain(group) for group in groups]}
        return OK, json.dumps(found, indent=2)
    titles: dict[str, str] = {m.id: m.title for m in reference.risk.faults.modes}
    lines = [sentence(group, titles) for group in groups[:MOST_GROUPS]]
    return OK, "\n".join([*lines, "", *score_lines(told), *WHAT_IS_SEEN])


def _model(value: Any) -> object:
    return value.model_dump(mode="json")


def _plain(value: object) -> object:
    from dataclasses import asdict

    return asdict(value)  # type: ignore[call-overload]


def built_lines(path: str, kit: str, reference: Reference) -> list[str]:
    """What was built of a kit and what was seen, for the page; [] where no build has begun."""
    from solderrisk.journal.learning import cells_of, compare
    from solderrisk.journal.recording import Recorder
    from solderrisk.journal_cli import build_of

    with readable(path) as journal:
        build = build_of(journal, kit)
        if build is None:
            return []
        state = Recorder(journal, build).state
        cells = [cell for cell in cells_of(journal) if cell.build == build.build]
    titles: dict[str, str] = {m.id: m.title for m in reference.risk.faults.modes}
    end = {None: "going on", True: "it works", False: "given up"}[state.ended]
    who = ", ".join(f"{name} {counted(n, 'job')}" for name, n in state.by_who.items())
    lines = [
        f"begun {build.at[:10]}, {len(state.done)} of {len(state.jobs)} done in "
        f"{minutes(state.minutes)}, {end}" + (f"; by {who}" if who else "")
    ]
    for key, job in state.jobs.items():
        name = key_name(key)
        lines += [
            f"{name}: {titles.get(seen.mode, seen.mode)}, found by {seen.found}, "
            + ("open" if seen.mode in job.open else "mended")
            for seen in job.faults
        ]
        lines += [f"{name}: a {what} was lost" for what in job.lost]
        if job.passed is not None:
            reading = "" if job.reading is None else f", reading {job.reading:g}"
            lines.append(f"{name}: {'passed' if job.passed else 'failed'}{reading}")
    lines += [f"note{f' on {key_name(key)}' if key else ''}: {text}" for key, text in state.notes]
    told = compare(cells, reference, "")
    return [*lines, *(sentence(group, titles) for group in told if group.seen or group.tells)]


# --- sharing and pooling ---


def share(context: Context) -> Answer:
    """Show what would be shared, then write it where a file is named and it is agreed to."""
    from solderrisk.files.reference import load_reference
    from solderrisk.files.text import write_new
    from solderrisk.journal.sharing import share_text, summary_of

    args = context.args
    with context.journal() as journal:
        summary = summary_of(journal, load_reference())
    if args.json:
        if args.yes:
            write_new(args.file, share_text(summary))
        return OK, summary.model_dump_json(indent=2)
    shown = [f"{'faults':>6} {'of':>7}  what"]
    for cell in summary.cells:
        what = ", ".join((cell.mode, cell.technique, cell.pitch, cell.level, cell.tools))
        kind = ", practice" if cell.practice else ""
        shown.append(f"{cell.faults:6d} {cell.opportunities:7d}  {what}, {cell.quarter}{kind}")
    if summary.withheld:
        shown.append(f"withheld as too few: {summary.withheld} opportunities")
    if not args.yes and not context.agreed("\n".join(shown), f"write this to {args.file}?"):
        return OK, "\n".join([*shown, "not written; add --yes to write it without being asked"])
    write_new(args.file, share_text(summary))
    return OK, "\n".join([*shown, f"wrote {args.file}"])


def pool(context: Context) -> Answer:
    from solderrisk.files.reference import load_reference
    from solderrisk.files.text import write_new
    from solderrisk.journal.pool import pooled, rates_text
    from solderrisk.journal.sharing import read_summaries

    args = context.args
    summaries, notes = read_summaries([str(path) for path in args.files])
    for note in notes:
        context.note(note)
    rates = pooled(summaries, load_reference())
    told = [rate_line(each) for each in rates]
    if not any(each.parameter for each in rates):
        raise JournalProblem("no rate has enough people behind it yet; nothing was written")
    write_new(args.out, rates_text(rates, summaries))
    done = f"wrote {args.out}; use it with --rates {args.out}"
    if args.json:
        context.note(done)
        return OK, json.dumps([_plain(each) for each in rates], indent=2, default=_model)
    return OK, "\n".join([*told, done])


# --- a class ---


def classes(context: Context) -> Answer:
    from solderrisk.files.loading import load_kit, load_library, load_person
    from solderrisk.files.reference import load_reference
    from solderrisk.files.settings import Own
    from solderrisk.journal.classroom import person_of
    from solderrisk.model.question import Question
    from solderrisk.session import Session

    args, reference = context.args, load_reference()
    library = load_library(args.library)
    kits = [load_kit(kit, library) for kit in args.kits]
    bench = Own.found().bench or DEMO_BENCH
    people = [person_of(*load_person(each, bench), reference) for each in args.people]
    first = people[0]
    question = Question(kits[0], first.bench, first.builder, library, reference, target=args.target)
    plan = Session().class_plan(people, kits, question)
    if args.csv is not None:
        from solderrisk.files.text import write_new

        write_new(args.csv, class_csv(plan))
        context.note(f"wrote {args.csv}")
    if args.json:
        return OK, json.dumps(_plain(plan), indent=2)
    return OK, class_text(plan, question)


COMMANDS: dict[str, Callable[[Context], tuple[int, str]]] = {
    "practise": practise,
    "seen": seen,
    "share": share,
    "pool": pool,
    "class": classes,
}
