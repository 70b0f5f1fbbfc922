"""Open: a kit with a bench and a builder, or sources that a kit is drafted from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import DirectoryTree, Input, Static

from solderrisk.tui.styles import styles_of
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.tui.app import SolderriskApp

KIT_SUFFIXES = (".yaml", ".yml")
SOURCE_SUFFIXES = (
    *(".csv", ".tsv", ".txt", ".xlsx", ".xls", ".ods", ".pos", ".kicad_pcb", ".kicad_mod"),
    *(".gbr", ".gtl", ".gbl", ".gts", ".gbs", ".drl", ".xln", ".ipc", ".d356"),
)
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
    app: SolderriskApp

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
        kit.focus()
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
        kit.focus()
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


def open_any(app: SolderriskApp, sources: list[Path], inputs: object) -> None:
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
