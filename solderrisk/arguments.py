"""What can be written on the command line, and what it means.

Values are checked here as far as no file has to be read for it.
"""

from __future__ import annotations

import argparse

from solderrisk import console as as_
from solderrisk.console import EXAMPLES, PAGE_SECTIONS
from solderrisk.words import VERSION, escaped

# Importing typing and pathlib would take a fifth of the time that --help needs.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import NoReturn

DEMO_KIT, DEMO_BENCH, DEMO_BUILDER = "river-recorder", "decent", "hobbyist"
STATEMENT_BENCHES = ("bare", "decent", "well-equipped")
LEVELS = ("never", "few", "several", "regular", "trained")  # as ``model.builder``
BAD_INPUT = 2
RECORDED = (
    "start", "done", "looked", "fault", "mended", "lost", "gate", "note", "undo", "redo", "end",
    "replan",
)  # fmt: skip
SECTIONS = ("order", "risk", "cards", "rescue", "costs", "safety", "assumed", "all")


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        self.exit(BAD_INPUT, f"{self.prog}: {escaped(message)} (see {self.prog} --help)\n")


def parser(only: str | None = None) -> argparse.ArgumentParser:
    """The whole command line; ``only``: a command whose arguments alone are made ready, as
    making them all takes longer than recording does. The list of commands needs none."""
    top = _Parser(
        prog="solderrisk",
        formatter_class=as_.Lines,
        description="Can this builder, with this bench, manage this kit? "
        "Without a command the terminal UI opens on the demo kit.",
    )
    top.add_argument("--version", action="version", version=f"solderrisk {VERSION}")
    if only == "--version":
        return top
    commands = top.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)
    wanted = (only,) if only in COMMANDS else COMMANDS
    for name in wanted:
        help_, fill = COMMANDS[name]
        told = f"example: solderrisk {EXAMPLES[name]}"
        command = commands.add_parser(
            name, help=help_, description=f"{help_}.", epilog=told, formatter_class=as_.Lines
        )
        if only not in ("-h", "--help"):
            fill(command)
    return top


