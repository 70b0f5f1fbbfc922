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
    BAD_INPUT,
    DEMO_BENCH,
    DEMO_BUILDER,
    DEMO_KIT,
    STATEMENT_BENCHES,
    parser,
)
from solderrisk.words import escaped

# Importing typing and pathlib would take a fifth of the time that --help needs.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from pathlib import Path

    from solderrisk.model.library import Library
    from solderrisk.model.question import Question, Run

OK, NOT_MANAGEABLE, UNDECIDED = 0, 1, 3
CONFIDENCES = (0.8, 0.9, 0.95)  # of the table of pass marks


def run(argv: list[str]) -> int:
    """Run one command; every failure a user can cause is one line and status 2."""
    _ready_streams()
    assumed: list[str] = []
    try:
        args = _parsed(argv)
        assumed = getattr(args, "assume", [])
        return COMMANDS[args.command or "open"](args)
    except KeyboardInterrupt:
        return _fail("stopped")
    except Exception as problem:
        return _told(problem, assumed)


def _parsed(argv: list[str]) -> argparse.Namespace:
    try:
        return parser(argv[0] if argv else None).parse_args(argv)
    except SystemExit:
        _flush()
        raise


def _ready_streams() -> None:
    """Streams bear every character; a closed one is seen, and messages never land on stdout."""
    if sys.stderr is None:
        # Python prints to stdout when it is told to print to None.
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - until the end
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def _put(text: str) -> None:
    """Data to stdout, all of it, now."""
    if sys.stdout is None:
        raise OSError("stdout is closed")
    try:
        print(text, end="" if text.endswith("\n") else "\n", flush=True)
    except OSError as problem:
        _give_up_stdout(problem)


def _flush() -> None:
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError as problem:
        _give_up_stdout(problem)


def _give_up_stdout(problem: OSError) -> None:
    """A reader that left has seen enough; anything else is told. Python would complain
    about either once more while it shuts down."""
    with open(os.devnull, "wb") as nowhere:
        os.dup2(nowhere.fileno(), sys.stdout.fileno())
    if not isinstance(problem, BrokenPipeError):
        raise OSError(f"stdout takes no more: {problem.strerror}") from None


def _told(problem: Exception, assumed: list[str]) -> int:
    from solderrisk.files.errors import FileProblems
    from solderrisk.model.problems import UserProblem

    if isinstance(problem, FileProblems):
        for line in problem.problems:
            print(line, file=sys.stderr)
        return BAD_INPUT
    if isinstance(problem, MemoryError):
        return _fail("out of memory; try a smaller kit")
    if isinstance(problem, UserProblem | OSError):
        return _fail(str(problem))
    if os.environ.get("SOLDERRISK_DEBUG"):
        raise problem
    if assumed:
        return _fail(
            f"cannot compute with --assume {' '.join(assumed)} ({type(problem).__name__}); "
            "take values nearer to the packaged ones"
        )
    return _fail(
        f"a fault of the program ({type(problem).__name__}: {problem}); "
        "set SOLDERRISK_DEBUG=1 to see where"
    )


def _fail(message: str) -> int:
    _note(message)
    return BAD_INPUT


def _note(message: str) -> None:
    print(f"solderrisk: {escaped(message)}", file=sys.stderr)


def _progress(share: float, what: str) -> None:
    told = f"{share:4.0%} {what}" if share < 1 else ""
    print(f"\r{told}\x1b[K", end="", file=sys.stderr, flush=True)


def _question(args: argparse.Namespace) -> Question:
    """What the command line asks."""
    from solderrisk.files.loading import open_inputs

    if args.bench is None or args.builder is None:
        who = f"bench {args.bench or DEMO_BENCH}, builder {args.builder or DEMO_BUILDER}"
        _note(f"{who} (give --bench and --builder for your own)")
    asked = open_inputs(
        args.kit, args.bench or DEMO_BENCH, args.builder or DEMO_BUILDER, args.library
    )
    reference = asked.reference
    shares: tuple[str, ...] = ()
    if args.rates is not None:
        from solderrisk.files.reference import with_rates

        reference, shares = with_rates(reference, args.rates)
    if args.journal is not None and args.command != "record":
        from solderrisk.learning_cli import with_journal

        asked = with_journal(asked, args.journal, shares)
    if args.assume:
        import warnings

        # A figure that leads to infinities stops the run instead of passing as a result.
        warnings.simplefilter("error", RuntimeWarning)
        reference = reference.assuming(_changes(args.assume))
    return asked.but(reference=reference, target=args.target, seed=args.seed, as_of=args.as_of)


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

    return Run(_progress) if sys.stderr.isatty() else ALONE


def _assess(args: argparse.Namespace) -> int:
    from solderrisk.session import Session

    question, session, run = _question(args), Session(), _run()
    found = session.assess(question, run=run)
    run.tell(1.0, "done")
    if args.json:
        from solderrisk.report.data import as_json

        _put(as_json(found))
    else:
        from solderrisk.report.text import text

        show = [*args.show, *(["cards"] if args.cards else [])]
        _put(text(found, session.gains(question), show))
    return _status(found.verdict.manageable, found.verdict.decided)


def _status(yes: bool, decided: bool) -> int:
    return UNDECIDED if not decided else OK if yes else NOT_MANAGEABLE


