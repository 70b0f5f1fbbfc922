"""What fabrication files say about parts: pads by reference, and holes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from solderrisk.files.tables import read_bytes, refused

MAX_FABRICATION_BYTES = 40_000_000
MAX_LINES = 2_000_000
MAX_PADS = 100_000


@dataclass(frozen=True, slots=True)
class SeenPad:
    """One pad of one part in board coordinates, mm, y up."""

    ref: str
    pin: str
    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    hole_mm: float = 0.0
    top: bool = True
    net: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class SeenHole:
    """One drilled hole; ``plated`` None where the file does not say."""

    x_mm: float
    y_mm: float
    d_mm: float
    plated: bool | None = None


def fabrication_text(path: Path) -> str:
    """The text of a fabrication file.

    Raises:
        FileProblems: missing, too large, binary.
    """
    data = read_bytes(path, MAX_FABRICATION_BYTES)
    if b"\0" in data:
        raise refused(path, "binary data; give the text form of this file")
    if data.count(b"\n") > MAX_LINES:
        raise refused(path, f"more than {MAX_LINES} lines")
    return data.decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n")
