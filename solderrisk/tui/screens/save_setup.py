"""Save as: the tried bench and builder to new files; nothing is ever written over."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from solderrisk.report.words import one_line
from solderrisk.tui.styles import styles_of

if TYPE_CHECKING:
    from solderrisk.tui.app import SolderriskApp


class SaveSetup(ModalScreen[None]):
    """Asks for the names of the files, then writes them."""

    DEFAULT_CSS = styles_of(__file__, "dialog")

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "Back")]
    app: SolderriskApp

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static("Save what is being tried to new files", classes="title", markup=False)
            yield Static("bench file (empty: do not write)", classes="quiet", markup=False)
            yield Input(self._suggest("bench"), id="bench-path", compact=True)
            yield Static("builder file (empty: do not write)", classes="quiet", markup=False)
            yield Input(self._suggest("builder"), id="builder-path", compact=True)
            yield Static("enter writes, escape goes back", id="save-says", markup=False)

    def on_mount(self) -> None:
        for field in self.query(Input):
            field.cursor_blink = False

    def _suggest(self, kind: str) -> str:
        saved, tried = self.app.saved, self.app.tried
        if saved is None or tried is None or getattr(saved, kind) == getattr(tried, kind):
            return ""
        return f"{one_line(getattr(tried, kind).name, 40)}-tried.yaml".replace(" ", "-")

    def on_input_submitted(self) -> None:
        tried = self.app.tried
        if tried is None:
            return
        says = self.query_one("#save-says", Static)
        written: list[str] = []
        for kind in ("bench", "builder"):
            path = self.query_one(f"#{kind}-path", Input).value.strip()
            if not path:
                continue
            try:
                write_model(Path(path).expanduser(), getattr(tried, kind))
            except Exception as error:
                done = f"wrote {', '.join(written)}; " if written else ""
                says.update(Content.styled(done + one_line(str(error), 200), "$error"))
                return
            self.query_one(f"#{kind}-path", Input).value = ""
            written.append(path)
        if written:
            self.app.notify(f"wrote {', '.join(written)}", markup=False)
            self.dismiss()
        else:
            says.update(Content.styled("name at least one file", "$warning"))


def write_model(path: Path, model: Any) -> None:
    """Write a bench or a builder as YAML that reads back the same.

    Raises:
        FileProblems: the file exists or cannot be written.
    """
    import yaml

    from solderrisk.files.atomic import write_new

    plain = model.model_dump(mode="json", exclude_defaults=True)
    write_new(path, yaml.safe_dump(plain, sort_keys=False, allow_unicode=True))
