"""What can be written on the command line, and what it means.

Values are checked here as far as no file has to be read for it.
"""

from __future__ import annotations

import argparse

from solderrisk import __version__
from solderrisk.words import escaped

# Importing typing and pathlib would take a fifth of the time that --help needs.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from pathlib import Path
    from typing import NoReturn

DEMO_KIT, DEMO_BENCH, DEMO_BUILDER = "river-recorder", "decent", "hobbyist"
STATEMENT_BENCHES = ("bare", "decent", "well-equipped")
BAD_INPUT = 2


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        self.exit(BAD_INPUT, f"{self.prog}: {escaped(message)} (see {self.prog} --help)\n")


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = _Parser(
        prog="solderrisk",
        description="Can this builder, with this bench, manage this kit? "
        "Without a command the terminal UI opens on the demo kit.",
    )
    top.add_argument("--version", action="version", version=f"solderrisk {__version__}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    ui = commands.add_parser("open", help="open the terminal UI on a kit or on files to draft from")
    ui.add_argument("kit", nargs="?", default=None, metavar="KIT")
    _who(ui)

    assess = commands.add_parser("assess", help="print the verdict, the order and the risks")
    assess.add_argument("kit", metavar="KIT", help="kit file, or the name of a demo kit")
    _who(assess)
    _figures(assess)
    form = assess.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="everything as JSON")
    form.add_argument("--cards", action="store_true", help="technique cards as well")

    report = commands.add_parser("report", help="write a report to print, read or process")
    report.add_argument("kit", metavar="KIT")
    _who(report)
    _figures(report)
    kind = report.add_mutually_exclusive_group(required=True)
    kind.add_argument("--html", metavar="FILE", type=_path, help="one self-contained page")
    kind.add_argument("--json", metavar="FILE", type=_path, help="everything as JSON; - for stdout")
    kind.add_argument("--csv", metavar="FILE", type=_path, help="a row per placement; - for stdout")
    kind.add_argument("--text", metavar="FILE", type=_path, help="plain text; - for stdout")

    advice = commands.add_parser("advise", help="cheapest purchases and practice that suffice")
    advice.add_argument("kit", metavar="KIT")
    _who(advice)
    _figures(advice)
    advice.add_argument(
        "--cautious", action="store_true", help="the lower end of the range has to reach the target"
    )
    advice.add_argument(
        "--prices", metavar="FILE", type=_path,
        help="tools and prices of your own, keyed as the packaged data/tools.yaml; a tool with "
        "the id of a packaged one takes its place",
    )  # fmt: skip

    assumed = commands.add_parser("assumed", help="the assumed numbers that the chance rests on")
    assumed.add_argument("kit", nargs="?", metavar="KIT", help="without: list every such number")
    _who(assumed)
    _figures(assumed)

    statement = commands.add_parser("statement", help="difficulty statement: levels by benches")
    statement.add_argument("kit", metavar="KIT")
    statement.add_argument("--benches", nargs="+", metavar="BENCH", default=list(STATEMENT_BENCHES))
    _library(statement)

    practice = commands.add_parser("practise", help="practice ladder with pass marks")
    practice.add_argument("--builder", metavar="FILE", default=DEMO_BUILDER)

    draft = commands.add_parser("draft", help="make a kit file from what the designer gave")
    draft.add_argument("sources", nargs="+", metavar="SOURCE", type=_path)
    draft.add_argument("-o", "--out", required=True, metavar="KIT.yaml", type=_path)
    _library(draft)

    schema = commands.add_parser("schema", help="print the JSON Schema of a kind of file")
    schema.add_argument("kind", choices=("kit", "bench", "builder", "footprints", "report"))

    names = commands.add_parser("footprints", help="list the footprint library")
    names.add_argument("find", nargs="?", default="", metavar="TEXT")
    _library(names)
    return top


def _path(text: str) -> Path:
    from pathlib import Path

    return Path(text)


def _library(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--library", action="append", default=[], metavar="DIR", type=_path,
        help="folder with footprint files that go before the packaged ones",
    )  # fmt: skip


def _who(command: argparse.ArgumentParser) -> None:
    command.add_argument("--bench", metavar="FILE", help="bench file, or a demo bench's name")
    command.add_argument("--builder", metavar="FILE", help="builder file, or a demo builder's name")
    _library(command)


def _figures(command: argparse.ArgumentParser) -> None:
    command.add_argument("--target", type=_share, metavar="0..1", help="chance to reach")
    command.add_argument("--seed", type=_seed, default=20, help="seed of the uncertainty samples")
    command.add_argument(
        "--assume", action="append", default=[], metavar="NAME=VALUE",
        help="set an assumed parameter of the risk data",
    )  # fmt: skip


def _share(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 < value < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no chance between 0 and 1, like 0.8")
    return value


def _seed(text: str) -> int:
    if text.isascii() and text.isdecimal() and len(text) <= 20:
        return int(text)
    raise argparse.ArgumentTypeError(f"{text[:40]!r} is no whole number from 0 on, like 20")
