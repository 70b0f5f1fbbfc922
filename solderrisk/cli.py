"""Command line: each command imports what it needs when it needs it.

Exit status: 0 manageable (or done), 1 not manageable at the target, 2 bad input, 3 not decided.
Data go to stdout, messages to stderr.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable

from solderrisk.arguments import (
    DEMO_BENCH,
    DEMO_BUILDER,
    DEMO_KIT,
    STATEMENT_BENCHES,
    parser,
)
from solderrisk.console import SHOWN, fail, flush, note, put, ready_streams, told

# Importing typing and pathlib would take a fifth of the time that --help needs.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from pathlib import Path

    from solderrisk.model.bench import Builder
    from solderrisk.model.question import Question, Run

OK, NOT_MANAGEABLE, UNDECIDED = 0, 1, 3
CONFIDENCES = (0.8, 0.9, 0.95)  # of the table of pass marks


def run(argv: list[str]) -> int:
    """Run one command; every failure a user can cause is one line and status 2."""
    ready_streams()
    assumed: list[str] = []
    try:
        args = _parsed(argv)
        assumed = getattr(args, "assume", [])
        return COMMANDS[args.command or "open"](args)
    except KeyboardInterrupt:
        return fail("stopped")
    except Exception as problem:
        SHOWN.clear()
        return told(problem, assumed)


def _parsed(argv: list[str]) -> argparse.Namespace:
    try:
        return parser(argv[0] if argv else None).parse_args(argv)
    except SystemExit:
        flush()
        raise


def _question(args: argparse.Namespace) -> Question:
    """What the command line asks."""
    from solderrisk.files.loading import open_inputs

    bench, builder, lines = _meant(args)
    asked = open_inputs(_no_bill(args.kit), bench, builder, args.library, args.as_of)
    for line in lines:
        note(line)
    reference = asked.reference
    journal = args.journal if args.command != "record" else None
    if args.rates is not None:
        from solderrisk.files.reference import with_rates
        from solderrisk.learning_cli import own_share

        reference = with_rates(reference, args.rates, own_share(journal))
    if journal is not None:
        from solderrisk.learning_cli import with_journal

        asked = with_journal(asked, journal)
    if args.assume:
        import warnings

        # A figure that leads to infinities stops the run instead of passing as a result.
        warnings.simplefilter("error", RuntimeWarning)
        reference = reference.assuming(_changes(args.assume))
    return asked.but(reference=reference, target=args.target, seed=args.seed)


def whose(args: argparse.Namespace) -> tuple[str, str]:
    """The bench and the builder that are meant: as given, else one's own, else a stranger's."""
    bench, builder, lines = _meant(args)
    for line in lines:
        note(line)
    return bench, builder


def _meant(args: argparse.Namespace) -> tuple[str, str, list[str]]:
    """The same with what there is to tell of them."""
    from solderrisk.files.settings import Own

    own = Own.found(off=getattr(args, "no_settings", False))
    bench, builder = args.bench or own.bench, getattr(args, "builder", None) or own.builder
    lines = list(own.notes)
    if bench is None or builder is None:
        who = f"bench {bench or DEMO_BENCH}, builder {builder or DEMO_BUILDER}"
        lines.append(f"a stranger's: {who}; solderrisk setup asks for yours")
    return str(bench or DEMO_BENCH), str(builder or DEMO_BUILDER), lines


def _no_bill(kit: str) -> str:
    """A kit's path; a bill of materials is told what becomes of it."""
    from solderrisk.model.problems import UserProblem
    from solderrisk.readers.formats import SUFFIXES

    if kit.lower().endswith(SUFFIXES) and os.path.isfile(kit):
        raise UserProblem(
            f"{kit} is no kit yet; make one: solderrisk draft {kit} -o kit.yaml, "
            f"or answer its questions: solderrisk open {kit}"
        )
    return kit


def _changes(items: list[str]) -> dict[str, float]:
    from solderrisk.model.problems import UserProblem

    changes: dict[str, float] = {}
    for item in items:
        name, _, value = item.partition("=")
        try:
            changes[name.strip()] = float(value)
        except ValueError:
            raise UserProblem(f"--assume {item}: write NAME=VALUE with a number") from None
    return changes


def _run() -> Run:
    """Progress is shown where somebody looks."""
    from solderrisk.model.question import ALONE, Run

    return Run(SHOWN) if sys.stderr.isatty() else ALONE


