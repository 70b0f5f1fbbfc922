"""Excellon drill files: holes and slots with their tools."""

from __future__ import annotations

import re
from pathlib import Path

from solderrisk.files.text import plotted_text, refused
from solderrisk.readers.reading import MAX_PADS, Reading, SeenHole

_TOOL = re.compile(r"T(\d{1,4})(?:[FSBHZ][\d.]+)*C([\d.]+)")
_PICK = re.compile(r"T(\d{1,4})$")
_HIT = re.compile(
    r"(?:G\d\d)?X([-+]?[\d.]{1,14})Y([-+]?[\d.]{1,14})(?:G85X([-+]?[\d.]{1,14})Y([-+]?[\d.]{1,14}))?"
)


def read_drill(path: Path, data: bytes) -> Reading:
    """One drill file.

    Raises:
        FileProblems: too large, binary, or more holes than a board has.
    """
    text, notes = plotted_text(path, data)
    return drill_of(text, path, notes)


def drill_of(text: str, path: Path, notes: tuple[str, ...] = ()) -> Reading:
    metric, leading_kept, decimals = True, False, 3
    tools: dict[int, float] = {}
    holes: list[SeenHole] = []
    current, plated, bad = 0.0, None, 0
    x = y = 0.0
    for raw in text.split("\n"):
        line = raw.strip()
        if line.startswith(";"):
            if "NonPlated" in line or "NPTH" in line:
                plated = False
            elif "Plated" in line or "PTH" in line:
                plated = True
        elif line.startswith(("METRIC", "M71")):
            metric, decimals = True, _decimals(line, 3)
            leading_kept = "LZ" in line
        elif line.startswith(("INCH", "M72")):
            metric, decimals = False, _decimals(line, 4)
            leading_kept = "LZ" in line
        elif match := _TOOL.match(line):
            size = _number(match[2])
            tools[int(match[1])] = (size or 0.0) * (1.0 if metric else 25.4)
        elif match := _PICK.match(line):
            current = tools.get(int(match[1]), 0.0)
        elif match := _HIT.match(line):
            values = [_value(v, metric, leading_kept, decimals) for v in match.groups() if v]
            if None in values:
                bad += 1
                continue
            x, y = values[0] or 0.0, values[1] or 0.0
            if len(values) == 4:  # a slot: its middle, its long side
                x, y = (x + (values[2] or 0.0)) / 2, (y + (values[3] or 0.0)) / 2
            holes.append(SeenHole(round(x, 4), round(y, 4), round(current, 4), plated))
            if len(holes) > MAX_PADS:
                raise refused(path, f"more than {MAX_PADS} holes")
    notes += (f"{bad} coordinates could not be read",) if bad else ()
    return Reading(notes, holes=tuple(holes))


def _decimals(line: str, usual: int) -> int:
    match = re.search(r"0+\.(0+)", line)
    return len(match[1]) if match else usual


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if 0 <= value < 100 else None


def _value(text: str, metric: bool, leading_kept: bool, decimals: int) -> float | None:
    scale = 1.0 if metric else 25.4
    if "." in text:
        try:
            return float(text) * scale
        except ValueError:
            return None
    sign = -1.0 if text.startswith("-") else 1.0
    digits = text.lstrip("+-")
    if not digits:
        return None
    if leading_kept:  # trailing zeros are left out
        whole = 3 if metric else 2
        digits = digits.ljust(whole + decimals, "0")
        return float(sign * int(digits) / 10 ** (len(digits) - whole) * scale)
    return float(sign * int(digits) / 10**decimals * scale)
