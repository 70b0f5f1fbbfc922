"""Names of two-terminal parts: chips, cans, axial and radial parts, crystals, LEDs."""

from __future__ import annotations

import re
from dataclasses import replace

from solderrisk.model.footprint import Family
from solderrisk.packages.chip import CRYSTAL_WORD
from solderrisk.packages.reading import Hint, PackageReading, sizes_of, unknown

_AXIAL_SIZES = {
    "0204": (3.6, 1.6),
    "0207": (6.3, 2.5),
    "0309": (9.0, 3.2),
    "0411": (9.9, 3.6),
    "0414": (11.9, 4.5),
    "0516": (15.5, 5.0),
    "0614": (14.3, 5.7),
    "0617": (17.0, 6.0),
    "0613": (13.0, 6.0),
    "0918": (18.0, 9.0),
    "0922": (20.0, 9.0),
    "0922V": (20.0, 9.0),
}
_AXIAL_STEPS = {
    "2": 2.54,
    "3": 2.54,
    "5": 5.08,
    "7": 7.62,
    "10": 10.16,
    "12": 12.7,
    "13": 12.7,
    "15": 15.24,
    "17": 17.78,
    "18": 17.78,
    "20": 20.32,
    "22": 22.86,
    "25": 25.4,
    "30": 30.48,
}
_AXIAL_SLASH = re.compile(r"^(?:R[_-]?|RES[_-]|P)?(\d{4})/(\d{1,2})(V)?$")
_AXIAL_INCH = re.compile(r"^(?:R|RES)?[-_]?(?:AXIAL|AX)[-_ ]?(0?\.\d+)$")
_AXIAL = re.compile(r"(?:^|[_\- ])(?:AXIAL|AXR)(?=$|[_\- \d])|DIN0\d{3}")
_AXIAL_RM = re.compile(r"^(?:R|RESISTOR|DIODE|D)_(?:.*_)?HORIZONTAL_RM(\d{1,2})(?:MM)?$")
_RADIAL_INCH = re.compile(r"^(?:CAP)?[-_]?RAD(?:IAL)?[-_ ]?(0?\.\d+)$")
_RADIAL_RB = re.compile(r"^RB[-_ ]?(0?\.\d+)/(0?\.\d+)$")
_RADIAL_E = re.compile(r"^E(\d{1,2}(?:[.,]\d+)?)-(\d{1,2}(?:[.,]\d+)?)$")
_RADIAL_C = re.compile(r"^C(025|050|075|102|150|225|275)-(\d{3})X(\d{3,4})$")
_RADIAL_IPC = re.compile(r"^CAPP?R{1,2}(\d{1,3}(?:\.\d+)?)-(\d+(?:\.\d+)?)(?:X(\d+(?:\.\d+)?))?")
_CAN = re.compile(
    r"(?:ELEC|CAPAE|SMD.?CAN|CAN[-_ ]CAP"
    r"|AE-CAP)[-_ ]?(\d{1,2}(?:\.\d+)?)(?:MM)?X(\d{1,2}(?:\.\d+)?)"
)
_CAN_LETTERED = re.compile(r"SMD.*D(\d{1,2}(?:\.\d+)?)X[LH](\d{1,2}(?:\.\d+)?)")
_LED_ROUND = re.compile(
    r"LED[-_ A-Z]*?D?(\d{1,2}(?:\.\d)?) ?MM(?![\dX])|(?:^|[_\- ])(\d{1,2}) ?MM[-_ ]?LED"
)
_PIN_WORD = re.compile(r"[- ](\d{1,2})[- ]?PINS?(?=$|[_\- ,])")
_CRYSTAL_PINS = {
    "3225": 4,
    "2016": 4,
    "2520": 4,
    "1612": 4,
    "3215": 2,
    "1610": 2,
    "2012": 2,
    "1210": 2,
}
_CRYSTAL_SIZE = re.compile(
    r"(?<!\d)(7050|6035|5032|4025|3225|3215|2520|2016|1612|1610|2012|1210)(?!\d)"
)


