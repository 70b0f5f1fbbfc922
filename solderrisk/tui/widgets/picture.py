"""The base of our drawn widgets: rows of styled runs, kept until something changes."""

from __future__ import annotations

from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from solderrisk.tui.dots import Row


class Picture(Widget):
    """Draws ``draw(width, height)``; run styles are names of component classes.

    Every segment carries a style: a segment without one breaks monochrome terminals.
    """

    COMPONENT_CLASSES: ClassVar[set[str]] = set()
    DEFAULT_CSS = (
        "Picture { width: 1fr; height: 1fr; color: $foreground; background: $background; }"
    )

    _rows: list[Row]
    _drawn: tuple[int, int] | None = None

    def draw(self, width: int, height: int) -> list[Row]:
        """The rows of the picture, at most ``height`` of them."""
        raise NotImplementedError

    def redraw(self) -> None:
        """Forget the picture and paint it again."""
        self._drawn = None
        self.refresh()

    def notify_style_update(self) -> None:
        self._drawn = None
        super().notify_style_update()

    def render_line(self, y: int) -> Strip:
        width, height = self.size
        if self._drawn != (width, height):
            self._rows = self.draw(width, height) if width > 0 and height > 0 else []
            self._drawn = (width, height)
        runs = self._rows[y] if y < len(self._rows) else []
        segments = [Segment(text, self._style(name)) for text, name in runs]
        strip = Strip(segments)
        return strip.adjust_cell_length(width, self._style(""))

    def _style(self, name: str) -> Style:
        style = self.get_component_rich_style(name) if name else self.rich_style
        return style or Style.null() + self.rich_style
