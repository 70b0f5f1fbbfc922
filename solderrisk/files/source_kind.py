"""What kind of file a source is, by its content; its name says little."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

from solderrisk.files.tables import read_bytes

Kind = Literal["board", "footprint", "gerber", "drill", "netlist", "table"]

MAX_SOURCE_BYTES = 120_000_000
HEAD = 4096


def source_kind(path: Path) -> Kind:
    """Tell the kind from the first bytes.

    Raises:
        FileProblems: missing, a folder, unreadable or larger than ``MAX_SOURCE_BYTES``.
    """
    head = _head(path)
    text = head.decode("latin-1").lstrip("\ufeff\xef\xbb\xbf \t\r\n")
    if text.startswith("(kicad_pcb"):
        return "board"
    if re.match(r"\((?:footprint|module)\b", text):
        return "footprint"
    if re.match(r"(?:;[^\n]*\n\s*)*M48\b", text):
        return "drill"
    if (
        text.startswith("%")
        or re.match(r"(?:G04|G01|G75|G36|G90|G54)[^\n]*\*", text)
        or "%FSLA" in text
    ):
        return "gerber"
    if re.match(
        r"(?:C  |P  (?:JOB|UNITS|CODE|VER|IMAGE|NUM|DIM|TITLE)|[13][127]7\S)", text
    ) and re.search(r"(?m)^(?:P  |[13][127]7)", text):
        return "netlist"
    return "table"


def _head(path: Path) -> bytes:
    read_bytes_limit = path.stat().st_size if path.is_file() else 0
    if read_bytes_limit > MAX_SOURCE_BYTES or not path.is_file():
        return read_bytes(path, MAX_SOURCE_BYTES)[:HEAD]
    with path.open("rb") as file:
        return file.read(HEAD)
