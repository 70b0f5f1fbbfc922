"""Chip sizes: imperial and metric codes, arrays, eaten zeros."""

from __future__ import annotations

import re

from solderrisk.packages.reading import Hint, PackageReading, as_choice
from solderrisk.packages.tables import ChipCode, chips_by_imperial, chips_by_metric

_ARRAY = re.compile(r"(?<![\dX.])(\d{1,2})X(0?\d{4})(?!\d)")


_BOTH = re.compile(
    r"(?<!\d)(0?\d{4})[_ (/-]*(?:INCH)?[_ (/-]*(\d{4,5}) ?-?(?:METRIC|MET(?![A-Z])|M(?![A-Z]))"
)


_METRIC = re.compile(r"(?<![\dP])(\d{4}) ?_?-?(?:METRIC|MET(?![A-Z])|M(?=$|[_\- )]))")


_CODE = re.compile(r"(?<![\d.])(01005|008004|\d{4}|\d{3})(?![\d.])")


_CHIP_WORDS = frozenset(
    [
        "R",
        "C",
        "L",
        "D",
        "F",
        "B",
        "RES",
        "RESC",
        "CAP",
        "CAPC",
        "IND",
        "INDC",
        "LED",
        "LEDC",
        "DIO",
        "FUSE",
        "FB",
        "FERRITE",
        "BEAD",
        "SMD",
        "SMT",
        "CHIP",
        "CHIPLED",
        "CHIPRES",
        "RESISTOR",
        "RESISTORS",
        "CAPACITOR",
        "CAPACITORS",
        "INDUCTOR",
        "INDUCTORS",
        "DIODE",
        "THERMISTOR",
        "NTC",
        "PTC",
        "VARISTOR",
        "CER",
        "CERAMIC",
        "MLCC",
        "RS",
        "CS",
        "LS",
        "CC",
        "RC",
        "LC",
        "TO",
        "CASE",
        "SIZE",
        "HAND",
        "SOLDER",
        "HANDSOLDER",
        "HANDSOLDERING",
        "METRIC",
        "IMPERIAL",
        "INCH",
        "M",
        "N",
        "PAD",
        "PADS",
        "NP",
        "POL",
        "NPOL",
        "RED",
        "GREEN",
        "BLUE",
        "YELLOW",
        "WHITE",
        "ORANGE",
        "AMBER",
        "RG",
        "W",
        "K",
        "ROUND",
        "ARV",
        "RND",
        "BIG",
        "SMALL",
        "NOSILK",
        "WIDE",
        "LARGE",
        "STANDARD",
        "STD",
        "JUMPER",
        "BRIDGE",
        "A",
        "THICK",
        "FILM",
        "THIN",
        "LEDS",
        "FERRITES",
        "BEADS",
        "PACKAGE",
        "PKG",
        "PASSIVE",
        "FOOTPRINT",
        "MM",
        "PKG",
        "X",
        "CSIZE",
        "RSIZE",
        "RESONATOR",
        "TANT",
        "X7R",
        "X5R",
        "C0G",
        "NP0",
        "REFLOW",
        "WAVE",
        "REV",
        "REVERSE",
        "MOUNT",
        "AK",
        "KA",
        "HS",
    ]
)


CRYSTAL_WORD = re.compile(r"(?:CRYSTAL|XTAL|RESONATOR|OSC(?:ILLATOR)?|QUARTZ|TCXO|XO)(?![A-Z])")


def read_chip(name: str, hint: Hint) -> PackageReading | None:
    """Chips and chip arrays: 0603, C_0603_1608Metric, 1608M, 603, R_Array_Convex_4x0603."""
    array = _ARRAY.search(name)
    if array and 2 <= int(array[1]) <= 16:
        return _array(name, int(array[1]), array[2])
    if re.search(r"ARRAY|SHUNT|NETWORK|METRIC-\d", name):
        return None
    both = _BOTH.search(name)
    if both and both[1] in chips_by_imperial():
        return _two_codes(name, both[1], both[2])
    metric = _METRIC.search(name)
    if metric and metric[1] in chips_by_metric():
        return _chip(name, chips_by_metric()[metric[1]], "metric code, said to be metric")
    if both:
        return _unlisted_chip(name, both[2])
    if CRYSTAL_WORD.search(name) or hint.prefix in ("Y", "X", "XTAL", "Q", "OSC", "G"):
        return None
    return _bare_code(name, hint)


