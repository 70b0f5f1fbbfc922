"""Who are you, and what is on your bench: asked once, kept as one's own files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.files import settings
from solderrisk.model.builder import LEVELS
from solderrisk.tui.faults import Steady
from solderrisk.tui.theme import styles_of
from solderrisk.tui.widgets.lines import Lines
from solderrisk.tui.widgets.strips import KeyLine
from solderrisk.words import LEVEL_WORDS, one_line

if TYPE_CHECKING:
    from solderrisk.tui.program import Program

Row = tuple[str, str]  # what kind of line, and of what


class WhoScreen(Steady, ModalScreen[None]):
    DEFAULT_CSS = styles_of(__file__, "dialog")
    HELP = """\
Say what you have done so far and tick what is on your bench; w keeps it as your own
builder and bench, which every command then uses. Nothing of it leaves this computer, and a
file that you change by hand is never written over."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("right,space,enter", "turn(1)", "More or tick", key_display="→ space"),
        Binding("left", "turn(-1)", "Less", key_display="←"),
        Binding("w", "keep", "Keep as mine"),
        Binding("escape", "dismiss", "Later"),
        Binding("question_mark", "app.help", "Help", key_display="?"),
    ]
    app: Program

    def __init__(self) -> None:
        super().__init__()
        self.levels: dict[str, int] = {}
        self.ticked: set[str] = set()
        self.needs_lens = False
        self.alloy = 0
        self._rows: list[Row] = []

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog tall"):
            yield Static("Who are you, and what is on your bench?", classes="title", markup=False)
            yield Lines(id="who", markup=False)
            yield Static("", id="who-says", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        self._list()
        self.set_focus(self.query_one("#who"))

    def _lines(self) -> Iterable[tuple[Row | None, Content]]:
        loaded = self.app.loaded
        if loaded is None:
            return
        yield None, Content.styled("What have you done so far?", "bold $primary")
        for skill in loaded.reference.risk.levels.skills:
            level = LEVEL_WORDS[LEVELS[self.levels.get(skill.id, 0)]]
            yield ("skill", skill.id), Content(f"  ◂ {level:<14} ▸ {one_line(skill.title, 50)}")
        lens = "x" if self.needs_lens else " "
        yield ("lens", ""), Content(f"  [{lens}] I need a lens for print on a chip 1.6 mm long")
        yield None, Content.styled("What is on your bench?", "bold $primary")
        yield ("alloy", ""), Content(f"  ◂ {settings.ALLOYS[self.alloy]:<14} ▸ solder wire")
        for tool in loaded.reference.plan.tools:
            mark = "x" if tool.id in self.ticked else " "
            yield ("tool", tool.id), Content(f"  [{mark}] {one_line(tool.title, 66)}")

    def _list(self) -> None:
        listing = self.query_one("#who", OptionList)
        at = listing.highlighted
        listing.clear_options()
        self._rows = []
        for row, line in self._lines():
            self._rows.append(row or ("", ""))
            listing.add_option(Option(line, disabled=row is None))
        if self._rows:
            listing.highlighted = 1 if at is None else at

    def on_option_list_option_selected(self) -> None:
        self.action_turn(1)

    def action_turn(self, step: int) -> None:
        at = self.query_one("#who", OptionList).highlighted
        match self._rows[at] if at is not None else ("", ""):
            case ("skill", skill):
                self.levels[skill] = (self.levels.get(skill, 0) + step) % len(LEVELS)
            case ("lens", _):
                self.needs_lens = not self.needs_lens
            case ("alloy", _):
                self.alloy = (self.alloy + step) % len(settings.ALLOYS)
            case ("tool", tool):
                self.ticked ^= {tool}
        self._list()

    def action_keep(self) -> None:
        loaded = self.app.loaded
        if loaded is None:
            return
        done = {s.id: LEVELS[self.levels.get(s.id, 0)] for s in loaded.reference.risk.levels.skills}
        tools = [tool for tool in loaded.reference.plan.tools if tool.id in self.ticked]
        try:
            builder = settings.own_builder(done, self.needs_lens)
            bench = settings.own_bench(tools, settings.ALLOYS[self.alloy])
            paths = {
                name: settings.keep(name, settings.as_yaml(value))
                for name, value in (("builder", builder), ("bench", bench))
            }
        except Exception as error:
            says = Content.styled(one_line(str(error), 200), "$error")
            self.query_one("#who-says", Static).update(says)
            return
        self.dismiss()
        kept = ", ".join(str(path) for path in paths.values())
        self.app.notify(f"kept in {kept}", markup=False)
        self.app.open_files(
            replace(self.app.inputs, bench=paths["bench"], builder=paths["builder"])
        )
