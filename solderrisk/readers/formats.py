"""The formats that a draft can be made from, one line each.

To add a format: a module here with a function from path and bytes to a ``Reading``, and its
line in ``FORMATS``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from solderrisk.files.text import read_bytes

if TYPE_CHECKING:
    from solderrisk.readers.reading import Reading

MAX_SOURCE_BYTES = 120_000_000
HEAD = 4096


@dataclass(frozen=True)
class Format:
    """``begins`` is an expression for the first bytes, since names of files say little; the
    first format that fits reads the file. ``reader`` is loaded when it is needed. Sources
    are joined by ``rank``: what says places best comes first."""

    name: str
    begins: str
    reader: str
    suffixes: tuple[str, ...]
    rank: int


FORMATS = (
    Format("board", r"\(kicad_pcb", "board.read_board", (".kicad_pcb",), 0),
    Format("footprint", r"\((?:footprint|module)\b", "board.read_footprint", (".kicad_mod",), 1),
    Format("drill", r"(?:;[^\n]*\n\s*)*M48\b", "fabrication.read_drill", (".drl", ".xln"), 4),
    Format(
        "gerber",
        r"%|G(?:04|01|75|36|90|54)[^\n]*\*|(?s:.*)%FSLA",
        "fabrication.read_gerber",
        (".gbr", ".gtl", ".gbl", ".gts", ".gbs"),
        3,
    ),
    Format(
        "netlist",
        r"(?=(?s:.*\n)?(?:P  |[13][127]7))"
        r"(?:C  |P  (?:JOB|UNITS|CODE|VER|IMAGE|NUM|DIM|TITLE)|[13][127]7\S)",
        "fabrication.read_netlist",
        (".ipc", ".d356"),
        2,
    ),
    Format(
        "table",
        "",
        "bom.read_table",
        (".csv", ".tsv", ".txt", ".xlsx", ".xls", ".ods", ".pos"),
        5,
    ),
)
SUFFIXES = tuple(suffix for each in FORMATS for suffix in each.suffixes)


def read_source(path: Path) -> tuple[Format, Reading]:
    """Read a file once, with the reader of the format that its first bytes tell.

    Raises:
        FileProblems: missing, a folder, unreadable, too large, or not what it begins like.
    """
    data = read_bytes(path, MAX_SOURCE_BYTES)
    found = format_of(data)
    module, function = found.reader.split(".")
    read: Callable[[Path, bytes], Reading] = getattr(
        import_module(f"solderrisk.readers.{module}"), function
    )
    return found, read(path, data)


def format_of(data: bytes) -> Format:
    text = data[:HEAD].decode("latin-1").lstrip("\ufeff\xef\xbb\xbf \t\r\n")
    return next(each for each in FORMATS if re.match(each.begins, text))
