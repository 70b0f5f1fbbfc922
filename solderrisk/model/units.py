"""Lengths as people write them: a number in millimetres, or text with its unit."""

from __future__ import annotations

import re

MM_PER_UNIT = {
    "mm": 1.0,
    "um": 0.001,
    "\u00b5m": 0.001,  # micro sign
    "\u03bcm": 0.001,  # the Greek letter, which looks the same
    "mil": 0.0254,
    "in": 25.4,
    "inch": 25.4,
}
UNITS = ("mm", "um", "mil", "in")

# A number, a space if wanted, a unit if wanted: also the pattern of the JSON Schema.
LENGTH_PATTERN = (
    r"^\s*[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?\s*(mm|um|µm|μm|mil|inch|in|\")?\s*$"
)
_LENGTH = re.compile(
    r"\s*([+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,3})?)"
    r"\s*([^\s0-9.]*)\s*"
)


def length_mm(value: object) -> object:
    """Give a length in mm from a number (mm) or text such as ``"25 mil"``.

    Anything that is neither is handed back as it is, so that the model refuses it with
    its own message.

    Raises:
        ValueError: the unit is unknown.
    """
    if not isinstance(value, str):
        return value
    match = _LENGTH.fullmatch(value)
    if match is None:
        raise ValueError(f"not a length: {value[:40]!r}; write a number in mm, or like '25 mil'")
    number, unit = match.groups()
    unit = {"": "mm", '"': "in"}.get(unit, unit)
    if unit not in MM_PER_UNIT:
        raise ValueError(f"unknown unit {unit[:20]!r}; allowed: {', '.join(UNITS)}")
    return float(number) * MM_PER_UNIT[unit]
