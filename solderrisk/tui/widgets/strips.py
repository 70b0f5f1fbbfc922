"""The strips above and below every place: tabs and keys."""

from __future__ import annotations

from textual import events
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Static

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
