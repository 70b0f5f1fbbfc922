"""Codes of sizes: chips by imperial and metric codes, arrays, eaten zeros; crystals."""

from __future__ import annotations

import re

from solderrisk.packages.reading import Hint, PackageReading, as_choice, sizes_of, unknown
from solderrisk.packages.tables import (
    ChipCode,
    chip_words,
    chips_by_imperial,
    chips_by_metric,
    package_tables,
)

LEAST_CHIP_MM = 0.1
_ARRAY = re.compile(r"(?<![\dX.])(\d{1,2})X(0?\d{4})(?!\d)")


_BOTH = re.compile(
    r"(?<!\d)(0?\d{4})[_ (/-]*(?:INCH)?[_ (/-]*(\d{4,5}) ?-?(?:METRIC|MET(?![A-Z])|M(?![A-Z]))"
)


_METRIC = re.compile(r"(?<![\dP])(\d{4}) ?_?-?(?:METRIC|MET(?![A-Z])|M(?=$|[_\- )]))")


_CODE = re.compile(r"(?<![\d.])(01005|008004|\d{4}|\d{3})(?![\d.])")


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
    length, width = int(digits[:2]) / 10, int(digits[2:]) / 10
    if min(length, width) < LEAST_CHIP_MM:
        return unknown(name, "no chip is as small as these digits would say")
    return PackageReading(
        text=name,
        state="known",
        family="chip",
        pins=2,
        through_hole=False,
        body=(length, width) if len(metric) == 4 else None,
        why="metric code AABB is A.A x B.B mm",
    )


def _bare_code(name: str, hint: Hint) -> PackageReading | None:
    match = _single_code(name)
    if match is None or re.search(r"[-_ ](?!2)\d{1,2}-?P(?:INS?)?$", name):
        return None
    words = set(re.findall(r"[A-Z][A-Z0-9]*", name.replace(match, " ")))
    odd = {w for w in words if w not in chip_words() and not re.fullmatch(r"[A-Z]{1,2}\d?", w)}
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
    if imperial and metric and re.search(r"IMPERIAL|INCH", name):
        return _chip(name, imperial, f"imperial code {code}, said to be imperial")
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
    before = re.search(rf"([A-Z]*){code}", name)
    named = before is None or not before[1] or before[1] in chip_words()
    if padded is not None and len(code) == 3 and named:
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


_PIN_WORD = re.compile(r"[- ](\d{1,2})[- ]?PINS?(?=$|[_\- ,])")
_CRYSTAL_SIZE = re.compile(
    r"(?<!\d)(7050|6035|5032|4025|3225|3215|2520|2016|1612|1610|2012|1210)(?!\d)"
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
    if code is None and sizes.body is not None:
        code = _CRYSTAL_SIZE.fullmatch("".join(f"{round(10 * side)}" for side in sizes.body))
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
    if count is None and code and code[1] in package_tables().crystal_pins.pins:
        count = package_tables().crystal_pins.pins[code[1]]
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
