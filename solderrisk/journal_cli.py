"""The commands that keep and read the journal. ``record`` starts light: the kit is only
loaded when a build begins or its kit has changed.

Each command gives its exit status and the text for stdout.
"""

from __future__ import annotations

import json
import os
import sys

from solderrisk.arguments import DEMO_BENCH, DEMO_BUILDER
from solderrisk.journal.place import JournalDamaged, JournalProblem, default_path, doubts
from solderrisk.journal.recording import LOST, Recorder, line_of, told_event
from solderrisk.journal.store import Journal, Stored
from solderrisk.words import counted, folded

# Importing typing would take time that recording need not spend.
TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from solderrisk.journal.forecast import Told
    from solderrisk.model.question import Question

    Ask = Callable[[argparse.Namespace], Question]
    Note = Callable[[str], None]
    Answer = tuple[int, str]

OK = 0


class Context:
    """What a command needs of the command line: how to ask a question and to tell a note."""

    def __init__(self, args: argparse.Namespace, ask: Ask, note: Note) -> None:
        self.args, self.ask, self.note = args, ask, note

    @property
    def path(self) -> str:
        return self.args.journal or default_path()

    def agreed(self, shown: str, asked: str) -> bool:
        """Show something on a terminal and ask for a yes; without a terminal there is none."""
        if not (sys.stdin and sys.stdin.isatty() and sys.stderr and sys.stderr.isatty()):
            return False
        print(f"{shown}\n{asked} (y/n) ", end="", file=sys.stderr, flush=True)
        return sys.stdin.readline().strip().lower() in ("y", "yes")

    def journal(self) -> Journal:
        """The journal, for writing; a damaged one is kept aside and told."""
        try:
            journal = Journal(self.path)
        except JournalDamaged as problem:
            from solderrisk.journal.exchange import opened

            journal, rescued = opened(self.path)
            if rescued is not None:
                self.note(
                    f"{problem}; it is kept as {rescued.aside}, {rescued.events} events could be "
                    "read and go on"
                )
        for warning in journal.warnings:
            self.note(warning)
        return journal


# --- recording ---


def record(context: Context) -> Answer:
    """``record KIT VERB ...``: one line of what was recorded and what is next."""
    args = context.args
    verb = VERBS[args.verb]
    with context.journal() as journal:
        recorder = _recorder(context, journal)
        stored = verb(recorder, args)
        return OK, _as_data(recorder, stored) if args.json else _told(recorder, stored)


def source_of(kit: str) -> str:
    """How a kit is named in the journal: a file by its whole path, a demo kit by its name."""
    return os.path.abspath(kit) if os.path.isfile(kit) else kit


def build_of(journal: Journal, kit: str) -> Stored | None:
    """The latest build of a kit, by its file or its name."""
    source = source_of(kit)
    builds = journal.builds()
    by_source = (b for b in builds if b.body["source"] == source)
    by_name = (b for b in builds if b.body["kit"] == kit)
    return next(by_source, None) or next(by_name, None)


def _recorder(context: Context, journal: Journal) -> Recorder:
    args = context.args
    build = None if args.new else build_of(journal, args.kit)
    if build is None:
        if args.verb not in STARTS:
            raise JournalProblem(_no_build(journal, args.kit))
        return _started(context, journal)
    if build.journal != journal.id:
        raise JournalProblem(
            f"{journal.path}: the build of {args.kit} lies in another journal and was only "
            "imported here; record it there, or start one of your own with --new"
        )
    recorder = Recorder(journal, build, args.by or "", args.writer or "")
    if _changed(recorder, args.kit):
        _replan(context, recorder, "the kit's file has changed")
    elif args.verb == "replan":
        _replan(context, recorder, "asked for")
    return recorder


def _no_build(journal: Journal, kit: str) -> str:
    kits = list(dict.fromkeys(build.body["kit"] for build in journal.builds()))
    there = f"; it has builds of {', '.join(kits[:6])}" if kits else ""
    return f"{journal.path}: no build of {kit} yet{there}; begin one with 'record {kit} start'"


def _changed(recorder: Recorder, kit: str) -> bool:
    """The kit's file is not the one that was planned, as far as its time and size tell."""
    from solderrisk.words import VERSION

    base = recorder.base
    if not base.body["stamp"]:
        return base.program != VERSION and not os.path.isabs(base.body["source"])
    try:
        found = os.stat(kit if os.path.isfile(kit) else base.body["source"])
    except OSError:
        return False  # the file is gone; what was kept of it is enough to go on
    return [found.st_mtime_ns, found.st_size] != list(base.body["stamp"])


