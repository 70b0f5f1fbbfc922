"""A line of names, one of them current; clicked or walked with the keys that it shows."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import Static


class Tab(Static):
    """One name; ``[name]`` marks the current one where colours do not."""

    def __init__(self, name: str, label: str, hint: str) -> None:
        super().__init__(classes="tab", markup=False)
        self.tab_name, self.label, self.hint = name, label, hint

    def mark(self, current: bool) -> None:
        text = f"{self.hint} {self.label}".strip()
        self.update(f"[{text}]" if current else f" {text} ")
        self.set_class(current, "-current")

    def on_click(self) -> None:
        self.post_message(TabStrip.Chosen(self.tab_name))


class TabStrip(Horizontal):
    """``tabs`` are (name, label, key shown)."""

    class Chosen(Message):
        def __init__(self, name: str) -> None:
            super().__init__()
            self.name = name

    def __init__(
        self, tabs: tuple[tuple[str, str, str], ...], current: str, *, id: str | None = None
    ) -> None:
        super().__init__(id=id)
        self._tabs, self.current = tabs, current

    def compose(self) -> ComposeResult:
        for name, label, hint in self._tabs:
            tab = Tab(name, label, hint)
            tab.mark(name == self.current)
            yield tab

    def choose(self, name: str) -> None:
        self.current = name
        for tab in self.query(Tab):
            tab.mark(tab.tab_name == name)
