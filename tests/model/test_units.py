from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from solderrisk.model.base import LENGTH_PATTERN, MM_PER_UNIT, NonNegativeMm, PositiveMm, length_mm


# 1 in is 25.4 mm and 1 mil a thousandth of it: International yard and pound agreement, 1959.
@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1.27", 1.27),
        ("1.27 mm", 1.27),
        ("25 mil", 0.635),
        ("0.1 in", 2.54),
        ('0.05"', 1.27),
        ("1inch", 25.4),
        ("100um", 0.1),
        ("100 \u00b5m", 0.1),
        ("100 \u03bcm", 0.1),
        (".5", 0.5),
        ("1e3 um", 1.0),
        (" 2 mm ", 2.0),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert length_mm(text) == pytest.approx(mm, rel=1e-12)
    assert re.fullmatch(LENGTH_PATTERN, text)


@pytest.mark.parametrize("text", ["", "mm", "1,27", "1.2.3 mm", "0x10", "1 2 mm", "--1"])
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(ValueError, match="not a length"):
        length_mm(text)
    assert not re.fullmatch(LENGTH_PATTERN, text)


@pytest.mark.parametrize("text", ["1 furlong", "1 mils", "3 e", "5 MM2"])
def test_unknown_units_name_the_known(text: str) -> None:
    with pytest.raises(ValueError, match=r"unknown unit|not a length"):
        length_mm(text)
    assert not re.fullmatch(LENGTH_PATTERN, text)


@pytest.mark.parametrize("value", [-1, 0, "-5 mil", "0", float("nan"), float("inf"), 1e9, True])
def test_positive_lengths(value: object) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(PositiveMm).validate_python(value, strict=True)


def test_nothing_is_a_length_where_zero_is_allowed() -> None:
    assert TypeAdapter(NonNegativeMm).validate_python("0 mil") == 0


@settings(max_examples=60)
@given(st.floats(0.001, 1000), st.sampled_from(sorted(MM_PER_UNIT)))
def test_a_unit_scales(number: float, unit: str) -> None:
    text = f"{number:.6f} {unit}"
    assert length_mm(text) == pytest.approx(float(f"{number:.6f}") * MM_PER_UNIT[unit])
