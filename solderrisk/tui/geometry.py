"""The view that maps a board's millimetres to dots."""

from __future__ import annotations

from dataclasses import dataclass, replace

from solderrisk.model.outline import Box, board_box, body_outline, land, lands, placed, rectangle
from solderrisk.tui.dots import Dot

__all__ = ["Box", "View", "board_box", "body_outline", "land", "lands", "placed", "rectangle"]


@dataclass(frozen=True)
class View:
    """Maps board millimetres to dots. Dots are about square: a cell is 2 x 4 of them and
    twice as high as wide. ``flipped`` looks at the board from below."""

    left: float
    top: float
    dots_per_mm: float
    flipped: bool = False

    def dot(self, point: Dot) -> Dot:
        x = self.left - point[0] if self.flipped else point[0] - self.left
        return x * self.dots_per_mm, (self.top - point[1]) * self.dots_per_mm

    def polygon(self, points: list[Dot]) -> list[Dot]:
        return [self.dot(point) for point in points]

    @classmethod
    def fit(cls, box: Box, columns: int, rows: int, *, flipped: bool = False) -> View:
        """A view that shows the whole box, centred."""
        left, bottom, right, top = box
        wide, high = max(right - left, 1e-6), max(top - bottom, 1e-6)
        scale = min((columns - 1) / wide, (rows - 1) / high)
        pad_x = ((columns - 1) / scale - wide) / 2
        pad_y = ((rows - 1) / scale - high) / 2
        edge = right + pad_x if flipped else left - pad_x
        return cls(edge, top + pad_y, scale, flipped)

    def zoomed(self, factor: float, centre: Dot, columns: int, rows: int) -> View:
        """The same view enlarged, with ``centre`` in the middle."""
        scale = self.dots_per_mm * factor
        half_x, half_y = columns / 2 / scale, rows / 2 / scale
        left = centre[0] + half_x if self.flipped else centre[0] - half_x
        return replace(self, left=left, top=centre[1] + half_y, dots_per_mm=scale)
