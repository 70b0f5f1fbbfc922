"""A chance with its range on a scale from 0 to 100 %."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from solderrisk.tui.dots import Row
from solderrisk.tui.widgets.picture import Picture
from solderrisk.words import chance

if TYPE_CHECKING:
    from solderrisk.risk.results import Range


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