def _report(args: argparse.Namespace) -> int:
    from solderrisk.files.loading import load_benches
    from solderrisk.report.kinds import KINDS, Told
    from solderrisk.session import Session

    question, session = _question(args), Session()
    kind = next(kind for kind in KINDS if getattr(args, kind.name) is not None)
    out: Path = getattr(args, kind.name)
    benches = load_benches(STATEMENT_BENCHES, question.bench)
    built: list[str] = []
    if args.journal is not None:
        from solderrisk.learning_cli import built_lines

        built = built_lines(args.journal, args.kit, question.reference)
    made = kind.made(Told(session, question, session.assess(question), benches, built))
    if str(out) == "-":
        _put(made)
    else:
        from solderrisk.files.atomic import write_new

        write_new(out, kind.file_head + made)
        _note(f"wrote {out}")
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
    _put(advice_text(advice, table, question.kit.currency))
    return OK if advice.reached else NOT_MANAGEABLE


def _assumed(args: argparse.Namespace) -> int:
    from solderrisk.report.planning import assumed_text, effects_text

    if args.kit is None:
        from solderrisk.files.reference import load_reference

        _put(assumed_text(load_reference().assumed()))
        return OK
    from solderrisk.session import Session

    question = _question(args)
    ranking = Session().rank(question, run=_run())
    _put(effects_text(ranking, question.reference.named()))
    return OK


def _statement(args: argparse.Namespace) -> int:
    from solderrisk.files.loading import load_benches, open_inputs
    from solderrisk.report.planning import statement_text
    from solderrisk.session import Session

    question = open_inputs(args.kit, DEMO_BENCH, DEMO_BUILDER, args.library)
    benches = load_benches(args.benches)
    cells = Session().statement(question, benches)
    _put(statement_text(question.kit, cells, question.wanted, benches))
    return OK


def _practise(args: argparse.Namespace) -> int:
    if args.did is not None or args.read is not None or args.undo or args.redo:
        return _learning(args)
    from solderrisk.files.loading import load_builder
    from solderrisk.files.reference import load_reference
    from solderrisk.learning_cli import ladder_builder
    from solderrisk.report.planning import ladder_text, marks_text
    from solderrisk.session import Session

    session, reference = Session(), load_reference()
    builder = ladder_builder(load_builder(args.builder), args.journal, reference)
    _put(ladder_text(session.ladder(builder, reference)) + "\n")
    _put(marks_text(session.marks(reference, CONFIDENCES)))
    return OK


def _draft(args: argparse.Namespace) -> int:
    from solderrisk.draft.drafting import draft_command

    status = draft_command(args.sources, args.out, args.library)
    _flush()
    return status


def _schema(args: argparse.Namespace) -> int:
    import json

    if args.kind == "report":
        from solderrisk.report.shape import json_schema as of_report

        made = of_report()
    elif args.kind == "journal":
        from solderrisk.journal.events import json_schema as of_journal

        made = of_journal()
    else:
        from solderrisk.files.schema import json_schema as of_file

        made = of_file(args.kind)
    _put(json.dumps(made, indent=2))
    return OK


def _footprints(args: argparse.Namespace) -> int:
    from solderrisk.files.library import load_library
    from solderrisk.report.footprint_card import footprint_card, footprint_svg, found_text

    library = load_library(args.library)
    if args.new is not None:
        return _new_footprint(args, library)
    words = " ".join(args.find)
    named, search = library.get(words), library.search(words)
    if named is None and not search.found:
        near = f"; near: {', '.join(search.near)}" if search.near else ""
        return _fail(f"no footprint is found by {words!r}{near}; solderrisk footprints --new NAME")
    only = named or (search.found[0] if len(search.found) == 1 and not search.left_out else None)
    _put(footprint_card(only, search.found) if only else found_text(search))
    if args.svg is not None:
        if only is None:
            return _fail("--svg needs the name of one footprint")
        from solderrisk.files.atomic import write_new

        write_new(args.svg, footprint_svg(only))
        _note(f"wrote {args.svg}")
    return OK


def _new_footprint(args: argparse.Namespace, library: Library) -> int:
    from solderrisk.draft import own_part
    from solderrisk.files.atomic import write_new
    from solderrisk.report.footprint_card import footprint_card

    if args.out is None:
        return _fail("--new needs -o FILE.yaml, the file to write")
    if args.drawing is not None:
        text, made = own_part.part_from_drawing(args.new, args.drawing, library, args.out)
    else:
        given = {key: getattr(args, key.replace("-", "_")) for key in own_part.QUESTIONS}
        answers = own_part.answered(given, own_part.ask if sys.stdin.isatty() else None)
        text, made = own_part.part_from_answers(args.new, answers, library, args.out)
    write_new(args.out, text)
    _put(footprint_card(made))
    _note(f"wrote {args.out}; use it with --library {args.out}")
    return OK


def _open(args: argparse.Namespace) -> int:
    kit = getattr(args, "kit", None)
    bench, builder = getattr(args, "bench", None), getattr(args, "builder", None)
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout)):
        return _fail("the terminal UI needs a terminal; for a pipe use: solderrisk assess KIT")
    from solderrisk.tui.app import run as run_ui
    from solderrisk.tui.setup import Inputs

    libraries = tuple(getattr(args, "library", []))
    inputs = Inputs(
        kit or DEMO_KIT,
        bench or DEMO_BENCH,
        builder or DEMO_BUILDER,
        libraries,
        journal=getattr(args, "journal", None),
    )
    return run_ui(inputs, at_bench=args.command == "build")


def _journal(args: argparse.Namespace) -> int:
    from solderrisk import journal_cli

    context = journal_cli.Context(args, _question, _note)
    status, text = journal_cli.COMMANDS[args.command](context)
    _put(text)
    return status


def _learning(args: argparse.Namespace) -> int:
    from solderrisk import learning_cli
    from solderrisk.journal_cli import Context

    status, text = learning_cli.COMMANDS[args.command](Context(args, _question, _note))
    _put(text)
    return status


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
    "record": _journal,
    "log": _journal,
    "draft": _draft,
    "schema": _schema,
    "footprints": _footprints,
}
