"""The terminal program: its places, keys and dialogs round the state in ``program``."""

from __future__ import annotations

import asyncio
import contextlib
import os
import re
import select
import signal
import sys
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events
from textual.app import App
from textual.binding import Binding, BindingType
from textual.keys import _character_to_key

from solderrisk.arguments import DEMO_KIT
from solderrisk.tui.messages import Assessed
from solderrisk.tui.places import DARK, LIGHT, PLACES, place_maker
from solderrisk.tui.program import Program
from solderrisk.tui.setup import Inputs, Supposed, opened

if TYPE_CHECKING:
    from types import FrameType

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
        from solderrisk.folders import settings_off

        self.remembers = not settings_off()
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


# A thread that writes a file gets this long to end; nothing else of theirs is kept.
PATIENCE_S = 0.3
# The program draws its last within this time of a signal, or is ended.
SIGNAL_PATIENCE_S = 2.0
SIGNALS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP", "SIGQUIT")
                if hasattr(signal, name))  # fmt: skip
BACKGROUND = re.compile(r"\x1b\]11;rgba?:([0-9a-fA-F]{1,4})/([0-9a-fA-F]{1,4})/([0-9a-fA-F]{1,4})")
ANSWER = re.compile(r"\x1b\]11;[^\x07\x1b]*(?:\x07|\x1b\\)|\x1b\[\?[0-9;]*c")
ATTRIBUTES = b"\x1b[?"
ANSWER_S = 0.2
# Leave the alternate screen; no mouse reports, no bracketed paste; the cursor shows.
RESTORE = "".join(f"\x1b[?{mode}l" for mode in (1000, 1002, 1003, 1006, 1015, 2004, 1049)) + (
    "\x1b[?25h\x1b[0m"
)


def run_to_the_end(app: Program) -> int:
    """Run the program; gives the exit status, 128 and its number after a signal."""
    return asyncio.run(_run(app))


def background_is_light() -> tuple[bool, str]:
    """Whether the terminal says that its background is light, and what was typed meanwhile.

    Asks for the background colour (OSC 11) and, so that every terminal answers something,
    for its attributes (DA 1).
    """
    told = os.environ.get("COLORFGBG", "").split(";")[-1]
    if told.isdecimal():
        return int(told) in (7, 15), ""
    try:
        import termios
        import tty

        source = sys.stdin.fileno()
        if not (sys.stdin.isatty() and sys.stdout.isatty()):
            return False, ""
        before = termios.tcgetattr(source)
    except (ImportError, OSError, ValueError, AttributeError):
        return False, ""
    try:
        tty.setcbreak(source, termios.TCSANOW)
        sys.stdout.write("\x1b]11;?\x1b\\\x1b[c")
        sys.stdout.flush()
        got = _read_answers(source)
    finally:
        termios.tcsetattr(source, termios.TCSANOW, before)
    found = BACKGROUND.search(got)
    typed = ANSWER.sub("", got)
    if found is None:
        return False, typed
    parts = (int(part, 16) / (16 ** len(part) - 1) for part in found.groups())
    red, green, blue = parts
    return 0.299 * red + 0.587 * green + 0.114 * blue > 0.5, typed


def _read_answers(source: int) -> str:
    got, end = b"", time.monotonic() + ANSWER_S
    while (left := end - time.monotonic()) > 0 and select.select([source], [], [], left)[0]:
        part = os.read(source, 1024)
        got += part
        if not part or (ATTRIBUTES in got and got.rstrip().endswith(b"c")):
            break
    return got.decode(errors="replace")


async def _run(app: Program) -> int:
    workers: list[threading.Thread] = []
    pool = ThreadPoolExecutor(initializer=lambda: workers.append(threading.current_thread()))
    loop = asyncio.get_running_loop()
    loop.set_default_executor(pool)
    asked: list[int] = []

    def leave(number: int, frame: FrameType | None) -> None:
        if not asked:
            asked.append(number)
            app.leaving = True
            loop.call_soon_threadsafe(app.exit, 128 + number)
            threading.Thread(target=_end_late, args=(128 + number,), daemon=True).start()

    for number in SIGNALS:
        signal.signal(number, leave)
    result = await app.run_async()
    # The terminal is as it was before by now.
    status = 128 + asked[0] if asked else (result if result is not None else app.return_code or 0)
    pool.shutdown(wait=False, cancel_futures=True)
    end = time.monotonic() + PATIENCE_S
    while _working(workers) and time.monotonic() < end:
        time.sleep(0.01)
    if _working(workers):
        with contextlib.suppress(OSError, ValueError):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(status)
    return status


def redraw_when_continued(app: Program) -> None:
    """After a stop that nobody could catch, what the shell wrote meanwhile is drawn over."""
    if not hasattr(signal, "SIGCONT") or threading.current_thread() is not threading.main_thread():
        return
    before, loop = signal.getsignal(signal.SIGCONT), asyncio.get_running_loop()

    def again(number: int, frame: FrameType | None) -> None:
        if callable(before):
            before(number, frame)
        loop.call_soon_threadsafe(lambda: app.screen.refresh(layout=True))

    signal.signal(signal.SIGCONT, again)


def _end_late(status: int) -> None:
    """Ends a program that does not answer, with the terminal put right."""
    time.sleep(SIGNAL_PATIENCE_S)
    with contextlib.suppress(OSError, ValueError):
        os.write(sys.__stderr__.fileno() if sys.__stderr__ else 2, RESTORE.encode())
    os._exit(status)


def _working(workers: Sequence[threading.Thread]) -> bool:
    return any(thread.is_alive() for thread in workers)
