"""The drawing surface, against what can be counted by hand."""

from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.tui.dots import Dots, clip, round_ticks

COORDINATE = st.floats(-500, 500, allow_nan=False)


def dots_of(surface: Dots) -> set[tuple[int, int]]:
    """Dots set, read back from the braille characters (Unicode block 2800)."""
    bits = {0x01: (0, 0), 0x02: (0, 1), 0x04: (0, 2), 0x40: (0, 3)}
    bits |= {0x08: (1, 0), 0x10: (1, 1), 0x20: (1, 2), 0x80: (1, 3)}
    found = set()
    for y in range(surface.height):
        text = "".join(run for run, _ in surface.row(y))
        for x, character in enumerate(text):
            if 0x2800 <= ord(character) <= 0x28FF:
                for bit, (column, row) in bits.items():
                    if (ord(character) - 0x2800) & bit:
                        found.add((2 * x + column, 4 * y + row))
    return found


def test_a_dot_is_where_it_was_put() -> None:
    for x in range(6):
        for y in range(8):
            surface = Dots(3, 2)
            surface.dot(x, y, "s")
            assert dots_of(surface) == {(x, y)}


def test_a_line_joins_its_ends_without_gaps() -> None:
    surface = Dots(10, 5)
    surface.line((0, 0), (19, 9), "s")
    found = sorted(dots_of(surface))
    assert found[0] == (0, 0)
    assert found[-1] == (19, 9)
    assert [x for x, _ in found] == list(range(20))


def test_a_rectangle_is_filled_and_a_sparse_one_by_half() -> None:
    square = [(2.0, 2.0), (9.0, 2.0), (9.0, 9.0), (2.0, 9.0)]
    full, half = Dots(8, 4), Dots(8, 4)
    full.fill(square, "s")
    half.fill(square, "s", sparse=True)
    assert len(dots_of(full)) == 8 * 7  # the lower edge belongs to the next shape
    assert len(dots_of(half)) == 8 * 7 // 2


def test_what_matters_keeps_its_style() -> None:
    surface = Dots(1, 1)
    surface.dot(0, 0, "worse", rank=2)
    surface.dot(1, 1, "slight", rank=1)
    assert surface.row(0)[0][1] == "worse"


@given(COORDINATE, COORDINATE, COORDINATE, COORDINATE)
@settings(max_examples=200)
def test_clipping_stays_inside_and_on_the_line(x0: float, y0: float, x1: float, y1: float) -> None:
    clipped = clip((x0, y0), (x1, y1), 40, 20)
    if clipped is None:
        return
    for x, y in clipped:
        assert -1e-6 <= x <= 39 + 1e-6
        assert -1e-6 <= y <= 19 + 1e-6
        cross = (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)
        assert abs(cross) < 1e-6 * (1 + abs(x1 - x0) + abs(y1 - y0)) * 1000


@given(st.floats(-1e4, 1e4), st.floats(1e-2, 1e4), st.integers(1, 12))
@settings(max_examples=200)
def test_ticks_are_round_few_and_inside(low: float, width: float, most: int) -> None:
    ticks = round_ticks(low, low + width, most)
    assert len(ticks) <= most + 1
    assert all(low - 1e-6 * width <= t <= low + width * (1 + 1e-6) + 1e-6 for t in ticks)
    steps = {float(f"{b - a:.6g}") for a, b in itertools.pairwise(ticks)}
    assert len(steps) <= 1
    for step in steps:
        assert f"{step:.0e}"[0] in "125"
