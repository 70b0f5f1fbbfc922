"""Writing a file in one step: complete or not there, and never over another."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from solderrisk.files.errors import FileProblems, Problem


def write_new(path: Path, text: str) -> None:
    """Write UTF-8 text to a file that does not exist yet.

    The text goes to a hidden file beside it, to the disk, and only then to its name; a stop
    at any moment leaves no half-written file under ``path``.

    Raises:
        FileProblems: the file exists, its folder does not, or it cannot be written.
    """
    if os.path.lexists(path):
        raise _refused(path, "exists already; name another file or move it away")
    data = text.encode("utf-8", "backslashreplace")
    draft = path.with_name(f".{path.name[:100]}.{secrets.token_hex(4)}.part")
    try:
        _write_through(draft, data)
        _give_name(draft, path)
    except FileExistsError:
        raise _refused(path, "exists already; name another file or move it away") from None
    except FileNotFoundError:
        raise _refused(path, "its folder does not exist; make it first") from None
    except NotADirectoryError:
        raise _refused(path, "its folder is a file; check the path") from None
    except PermissionError:
        raise _refused(path, "may not be written; check the folder's permissions") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise _refused(path, f"cannot be written ({reason}); check the path") from None
    finally:
        with contextlib.suppress(OSError, ValueError):
            draft.unlink()


def write_over(path: Path, text: str) -> None:
    """The same over whatever file is there: the old one or the new one, never half of one.

    Raises:
        FileProblems: it is a folder, or cannot be written.
    """
    draft = path.with_name(f".{path.name[:100]}.{secrets.token_hex(4)}.part")
    try:
        _write_through(draft, text.encode("utf-8", "backslashreplace"))
        os.replace(draft, path)
        _sync_folder(path.parent)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise _refused(path, f"cannot be written ({reason}); check the path") from None
    finally:
        with contextlib.suppress(OSError, ValueError):
            draft.unlink()


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


def _refused(path: Path, message: str) -> FileProblems:
    return FileProblems([Problem(str(path), message)])
