"""Reading a file that a person named: bounded, never waiting, its faults told in one line."""

from __future__ import annotations

import os
import re
import stat
from io import FileIO
from pathlib import Path

from solderrisk.files.errors import FileProblems, Problem

MAX_BYTES = 2_000_000
MAX_PLOTTED_BYTES = 40_000_000
MAX_LINES = 2_000_000

NOT_TEXT = re.compile("[^\t\n\r -~\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def refused(path: Path | str, message: str, line: int | None = None) -> FileProblems:
    return FileProblems([Problem(str(path), message, line)])


def read_bytes(path: Path, limit: int, remedy: str = "give the parts list alone") -> bytes:
    """A file's bytes; of a pipe whatever its writer sends.

    Raises:
        FileProblems: missing, a folder, a device, a pipe without a writer, not readable, or
            larger than ``limit``; ``remedy`` says what to do then.
    """
    try:
        data = _read(path, limit + 1)
    except _TooLarge:
        raise _larger(path, limit, remedy) from None
    except FileNotFoundError:
        raise refused(path, "no such file; check the path") from None
    except IsADirectoryError:
        raise refused(path, "this is a folder; name a file in it") from None
    except PermissionError:
        raise refused(path, "cannot be read; check its permissions") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise refused(path, f"cannot be read ({reason}); check the path") from None
    return bounded(path, data, limit, remedy)


def bounded(
    path: Path, data: bytes, limit: int, remedy: str = "give the parts list alone"
) -> bytes:
    """The same bytes.

    Raises:
        FileProblems: more than ``limit`` of them.
    """
    if len(data) > limit:
        raise _larger(path, limit, remedy)
    return data


class _TooLarge(Exception):  # noqa: N818 - seen here alone
    pass


def _larger(path: Path, limit: int, remedy: str) -> FileProblems:
    return refused(path, f"larger than {limit / 1e6:g} MB; {remedy}")


def _read(path: Path, most: int) -> bytes:
    # Opened without waiting: a pipe that nobody writes to would wait for ever.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb", buffering=0) as file:
        status = os.fstat(handle)
        if stat.S_ISDIR(status.st_mode):
            raise IsADirectoryError
        if stat.S_ISREG(status.st_mode):
            if status.st_size >= most:
                raise _TooLarge
            return _all_of(file, most)
        if not stat.S_ISFIFO(status.st_mode) and not _is_standard_input(status):
            raise refused(path, "a device, not a file with text; check the path")
        first = file.read(1)  # None: a writer is there and has sent nothing yet
        if first == b"":
            raise refused(path, "an empty pipe, or one that nobody writes to; check the path")
        os.set_blocking(handle, True)
        return (first or b"") + _all_of(file, most - len(first or b""))


def _all_of(file: FileIO, most: int) -> bytes:
    data = bytearray()
    while len(data) < most and (piece := file.read(min(most - len(data), 1 << 20))):
        data += piece
    return bytes(data)


def _is_standard_input(status: os.stat_result) -> bool:
    try:
        return os.path.samestat(status, os.fstat(0))
    except OSError:
        return False


def without_controls(text: str) -> tuple[str, tuple[str, ...]]:
    """The text without the characters that no kit file may hold, and a note of their rows."""
    if not NOT_TEXT.search(text):
        return text, ()
    rows = [n for n, row in enumerate(text.splitlines(), start=1) if NOT_TEXT.search(row)]
    more = f" and {len(rows) - 6} more" if len(rows) > 6 else ""
    told = ", ".join(map(str, rows[:6])) + more
    return NOT_TEXT.sub("", text), (f"control characters left out in row {told}",)


def plotted_text(path: Path, data: bytes) -> tuple[str, tuple[str, ...]]:
    """The text of a fabrication file, with plain line ends, and notes about it.

    Raises:
        FileProblems: too large, too many lines, or binary.
    """
    bounded(path, data, MAX_PLOTTED_BYTES)
    if b"\0" in data:
        raise refused(path, "binary data; give the text form of this file")
    if data.count(b"\n") > MAX_LINES:
        raise refused(path, f"more than {MAX_LINES} lines")
    text = data.decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n")
    return without_controls(text)


def read_text(path: Path, *, max_bytes: int = MAX_BYTES) -> str:
    """The text of a file without its byte order mark.

    Raises:
        FileProblems: as ``read_bytes``; not UTF-8, or with control characters.
    """
    return decode_text(read_bytes(path, max_bytes, "split the file"), str(path))


def decode_text(data: bytes, name: str) -> str:
    """Bytes to text; ``name`` stands for the file in problems."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", "replace")
        raise _refused_at(name, "not UTF-8 text; save the file as UTF-8", before) from None
    bad = NOT_TEXT.search(text)
    if bad is not None:
        message = f"character U+{ord(bad.group()):04X} does not belong in a text file; remove it"
        raise _refused_at(name, message, text[: bad.start()])
    return text


def _refused_at(name: str, message: str, before: str) -> FileProblems:
    line = before.count("\n") + 1
    column = len(before) - (before.rfind("\n") + 1) + 1
    return FileProblems([Problem(name, message, line, column)])