def _started(context: Context, journal: Journal) -> Recorder:
    from solderrisk.journal.forecast import start

    args = context.args
    if args.kit in ("-", "/dev/stdin"):
        raise JournalProblem("a build needs the kit's file or its name, not a pipe")
    told = _assessed(context.ask(args))
    source, stamp = _place(args.kit)
    doubt = doubts(journal.path)
    if doubt:
        context.note(doubt)
    recorder = start(
        journal, told, source=source, stamp=stamp, who=args.by or "", writer=args.writer or "",
    )  # fmt: skip
    context.note(f"a build of {args.kit} begins in {journal.path}")
    return recorder


def _assessed(question: Question) -> Told:
    from solderrisk.journal.forecast import Told
    from solderrisk.session import Session

    session = Session()
    return Told(
        session.assess(question, detail=False), question.reference, session.beliefs(question)
    )


def _place(kit: str) -> tuple[str, list[int]]:
    from solderrisk.journal.forecast import stamp_of

    source = source_of(kit)
    return source, stamp_of(source) if os.path.isfile(source) else []


def _replan(context: Context, recorder: Recorder, why: str) -> None:
    """Assess anew with the bench and builder kept, where no others are named."""
    from solderrisk.journal.forecast import asked_again, replanned

    args = context.args
    if not os.path.isfile(args.kit) and os.path.isfile(recorder.base.body["source"]):
        args.kit = recorder.base.body["source"]
    own_bench, own_builder = args.bench is None, args.builder is None
    # Stand-ins for what is taken from the journal.
    args.bench, args.builder = args.bench or DEMO_BENCH, args.builder or DEMO_BUILDER
    question = asked_again(
        recorder, context.ask(args), own_bench=own_bench, own_builder=own_builder
    )
    source, stamp = _place(args.kit)
    matched = dict(_match(item) for item in args.match)
    told = _assessed(question)
    replanned(recorder, told, why, source=source, stamp=stamp, matched=matched)
    context.note(f"{why}: what is left was planned anew")


def _match(item: str) -> tuple[str, str]:
    old, equals, new = item.partition("=")
    if not (old and equals and new):
        raise JournalProblem(f"--match {item}: write OLD=NEW, like fit:R5=fit:R50")
    return old, new


def _words(args: argparse.Namespace, what: str, least: int, most: int) -> list[str]:
    words = list(args.what)
    if not least <= len(words) <= most:
        raise JournalProblem(f"record {args.kit} {args.verb}: write {what}")
    return words


