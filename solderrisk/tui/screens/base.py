"""What every place shares: the line on top, the places, the empty states, the footer."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any, ClassVar

from textual.actions import parse
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Container
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from solderrisk.tui.faults import Steady
from solderrisk.tui.places import PLACES, styles_of
from solderrisk.tui.widgets.lines import KeyLine, TabStrip
from solderrisk.words import likely, one_line, percent

if TYPE_CHECKING:
    from solderrisk.tui.messages import Answered
    from solderrisk.tui.program import Program
    from solderrisk.tui.rows import Shown

BUSY_CELLS = len("  computing …")
WORKING = "Working it out …"


class PlaceScreen(Steady, Screen[None]):
    """A place shows the app's assessment: ``build`` gives its widgets, ``fill`` puts an
    assessment into them. Hidden places catch up when they are gone to."""

    DEFAULT_CSS = styles_of(__file__)
    PLACE: ClassVar[str]
    HELP: ClassVar[str] = ""
    EMPTY: ClassVar[str] = ""  # what to say where the kit has no soldered jobs; "" shows it

    app: Program
    _built = _ready = False
    _filled: Shown | None = None

    def build(self) -> Iterable[Widget]:
        raise NotImplementedError

    def fill(self, shown: Shown) -> None:
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        yield Static(id="headline", markup=False)
        yield TabStrip(tuple((p.name, p.label, p.key) for p in PLACES), self.PLACE, id="places")
        yield Static(id="notice", markup=False)
        yield Container(id="body")
        yield KeyLine()

    def on_mount(self) -> None:
        for name in ("shown", "busy", "problem"):
            self.watch(self.app, name, self.catch_up, init=False)
        self.watch(self.app, "answers", self._on_answers, init=False)
        self.catch_up()

    def on_screen_resume(self) -> None:
        self.catch_up()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A place's own keys wait until it shows something; going elsewhere never waits."""
        return self._filled is not None or action not in self._own_actions()

    @classmethod
    @cache
    def _own_actions(cls) -> frozenset[str]:
        return frozenset(
            parse(binding.action)[1] for binding in cls.BINDINGS if isinstance(binding, Binding)
        )

    def rebuild(self) -> None:
        """Make the place's widgets anew, whatever state they are in."""
        self._filled, self._ready = None, False
        self.call_later(self._build)

    def on_tab_strip_chosen(self, event: TabStrip.Chosen) -> None:
        if event.name in {place.name for place in PLACES}:
            self.app.action_go(event.name)

    def catch_up(self) -> None:
        """Show the app's state, if anybody looks."""
        if not self.is_mounted or self.app.leaving or self.app.current_mode != self.PLACE:
            return
        self._show_headline()
        shown = self.app.shown
        notice = self._notice()
        self.query_one("#notice", Static).update(notice)
        self.query_one("#notice").display = bool(notice)
        showing = shown is not None and not self._is_empty()
        self.query_one("#body").display = showing
        if shown is None or not showing or shown is self._filled:
            return
        if not self._built:
            self._built = True
            self.call_later(self._build)
        elif self._ready:
            first = self._filled is None
            self._filled = shown
            self.fill(shown)
            self.refresh_bindings()
            if first:
                self.first_focus()

    def on_resize(self) -> None:
        self._show_headline()

    def _show_headline(self) -> None:
        self.query_one("#headline", Static).update(headline(self.app, self.size.width - 2))

    async def _build(self) -> None:
        # The first frame is drawn without the body: there is nothing to show in it yet.
        body = self.query_one("#body")
        await body.remove_children()
        await body.mount_all(self.build())
        self.built()
        self._ready = True
        self.catch_up()

    def built(self) -> None:
        """The widgets are there, and empty."""

    def first_focus(self) -> None:
        """Focus what the keys should go to once there is something to show."""

    def action_report(self) -> None:
        """Write what is shown to a file."""
        if self.app.shown is not None:
            from solderrisk.tui.screens.file_dialogs import SaveReport

            self.app.push_screen(SaveReport())

    def answered(self) -> None:
        """An answer asked for on demand has come."""

    def _on_answers(self) -> None:
        if self.is_mounted and self.app.current_mode == self.PLACE and self._filled is not None:
            self.answered()

    def _is_empty(self) -> bool:
        shown = self.app.shown
        return bool(self.EMPTY) and shown is not None and not shown.rows

    def _notice(self) -> Content:
        app = self.app
        if app.problem:
            lines = [one_line(line, 300) for line in app.problem[:8]]
            rest = len(app.problem) - len(lines)
            more = f"\nand {rest} more of the same file" if rest > 0 else ""
            return Content.assemble(
                ("This does not work yet\n", "bold $error"),
                "\n".join(lines) + more,
                (
                    "\n\nIt is read again when the file is saved; o opens another, q leaves.",
                    "$quiet",
                ),
            )
        if app.shown is None:
            what = "Opening the kit …" if app.busy else "No kit is open"
            return Content.assemble(
                (f"{what}\n", "bold"),
                ("Press ? for help with the keys, o to open another kit.", "$quiet"),
            )
        if self._is_empty():
            return Content.assemble(
                ("Nothing here yet\n", "bold"),
                self.EMPTY,
                ("\n\nPress o to open a kit, a bill of materials or a board file.", "$quiet"),
            )
        return Content("")


