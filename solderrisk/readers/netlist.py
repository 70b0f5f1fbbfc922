"""IPC-D-356A netlists: reference, pin, hole, pad size and position of every pad."""

from __future__ import annotations

import re
from pathlib import Path

from solderrisk.files.text import plotted_text, refused
from solderrisk.readers.reading import MAX_PADS, Reading, SeenPad

_SIZES = re.compile(
    r"(?:D(?P<d>\d{4})(?P<plated>[PU]))?\s*(?:A(?P<access>\d\d))?\s*"
    r"X(?P<x>[-+ ]?\d{1,7})Y(?P<y>[-+ ]?\d{1,7})"
    r"(?:X(?P<w>\d{4}))?(?:Y(?P<h>\d{4}))?(?:R(?P<r>\d{3}))?"
)


def read_netlist(path: Path, data: bytes) -> Reading:
    """One netlist.

    Raises:
        FileProblems: too large, binary, or no pad records in it.
    """
    text, notes = plotted_text(path, data)
    return netlist_of(text, path, notes)


def netlist_of(text: str, path: Path, notes: tuple[str, ...] = ()) -> Reading:
    unit = 0.0001 * 25.4
    pads: list[SeenPad] = []
    bad = 0
    for number, line in enumerate(text.split("\n"), start=1):
        if line.startswith("P"):
            unit = _unit(line, unit)
        elif re.match(r"[13][127]7", line):
            pad = _record(line, unit, number)
            if pad is None:
                bad += 1
            elif pad.ref:
                pads.append(pad)
            if len(pads) > MAX_PADS:
                raise refused(path, f"more than {MAX_PADS} pads")
    if not pads and bad:
        raise refused(path, "no pad record in it could be read")
    notes += (f"{bad} records could not be read",) if bad else ()
    return Reading(notes, pads=tuple(pads))


def _unit(line: str, unit: float) -> float:
    match = re.match(r"P\s+UNITS\s+(?:CUST\s*(\d)|(SI)|(MM))?", line)
    if match is None:
        return unit
    if match[2] or match[3] or match[1] == "1":
        return 0.001
    return 0.0001 * 25.4


def _record(line: str, unit: float, number: int) -> SeenPad | None:
    """Columns 4-17 net, 21-26 reference, 28-31 pin; sizes behind their letters."""
    ref, pin = line[20:26].strip(), line[27:31].strip()
    match = _SIZES.search(line, 31)
    if match is None:
        return None
    if ref in ("VIA", ""):
        ref = ""
    w = int(match["w"]) * unit if match["w"] else 0.0
    h = int(match["h"]) * unit if match["h"] else 0.0
    hole = int(match["d"]) * unit if match["d"] else 0.0
    turn = int(match["r"] or 0) % 180
    if 45 < turn < 135:
        w, h = (h or w), w
    return SeenPad(
        ref=ref,
        pin=pin,
        x_mm=round(int(match["x"].replace(" ", "") or 0) * unit, 4),
        y_mm=round(int(match["y"].replace(" ", "") or 0) * unit, 4),
        w_mm=round(w, 4),
        h_mm=round(h or w, 4),
        hole_mm=round(hole, 4) if line[0] == "3" and line[1] == "1" else 0.0,
        top=match["access"] in (None, "00", "01"),
        net=line[3:17].strip(),
        line=number,
    )