def _done(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    (refs,) = _words(args, "the references, like R1-R12", 1, 1)
    return recorder.done(refs, args.minutes, args.technique)


def _looked(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    (refs,) = _words(args, "the references, like R1-R12", 1, 1)
    return recorder.looked(refs)


def _fault(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    refs, mode = _words(args, "a reference and the fault, like U1 bridge", 2, 2)
    return recorder.fault(refs, mode, args.found, args.count)


def _mended(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    refs, mode = _words(args, "a reference and the fault, like U1 bridge", 2, 2)
    return recorder.mended(refs, mode, worked=not args.failed, how=args.how)


def _lost(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    refs, *more = _words(args, "a reference, and 'land' where it is no part", 1, 2)
    what = more[0] if more else "part"
    if what not in LOST:
        raise JournalProblem(f"{what!r}: what is lost is a part or a land")
    return recorder.lost(refs, what, args.then)


def _gate(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    ref, result = _words(args, "a gate and its result, like rail passed", 2, 2)
    if result not in ("passed", "failed"):
        raise JournalProblem(f"{result!r}: a gate is passed or failed")
    return recorder.gate(ref, result == "passed", args.reading)


def _note(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    words = _words(args, "the note", 1, 200)
    return recorder.note(" ".join(words), args.at)


def _undo(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    words = _words(args, "nothing more, or the number of an event", 0, 1)
    if words and not (words[0].isascii() and words[0].isdecimal() and len(words[0]) < 16):
        raise JournalProblem(f"{words[0]!r}: write the number of an event; 'log' shows them")
    return recorder.undo(int(words[0]) if words else None, with_rest=args.with_rest)


def _redo(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    _words(args, "nothing more", 0, 0)
    return recorder.redo()


def _end(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    (how,) = _words(args, "how it ended: works or gave-up", 1, 1)
    if how not in ("works", "gave-up"):
        raise JournalProblem(f"{how!r}: a build ends as works or gave-up")
    return recorder.end(how == "works")


def _plan(recorder: Recorder, args: argparse.Namespace) -> list[Stored]:
    _words(args, "nothing more", 0, 0)
    return [recorder.base]


VERBS: dict[str, Callable[[Recorder, argparse.Namespace], list[Stored]]] = {
    "start": _plan,
    "done": _done,
    "looked": _looked,
    "fault": _fault,
    "mended": _mended,
    "lost": _lost,
    "gate": _gate,
    "note": _note,
    "undo": _undo,
    "redo": _redo,
    "end": _end,
    "replan": _plan,
}
STARTS = ("start", "done", "fault", "note")  # what may begin a build


def _told(recorder: Recorder, stored: list[Stored]) -> str:
    """'done R1-R12 (events 2 to 14); 12 of 21 done; next fit:U2'."""
    first, last = stored[0].number, stored[-1].number
    numbers = f"event {first}" if first == last else f"events {first} to {last}"
    return f"{_what(recorder, stored)} ({numbers}); {_next(recorder)}"


def _as_data(recorder: Recorder, stored: list[Stored]) -> str:
    state = recorder.state
    told = {
        "events": [event._asdict() for event in stored],
        "done": len(state.done),
        "of": len(state.jobs),
        "next": state.left[0] if state.left else None,
        "asked": list(state.unsettled),
        "works": state.ended,
    }
    return json.dumps(told, ensure_ascii=False, indent=2)


def _what(recorder: Recorder, stored: list[Stored]) -> str:
    event = stored[0]
    keys = [e.body["key"] for e in stored if e.body.get("key") and e.kind == event.kind]
    if event.kind == "undo":
        known = {e.number: e for e in recorder.all_events}
        gone = [known[number] for number in event.body["targets"]]
        told = ", ".join(map(told_event, gone[:3]))
        return f"taken back: {told}" + (f" and {len(gone) - 3} more" if len(gone) > 3 else "")
    if len(keys) < 2:
        return line_of(event)
    jobs = [recorder.state.planned(key) for key in keys]
    refs = [job.key if job.kind == "lift" else job.ref for job in jobs]
    return f"{event.kind} {folded(refs)}"


def _next(recorder: Recorder) -> str:
    state = recorder.state
    line = f"{len(state.done)} of {len(state.jobs)} done"
    if state.unsettled:
        return f"{line}; {', '.join(state.unsettled)} lost: --then spare, buy or end?"
    if state.ended is not None:
        return f"{line}; {'the build works' if state.ended else 'the build was given up'}"
    return f"{line}; next {state.left[0]}" if state.left else f"{line}; nothing is left"


# --- reading ---


def log(context: Context) -> Answer:
    """``log``: builds, or the events of one; in and out as JSON Lines."""
    from solderrisk.journal.exchange import exported, imported, readable

    args = context.args
    if args.bring is not None:
        with context.journal() as journal:
            found = imported(journal, str(args.bring), leave_clashes=args.leave_clashes)
        text = f"{found.new} events are new, {found.known} were known"
        clashes = [f"{name[:6]}/{number}" for name, number in found.clashes[:5]]
        return OK, text + (f", left out as clashing: {', '.join(clashes)}" if clashes else "")
    with readable(context.path) as journal:
        if args.json:
            build = _wanted(journal, args.kit).build if args.kit else None
            return OK, "\n".join(exported(journal, build))
        if args.kit is None:
            return OK, _builds(journal)
        return OK, _events(journal, _wanted(journal, args.kit))


def _wanted(journal: Journal, kit: str) -> Stored:
    build = build_of(journal, kit)
    if build is None:
        raise JournalProblem(_no_build(journal, kit))
    return build


def _builds(journal: Journal) -> str:
    lines = []
    for build in journal.builds():
        state = Recorder(journal, build).state
        faults = sum(fault.times for job in state.jobs.values() for fault in job.faults)
        end = {None: "goes on", True: "works", False: "given up"}[state.ended]
        done = f"{len(state.done)} of {len(state.jobs)} done"
        lines.append(
            f"{build.at[:10]}  {build.body['kit']:24s} {done}, {counted(faults, 'fault')}, "
            f"{state.minutes:.0f} min, {end}"
        )
    return "\n".join(lines) or "no build yet; begin one with 'record KIT start'"


def _events(journal: Journal, build: Stored) -> str:
    from solderrisk.journal.state import live, standing_undos

    recorder = Recorder(journal, build)
    every = recorder.all_events
    counting = {event.number for event in (*live(every), *standing_undos(every))}
    lines = []
    for event in every:
        mark = " " if event.number in counting else "-"
        lines.append(f"{event.number:5d}{mark} {event.at[11:16]} {event.who:12s} {line_of(event)}")
    return "\n".join([*lines, _next(recorder)])


COMMANDS: dict[str, Callable[[Context], Answer]] = {"record": record, "log": log}
