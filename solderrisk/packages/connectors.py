"""Names of connectors: rows x columns, pin headers, terminal blocks."""

from __future__ import annotations

import re

from solderrisk.model.footprint import Family
from solderrisk.packages.forms import said_pitch
from solderrisk.packages.reading import Hint, PackageReading, sizes_of

_GRID = re.compile(r"(?<![\dA-Z.,])(\d{1,2})X(\d{1,3})(?![\d.]|X\d| ?MM)")
_HEADER_WORD = re.compile(
    r"PIN ?-?HEAD|PINHD|HEADER|(?<![A-Z])HDR|SOCKET|CONN|IDC"
    r"|RIBBON|JUMPER|MALE|STRIP|(?<![A-Z])PIN|BOX|SCREW|TERM"
)
_PIN_ROW = re.compile(r"^\d+X\d+|HEAD|HDR|PINHD|STRIP|SOCKET|MALE|IDC|(?<![A-Z])PIN|JUMPER")


def read_grid(name: str, hint: Hint) -> PackageReading | None:
    """RxC names of connectors; the pitch only where it is said or usual."""
    if re.search(r"LAYOUT|ARRAY|\dSEG|POLARI[SZ]ED|HDMI|LCD|OLED|TFT|DISPLAY", name):
        return None
    if re.search(r"(?:^|[ (])[2-9] ?X +\d{1,2}X\d", name):  # two rows, some way apart
        return None
    for match in _GRID.finditer(name):
        rows, columns = int(match[1]), int(match[2])
        if (rows > 4 and columns <= 4) or match[2] == "1" or (rows > 2 and match[2] == "2"):
            rows, columns = columns, rows
        if not _plausible(name, match, rows, columns, hint):
            continue
        sizes = sizes_of(name[: match.start()] + name[match.end() :])
        smd = bool(sizes.mounts or re.search(r"SMD|SMT|SURFACE", name))
        pitch = sizes.pitch
        assumed: tuple[str, ...] = ()
        if pitch is None:
            pitch, assumed = _usual_pitch(name)
        return PackageReading(
            text=name,
            state="known",
            family=_family(name, sizes.mounts),
            pins=rows * columns,
            pitch_mm=pitch,
            rows=rows,
            mounts=sizes.mounts,
            through_hole=False if smd else None,
            why=f"{rows} rows of {columns}",
            assumed=assumed,
        )
    return None


def _plausible(name: str, match: re.Match[str], rows: int, columns: int, hint: Hint) -> bool:
    if not 1 <= rows <= 12 or not 1 <= columns <= 200:
        return False
    rest = name[match.end() :]
    before = name[: match.start()]
    if re.search(
        r"(?:QFN|QFP|BGA|DFN|CSP|EP|PAD|LED|SWITCH|TACT|CRYSTAL|XTAL|FUSE|IND|HOLE)\w*[-_ ]?$",
        before,
    ):
        return False
    if re.search(r"(?:^|_)P\d|MM", rest) or _HEADER_WORD.search(name) or match[2].startswith("0"):
        return True
    alone = not re.search(r"[A-Z]{3}", before) and not re.search(r"\d", rest.replace("90", ""))
    told = hint.connector or bool(re.search(r"HEADER|CONNECTOR", hint.text.upper()))
    return alone and rows <= 4 and (told or (rows == 1 and not hint.prefix))


def _usual_pitch(name: str) -> tuple[float | None, tuple[str, ...]]:
    said = said_pitch(name)
    if said:
        return said, ()
    if re.search(r"DIN4|FFC|FPC|BTB|MEZZ", name) or not _PIN_ROW.search(name):
        return None, ()
    return 2.54, ("pitch 2.54 mm, usual for pin rows",)


def _family(name: str, mounts: int) -> Family:
    if re.search(r"TERMINAL|SCREW", name):
        return "terminal_block"
    if re.search(r"FFC|FPC", name):
        return "ffc"
    if re.search(r"SOLDERWIRE", name):
        return "wire_pad"
    return "header"
