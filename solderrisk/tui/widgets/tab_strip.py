"""A line of names, one of them current; clicked, or walked with the keys that it shows."""

from __future__ import annotations

from textual import events
from textual.content import Content
from textual.message import Message
from textual.widgets import Static


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

    def _texts(self) -> list[tuple[str, str]]:
        return [(name, f"{key} {label}".strip()) for name, label, key in self._tabs]

    def on_click(self, event: events.Click) -> None:
        end = 0
        for name, text in self._texts():
            end += len(text) + 2
            if event.x < end:
                self.post_message(self.Chosen(name))
                return
