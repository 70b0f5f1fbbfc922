"""Lines of text, drawn cells, and the bar of a chance with its range."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import OptionList

from solderrisk.tui.dots import Row
from solderrisk.words import chance

if TYPE_CHECKING:
    from solderrisk.risk.results import Range


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


class Lines(OptionList):
    DEFAULT_CSS = """
    Lines {
        border: none;
        padding: 0;
        background: transparent;
        height: auto;
        text-wrap: nowrap;
        text-overflow: ellipsis;
        &:focus { border: none; background-tint: transparent; }
        & > .option-list--option { padding: 0; }
        & > .option-list--option-highlighted { background: $primary 20%; color: $foreground; }
        &:focus > .option-list--option-highlighted {
            background: $primary 40%;
            color: $foreground;
            text-style: bold;
        }
    }
    """


class ChanceBar(Picture):
    """``━`` is the range, ``●`` the middle, ``○`` the middle before a change, ``┃`` the
    target: shapes say everything, colour only helps."""

    DEFAULT_CSS = """
    ChanceBar {
        width: 1fr;
        height: 1;
        & > .bar--track { color: $quiet; }
        & > .bar--range { color: $primary; }
        & > .bar--middle { color: $foreground; text-style: bold; }
        & > .bar--before { color: $quiet; }
        & > .bar--target { color: $accent; text-style: bold; }
        & > .bar--label { color: $foreground; }
    }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "bar--track",
        "bar--range",
        "bar--middle",
        "bar--before",
        "bar--target",
        "bar--label",
    }

    def __init__(self, label: str, *, id: str | None = None, label_width: int = 20) -> None:
        super().__init__(id=id)
        self.label = label
        self.label_width = label_width
        self.value: Range | None = None
        self.before: float | None = None
        self.target: float | None = None

    def show(
        self, value: Range | None, *, before: float | None = None, target: float | None = None
    ) -> None:
        if (value, before, target) != (self.value, self.before, self.target):
            self.value, self.before, self.target = value, before, target
            self.redraw()

    def draw(self, width: int, height: int) -> list[Row]:
        label = self.label[: self.label_width].ljust(self.label_width)
        if self.value is None:
            return [[(label, "bar--label"), ("not computed yet", "bar--track")]]
        figure = chance(self.value)
        if height > 1:
            track = self._track(width)
            return [[(label, "bar--label"), (figure, "bar--label")], track]
        room = width - len(label) - max(len(figure) + 2, 18)
        if room < 8:
            return [[(label, "bar--label"), (figure, "bar--label")]]
        return [[(label, "bar--label"), *self._track(room), (f"  {figure}", "bar--label")]]

    def _track(self, room: int) -> Row:
        value = self.value
        assert value is not None
        cells = [("─", "bar--track")] * room
        for x in range(_cell(value.low, room), _cell(value.high, room) + 1):
            cells[x] = ("━", "bar--range")
        if self.before is not None and _cell(self.before, room) != _cell(value.mid, room):
            cells[_cell(self.before, room)] = ("○", "bar--before")
        cells[_cell(value.mid, room)] = ("●", "bar--middle")
        if self.target is not None:
            at = _cell(self.target, room)
            on_middle = cells[at][0] == "●"
            cells[at] = ("◉" if on_middle else "┃", "bar--target")
        return cells


def _cell(share: float, room: int) -> int:
    return min(max(round(share * (room - 1)), 0), room - 1)


def share_bar(share: float, room: int) -> str:
    """A share as a short bar of text, for lists."""
    halves = round(max(min(share, 1.0), 0.0) * room * 2)
    return ("━" * (halves // 2) + "╸" * (halves % 2)).ljust(room)
