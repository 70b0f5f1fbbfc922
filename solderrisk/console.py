"""Streams of the command line, and what people type as options."""

from __future__ import annotations

import argparse
import codecs
import os
import sys
import time

from solderrisk.words import escaped

# Importing typing would take a fifth of the time that --help needs.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from pathlib import Path


BAD_INPUT = 2
# What a mark becomes where the encoding has none.
PLAIN_MARKS = {
    "✔": "+", "✘": "x", "✖": "x", "≈": "~", "–": "-", "…": "...", "·": ".", "○": "o", "◐": "O",
    "●": "@", "→": "->", "×": "x", "°": " deg", "µ": "u", "Ω": "ohm", "▲": "!", "±": "+-",
}  # fmt: skip
PATIENCE_S = 1.0  # what takes longer is shown how far it is
TELL_EVERY_S = 0.1


def ready_streams() -> None:
    """Streams bear every character; a closed one is seen, and messages never land on stdout."""
    codecs.register_error("plain_marks", _plain)
    if sys.stderr is None:
        # Python prints to stdout when it is told to print to None.
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - until the end
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="plain_marks")


def _plain(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    told = ""
    for letter in error.object[error.start : error.end]:
        told += PLAIN_MARKS.get(letter) or _spelt(letter)
    return told, error.end


def _spelt(letter: str) -> str:
    return letter.encode("ascii", "backslashreplace").decode("ascii")


def put(text: str) -> None:
    """Data to stdout, all of it, now."""
    if sys.stdout is None:
        raise OSError("stdout is closed")
    try:
        print(text, end="" if text.endswith("\n") else "\n", flush=True)
    except OSError as problem:
        _give_up_stdout(problem)


def flush() -> None:
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


def fail(message: str) -> int:
    """Told in one line; gives the exit status."""
    note(message)
    return BAD_INPUT


def note(message: str) -> None:
    print(f"solderrisk: {escaped(message)}", file=sys.stderr)


def told(problem: Exception, assumed: list[str]) -> int:
    from solderrisk.files.text import FileProblems
    from solderrisk.model.problems import UserProblem

    if isinstance(problem, FileProblems):
        for line in problem.problems:
            print(line, file=sys.stderr)
        return BAD_INPUT
    if isinstance(problem, MemoryError):
        return fail("out of memory; try a smaller kit")
    if isinstance(problem, UserProblem | OSError):
        return fail(str(problem))
    if os.environ.get("SOLDERRISK_DEBUG"):
        raise problem
    if assumed:
        return fail(
            f"cannot compute with --assume {' '.join(assumed)} ({type(problem).__name__}); "
            "take values nearer to the packaged ones"
        )
    return fail(
        f"a fault of the program ({type(problem).__name__}: {problem}); "
        "set SOLDERRISK_DEBUG=1 to see where"
    )


class Lines(argparse.HelpFormatter):
    """Help as wide as the terminal; argparse alone loads shutil and its archives to know that."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=_columns() - 2)


def _columns() -> int:
    """As ``shutil.get_terminal_size`` finds them."""
    try:
        told = int(os.environ["COLUMNS"])
    except (KeyError, ValueError):
        told = 0
    if told > 0:
        return told
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or 80  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):  # no stdout, closed, or no terminal
        return 80


class Shown:
    """Progress on a terminal, from the second on; the line goes when the answer comes."""

    def __init__(self) -> None:
        self._start = self._last = time.monotonic()
        self._told = False

    def __call__(self, share: float, what: str) -> None:
        now = time.monotonic()
        if now - self._start < PATIENCE_S or (now - self._last < TELL_EVERY_S and share < 1):
            return
        self._last, self._told = now, True
        print(f"\r{share:4.0%} {escaped(what)}\x1b[K", end="", file=sys.stderr, flush=True)

    def clear(self) -> None:
        if self._told:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
            self._told = False


SHOWN = Shown()


PAGE_SECTIONS = (
    "verdict", "statement", "findings", "risk", "checks", "costs", "safety", "sheet", "cards",
    "rescue", "practice", "built", "assumed",
)  # fmt: skip


def path(text: str) -> Path:
    from pathlib import Path

    return Path(text)


def sections(text: str) -> list[str]:
    names = [name.strip() for name in text.split(",") if name.strip()]
    wrong = [name for name in names if name not in PAGE_SECTIONS]
    if wrong or not names:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} names no section like verdict,sheet")
    return names


def share(text: str) -> float:
    """A chance: 0.7, 70 and 70% are the same."""
    number = text.strip().removesuffix("%").strip()
    try:
        value = float(number)
    except ValueError:
        value = -1.0
    if number != text.strip() or value > 1:
        value /= 100
    if not 0 <= value < 1:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no chance, like 0.8 or 80%")
    return value


def number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not -1e12 < value < 1e12:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no number, like 4.98")
    return value


def day(text: str) -> str:
    from datetime import date

    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no day, like 2026-03-01") from None


def seed(text: str) -> int:
    if text.isascii() and text.isdecimal() and len(text) <= 20:
        return int(text)
    raise argparse.ArgumentTypeError(f"{text[:40]!r} is no whole number from 0 on, like 20")


EXAMPLES = {
    "open": "open kit.yaml --bench bench.yaml --builder me.yaml",
    "assess": "assess kit.yaml --target 70% --show order",
    "report": "report kit.yaml --html report.html",
    "advise": "advise kit.yaml --cautious",
    "assumed": "assumed kit.yaml",
    "statement": "statement kit.yaml --markdown statement.md",
    "practise": "practise --aim 'before hot air'",
    "build": "build kit.yaml",
    "record": "record kit.yaml fault U1 bridge --found meter",
    "log": "log kit.yaml --json",
    "seen": "seen --group pitch",
    "share": "share mine.json",
    "pool": "pool ada.json ben.json -o rates.yaml",
    "class": "class kit.yaml --people ada.yaml,bench.yaml ben.yaml --csv class.csv",
    "survey": "survey kits/*.yaml --csv shelf.csv",
    "worker": "worker",
    "setup": "setup",
    "draft": "draft bom.csv positions.csv -o kit.yaml",
    "footprints": "footprints QFN",
    "schema": "schema kit",
    "completion": "completion bash",
}