def read_axial(name: str, hint: Hint) -> PackageReading | None:
    """Axial parts: R_Axial_DIN0207_..., 0207/10, AXIAL-0.4."""
    slash = _AXIAL_SLASH.match(name)
    if slash and slash[1] in _AXIAL_SIZES and slash[2] in _AXIAL_STEPS:
        din_size = _AXIAL_SIZES[slash[1]]
        return _two_holes(name, "axial", _AXIAL_STEPS[slash[2]], din_size, "DIN body and spacing")
    inch = _AXIAL_INCH.match(name)
    if inch:
        return _two_holes(name, "axial", round(float(inch[1]) * 25.4, 2), None, "spacing in inch")
    old = _AXIAL_RM.match(name)
    if old and old[1] in _AXIAL_STEPS:
        return _two_holes(name, "axial", _AXIAL_STEPS[old[1]], None, "lying, with its spacing")
    if _AXIAL.search(name):
        sizes = sizes_of(name)
        size: tuple[float, float] | None = None
        if "L" in sizes.lettered and ("D" in sizes.lettered or "W" in sizes.lettered):
            size = (sizes.lettered["L"], sizes.lettered.get("D") or sizes.lettered["W"])
        din = re.search(r"DIN(0\d{3})", name)
        if size is None and din:
            size = _AXIAL_SIZES.get(din[1])
        reading = _two_holes(name, "axial", sizes.pitch, size, "axial part")
        return replace(reading, pins=4, pitch_mm=None) if "SHUNT" in name else reading
    return None


def read_radial(name: str, hint: Hint) -> PackageReading | None:
    """Radial parts and round LEDs: CP_Radial_D5.0mm_P2.50mm, E2.5-6, RAD-0.2, LED5MM."""
    for pattern, scale in ((_RADIAL_INCH, 25.4), (_RADIAL_E, 1.0), (_RADIAL_IPC, 1.0)):
        match = pattern.match(name)
        if match:
            step = float(match[1].replace(",", "."))
            if pattern is _RADIAL_IPC and step > 50:
                step /= 100
            size = (
                float(match[2].replace(",", "."))
                if match.lastindex and match.lastindex > 1
                else None
            )
            if size and size > 80:
                size /= 100
            return _two_holes(
                name,
                "radial",
                round(step * scale, 2),
                (size, size) if size else None,
                "lead spacing and diameter",
            )
    match = _RADIAL_RB.match(name)
    if match:
        size = round(float(match[2]) * 25.4, 2)
        return _two_holes(name, "radial", round(float(match[1]) * 25.4, 2), (size, size), "inch")
    match = _RADIAL_C.match(name)
    if match:
        steps = {
            "025": 2.5,
            "050": 5.0,
            "075": 7.5,
            "102": 10.2,
            "150": 15.0,
            "225": 22.5,
            "275": 27.5,
        }
        body = (int(match[3]) / 10, int(match[2]) / 10)
        return _two_holes(name, "radial", steps[match[1]], body, "lead spacing and body")
    if re.match(
        r"^(?:C|CP|L|R|F|RV|PTC|CAP)[_-](?:RADIAL|DISC|RECT|BOX)(?:[_-]|$)", name
    ) or re.match(r"^(?:CAP|RES|IND|LED|DIO)-TH_(?:BD|D|L)\d", name):
        return _radial_lettered(name)
    round_led = _LED_ROUND.search(name)
    if round_led and not sizes_of(name).body:
        size = float(round_led[1] or round_led[2])
        pins = re.search(r"MM-(\d)(?=$|[_\- ])", name)
        count = int(pins[1]) if pins else 2
        if "RGB" in name and not pins:
            return unknown(name, "a coloured LED whose pins are not said")
        reading = _two_holes(name, "radial", 2.54, (size, size), "round LED")
        return replace(reading, pins=count, pitch_mm=2.54 if count == 2 else None)
    return None


def _radial_lettered(name: str) -> PackageReading:
    sizes = sizes_of(name)
    d = sizes.lettered.get("BD") or sizes.lettered.get("D")
    length, width = sizes.lettered.get("L"), sizes.lettered.get("W")
    body = (length, width) if length and width else (d, width or d) if d else None
    multi = len(re.findall(r"_P\d", name)) > 1
    reading = _two_holes(name, "radial", sizes.pitch, body, "radial part")
    return replace(reading, pins=None if multi else 2)


