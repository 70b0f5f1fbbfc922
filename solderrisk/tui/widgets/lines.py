"""Small widgets: lines, drawn cells, bars, the strips of tabs and keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import OptionList, Static

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
            # The figure stays whole, whatever that leaves of its name.
            name = self.label[: max(min(self.label_width, width - len(figure) - 1), 0)]
            return [[(f"{name} ", "bar--label"), (figure, "bar--label")]]
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


NARROWEST = 80  # before the terminal has told its width


class TabStrip(Static):
    """``tabs`` are (name, label, key shown); ``[name]`` marks the current one where colours
    do not. One widget for all of them: the first frame is drawn sooner."""

    class Chosen(Message):
        def __init__(self, name: str) -> None:
            super().__init__()
            self.name = name

    def __init__(
        self, tabs: tuple[tuple[str, str, str], ...], current: str, *, id: str | None = None
    ) -> None:
        self._tabs, self.current = tabs, current
        self._room = NARROWEST
        super().__init__(self._line(), id=id)

    def choose(self, name: str) -> None:
        self.current = name
        self.update(self._line())

    def _line(self) -> Content:
        return Content.assemble(
            *(
                (f"[{text}]", "bold $foreground") if name == self.current else f" {text} "
                for name, text in self._texts()
            )
        )

    def on_resize(self) -> None:
        if self.size.width != self._room:
            self._room = self.size.width
            self.update(self._line())

    def _texts(self) -> list[tuple[str, str]]:
        """Names as long as there is room for all: whole, then cut, then the current one's."""
        for most in (99, 5, 4, 3, 0):
            texts = [(name, self._text(name, label, key, most)) for name, label, key in self._tabs]
            if sum(len(text) + 2 for _, text in texts) <= self._room:
                break
        return texts

    def _text(self, name: str, label: str, key: str, most: int) -> str:
        kept = label if name == self.current else label[:most].strip()
        return f"{key} {kept}".strip()

    def on_click(self, event: events.Click) -> None:
        end = 0
        for name, text in self._texts():
            end += len(text) + 2
            if event.x < end:
                self.post_message(self.Chosen(name))
                return


class KeyLine(Static):
    """One widget for all keys: switching places and moving the focus happen all the time,
    and a widget per key would be made anew each time. Keys that do not fit are left out
    from the middle, so that help and leaving stay in sight."""

    DEFAULT_CSS = """
    KeyLine {
        dock: bottom;
        height: 1;
        width: 1fr;
        padding: 0 1;
        background: $panel;
        text-wrap: nowrap;
    }
    """
    LAST = 3  # keys at the end that always stay

    def __init__(self) -> None:
        super().__init__(markup=False)
        self._keys: list[tuple[str, str, str]] = []  # key, as shown, what it does

    def on_mount(self) -> None:
        self.screen.bindings_updated_signal.subscribe(self, self._look)
        self.call_after_refresh(self._look, self.screen)

    def on_unmount(self) -> None:
        self.screen.bindings_updated_signal.unsubscribe(self)

    def on_resize(self) -> None:
        self._show()

    def _look(self, screen: Screen[object]) -> None:
        """Take the keys in force, one for each thing that can be done."""
        if not self.is_attached or screen is not self.screen or screen is not self.app.screen:
            return
        found: dict[str, tuple[str, str, str]] = {}
        for active in screen.active_bindings.values():
            binding = active.binding
            if binding.show and binding.description and active.enabled:
                key = binding.key_display or self.app.get_key_display(binding)
                found.setdefault(binding.action, (binding.key, key, binding.description))
        keys = list(found.values())
        if keys != self._keys:
            self._keys = keys
            self._show()

    def _fitting(self) -> list[tuple[str, str, str]]:
        room = self.content_size.width
        kept = list(self._keys)
        while len(kept) > self.LAST and sum(len(k) + len(d) + 3 for _, k, d in kept) - 2 > room:
            del kept[-self.LAST - 1]
        return kept

    def _show(self) -> None:
        parts: list[tuple[str, str]] = []
        for _, key, what in self._fitting():
            parts += [(key, "bold $accent"), (f" {what}  ", "")]
        self.update(Content.assemble(*parts))

    def on_click(self, event: events.Click) -> None:
        end = self.styles.padding.left
        for name, key, what in self._fitting():
            end += len(key) + len(what) + 3
            if event.x < end:
                self.app.simulate_key(name)
                return
