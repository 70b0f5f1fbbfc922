"""Where a person's journal lies, and what is wrong with a place."""

from __future__ import annotations

import os
import re
import sys

# File systems that other machines write to as well; write-ahead logging needs shared memory.
NETWORK = (
    "nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "ceph", "glusterfs", "fuse.sshfs",
    "fuse.rclone", "davfs", "fuse.davfs2", "virtiofs", "afpfs", "webdav",
)  # fmt: skip
# Folders that a program copies to and fro in the background are mostly called so.
_SYNCED = re.compile(r"(?i)(sync|cloud|drive$|box$)")


def default_path() -> str:
    """The person's own journal, in the platform's data folder."""
    if sys.platform == "linux":
        # What platformdirs answers here, without the time its import takes.
        base = os.environ.get("XDG_DATA_HOME", "").strip() or os.path.expanduser("~/.local/share")
        return os.path.join(base, "solderrisk", "journal.sqlite")
    from platformdirs import user_data_path

    return str(user_data_path("solderrisk", appauthor=False) / "journal.sqlite")


def doubts(path: str) -> str | None:
    """Why a journal had better not lie there: a network or a synced folder."""
    folder = os.path.realpath(os.path.dirname(os.path.abspath(path)))
    kind = _file_system(folder)
    if kind in NETWORK:
        return (
            f"{folder} is on a network ({kind}): two machines writing there can harm the journal; "
            "put it on a local disk with --journal"
        )
    if any(_SYNCED.search(part) for part in folder.split(os.sep)):
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
