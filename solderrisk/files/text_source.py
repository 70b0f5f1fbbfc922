"""Reading a text file that a person named: bounded, UTF-8, nothing unprintable."""

from __future__ import annotations

import re
from pathlib import Path

from solderrisk.files.errors import FileProblems, Problem

MAX_BYTES = 2_000_000

NOT_TEXT = re.compile("[^\t\n\r -~\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def read_text(path: Path, *, max_bytes: int = MAX_BYTES) -> str:
    """The text of a file without its byte order mark.

    Raises:
        FileProblems: missing, a folder, not readable, larger than ``max_bytes``, not UTF-8,
            or with control characters.
    """
    name = str(path)
    try:
        with path.open("rb") as file:
            data = file.read(max_bytes + 1)
    except FileNotFoundError:
        raise _refused(name, "no such file; check the path") from None
    except IsADirectoryError:
        raise _refused(name, "this is a folder; name a file in it") from None
    except PermissionError:
        raise _refused(name, "cannot be read; check its permissions") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise _refused(name, f"cannot be read ({reason}); check the path") from None
    if len(data) > max_bytes:
        raise _refused(name, f"larger than {max_bytes / 1e6:g} MB; split the file")
    return decode_text(data, name)


def decode_text(data: bytes, name: str) -> str:
    """Bytes to text; ``name`` stands for the file in problems."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", "replace")
        raise _refused(name, "not UTF-8 text; save the file as UTF-8", before) from None
    bad = NOT_TEXT.search(text)
    if bad is not None:
        message = f"character U+{ord(bad.group()):04X} does not belong in a text file; remove it"
        raise _refused(name, message, text[: bad.start()])
    return text


def _refused(name: str, message: str, before: str | None = None) -> FileProblems:
    if before is None:
        return FileProblems([Problem(name, message)])
    line = before.count("\n") + 1
    column = len(before) - (before.rfind("\n") + 1) + 1
    return FileProblems([Problem(name, message, line, column)])
