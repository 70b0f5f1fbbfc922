"""Streams of the command line: data to stdout, all of it; messages and progress to stderr."""

from __future__ import annotations

import codecs
import os
import sys
import time

from solderrisk.words import escaped

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
    from solderrisk.files.errors import FileProblems
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
