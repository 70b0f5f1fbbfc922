"""Dialogs about files: opening, saving a report, saving a changed bench or builder."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import DirectoryTree, Input, Static

from solderrisk.readers.formats import SUFFIXES as SOURCE_SUFFIXES
from solderrisk.report.data import KINDS, Kind, Told, kind_of_ending
from solderrisk.tui.messages import statement_benches
from solderrisk.tui.places import styles_of
from solderrisk.tui.setup import as_options
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.model.bench import Builder
    from solderrisk.model.question import Question
    from solderrisk.plan.results import Assessment
    from solderrisk.tui.program import Program
    from solderrisk.tui.setup import Setup


KIT_SUFFIXES = (".yaml", ".yml")
HINT = (
    "A kit file or a demo's name; or what the designer gave: bill of materials, board file, "
    "placement file, fabrication files, several with ; between them. Enter opens."
)


class Files(DirectoryTree):
    """Only what can be opened, and folders."""

    def filter_paths(self, paths: Iterable[Path]) -> Iterable[Path]:
        wanted = {*KIT_SUFFIXES, *SOURCE_SUFFIXES}
        return [
            path
            for path in paths
            if not path.name.startswith(".") and (path.is_dir() or path.suffix.lower() in wanted)
        ]


class OpenFiles(ModalScreen[None]):
    """Asks for paths; a source of another kind than YAML is drafted into a kit first."""

    DEFAULT_CSS = styles_of(__file__, "dialog")
    HELP = HINT
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "Back"),
        Binding("ctrl+o", "submit", "Open"),
    ]
    app: Program

    def compose(self) -> ComposeResult:
        inputs = self.app.inputs
        with Vertical(classes="dialog tall"):
            yield Static("Open", classes="title", markup=False)
            yield Static(HINT, classes="quiet", markup=False)
            for name, value in (
                ("kit", inputs.kit),
                ("bench", inputs.bench),
                ("builder", inputs.builder),
            ):
                yield Static(f"{name}", classes="quiet", markup=False)
                yield Input(str(value), id=f"open-{name}", compact=True)
            yield Static(id="open-says", markup=False)
            yield Files(Path.cwd(), id="open-tree")

    def on_mount(self) -> None:
        for field in self.query(Input):
            field.cursor_blink = False
        kit = self.query_one("#open-kit", Input)
        self.set_focus(kit)
        kit.action_select_all()

    def on_directory_tree_file_selected(self, event: DirectoryTree.FileSelected) -> None:
        """A kit replaces what is written; a further source is added to it."""
        kit = self.query_one("#open-kit", Input)
        path = _short(event.path)
        sources = [p for p in paths_of(kit.value) if p.suffix.lower() in SOURCE_SUFFIXES]
        if event.path.suffix.lower() in KIT_SUFFIXES or not sources:
            kit.value = path
        elif Path(path) not in sources:
            kit.value = "; ".join([*map(str, sources), path])
        self.set_focus(kit)
        kit.action_end()

    def on_input_submitted(self) -> None:
        self.action_submit()

    def action_submit(self) -> None:
        text = {
            name: self.query_one(f"#open-{name}", Input).value.strip()
            for name in ("kit", "bench", "builder")
        }
        sources = paths_of(text["kit"])
        if not sources or not text["bench"] or not text["builder"]:
            says = "name a kit, a bench and a builder; a demo's name will do"
            self.query_one("#open-says", Static).update(Content.styled(says, "$warning"))
            return
        inputs = replace(self.app.inputs, bench=text["bench"], builder=text["builder"])
        self.dismiss()
        open_any(self.app, sources, inputs)


def open_any(app: Program, sources: list[Path], inputs: object) -> None:
    """A single kit is opened; anything else is drafted into one."""
    from solderrisk.tui.setup import Inputs

    assert isinstance(inputs, Inputs)
    single = sources[0] if len(sources) == 1 else None
    if single is not None and single.suffix.lower() in ("", *KIT_SUFFIXES):
        app.open_files(replace(inputs, kit=str(single)))
        return
    from solderrisk.tui.screens.draft import DraftScreen

    app.push_screen(DraftScreen(sources, inputs))


def paths_of(text: str) -> list[Path]:
    """Paths with ; between them; quotes around one are a person's habit."""
    parts = (part.strip().strip("'\"") for part in text.split(";"))
    return [Path(part).expanduser() for part in parts if part]


def _short(path: Path) -> str:
    try:
        return str(path.relative_to(Path.cwd()))
    except ValueError:
        return one_line(str(path))


class Written(Message):
    def __init__(self, path: Path, error: str) -> None:
        super().__init__()
        self.path, self.error = path, error


class SaveReport(ModalScreen[None]):
    """Asks for a name; the page takes a moment, so it is made in a thread."""

    DEFAULT_CSS = styles_of(__file__, "dialog")
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "Back")]
    app: Program

    def compose(self) -> ComposeResult:
        kinds = "\n".join(f"{kind.ending:<6} {kind.about}" for kind in KINDS)
        with Vertical(classes="dialog"):
            yield Static("Write a report to a new file", classes="title", markup=False)
            yield Static(kinds, classes="quiet", markup=False)
            yield Input(self._suggest(), id="report-path", compact=True)
            yield Static("enter writes, escape goes back", id="save-says", markup=False)

    def on_mount(self) -> None:
        field = self.query_one(Input)
        field.cursor_blink = False
        self.set_focus(field)

    def _suggest(self) -> str:
        name = self.app.loaded.kit.name if self.app.loaded else "kit"
        return f"{one_line(name, 40)}-report.html".replace(" ", "-").replace("/", "-")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        loaded, shown, setup = self.app.loaded, self.app.shown, self.app.tried
        path = Path(event.value.strip()).expanduser()
        kind = kind_of_ending(path.suffix)
        if loaded is None or shown is None or setup is None or kind is None:
            endings = ", ".join(kind.ending for kind in KINDS)
            self._say(f"the name has to end in one of {endings}", "$warning")
            return
        self._say("writing …", "$quiet")
        self.run_worker(
            lambda: self._write(path, kind, setup.asks(loaded), shown.assessment),
            thread=True,
            exclusive=True,
            group="report",
        )

    def _write(self, path: Path, kind: Kind, asked: Question, found: Assessment) -> None:
        from solderrisk.files.text import write_new

        try:
            benches = statement_benches(asked)
            told = Told(self.app.session, asked, found, benches)
            write_new(path, kind.file_head + kind.made(told))
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


class SaveSetup(ModalScreen[None]):
    """Asks for the names of the files, then writes them."""

    DEFAULT_CSS = styles_of(__file__, "dialog")

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "Back")]
    app: Program

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


def remarks(app: Program) -> Iterator[str]:
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

    from solderrisk.files.text import write_new

    plain = model.model_dump(mode="json", exclude_defaults=True)
    write_new(path, yaml.safe_dump(plain, sort_keys=False, allow_unicode=True))
