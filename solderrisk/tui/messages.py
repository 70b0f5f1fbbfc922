"""What worker threads tell the program."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual.message import Message

if TYPE_CHECKING:
    from solderrisk.tui.setup import Loaded, Setup
    from solderrisk.tui.supposed import Supposed


class Opened(Message):
    """Files are read."""

    def __init__(self, loaded: Loaded) -> None:
        super().__init__()
        self.loaded = loaded


class Assessed(Message):
    """An assessment is there; ``shown`` is a rows.Shown. Where it is not ``final``, it keeps
    the order of another set-up."""

    def __init__(self, shown: Any, loaded: Loaded, setup: Setup, final: bool) -> None:
        super().__init__()
        self.shown, self.loaded, self.setup, self.final = shown, loaded, setup, final


class Ordered(Message):
    """An order made by hand with what it supposes, or why it cannot be."""

    def __init__(self, shown: Any, of: Any, supposed: Supposed, refusal: str) -> None:
        super().__init__()
        self.shown, self.of, self.supposed, self.refusal = shown, of, supposed, refusal


class GaveUp(Message):
    """A computation was dropped because something newer was asked for."""


class Answered(Message):
    """An answer asked for on demand: advice, ladder, statement, second looks."""

    def __init__(self, name: str, loaded: Loaded, setup: Setup, value: Any, error: str) -> None:
        super().__init__()
        self.name, self.loaded, self.setup = name, loaded, setup
        self.value, self.error = value, error


class Failed(Message):
    """Something could not be done; each line is one problem in plain words."""

    def __init__(self, *lines: str) -> None:
        super().__init__()
        self.lines = lines


def told(error: Exception) -> tuple[str, ...]:
    """An error in plain lines, the program's own first."""
    problems = getattr(error, "problems", None)
    if problems:
        return tuple(str(problem) for problem in problems)
    text = str(error).strip()
    return tuple(text.splitlines()) if text else (type(error).__name__,)