def _assess(args: argparse.Namespace) -> int:
    from solderrisk.session import Session

    question, session, run = _question(args), Session(), _run()
    show = [*args.show, *(["cards"] if args.cards else [])]
    found = session.assess(question, detail=args.json or bool(show), run=run)
    SHOWN.clear()
    if args.json:
        from solderrisk.report.data import as_json

        put(as_json(found))
    else:
        from solderrisk.report.text import text

        # A yes tells no purchases: working them out takes as long as the answer itself.
        yes = found.verdict.judgement.answer == "yes"
        put(text(found, () if yes else session.gains(question), show))
    return _status(found.verdict.manageable, found.verdict.decided)


def _status(yes: bool, decided: bool) -> int:
    return UNDECIDED if not decided else OK if yes else NOT_MANAGEABLE


def _report(args: argparse.Namespace) -> int:
    from datetime import date

    from solderrisk.files.loading import load_benches
    from solderrisk.report.data import KINDS, Told
    from solderrisk.session import Session

    question, session = _question(args), Session()
    kind = next(kind for kind in KINDS if getattr(args, kind.name) is not None)
    out: Path = getattr(args, kind.name)
    benches = load_benches(STATEMENT_BENCHES, question.bench)
    if args.only and kind.name != "html":
        return fail("--only is for --html")
    built: list[str] = []
    if args.journal is not None:
        from solderrisk.learning_cli import built_lines

        built = built_lines(args.journal, args.kit, question.reference)
    answer, day = session.assess(question, run=_run()), date.today().isoformat()
    made = kind.made(Told(session, question, answer, benches, built, day, args.only))
    SHOWN.clear()
    return _written(out, made, kind.file_head, force=args.force)


def _written(out: Path, made: str, head: str = "", *, force: bool = False) -> int:
    """A file of its own, or stdout for '-'; over another only with --force."""
    if str(out) == "-":
        put(made)
        return OK
    from solderrisk.files.text import write_new, write_over

    (write_over if force else write_new)(out, head + made)
    note(f"wrote {out}")
    return OK


def _advise(args: argparse.Namespace) -> int:
    from solderrisk.report.planning import advice_text
    from solderrisk.session import Session

    question = _question(args)
    if args.prices is not None:
        from solderrisk.files.reference import with_prices

        question = question.but(reference=with_prices(question.reference, args.prices))
    session, run = Session(), _run()
    advice = session.advise(question, cautious=args.cautious, run=run)
    table = session.gains(question, [tool.id for tool in advice.buys], run)
    SHOWN.clear()
    if args.json:
        from solderrisk.report.statement import advice_json

        put(advice_json(advice, table, question.kit.currency))
    else:
        put(advice_text(advice, table, question.kit.currency))
    return OK if advice.reached else NOT_MANAGEABLE


def _assumed(args: argparse.Namespace) -> int:
    from solderrisk.report import planning
    from solderrisk.report.statement import numbers_json, ranking_json

    if args.kit is None:
        from solderrisk.files.reference import load_reference

        numbers = load_reference().assumed()
        put(numbers_json(numbers) if args.json else planning.assumed_text(numbers))
        return OK
    from solderrisk.session import Session

    question = _question(args)
    ranking, named = Session().rank(question, run=_run()), question.reference.named()
    SHOWN.clear()
    put(ranking_json(ranking) if args.json else planning.effects_text(ranking, named))
    return OK


def _statement(args: argparse.Namespace) -> int:
    from solderrisk.files.loading import load_benches, open_inputs
    from solderrisk.report.statement import FORMS, Statement
    from solderrisk.session import Session

    question = open_inputs(args.kit, DEMO_BENCH, DEMO_BUILDER, args.library)
    question = question.but(target=args.target)
    benches = load_benches(args.benches)
    cells = Session().statement(question, benches, _run())
    SHOWN.clear()
    told = Statement(question.kit, cells, question.wanted, tuple(benches))
    form = next((form for form in FORMS if getattr(args, form.name) is not None), None)
    if form is None:
        from solderrisk.report.planning import statement_text

        put(statement_text(question.kit, cells, question.wanted, benches))
        return OK
    return _written(getattr(args, form.name), form.made(told), form.file_head, force=args.force)


