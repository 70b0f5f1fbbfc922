"""Names of connectors: rows x columns, pin headers, terminal blocks."""

from __future__ import annotations

import re

from solderrisk.model.footprint import Family
from solderrisk.packages.reading import Hint, PackageReading, pitch_in, row_span_in, sizes_of

_GRID = re.compile(r"(?<![\dA-Z.,])(\d{1,2})X(\d{1,3})(?![\d.]|X\d| ?MM)")
_HEADER_WORD = re.compile(
    r"PIN ?-?HEAD|PINHD|HEADER|(?<![A-Z])HDR|SOCKET|CONN|IDC"
    r"|RIBBON|JUMPER|MALE|STRIP|(?<![A-Z])PIN|BOX|SCREW|TERM"
)
_POLED_WORD = re.compile(
    r"PIN ?-?HEAD|PINHD|HEADER|HDR|SOCKET|CONN|IDC|RIBBON|STRIP|SCREW|TERM|BORNIER|BLOCK|FFC|FPC"
)
_PIN_ROW = re.compile(r"^\d+X\d+|HEAD|HDR|PINHD|STRIP|SOCKET|MALE|IDC|(?<![A-Z])PIN|JUMPER")
CONNECTOR_LETTERS = frozenset(
    [
        "J",
        "JP",
        "P",
        "CN",
        "CON",
        "CONN",
        "X",
        "XS",
        "XP",
        "H",
        "HDR",
        "K",
        "SV",
        "TB",
        "JMP",
        "ST",
        "PL",
        "SL",
        "SK",
        "BR",
        "ICSP",
        "PWR",
        "USB",
    ]
)
_PLAIN = re.compile(
    r"^(?:PIN ?-?HEADER|PINHD|HEADER|HDR|CONN|JP|SV|MA|PINHEAD|PLS|PBS|PLD|PBD|SIL|SIP|CON|STRIP)"
    r"[-_ ]?(?:M|F|MALE|FEMALE)?[-_ ]?(\d{1,2})(?:[-_ ]?(?:PIN|P"
    r"|POS|WAY|W))?(?:[-_ ]?V|[-_ ]?H|[-_ ]VERT"
    r"|[-_ ]2\.54(?:MM)?)?$"
)
_POLES = re.compile(r"(?<![\d.])(\d{1,2}) ?-?(?:P|PIN|POS|WAY|POLES?|PINS)(?=$|[_\- ,)])")
_DSUB = re.compile(
    r"(?:DSUB|D-SUB|(?<![A-Z])DB|(?<![A-Z])DE|(?<![A-Z])HD)-?(9|15|25|26|37|44|50|62)(?![\d.])"
)
_DIP_SWITCH = re.compile(
    r"(?:SPST|SPDT)X(\d{1,2})|DIP[-_ ]?SW(?:ITCH)?[-_ X]*0?(\d{1,2})(?:P|POS|WAY|PIN)?(?=$|[_\- ])"
)


def read_grid(name: str, hint: Hint) -> PackageReading | None:
    """RxC names of connectors; the pitch only where it is said or usual."""
    if re.search(r"LAYOUT|ARRAY|\dSEG|POLARI[SZ]ED|HDMI|LCD|OLED|TFT|DISPLAY", name):
        return None
    if re.search(r"(?:^|[ (])[2-9] ?X +\d{1,2}X\d", name):  # two rows, some way apart
        return None
    for match in _GRID.finditer(name):
        rows, columns = int(match[1]), int(match[2])
        if rows > 4 and columns <= 4:
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
    told = hint.prefix in CONNECTOR_LETTERS or bool(
        re.search(r"HEADER|CONNECTOR", hint.text.upper())
    )
    return alone and rows <= 4 and (told or (rows == 1 and not hint.prefix))


def _said_pitch(name: str) -> float | None:
    return _usual_pitch(name)[0] if not _usual_pitch(name)[1] else None


def _usual_pitch(name: str) -> tuple[float | None, tuple[str, ...]]:
    said = re.search(
        r"(?<![\d.])(0\.[3-8]|1\.00?|1\.25|1\.27|1\.5|2\.00?|2\.54"
        r"|2\.5|3\.5|3\.81|3\.96|5\.00?|5\.08)(?:MM)?(?![\d.X])",
        name,
    )
    if said:
        return float(said[1]), ()
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


def read_plain_connector(name: str, hint: Hint) -> PackageReading | None:
    """HDR-6, PINHEADER 8, DSUB-9, DIP switches, terminal blocks by their poles."""
    switch = _DIP_SWITCH.search(name)
    if switch and ("SW" in name or "DIP" in name):
        ways = int(switch[1] or switch[2])
        return PackageReading(
            text=name,
            state="known",
            family="switch",
            pins=2 * ways,
            # a single way has its two pins across the body, whatever pitch the series has
            pitch_mm=pitch_in(name) if ways > 1 else row_span_in(name),
            rows=2 if ways > 1 else 1,
            through_hole=None,
            why=f"switch of {ways} ways",
        )
    dsub = _DSUB.search(name)
    if dsub and "HDMI" not in name:
        return PackageReading(
            text=name,
            state="known",
            family="shielded_connector",
            pins=int(dsub[1]),
            pitch_mm=pitch_in(name),
            through_hole=True,
            why="D-shaped connector by its poles",
        )
    plain = _PLAIN.match(name)
    if plain:
        return PackageReading(
            text=name,
            state="known",
            family="header",
            pins=int(plain[1]),
            pitch_mm=pitch_in(name),
            rows=1,
            through_hole=None,
            why="pin row by its count",
        )
    if re.search(r"USB|TYPE-?C|HDMI|RJ-?\d|SIM|SD.?CARD", name):
        return None  # their shells and tabs are not told by the poles
    rows = re.fullmatch(r"(?:MA|FE)(\d\d)-([12])(?:W|MM)?", name)
    if rows:
        return PackageReading(
            text=name,
            state="known",
            family="header",
            pins=int(rows[1]) * int(rows[2]),
            pitch_mm=2.54,
            rows=int(rows[2]),
            through_hole=True,
            why=f"{rows[2]} rows of {int(rows[1])}",
        )
    poles = _POLES.search(name)
    if poles and _POLED_WORD.search(name):
        smd = bool(re.search(r"SMD|SMT", name))
        return PackageReading(
            text=name,
            state="known",
            family=_family(name, 0),
            pins=int(poles[1]),
            pitch_mm=pitch_in(name) or _said_pitch(name),
            rows=1,
            through_hole=False if smd else None,
            why="connector by its number of poles",
        )
    bornier = re.search(
        r"(?:BORNIER|TERMINAL_?BLOCK"
        r"|SCREW[-_ ]?TERMINAL)[-_ ]?(\d{1,2})(?=$|_P|[_\- ]?(?:POS"
        r"|WAY|PIN))",
        name,
    )
    if bornier:
        said = pitch_in(name)
        return PackageReading(
            text=name,
            state="known",
            family="terminal_block",
            pins=int(bornier[1]),
            pitch_mm=said or 5.08,
            rows=1,
            through_hole=True,
            why="terminal block by its poles",
            assumed=() if said else ("pitch 5.08 mm, usual for terminal blocks",),
        )
    return None