def _two_holes(
    name: str, family: Family, pitch: float | None, body: tuple[float, float] | None, why: str
) -> PackageReading:
    return PackageReading(
        text=name,
        state="known",
        family=family,
        pins=2,
        pitch_mm=pitch,
        body=body,
        through_hole=True,
        rows=1,
        why=why,
    )


def read_can(name: str, hint: Hint) -> PackageReading | None:
    """Aluminium cans on the board: CP_Elec_6.3x5.4, CAP-SMD_BD6.3-L6.6-W6.6."""
    match = _CAN.search(name) or _CAN_LETTERED.search(name)
    if match:
        return _can(name, float(match[1]), float(match[2]), "aluminium can, diameter x height")
    sizes = sizes_of(name)
    if name.startswith("CAP-SMD") and "BD" in sizes.lettered:
        return _can(name, sizes.lettered["BD"], sizes.height, "aluminium can by its diameter")
    return None


def _can(name: str, diameter: float, height: float | None, why: str) -> PackageReading:
    return PackageReading(
        text=name,
        state="known",
        family="can_cap",
        pins=2,
        body=(diameter, diameter),
        height_mm=height,
        through_hole=False,
        why=why,
    )


def read_moulded(name: str, hint: Hint) -> PackageReading | None:
    """Moulded capacitors by their EIA code: EIA-7343-31, CP_EIA-7132-20."""
    match = re.search(r"EIA-?(\d{2})(\d{2})(?:-(\d{2}))?(?=$|[_\- ])", name) or re.search(
        r"^(?:CT|TANT?|TANTAL|CPOL)[-_]?(32|35|60|73)(16|28|32|43)(?:-(\d{2}))?(?=$|[_\- ])", name
    )
    if match is None:
        return None
    return PackageReading(
        text=name,
        state="known",
        family="moulded_cap",
        pins=2,
        body=(int(match[1]) / 10, int(match[2]) / 10),
        height_mm=int(match[3]) / 10 if match[3] else None,
        through_hole=False,
        why="EIA code of a moulded part: length and width in tenths of a millimetre",
    )


def read_crystal(name: str, hint: Hint) -> PackageReading | None:
    """Surface-mount crystals and oscillators by their size and pins."""
    timed = re.search(r"\d ?[MK]HZ", hint.text.upper()) and _CRYSTAL_SIZE.search(name)
    worded = bool(CRYSTAL_WORD.search(name) or timed)
    if not worded and hint.prefix not in ("Y", "X", "XTAL", "OSC", "Q", "G"):
        return None
    pins = _PIN_WORD.search(name) or re.search(r"[-_](\d)P(?=[-_]|$)", name)
    sizes = sizes_of(name)
    code = _CRYSTAL_SIZE.search(name)
    if not worded and not (code and len(re.sub(r"[\W_]", "", name)) <= 8):
        return None
    body = sizes.body or ((int(code[1][:2]) / 10, int(code[1][2:]) / 10) if code else None)
    count = int(pins[1]) if pins else None
    assumed: tuple[str, ...] = ()
    can = re.search(r"DIP-?(14|8)", name)
    if can:
        return PackageReading(
            text=name,
            state="known",
            family="crystal_th",
            pins=4,
            span_mm=7.62,
            through_hole=True,
            why=f"oscillator in a can of DIP-{can[1]} size",
        )
    if count is None and code and code[1] in _CRYSTAL_PINS:
        count = _CRYSTAL_PINS[code[1]]
        assumed = (f"{count} pads, usual for {code[1]}",)
    if count is None or (body is None and "SMD" not in name):
        return None
    return PackageReading(
        text=name,
        state="known",
        family="crystal_smd",
        pins=count,
        pitch_mm=sizes.pitch,
        body=body,
        height_mm=sizes.height,
        through_hole=False,
        why="crystal or oscillator by its size",
        assumed=assumed,
    )
