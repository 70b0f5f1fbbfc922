"""Lengths as people write them: a number in millimetres, or text with its unit."""

from __future__ import annotations

import re

MM_PER_UNIT = {"mm": 1.0, "um": 0.001, "µm": 0.001, "mil": 0.0254, "in": 25.4, "inch": 25.4}

_LENGTH = re.compile(r"\s*([+-]?\d+(?:\.\d+)?|[+-]?\.\d+)\s*([A-Za-zµ\"]*)\s*")


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
        raise ValueError(f"not a length: {value!r}; write a number in mm, or like '25 mil'")
    number, unit = match.groups()
    unit = {"": "mm", '"': "in"}.get(unit, unit)
    if unit not in MM_PER_UNIT:
        raise ValueError(f"unknown unit {unit!r}; allowed: {', '.join(sorted(MM_PER_UNIT))}")
    return float(number) * MM_PER_UNIT[unit]