def told(answer: Answered | None, show: Callable[[Any], Content]) -> Content:
    """An answer worked out on demand: itself, what went wrong, or that it is on its way."""
    if answer is None:
        return Content.styled(WORKING, "$quiet")
    if answer.error:
        return Content.styled(one_line(answer.error, 200), "$quiet")
    return show(answer.value)


def headline(app: Program, width: int) -> Content:
    """Kit, bench, builder and the chance in one line: as much of it as there is room for."""
    if app.loaded is None or app.tried is None:
        return Content.assemble(("solderrisk ", "bold"), (app.busy, "$quiet"))
    forms = (_long(app, invented=True), _long(app, invented=False), _short(app, 20), _short(app, 8))
    # Room is kept for the word of what is being worked on: the line does not jump about.
    told = next((form for form in forms if form.cell_length <= width - BUSY_CELLS), forms[-1])
    return told + Content.styled(f"  {app.busy} …" if app.busy else "", "$accent")


def stars(app: Program) -> tuple[str, str, str]:
    """A star for the figures, the bench and the hands where these are not as in the files."""
    saved, tried = app.saved, app.tried
    if saved is None or tried is None:
        return "", "", ""
    bench = tried.bench != saved.bench
    hands = (tried.builder, tried.practice) != (saved.builder, saved.practice)
    rest = replace(tried, bench=saved.bench, builder=saved.builder, practice=saved.practice)
    figures = replace(rest, off=saved.off, added=saved.added) != saved
    return "*" * figures, "*" * bench, "*" * hands


def _long(app: Program, *, invented: bool) -> Content:
    assert app.loaded is not None
    assert app.tried is not None
    kit, (figure, bench, hands) = app.loaded.kit, stars(app)
    parts: list[tuple[str, str]] = [(one_line(kit.title or kit.name, 32), "bold")]
    if app.shown is not None:
        verdict = app.shown.assessment.verdict
        parts += [
            ("  works ", "$quiet"),
            (likely(verdict.chance.mid) + figure, "bold"),
            (f" of {percent(verdict.target)} wanted", "$quiet"),
        ]
    parts += [
        ("  bench ", "$quiet"),
        (one_line(app.tried.bench.name, 14) + bench, ""),
        ("  builder ", "$quiet"),
        (one_line(app.tried.builder.name, 14) + hands, ""),
        ("  invented data" if invented and kit.invented else "", "$quiet"),
    ]
    return Content.assemble(*parts)


def _short(app: Program, limit: int) -> Content:
    """Short names; bench and hands without saying which is which."""
    assert app.loaded is not None
    assert app.tried is not None
    figure, bench, hands = stars(app)
    parts: list[tuple[str, str]] = [(one_line(app.loaded.kit.name, limit), "bold")]
    if app.shown is not None:
        verdict = app.shown.assessment.verdict
        parts += [
            (f"  {likely(verdict.chance.mid)}{figure}", "bold"),
            (f" of {percent(verdict.target)}", "$quiet"),
        ]
    parts += [
        (f"  {one_line(app.tried.bench.name, limit)}{bench}", ""),
        (f", {one_line(app.tried.builder.name, limit)}{hands}", ""),
    ]
    return Content.assemble(*parts)
