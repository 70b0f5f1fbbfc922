"""Text of files: read with its places, written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from io import FileIO
from pathlib import Path

from solderrisk.model.problems import UserProblem
from solderrisk.words import escaped

MAX_PROBLEMS = 20


@dataclass(frozen=True)
class Problem:
    """One fault of a file, told in one line. Lines and columns count from 1."""

    file: str
    message: str
    line: int | None = None
    column: int | None = None
    path: str = ""

    def __str__(self) -> str:
        place = ":".join(str(p) for p in (self.file, self.line, self.column) if p is not None)
        return escaped(f"{place}: {self.path + ': ' if self.path else ''}{self.message}")


class FileProblems(UserProblem):
    """A file cannot be used; ``problems`` says why, each in one line, at most
    ``MAX_PROBLEMS``; ``more`` counts those that are not written out."""

    def __init__(self, problems: Iterable[Problem], more: int = 0) -> None:
        self.problems = _bounded(list(problems), more)
        super().__init__("\n".join(map(str, self.problems)))


def did_you_mean(name: str, known: Iterable[str], *, limit: int = 12) -> str:
    """A hint to append to a message: the nearest known name, or the names there are."""
    names = list(dict.fromkeys(known))
    by_fold = {n.casefold(): n for n in reversed(names)}
    near = get_close_matches(name.casefold()[:100], list(by_fold), n=1, cutoff=0.6)
    if near:
        return f"; did you mean {by_fold[near[0]]!r}?"
    if not names:
        return ""
    more = f" and {len(names) - limit} more" if len(names) > limit else ""
    return f"; allowed: {', '.join(names[:limit])}{more}"


def _bounded(problems: list[Problem], more: int) -> list[Problem]:
    fits = len(problems) + bool(more) <= MAX_PROBLEMS
    kept = problems if fits else problems[: MAX_PROBLEMS - 1]
    rest = len(problems) - len(kept) + more
    return [*kept, Problem(problems[0].file, f"and {rest} more problems")] if rest else kept


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


def write_new(path: Path, text: str) -> None:
    """Write UTF-8 text to a file that does not exist yet.

    The text goes to a hidden file beside it, to the disk, and only then to its name; a stop
    at any moment leaves no half-written file under ``path``.

    Raises:
        FileProblems: the file exists, its folder does not, or it cannot be written.
    """
    if os.path.lexists(path):
        raise refused(path, "exists already; name another file or move it away")
    try:
        with _draft_of(path, text) as draft:
            _give_name(draft, path)
    except FileExistsError:
        raise refused(path, "exists already; name another file or move it away") from None
    except FileNotFoundError:
        raise refused(path, "its folder does not exist; make it first") from None
    except NotADirectoryError:
        raise refused(path, "its folder is a file; check the path") from None
    except PermissionError:
        raise refused(path, "may not be written; check the folder's permissions") from None
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from None


def write_over(path: Path, text: str) -> None:
    """The same over whatever file is there: the old one or the new one, never half of one.

    Raises:
        FileProblems: it is a folder, or cannot be written.
    """
    try:
        with _draft_of(path, text) as draft:
            os.replace(draft, path)
            _sync_folder(path.parent)
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from None


@contextlib.contextmanager
def _draft_of(path: Path, text: str) -> Iterator[Path]:
    """The text in a hidden file beside ``path``, on the disk; gone afterwards."""
    data = text.encode("utf-8", "backslashreplace")
    draft = path.with_name(f".{path.name[:100]}.{secrets.token_hex(4)}.part")
    try:
        _write_through(draft, data)
        yield draft
    finally:
        with contextlib.suppress(OSError, ValueError):
            draft.unlink()


def _unwritten(path: Path, error: Exception) -> FileProblems:
    reason = getattr(error, "strerror", None) or error
    return refused(path, f"cannot be written ({reason}); check the path")


def _write_through(draft: Path, data: bytes) -> None:
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _give_name(draft: Path, path: Path) -> None:
    try:
        # A hard link refuses an existing name, whoever made it in the meantime.
        os.link(draft, path)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError):
        # Some file systems have no hard links: claim the name first, then fill it.
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
        os.replace(draft, path)
    _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    # Windows cannot open folders; its renames are durable without.
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
