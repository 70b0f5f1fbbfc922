"""The terminal program: its places, keys and dialogs round the state in ``program``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events
from textual.app import App
from textual.binding import Binding, BindingType
from textual.keys import _character_to_key

from solderrisk.arguments import DEMO_KIT
from solderrisk.tui.leaving import background_is_light, redraw_when_continued, run_to_the_end
from solderrisk.tui.messages import Assessed
from solderrisk.tui.places import DARK, LIGHT, PLACES, place_maker
from solderrisk.tui.program import Program
from solderrisk.tui.setup import Inputs, Supposed, opened

if TYPE_CHECKING:
    from textual.command import Provider

    from solderrisk.model.question import Question
    from solderrisk.plan.results import Assessment, FittingOrder
    from solderrisk.session import Session

    MakeOrder = Callable[[Question, Assessment], tuple[FittingOrder, Supposed]]

# How often the opened files are looked at for changes made elsewhere.
WATCH_S = 1.0


def _palette() -> type[Provider]:
    from solderrisk.tui.screens.help import Commands

    return Commands


class SolderriskApp(Program):
    """The program with its places, keys, dialogs and colours."""

    TITLE = "solderrisk"
    CSS_PATH = Path(__file__).with_name("styles.tcss")
    MODES: ClassVar[dict[str, Any]] = {place.name: place_maker(place) for place in PLACES}
    DEFAULT_MODE = PLACES[0].name
    COMMANDS = App.COMMANDS | {_palette}
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [(0, "-short"), (32, "-tall")]  # noqa: RUF012
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(p.key, f"go('{p.name}')", p.label, show=False) for p in PLACES),
        Binding("8", "build", "Build"),
        Binding("9", "class", "Class", show=False),
        Binding("o", "open", "Open"),
        Binding("y", "who", "You", show=False),
        Binding("question_mark", "help", "Help", key_display="?"),
        Binding("q", "quit", "Quit"),
        Binding("ctrl+c", "leave", show=False, priority=True),
    ]

    def __init__(
        self,
        inputs: Inputs | None = None,
        session: Session | None = None,
        read: Callable[[Inputs], Question] = opened,
        at_bench: bool = False,
    ) -> None:
        super().__init__(inputs, session, read)
        self._at_bench = at_bench
        self.typed_ahead = ""  # before the program had the terminal
        self._asks_who = False
        self._at_start: dict[str, Any] = {}
        self._theme_at_start = DARK.name
        for theme in (DARK, LIGHT):
            self.register_theme(theme)
        # Set before anything is drawn: the watcher would parse the styles again.
        self.set_reactive(App.theme, DARK.name)

    def prefer_light(self) -> None:
        """Start in light colours."""
        self.set_reactive(App.theme, LIGHT.name)

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Our own colour names, for themes that do not know them."""
        return dict((DARK if self.current_theme.dark else LIGHT).variables)

    def on_mount(self) -> None:
        if not self.is_headless:
            redraw_when_continued(self)
        self.call_after_refresh(self._open_first)
        if self._at_start.get("kit") == str(self.inputs.kit):
            place = self._at_start.get("place")
            if place in {known.name for known in PLACES}:
                self.call_after_refresh(self.action_go, place)
        for character in self.typed_ahead:
            self.post_message(events.Key(_character_to_key(character), character))
        self.set_interval(WATCH_S, self._watch_files)

    def recall(self) -> None:
        """Go on as the last run was left; at the very first one ask who is there."""
        from solderrisk.files import settings

        self.remembers = not settings.off()
        self._at_start = settings.remembered()
        first = self.remembers and not self._at_start and self.inputs.kit == DEMO_KIT
        # Only the very first start pays for reading one's own files here.
        own = settings.Own.found() if first else settings.Own()
        self._asks_who = first and not (own.bench or own.builder)
        if self._at_start.get("theme") in self.available_themes:
            self.set_reactive(App.theme, self._at_start["theme"])
        sort = self._at_start.get("sort")
        self.sort = sort if isinstance(sort, str) else ""
        self._theme_at_start = self.theme

    def _remember(self) -> None:
        from solderrisk.files import settings

        kit = Path(self.inputs.kit)
        values = {
            "kit": str(kit.resolve() if kit.exists() else kit),
            "place": self.current_mode,
            "sort": self.sort,
        }
        if self.theme != self._theme_at_start:
            values["theme"] = self.theme
        settings.remember(values)

    def _open_first(self) -> None:
        if Path(self.inputs.kit).suffix.lower() in ("", ".yaml", ".yml"):
            self.open_files(self.inputs)
            if self._at_bench:
                self.action_build()
            return
        from solderrisk.tui.screens.file_dialogs import open_any

        self.busy = ""
        open_any(self, [Path(self.inputs.kit)], replace(self.inputs, kit=DEMO_KIT))

    # Going about

    async def action_quit(self) -> None:
        """Leave; what would be lost by it is asked about first."""
        unsaved = self._unsaved()
        if not unsaved:
            self.action_leave()
            return
        from solderrisk.tui.faults import AskFirst

        self.push_screen(AskFirst(f"{unsaved}: not saved yet"), self._leave_or_save)

    def action_leave(self) -> None:
        self.leaving = True
        if self.remembers:
            self._remember()
        self.exit()

    def _unsaved(self) -> str:
        """What leaving would lose, in words."""
        lost = [what for s in self.screen_stack if (what := getattr(s, "unsaved", ""))]
        if self.tried != self.saved:
            lost.append("what you try")
        if self.supposed:
            lost.append("the marks of what is done")
        return " and ".join(lost)

    def _leave_or_save(self, choice: str | None) -> None:
        if choice == "leave":
            self.action_leave()
        elif choice == "save":
            draft = getattr(self.screen, "action_write", None)
            if draft is not None:
                draft()
                return
            from solderrisk.tui.screens.file_dialogs import SaveSetup

            self.push_screen(SaveSetup())

    def action_go(self, name: str) -> None:
        if self.current_mode != name:
            self.switch_mode(name)

    def action_build(self) -> None:
        """Go to the bench: one job at a time, recorded."""
        from solderrisk.tui.screens.build import BuildScreen

        self.push_screen(BuildScreen())

    def action_class(self) -> None:
        """Several builders before several kits."""
        from solderrisk.tui.screens.classroom import ClassScreen

        self.push_screen(ClassScreen())

    def on_assessed(self, message: Assessed) -> None:
        message.prevent_default()
        super().on_assessed(message)
        if self._asks_who and self.shown is not None:
            self._asks_who = False
            self.action_who()

    def action_who(self) -> None:
        """Say who one is and what is on the bench."""
        if self.loaded is not None:
            from solderrisk.tui.screens.help import WhoScreen

            self.push_screen(WhoScreen())

    def action_open(self) -> None:
        from solderrisk.tui.screens.file_dialogs import OpenFiles

        self.push_screen(OpenFiles())

    def action_help(self) -> None:
        from solderrisk.tui.screens.help import HelpScreen

        self.push_screen(HelpScreen(self.screen))


def run(inputs: Inputs, at_bench: bool = False) -> int:
    """Open the terminal program on files or demo names; gives the exit status."""
    app = SolderriskApp(inputs, at_bench=at_bench)
    light, app.typed_ahead = background_is_light()
    if light:
        app.prefer_light()
    app.recall()
    return run_to_the_end(app)
