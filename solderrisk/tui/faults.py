"""A fault of the program itself is told inside it, and the program goes on."""

from __future__ import annotations

import os
import platform
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual import events
from textual.app import App
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.message_pump import MessagePump
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from solderrisk.words import VERSION, one_line

if TYPE_CHECKING:
    from textual.app import ComposeResult


MOST_FAULTS = 8  # then something is broken for good, and the program leaves
OWN_CODE = "solderrisk"


class Steady(MessagePump):
    """A screen or app whose handlers may fail without taking the program with them."""

    async def _dispatch_message(self, message: Message) -> None:
        try:
            await super()._dispatch_message(message)
        except Exception as error:
            if not cast("SteadyApp", self.app).tell_fault(error):
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
        versions = f"solderrisk {VERSION}, Python {platform.python_version()}"
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


class AskFirst(ModalScreen[str]):
    """Something would be lost: 'save', 'leave' or 'stay'."""

    DEFAULT_CSS = """
    AskFirst { align: center middle; background: $background 60%; }
    AskFirst > Static { width: 76; max-width: 96%; height: auto; padding: 1 2;
        border: round $primary; background: $surface; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("s", "dismiss('save')", "Save"),
        Binding("l", "dismiss('leave')", "Leave without it"),
        Binding("escape,enter", "dismiss('stay')", "Stay", key_display="esc"),
    ]

    def __init__(self, what: str) -> None:
        super().__init__()
        self._what = what

    def compose(self) -> ComposeResult:
        keys = (("s", "save it"), ("l", "leave without it"), ("esc", "stay"))
        parts = [part for key, does in keys for part in ((key, "bold $accent"), f" {does}   ")]
        yield Static(Content.assemble((f"{self._what}\n", "bold"), *parts), markup=False)


class TakeUp(ModalScreen[bool]):
    """Answers of before: taken up, or begun anew."""

    DEFAULT_CSS = """
    TakeUp { align: center middle; background: $background 60%; }
    TakeUp > Static { width: 76; max-width: 96%; height: auto; padding: 1 2;
        border: round $primary; background: $surface; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,y", "dismiss(True)", "Take them up", key_display="enter"),
        Binding("n,escape", "dismiss(False)", "Begin anew"),
    ]

    def __init__(self, what: str) -> None:
        super().__init__()
        self._what = what

    def compose(self) -> ComposeResult:
        keys = (("enter", "take up"), ("n", "begin anew"))
        parts = [part for key, does in keys for part in ((key, "bold $accent"), f" {does}   ")]
        yield Static(Content.assemble((f"{self._what}\n", "bold"), *parts), markup=False)


class SteadyApp(Steady, App[int]):
    """An app that goes on after a fault inside it, and loses no key typed ahead.

    ``leaving``: threads that compute give up, and nothing that fails is told any more.
    """

    def __init__(self) -> None:
        super().__init__()
        self.leaving = False
        self.tells_faults = not os.environ.get("SOLDERRISK_DEBUG")
        self._faults = 0

    def tell_fault(self, error: BaseException) -> bool:
        """Tell a fault of the program itself and go on; False where it has to end."""
        if self.leaving:
            # What happens to screens that are being taken down is none.
            return True
        self._faults += 1
        if not self.tells_faults or self._faults > MOST_FAULTS:
            return False
        self.call_later(self.push_screen, FaultScreen(error))
        return True

    def _handle_exception(self, error: Exception) -> None:
        if self.tell_fault(error):
            return
        if not self.tells_faults:
            super()._handle_exception(error)
        else:
            self.exit(2, 2, f"solderrisk: a fault of the program ({fault_line(error)})")

    # Keys and pasted text that came before the focus had moved follow it

    async def on_key(self, event: events.Key) -> None:
        focused = self.focused
        if focused is not None and focused.check_consume_key(event.key, event.character):
            event.prevent_default()
            focused._forward_event(events.Key(event.key, event.character))

    def on_paste(self, event: events.Paste) -> None:
        if isinstance(self.focused, Input):
            self.focused._forward_event(events.Paste(event.text))