def _array(name: str, elements: int, code: str) -> PackageReading | None:
    chip = chips_by_imperial().get(code)
    if chip is None and code in ("0606", "0602"):
        chip = ChipCode(imperial=code, metric=(), body=(1.6, 0.8, 0.5))
    if chip is None:
        return None
    pitch = {"0402": 0.5, "0603": 0.8, "0606": 0.8, "1206": 1.27}.get(code)
    return PackageReading(
        text=name,
        state="known",
        family="chip_array",
        pins=2 * elements,
        body=(chip.body[0], elements * chip.body[1]),
        pitch_mm=None,
        rows=2,
        through_hole=False,
        why=f"array of {elements} chips {code}",
        assumed=() if pitch is None else (f"element pitch about {pitch:g} mm",),
    )


def _chip(name: str, chip: ChipCode, why: str) -> PackageReading:
    return PackageReading(
        text=name,
        state="known",
        family="chip",
        pins=2,
        body=(chip.body[0], chip.body[1]),
        height_mm=chip.body[2],
        through_hole=False,
        chip=chip.imperial,
        why=why,
    )


def _two_codes(name: str, imperial: str, metric: str) -> PackageReading:
    chip = chips_by_imperial()[imperial]
    if metric not in chip.metric and metric in chips_by_metric():
        other = chips_by_metric()[metric]
        return as_choice(
            _chip(name, chip, ""),
            _chip(name, other, ""),
            why=f"the imperial code {imperial} and the metric code {metric} contradict each other",
        )
    return _chip(name, chip, f"imperial code {imperial}, confirmed by the metric one")


def _unlisted_chip(name: str, metric: str) -> PackageReading:
    digits = metric if len(metric) == 4 else metric[:4]
    return PackageReading(
        text=name,
        state="known",
        family="chip",
        pins=2,
        through_hole=False,
        body=(int(digits[:2]) / 10, int(digits[2:]) / 10) if len(metric) == 4 else None,
        why="metric code AABB is A.A x B.B mm",
    )


def _bare_code(name: str, hint: Hint) -> PackageReading | None:
    match = _single_code(name)
    if match is None or re.search(r"[-_ ](?!2)\d{1,2}-?P(?:INS?)?$", name):
        return None
    words = set(re.findall(r"[A-Z][A-Z0-9]*", name.replace(match, " ")))
    odd = {w for w in words if w not in _CHIP_WORDS and not re.fullmatch(r"[A-Z]{1,2}\d?", w)}
    if odd and (not hint.two_terminal or any(re.search(r"\d", w) for w in odd)):
        return None
    return _by_code(name, match, hint)


def _single_code(name: str) -> str | None:
    """The one chip code in a name; letters may touch it, as in C0603 or 0805RND."""
    known = (
        chips_by_imperial().keys()
        | chips_by_metric().keys()
        | {c[1:] for c in chips_by_imperial() if c[0] == "0"}
    )
    found = [code for code in _CODE.findall(name) if code in known and code[:1]]
    others = [c for c in re.findall(r"\d+(?:\.\d+)?", name) if c not in found and len(c) > 2]
    return found[0] if len(set(found)) == 1 and not others else None


def _by_code(name: str, code: str, hint: Hint) -> PackageReading | None:
    imperial = chips_by_imperial().get(code)
    metric = chips_by_metric().get(code)
    if imperial and metric:
        return as_choice(
            _chip(name, imperial, "imperial"),
            _chip(name, metric, "metric"),
            why=f"{code} is an imperial and a metric chip code; read as imperial",
        )
    if imperial:
        return _chip(name, imperial, f"imperial chip code {code}")
    if metric:
        return _metric_only(name, code, metric, hint)
    padded = chips_by_imperial().get("0" + code) or chips_by_imperial().get("00" + code)
    if padded is not None and len(code) == 3:
        return as_choice(
            _chip(name, padded, f"{padded.imperial} with its leading zero eaten"),
            why=f"{code} looks like {padded.imperial} whose leading zero was eaten",
        )
    return None


def _metric_only(name: str, code: str, chip: ChipCode, hint: Hint) -> PackageReading | None:
    if re.search(r"BATTERY|COIN|CELL|(?<![A-Z])[BC]R\d{4}", hint.text.upper()):
        return None  # the code of a coin cell
    if code in ("3216", "3528", "6032", "7343") and re.search(
        r"TAN|TA(?![A-Z])|POL", name + " " + hint.text.upper()
    ):
        return None
    reading = _chip(name, chip, f"{code} is a metric chip code only")
    if code == "1005":
        smallest = _chip(name, chips_by_imperial()["01005"], "01005 with its zero eaten")
        return as_choice(
            reading, smallest, why="1005 is metric for 0402, or 01005 without its zero"
        )
    return reading
