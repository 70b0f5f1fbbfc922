"""A fault of the program itself is told inside it, and the program goes on."""

from __future__ import annotations

import platform
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.message_pump import MessagePump
from textual.screen import ModalScreen
from textual.widgets import Static

from solderrisk import __version__
from solderrisk.words import one_line

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from solderrisk.tui.app import SolderriskApp

MOST_FAULTS = 8  # then something is broken for good, and the program leaves
OWN_CODE = "solderrisk"


class Steady(MessagePump):
    """A screen or app whose handlers may fail without taking the program with them."""

    async def _dispatch_message(self, message: Message) -> None:
        try:
            await super()._dispatch_message(message)
        except Exception as error:
            if not cast("SolderriskApp", self.app).tell_fault(error):
                raise


def fault_line(error: BaseException) -> str:
    """What failed and where, in one line to be sent on."""
    error = getattr(error, "error", None) or error
    frames = [f for f in traceback.extract_tb(error.__traceback__) if f.filename != __file__]
    own = [f for f in frames if OWN_CODE in Path(f.filename).parts]
    where = "".join(f" at {Path(f.filename).name}:{f.lineno}" for f in (own or frames)[-1:])
    return one_line(f"{type(error).__name__}: {error}{where}", 300)


class FaultScreen(ModalScreen[None]):
    """Tells a fault; what was open stays open."""

    DEFAULT_CSS = """
    FaultScreen { align: center middle; }
    FaultScreen > Static { width: 76; max-width: 96%; height: auto; max-height: 90%;
        padding: 1 2; border: round $error; background: $surface; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,enter", "close", "Go on")]

    def __init__(self, error: BaseException) -> None:
        super().__init__()
        self._line = fault_line(error)

    def compose(self) -> ComposeResult:
        versions = f"solderrisk {__version__}, Python {platform.python_version()}"
        yield Static(
            Content.assemble(
                ("A fault of the program\n", "bold $error"),
                "Nothing of yours is changed or lost. Press Enter to go on.\n\n",
                ("Please send these two lines on:\n", "$quiet"),
                f"{self._line}\n{versions}",
            ),
            markup=False,
        )

    def action_close(self) -> None:
        self.dismiss()
        rebuild: Any = getattr(self.app.screen, "rebuild", None)
        if rebuild is not None:
            rebuild()


__all__ = ["MOST_FAULTS", "FaultScreen", "Steady", "fault_line"]