def _open(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", nargs="?", default=None, metavar="KIT")
    _who(command)
    _kept_in(command)


def _build(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", metavar="KIT")
    _who(command)
    _kept_in(command)


def _assess(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", metavar="KIT", help="kit file, or the name of a demo kit")
    _who(command)
    _figures(command)
    form = command.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="everything as JSON")
    form.add_argument(
        "--show", action="append", default=[], choices=SECTIONS, metavar="WHAT",
        help="more below the answer: " + ", ".join(SECTIONS),
    )  # fmt: skip
    form.add_argument("--cards", action="store_true", help="the same as --show cards")


def _report(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", metavar="KIT")
    _who(command)
    _figures(command)
    kind = command.add_mutually_exclusive_group(required=True)
    kind.add_argument("--html", metavar="FILE", type=as_.path, help="one self-contained page")
    kind.add_argument(
        "--json", metavar="FILE", type=as_.path, help="everything as JSON; - for stdout"
    )
    kind.add_argument(
        "--csv", metavar="FILE", type=as_.path, help="a row per placement; - for stdout"
    )
    kind.add_argument("--text", metavar="FILE", type=as_.path, help="plain text; - for stdout")
    command.add_argument(
        "--only", type=as_.sections, default=[], metavar="WHAT,...",
        help="of a page: " + ", ".join(PAGE_SECTIONS),
    )  # fmt: skip
    _force(command)


def _advise(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", metavar="KIT")
    _who(command)
    _figures(command)
    command.add_argument(
        "--cautious", action="store_true", help="the lower end of the range has to reach the target"
    )
    command.add_argument(
        "--prices", metavar="FILE", type=as_.path,
        help="tools and prices of your own, keyed as the packaged data/tools.yaml; a tool with "
        "the id of a packaged one takes its place",
    )  # fmt: skip
    _as_json(command)


def _assumed(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", nargs="?", metavar="KIT", help="without: list every such number")
    _who(command)
    _figures(command)
    _as_json(command)


def _statement(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", metavar="KIT")
    command.add_argument(
        "--benches", nargs="+", metavar="BENCH", default=list(STATEMENT_BENCHES),
        help=f"files or demo names (default: {', '.join(STATEMENT_BENCHES)})",
    )  # fmt: skip
    _target(command)
    form = command.add_mutually_exclusive_group()
    for name, what in (
        ("html", "one page"), ("json", "as data"), ("csv", "a row per cell"),
        ("markdown", "a table for a page"), ("svg", "a small badge"),
    ):  # fmt: skip
        form.add_argument(f"--{name}", metavar="FILE", type=as_.path, help=f"{what}; - for stdout")
    _force(command)
    _library(command)


def _practise(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", nargs="?", metavar="KIT", help="cut it to what this kit asks for")
    command.add_argument("--builder", metavar="FILE", help="builder file, or a demo builder's name")
    command.add_argument(
        "--aim", default="", metavar="WORDS", help="cut it to what leads there: 'before hot air'"
    )
    command.add_argument("--no-settings", action="store_true", help="leave your own builder out")
    _as_json(command)
    what = command.add_mutually_exclusive_group()
    what.add_argument("--did", metavar="EXERCISE", help="write down a practice run")
    what.add_argument("--read", metavar="NOTE", help="write down that a safety note was read")
    what.add_argument("--undo", action="store_true", help="take the last of these back")
    what.add_argument("--redo", action="store_true", help="restore what was taken back")
    command.add_argument("--joints", type=as_.seed, metavar="N", help="joints of the run")
    command.add_argument("--fault", action="append", default=[], metavar="MODE[=N]")
    command.add_argument("--spoiled", type=as_.seed, default=0, metavar="N", help="whole parts")
    command.add_argument("--kits", nargs="+", default=[], metavar="KIT", help="in mind")
    command.add_argument("--bench", metavar="FILE", help="bench for those kits")
    _kept_in(command)


def _seen(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--group", choices=("technique", "skill", "pitch", "level", "tools"), default="technique"
    )
    command.add_argument("--by", metavar="NAME", help="of one pair of hands")
    command.add_argument("--json", action="store_true")
    _kept_in(command)


def _share_out(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", metavar="FILE", type=as_.path)
    command.add_argument("--yes", action="store_true", help="write without asking")
    _as_json(command)
    _kept_in(command)


def _pool(command: argparse.ArgumentParser) -> None:
    command.add_argument("files", nargs="+", metavar="FILE", type=as_.path)
    command.add_argument("-o", "--out", required=True, metavar="RATES.yaml", type=as_.path)
    _as_json(command)
    _kept_in(command)


def _class(command: argparse.ArgumentParser) -> None:
    command.add_argument("kits", nargs="+", metavar="KIT")
    command.add_argument("--people", nargs="+", required=True, metavar="BUILDER[,BENCH[,JOURNAL]]")
    command.add_argument("--csv", metavar="FILE", type=as_.path, help="a row per person and kit")
    _as_json(command)
    _target(command)
    _library(command)
    _kept_in(command)


def _survey(command: argparse.ArgumentParser) -> None:
    command.add_argument("kits", nargs="+", metavar="KIT")
    command.add_argument("--benches", nargs="+", metavar="BENCH", default=list(STATEMENT_BENCHES))
    command.add_argument(
        "--builders", nargs="+", metavar="BUILDER", default=list(LEVELS),
        help="files, names of demo builders, or levels: " + ", ".join(LEVELS),
    )  # fmt: skip
    command.add_argument("--target", type=as_.share, metavar="0..1", help="chance to reach")
    command.add_argument(
        "--processes", type=as_.seed, metavar="N", help="one per core if not given"
    )
    form = command.add_mutually_exclusive_group(required=True)
    form.add_argument("--csv", metavar="FILE", type=as_.path, help="a row per kit, bench, builder")
    form.add_argument("--json", metavar="FILE", type=as_.path, help="a line of JSON for each")
    _library(command)


def _worker(command: argparse.ArgumentParser) -> None:
    command.description = (
        'Reads questions like {"kit": "kit.yaml", "bench": "decent", "builder": "few"} from '
        "standard input, one a line, and writes an answer for each."
    )


def _record(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", metavar="KIT")
    command.add_argument("verb", choices=RECORDED, metavar="VERB", help=", ".join(RECORDED))
    command.add_argument(
        "what", nargs="*", metavar="WHAT",
        help="R1-R12; U1 bridge; rail passed; the number of an event; a note",
    )  # fmt: skip
    command.add_argument("--minutes", type=as_.number, help="of all the jobs together")
    command.add_argument("--technique", metavar="ID", help="used, where not the planned one")
    command.add_argument("--found", choices=("eye", "meter", "gate", "power"), default="eye")
    command.add_argument("--count", type=as_.seed, default=1, help="of this fault on the job")
    command.add_argument("--failed", action="store_true", help="the mending did not work")
    command.add_argument("--how", metavar="TEXT", help="what was done to mend it")
    command.add_argument("--then", choices=("spare", "buy", "end"), help="after a lost part")
    command.add_argument("--reading", type=as_.number, help="what the meter showed at a gate")
    command.add_argument("--at", metavar="REF", help="the job a note is about")
    command.add_argument("--with-rest", action="store_true", help="undo what rests on it as well")
    command.add_argument("--by", metavar="NAME", help="whose hands did it")
    command.add_argument("--writer", metavar="NAME", help="who writes it down")
    command.add_argument("--new", action="store_true", help="another build of the same kit")
    command.add_argument("--match", action="append", default=[], metavar="OLD=NEW")
    _as_json(command)
    _who(command)
    _kept_in(command)
    command.set_defaults(target=None, seed=20, assume=[], rates=None, as_of=None)


def _log(command: argparse.ArgumentParser) -> None:
    command.add_argument("kit", nargs="?", metavar="KIT", help="events of its latest build")
    command.add_argument("--json", action="store_true", help="as JSON Lines, to keep or to import")
    command.add_argument("--import", dest="bring", metavar="FILE", type=as_.path)
    command.add_argument("--leave-clashes", action="store_true")
    _kept_in(command)


def _setup(command: argparse.ArgumentParser) -> None:
    del command  # it asks


def _completion(command: argparse.ArgumentParser) -> None:
    command.add_argument("shell", choices=("bash", "zsh", "tcsh"))


def _draft(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "sources", nargs="+", metavar="SOURCE", type=as_.path,
        help="parts lists, position files, boards, netlists, fabrication files",
    )  # fmt: skip
    command.add_argument(
        "-o", "--out", required=True, metavar="KIT.yaml", type=as_.path,
        help="the kit file to write; - for stdout, with the report on stderr",
    )  # fmt: skip
    _as_json(command)
    _force(command)
    _library(command)


def _schema(command: argparse.ArgumentParser) -> None:
    kinds = ("kit", "bench", "builder", "footprints", "report", "journal")
    command.add_argument("kind", choices=kinds)


def _footprints(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "find", nargs="*", default=[], metavar="WORD", help="a name shows it, words look for it"
    )
    _library(command)
    command.add_argument(
        "--svg", metavar="FILE.svg", type=as_.path, help="also write the picture to a file"
    )
    _as_json(command)
    new = command.add_argument_group("a definition of your own, checked at once")
    new.add_argument("--new", metavar="NAME", help="write it; what is not given is asked for")
    new.add_argument("-o", "--out", metavar="FILE.yaml", type=as_.path)
    new.add_argument(
        "--drawing", metavar="FILE", type=as_.path, help="a footprint file to draw from"
    )
    new.add_argument("--like", metavar="NAME", help="where leads and heat limits are taken from")
    for key, what in (
        ("pins", "N"), ("pitch", "MM"), ("rows", "N"), ("row-span", "MM"), ("land", "MMxMM"),
        ("hole", "MM"), ("body", "MMxMMxMM"),
    ):  # fmt: skip
        new.add_argument(f"--{key}", metavar=what)


def _kept_in(command: argparse.ArgumentParser) -> None:
    command.add_argument("--journal", metavar="FILE", help="instead of your own")


def _library(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--library", action="append", default=[], metavar="DIR", type=as_.path,
        help="folder with footprint files that go before the packaged ones",
    )  # fmt: skip


def _who(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--bench",
        metavar="FILE",
        help="bench file, or a demo bench's name (default: yours, see setup)",
    )
    command.add_argument(
        "--builder", metavar="FILE", help="builder file, or a demo builder's name (default: yours)"
    )
    command.add_argument(
        "--no-settings", action="store_true", help="leave your own bench and builder out"
    )
    _library(command)


def _figures(command: argparse.ArgumentParser) -> None:
    _target(command)
    command.add_argument("--seed", type=as_.seed, default=20, help="of what is drawn (default: 20)")
    command.add_argument(
        "--assume", action="append", default=[], metavar="NAME=VALUE",
        help="set an assumed parameter of the risk data",
    )  # fmt: skip
    command.add_argument("--rates", metavar="FILE", type=as_.path, help="pooled base rates")
    command.add_argument("--journal", metavar="FILE", help="with what it knows of the builder")
    command.add_argument(
        "--as-of", type=as_.day, metavar="DATE",
        help="day from which the age of records counts; the newest record's if not given",
    )  # fmt: skip


def _target(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--target", type=as_.share, metavar="CHANCE",
        help="chance to reach, like 70%% or 0.7 (default: the kit's own)",
    )  # fmt: skip


def _force(command: argparse.ArgumentParser) -> None:
    command.add_argument("--force", action="store_true", help="write over a file that is there")


def _as_json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="as data")


COMMANDS: dict[str, tuple[str, Callable[[argparse.ArgumentParser], None]]] = {
    "open": ("open the terminal UI on a kit or on files to draft from", _open),
    "assess": ("print the verdict, the order and the risks", _assess),
    "report": ("write a report to print, read or process", _report),
    "advise": ("cheapest purchases and practice that suffice", _advise),
    "assumed": ("the assumed numbers that the chance rests on", _assumed),
    "statement": ("difficulty statement: levels by benches", _statement),
    "practise": ("practice ladder with pass marks", _practise),
    "build": ("open the UI at the bench, where the build was left", _build),
    "seen": ("what was predicted against what was seen at the bench", _seen),
    "share": ("an anonymous summary of the journal, to be pooled", _share_out),
    "pool": ("base rates from many people's shares", _pool),
    "class": ("several builders, several kits: who is ready for what", _class),
    "survey": ("many kits for many builders and benches, on all cores", _survey),
    "worker": ("answer questions of a survey: JSON lines in and out", _worker),
    "record": ("write down what was done, seen or tested", _record),
    "log": ("builds and what was recorded; journals in and out", _log),
    "setup": ("say once what you have done and what is on your bench", _setup),
    "completion": ("print the completion script of a shell", _completion),
    "draft": ("make a kit file from what the designer gave", _draft),
    "schema": ("print the JSON Schema of a kind of file", _schema),
    "footprints": ("find, show or write a footprint", _footprints),
}
