"""Write the report of what is shown to a new file; its ending says which kind."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from solderrisk.tui.styles import styles_of
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.plan.results import Assessment
    from solderrisk.tui.app import SolderriskApp
    from solderrisk.tui.setup import Loaded, Setup

KINDS = {
    ".html": "a page that prints: verdict, difficulty statement, work sheet, cards, safety",
    ".txt": "plain text",
    ".csv": "a row per job",
    ".json": "everything as data",
}


class Written(Message):
    def __init__(self, path: Path, error: str) -> None:
        super().__init__()
        self.path, self.error = path, error


class SaveReport(ModalScreen[None]):
    """Asks for a name; the page takes a moment, so it is made in a thread."""

    DEFAULT_CSS = styles_of(__file__, "dialog")
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "Back")]
    app: SolderriskApp

    def compose(self) -> ComposeResult:
        kinds = "\n".join(f"{ending:<6} {what}" for ending, what in KINDS.items())
        with Vertical(classes="dialog"):
            yield Static("Write a report to a new file", classes="title", markup=False)
            yield Static(kinds, classes="quiet", markup=False)
            yield Input(self._suggest(), id="report-path", compact=True)
            yield Static("enter writes, escape goes back", id="save-says", markup=False)

    def on_mount(self) -> None:
        field = self.query_one(Input)
        field.cursor_blink = False
        field.focus()

    def _suggest(self) -> str:
        name = self.app.loaded.kit.name if self.app.loaded else "kit"
        return f"{one_line(name, 40)}-report.html".replace(" ", "-").replace("/", "-")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        loaded, shown, setup = self.app.loaded, self.app.shown, self.app.tried
        path = Path(event.value.strip()).expanduser()
        if loaded is None or shown is None or setup is None or path.suffix.lower() not in KINDS:
            self._say(f"the name has to end in one of {', '.join(KINDS)}", "$warning")
            return
        self._say("writing …", "$quiet")
        self.run_worker(
            lambda: self._write(path, loaded, setup, shown.assessment),
            thread=True,
            exclusive=True,
            group="report",
        )

    def _write(self, path: Path, loaded: Loaded, setup: Setup, assessment: Assessment) -> None:
        from solderrisk.files.atomic import write_new

        try:
            text = self.app.desk.report(path.suffix.lower(), loaded, setup, assessment)
            write_new(path, text)
            error = ""
        except Exception as problem:
            error = str(problem) or type(problem).__name__
        self.post_message(Written(path, error))

    def on_written(self, message: Written) -> None:
        if message.error:
            self._say(one_line(message.error, 200), "$error")
        else:
            self.app.notify(f"wrote {message.path}", markup=False)
            self.dismiss()

    def _say(self, text: str, style: str) -> None:
        self.query_one("#save-says", Static).update(Content.styled(text, style))
