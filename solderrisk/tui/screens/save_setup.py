"""Save as: the tried bench and builder to new files; nothing is ever written over."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from solderrisk.tui.assumed import as_options
from solderrisk.tui.styles import styles_of
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.model.builder import Builder
    from solderrisk.tui.app import SolderriskApp
    from solderrisk.tui.setup import Setup


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
            for line in remarks(self.app):
                yield Static(line, classes="quiet", markup=False)
            yield Static("enter writes, escape goes back", id="save-says", markup=False)

    def on_mount(self) -> None:
        for field in self.query(Input):
            field.cursor_blink = False

    def _suggest(self, kind: str) -> str:
        saved, tried = self.app.saved, self.app.tried
        if saved is None or tried is None or getattr(saved, kind) == self._model(tried, kind):
            return ""
        name = one_line(getattr(tried, kind).name, 40).replace(" ", "-").replace("/", "-")
        return f"{name}-tried.yaml"

    def _model(self, tried: Setup, kind: str) -> Any:
        """The bench, or the builder with the notes that were read in this sitting."""
        return tried.bench if kind == "bench" else with_notes(tried.builder, self.app.acknowledged)

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
                write_model(Path(path).expanduser(), self._model(tried, kind))
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


def remarks(app: SolderriskApp) -> Iterator[str]:
    """What goes into the files beside the dials, and what does not."""
    if app.loaded is not None and app.acknowledged - set(app.loaded.builder.acknowledged):
        yield "The builder file keeps which safety notes you have read."
    if app.tried is not None and app.tried.assumed:
        options = one_line(as_options(app.tried), 300)
        yield f"Assumed numbers go into no file; the command line takes them: {options}"


def with_notes(builder: Builder, read: set[str]) -> Builder:
    """The builder with these safety notes acknowledged as well."""
    more = sorted(read - set(builder.acknowledged))
    if not more:
        return builder
    return builder.model_copy(update={"acknowledged": (*builder.acknowledged, *more)})


def write_model(path: Path, model: Any) -> None:
    """Write a bench or a builder as YAML that reads back the same.

    Raises:
        FileProblems: the file exists or cannot be written.
    """
    import yaml

    from solderrisk.files.atomic import write_new

    plain = model.model_dump(mode="json", exclude_defaults=True)
    write_new(path, yaml.safe_dump(plain, sort_keys=False, allow_unicode=True))
