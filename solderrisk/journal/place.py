"""Where a person's journal lies, and what is told where a place does not take it."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from typing import TYPE_CHECKING

from solderrisk.folders import platform_folder
from solderrisk.model.problems import UserProblem

if TYPE_CHECKING:
    from collections.abc import Iterator

# File systems that other machines write to as well; write-ahead logging needs shared memory.
NETWORK = (
    "nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "ceph", "glusterfs", "fuse.sshfs",
    "fuse.rclone", "davfs", "fuse.davfs2", "virtiofs", "afpfs", "webdav",
)  # fmt: skip
# Folders that a program copies to and fro in the background are mostly called so.
SYNCED, SYNCED_AT_END = ("sync", "cloud"), ("drive", "box")


class JournalProblem(UserProblem):
    """The journal cannot do what is asked; nothing was written."""


class JournalBusy(JournalProblem):
    """Another program is writing just now."""


class JournalUnwritable(JournalProblem):
    """The place may be read at most."""


class JournalDamaged(JournalProblem):
    """The file is no longer a sound database."""


def default_path() -> str:
    """The person's own journal, in the platform's data folder."""
    return os.path.join(platform_folder("data"), "journal.sqlite")


def doubts(path: str) -> str | None:
    """Why a journal had better not lie there: a network or a synced folder."""
    folder = os.path.realpath(os.path.dirname(os.path.abspath(path)))
    kind = _file_system(folder)
    if kind in NETWORK:
        return (
            f"{folder} is on a network ({kind}): two machines writing there can harm the journal; "
            "put it on a local disk with --journal"
        )
    parts = folder.casefold().split(os.sep)
    if any(part.endswith(SYNCED_AT_END) or any(s in part for s in SYNCED) for part in parts):
        return (
            f"{folder} looks like a synced folder: copying it while it is written can harm the "
            "journal; put it elsewhere with --journal, and share it by 'log --export'"
        )
    return None


def _file_system(folder: str) -> str:
    """The type of the mount that a folder lies on, '' where it is not known."""
    try:
        with open("/proc/self/mounts", encoding="utf-8", errors="replace") as file:
            mounts = [line.split(" ")[1:3] for line in file]
    except OSError:
        return ""
    best, kind = "", ""
    for where, what in mounts:
        point = where.replace("\\040", " ").rstrip("/")
        inside = folder == point or folder.startswith(f"{point}/")
        if inside and len(point) >= len(best):
            best, kind = point, what
    return kind


@contextlib.contextmanager
def told(path: str) -> Iterator[None]:
    """What SQLite and the system refuse, as one line with the remedy."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        raise _problem(path, error) from None
    except OSError as error:
        reason = error.strerror or error
        raise JournalProblem(
            f"{path}: cannot be used ({reason}); name another place with --journal"
        ) from None


def _problem(path: str, error: sqlite3.DatabaseError) -> JournalProblem:
    match getattr(error, "sqlite_errorcode", 0) & 0xFF:
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return JournalBusy(
                f"{path}: another program is writing this journal; nothing of this was recorded: "
                "try again, or close the other one"
            )
        case sqlite3.SQLITE_FULL:
            return JournalProblem(
                f"{path}: the disk is full; nothing of this was recorded: free some space and "
                "record it again"
            )
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_CANTOPEN | sqlite3.SQLITE_PERM:
            return JournalUnwritable(
                f"{path}: may not be written; nothing was recorded: check the folder's "
                "permissions, or name another place with --journal"
            )
        case sqlite3.SQLITE_IOERR:
            return JournalProblem(
                f"{path}: the disk refused ({error}); nothing of this was recorded: check it and "
                "record it again"
            )
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return JournalDamaged(f"{path}: is damaged ({error})")
    return JournalDamaged(f"{path}: cannot be read ({error})")
