"""A drawing surface of braille dots with text on top: 2 x 4 dots in each cell."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from math import ceil, floor, log10

# Bits of the braille block by (column, row) inside a cell.
_BITS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_BLANK = 0x2800

Dot = tuple[float, float]
Row = list[tuple[str, str]]


class Dots:
    """``width`` x ``height`` cells. Dot (0, 0) is at the top left.

    Each cell has one style; where two shapes meet, the later one of equal or higher
    ``rank`` wins, so that what matters stays visible.
    """

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = max(width, 1), max(height, 1)
        self.columns, self.rows = self.width * 2, self.height * 4
        self._bits = [[0] * self.width for _ in range(self.height)]
        self._style = [[""] * self.width for _ in range(self.height)]
        self._rank = [[-1] * self.width for _ in range(self.height)]
        self._text: dict[tuple[int, int], tuple[str, str]] = {}

    def dot(self, x: float, y: float, style: str, rank: int = 0) -> None:
        """Set one dot; dots outside are ignored."""
        column, row = floor(x + 0.5), floor(y + 0.5)
        if not (0 <= column < self.columns and 0 <= row < self.rows):
            return
        cx, cy = column // 2, row // 4
        self._bits[cy][cx] |= _BITS[column % 2][row % 4]
        if rank >= self._rank[cy][cx]:
            self._rank[cy][cx], self._style[cy][cx] = rank, style

    def line(self, start: Dot, end: Dot, style: str, rank: int = 0, gap: int = 0) -> None:
        """A straight line; ``gap`` 2 draws two dots and leaves two out."""
        clipped = clip(start, end, self.columns, self.rows)
        if clipped is None:
            return
        (x0, y0), (x1, y1) = clipped
        steps = max(ceil(max(abs(x1 - x0), abs(y1 - y0))), 1)
        for step in range(steps + 1):
            if gap and (step // gap) % 2:
                continue
            part = step / steps
            self.dot(x0 + (x1 - x0) * part, y0 + (y1 - y0) * part, style, rank)

    def path(self, points: Iterable[Dot], style: str, rank: int = 0, gap: int = 0) -> None:
        for start, end in pairwise(points):
            self.line(start, end, style, rank, gap)

    def fill(self, polygon: list[Dot], style: str, rank: int = 0, sparse: bool = False) -> None:
        """Fill a convex or concave polygon; ``sparse`` sets every other dot."""
        top = max(ceil(min(y for _, y in polygon)), 0)
        bottom = min(floor(max(y for _, y in polygon)), self.rows - 1)
        for row in range(top, bottom + 1):
            cuts = sorted(_crossings(polygon, row))
            for left, right in zip(cuts[::2], cuts[1::2], strict=False):
                first, last = max(ceil(left), 0), min(floor(right), self.columns - 1)
                for column in range(first, last + 1):
                    if not sparse or (column + row) % 2 == 0:
                        self.dot(column, row, style, rank)

    def text(self, cell_x: int, cell_y: int, text: str, style: str) -> None:
        """Write over the dots, from this cell on; what does not fit is left out."""
        if not 0 <= cell_y < self.height:
            return
        for offset, character in enumerate(text):
            if 0 <= cell_x + offset < self.width:
                self._text[cell_x + offset, cell_y] = (character, style)

    def free(self, cell_x: int, cell_y: int, length: int) -> bool:
        """Whether no text stands there and it would fit."""
        return (
            0 <= cell_y < self.height
            and cell_x >= 0
            and cell_x + length <= self.width
            and all((cell_x + i, cell_y) not in self._text for i in range(length))
        )

    def row(self, y: int) -> Row:
        """Runs of (text, style name) of one row."""
        runs: Row = []
        for x in range(self.width):
            bits = self._bits[y][x]
            character, style = self._text.get(
                (x, y), (chr(_BLANK + bits), self._style[y][x]) if bits else (" ", "")
            )
            if runs and runs[-1][1] == style:
                runs[-1] = (runs[-1][0] + character, style)
            else:
                runs.append((character, style))
        return runs


def _crossings(polygon: list[Dot], row: float) -> list[float]:
    found = []
    for (x0, y0), (x1, y1) in pairwise([*polygon, polygon[0]]):
        if (y0 <= row < y1) or (y1 <= row < y0):
            found.append(x0 + (row - y0) * (x1 - x0) / (y1 - y0))
    return found


def clip(start: Dot, end: Dot, columns: int, rows: int) -> tuple[Dot, Dot] | None:
    """The part of a segment inside the surface (Liang-Barsky), None where there is none."""
    (x0, y0), (x1, y1) = start, end
    dx, dy = x1 - x0, y1 - y0
    enter, leave = 0.0, 1.0
    for step, room in ((-dx, x0), (dx, columns - 1 - x0), (-dy, y0), (dy, rows - 1 - y0)):
        if step == 0:
            if room < 0:
                return None
            continue
        part = room / step
        if step < 0:
            enter = max(enter, part)
        else:
            leave = min(leave, part)
    if enter > leave:
        return None
    return (x0 + enter * dx, y0 + enter * dy), (x0 + leave * dx, y0 + leave * dy)


def round_ticks(low: float, high: float, most: int) -> list[float]:
    """Round numbers that cover a span, at most ``most`` of them."""
    if high <= low or most < 1:
        return [low]
    rough = (high - low) / most
    unit = 10.0 ** floor(log10(rough))
    step = next(unit * m for m in (1, 2, 5, 10) if unit * m >= rough * 0.999999)
    first = ceil(low / step - 1e-9)
    count = floor((high - low) / step + 1e-9) + 1
    return [
        round((first + i) * step, 10)
        for i in range(count + 1)
        if (first + i) * step <= high + step * 1e-6
    ]
