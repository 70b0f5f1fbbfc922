"""Files that a board is made from: Gerber X2 layers (pads by their ``TO.P``, both as ``%TO`` and
as ``G04 #@! TO``), Excellon drill files, IPC-D-356A netlists."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from solderrisk.files.text import plotted_text, refused
from solderrisk.readers.reading import MAX_PADS, Reading, SeenHole, SeenPad

_FORMAT = re.compile(r"FS([LT])AX(\d)(\d)Y(\d)(\d)")
_APERTURE = re.compile(r"ADD(\d+)([A-Za-z_.$][\w.$]*),?([^*]*)")
_COORDINATE = re.compile(
    r"(?:G0?[0-3])?(?:X([-+]?\d{1,12}))?(?:Y([-+]?\d{1,12}))?(?:[IJ][-+]?\d+)*(?:D0?([123]))?"
)
_UNICODE = re.compile(r"\\u([0-9A-Fa-f]{4})")


@dataclass
class _State:
    scale: float = 1.0
    decimals: int = 6
    digits: int = 10
    trailing: bool = False
    apertures: dict[int, tuple[float, float, bool]] = field(default_factory=dict)
    current: int = 0
    x: float = 0.0
    y: float = 0.0
    ref: str = ""
    pin: str = ""
    net: str = ""
    side: str = ""
    pads: list[SeenPad] = field(default_factory=list)
    seen_attributes: bool = False


def read_gerber(path: Path, data: bytes) -> Reading:
    """One layer.

    Raises:
        FileProblems: too large, binary, or no Gerber data in it.
    """
    text, notes = plotted_text(path, data)
    state = _State()
    line, words = 1, 0
    for word in _words(text):
        words += 1
        if word[0] == "%":
            for part in word.strip("%").split("*"):
                _extended(state, part.strip())
        else:
            _plain(state, word.strip(), line)
        line += word.count("\n")
        if len(state.pads) > MAX_PADS:
            raise refused(path, f"more than {MAX_PADS} pads")
    if not words:
        raise refused(path, "no Gerber data in it")
    if not state.pads:
        notes += ("no part attributes (TO.P) in it; nothing to learn about parts",)
    return Reading(notes, pads=tuple(state.pads))


def _words(text: str) -> Iterator[str]:
    """Commands up to their star, and extended commands between per cent signs."""
    at = 0
    while at < len(text):
        if text[at] == "%":
            end = text.find("%", at + 1)
            if end < 0:
                return
            yield text[at : end + 1]
        else:
            end = text.find("*", at)
            if end < 0:
                return
            word = text[at:end]
            if "%" in word:  # a command without its star
                end = text.index("%", at) - 1
                word = text[at : end + 1]
            yield word or " "
        at = end + 1


def _extended(state: _State, word: str) -> None:
    if not word:
        return
    if word.startswith(("TO", "TD", "TF", "TA")):
        _attribute(state, word)
    elif word.startswith("MO"):
        state.scale = 25.4 if word.startswith("MOIN") else 1.0
    elif match := _FORMAT.match(word):
        state.trailing = match[1] == "T"
        state.decimals, state.digits = int(match[3]), int(match[2]) + int(match[3])
    elif match := _APERTURE.match(word):
        size = _size(match[2], match[3], state.scale)
        state.apertures[int(match[1])] = (*size, match[2] in ("C", "O"))


def _size(shape: str, values: str, scale: float) -> tuple[float, float]:
    signed = [v for text in values.split("X")[:20] if (v := _number(text)) is not None]
    signed = [value * scale for value in signed]
    numbers = [abs(value) for value in signed]
    if not numbers:
        return 0.0, 0.0
    if shape == "C":
        return numbers[0], numbers[0]
    if shape in ("R", "O"):
        return numbers[0], numbers[1] if len(numbers) > 1 else numbers[0]
    if shape == "RoundRect" and len(numbers) >= 9:
        # Radius and four corners: the macro of rounded rectangles as boards are plotted.
        xs, ys = signed[1:9:2], signed[2:9:2]
        r = abs(signed[0])
        return max(xs) - min(xs) + 2 * r, max(ys) - min(ys) + 2 * r
    return (numbers[0], numbers[1]) if len(numbers) > 1 else (numbers[0], numbers[0])


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if abs(value) < 2000 else None


def _attribute(state: _State, word: str) -> None:
    name, *values = word[2:].split(",")
    values = [_UNICODE.sub(lambda m: chr(int(m[1], 16)), v.strip()) for v in values]
    name = name.strip()
    if word.startswith("TD"):
        if name in ("", ".P", ".C"):
            state.ref = state.pin = ""
        if name in ("", ".N"):
            state.net = ""
        return
    if word.startswith("TO"):
        state.seen_attributes = True
        if name == ".P" and values:
            state.ref, state.pin = values[0], values[1] if len(values) > 1 else ""
        elif name == ".N":
            state.net = values[0] if values else ""
    elif word.startswith("TF") and name == ".FileFunction":
        joined = ",".join(values).casefold()
        state.side = (
            "top"
            if "top" in joined
            else "bottom"
            if "bot" in joined
            else "inner"
            if "inr" in joined
            else ""
        )


def _plain(state: _State, word: str, line: int) -> None:
    if word.startswith(("G04", "G4 ")):
        inner = re.match(r"G0?4\s*#@!\s*(T[OFAD].*)", word, re.DOTALL)
        if inner:
            _attribute(state, inner[1].strip())
        return
    select = re.fullmatch(r"(?:G54)?D(\d{2,6})", word)
    if select and int(select[1]) >= 10:
        state.current = int(select[1])
        return
    match = _COORDINATE.fullmatch(word)
    if match is None or not word:
        return
    if match[1] is not None:
        state.x = _coordinate(state, match[1])
    if match[2] is not None:
        state.y = _coordinate(state, match[2])
    if match[3] == "3" and state.ref:
        w, h, is_round = state.apertures.get(state.current, (0.0, 0.0, False))
        state.pads.append(
            SeenPad(
                state.ref,
                state.pin,
                state.x,
                state.y,
                w,
                h,
                top=state.side != "bottom",
                net=state.net,
                line=line,
                round=is_round,
            )
        )


def _coordinate(state: _State, text: str) -> float:
    digits = text.lstrip("+-")
    if state.trailing:
        digits = digits.ljust(state.digits, "0")
    value = int(digits) / 10**state.decimals * state.scale
    return round(float(-value if text.startswith("-") else value), 5)


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
            size = _size_of(match[2])
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


def _size_of(text: str) -> float | None:
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
        round=not int(match["h"] or 0),
    )