def _practise(args: argparse.Namespace) -> int:
    if args.did is not None or args.read is not None or args.undo or args.redo:
        args.builder = args.builder or whose(args)[1]
        return _learning(args)
    from solderrisk.files.loading import load_builder
    from solderrisk.files.reference import load_reference
    from solderrisk.learning_cli import ladder_builder
    from solderrisk.report.planning import ladder_text, marks_text
    from solderrisk.session import Session

    session, reference = Session(), load_reference()
    builder = ladder_builder(load_builder(args.builder or whose(args)[1]), args.journal, reference)
    skills = _skills(args, builder) if args.kit is not None else None
    steps = session.ladder(builder, reference, aim=args.aim, skills=skills)
    marks = session.marks(reference, CONFIDENCES)
    if args.json:
        from solderrisk.report.statement import ladder_json

        put(ladder_json(steps))
    else:
        put(ladder_text(steps) + "\n" + marks_text(marks))
    return OK


def _skills(args: argparse.Namespace, builder: Builder) -> set[str]:
    """The skills that a kit asks for, in the way this builder would do it."""
    from solderrisk.files.loading import load_bench, load_kit, load_library
    from solderrisk.files.reference import load_reference
    from solderrisk.model.question import Question
    from solderrisk.session import Session

    library, reference = load_library([]), load_reference()
    kit, bench = load_kit(_no_bill(args.kit), library), load_bench(whose(args)[0])
    return Session().skills(Question(kit, bench, builder, library, reference))


def _open(args: argparse.Namespace) -> int:
    kit = getattr(args, "kit", None)
    bench, builder = getattr(args, "bench", None), getattr(args, "builder", None)
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout)):
        return fail("the terminal UI needs a terminal; for a pipe use: solderrisk assess KIT")
    from solderrisk.tui.app import run as run_ui
    from solderrisk.tui.setup import Inputs

    libraries = tuple(getattr(args, "library", []))
    mine = whose(argparse.Namespace(bench=bench, builder=builder, no_settings=_no_settings(args)))
    inputs = Inputs(
        kit or _last_kit(args) or DEMO_KIT,
        *mine,
        libraries,
        journal=getattr(args, "journal", None),
    )
    return run_ui(inputs, at_bench=args.command == "build")


def _last_kit(args: argparse.Namespace) -> str:
    """The kit file of the last run, if it is still there."""
    from solderrisk.files.settings import remembered

    kit = "" if _no_settings(args) else str(remembered().get("kit", ""))
    return kit if kit and os.path.isfile(kit) else ""


def _no_settings(args: argparse.Namespace) -> bool:
    return bool(getattr(args, "no_settings", False))


def _journal(args: argparse.Namespace) -> int:
    from solderrisk import journal_cli

    context = journal_cli.Context(args, _question, note)
    status, text = journal_cli.COMMANDS[args.command](context)
    put(text)
    return status


def _learning(args: argparse.Namespace) -> int:
    from solderrisk import learning_cli
    from solderrisk.journal_cli import Context

    status, text = learning_cli.COMMANDS[args.command](Context(args, _question, note))
    put(text)
    return status


def _files(args: argparse.Namespace) -> int:
    from solderrisk import files_cli

    return files_cli.COMMANDS[args.command](args)


def _survey(args: argparse.Namespace) -> int:
    from solderrisk.survey import questions, survey

    libraries = [str(path) for path in args.library]
    asked = questions(
        args.kits, args.benches, args.builders, libraries=libraries, target=args.target
    )
    out: Path = args.csv or args.json
    processes = args.processes or os.cpu_count() or 1
    try:
        told = survey(asked, out, processes, _run(), as_csv=args.csv is not None)
    except KeyboardInterrupt:
        return fail(f"stopped; {out}.part keeps what is done, the same command goes on")
    note(f"wrote {out}: {told}")
    return OK


def _worker(args: argparse.Namespace) -> int:
    from solderrisk.survey import worker

    if sys.stdin is None:
        return fail("standard input is closed")
    worker(sys.stdin, put)
    return OK


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "open": _open,
    "build": _open,
    "assess": _assess,
    "report": _report,
    "advise": _advise,
    "assumed": _assumed,
    "statement": _statement,
    "practise": _practise,
    "seen": _learning,
    "share": _learning,
    "pool": _learning,
    "class": _learning,
    "survey": _survey,
    "worker": _worker,
    "record": _journal,
    "log": _journal,
    "draft": _files,
    "setup": _files,
    "completion": _files,
    "schema": _files,
    "footprints": _files,
}
