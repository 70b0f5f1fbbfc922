"""Help, who one is, and the command palette."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.files import settings
from solderrisk.model.bench import LEVELS
from solderrisk.report.words import BANDS
from solderrisk.tui.faults import Steady
from solderrisk.tui.places import PLACES, styles_of
from solderrisk.tui.screens.base import PlaceScreen
from solderrisk.tui.widgets.lines import KeyLine, Lines
from solderrisk.words import LEVEL_WORDS, beside, one_line, wrapped

if TYPE_CHECKING:
    from solderrisk.tui.program import Program


EVERYWHERE = (
    "1 to 7 places · 8 the bench · 9 a class · o open a kit · y who you are · "
    "ctrl+p find any command · ? this help · q leave"
)
MARKS = "Marks: " + "  ".join(f"{band.mark} {band.word}" for band in BANDS)


class HelpScreen(ModalScreen[None]):
    DEFAULT_CSS = styles_of(__file__)
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark,q", "dismiss", "Back", key_display="esc")
    ]

    def __init__(self, about: Screen[Any]) -> None:
        super().__init__()
        self._about = about

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="help-box"):
            yield Static(help_text(self._about), markup=False)


def flowing(text: str) -> str:
    """Paragraphs without their line breaks: the screen breaks lines where it ends."""
    return "\n\n".join(" ".join(part.split()) for part in text.split("\n\n"))


def help_text(screen: Screen[Any]) -> Content:
    place = next((p for p in PLACES if p.name == getattr(screen, "PLACE", "")), None)
    title = f"{place.label}: {place.purpose}" if place else "Help"
    parts: list[tuple[str, str]] = [
        (f"{title}\n\n", "bold"),
        (flowing(str(getattr(screen, "HELP", ""))) + "\n\n", ""),
    ]
    seen: set[str] = set()
    for binding in screen.active_bindings.values():
        key = binding.binding.key_display or screen.app.get_key_display(binding.binding)
        line = f"{key:>12}  {binding.binding.description}\n"
        own = binding.node is not screen.app and binding.binding.description
        if own and binding.binding.show and line not in seen:
            seen.add(line)
            parts.append((line, ""))
    parts += [
        (f"\n{MARKS}\n", "$quiet"),
        (f"{EVERYWHERE}\n", "$quiet"),
        ("escape goes back", "$quiet"),
    ]
    return Content.assemble(*parts)


TICKED = "ticked"  # among what is remembered
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
        self.needs_lens = self.guided = False
        self.alloy = self.currency = 0
        self._rows: list[Row] = []

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog tall"):
            yield Static("Who are you, and what is on your bench?", classes="title", markup=False)
            yield Lines(id="who", markup=False)
            yield Static("", id="who-says", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        self._recall()
        self._list()
        self.set_focus(self.query_one("#who"))

    def _recall(self) -> None:
        """Begin with what was said before."""
        from solderrisk.files.loading import load_bench, load_builder

        own = settings.Own.found()
        if own.builder is not None:
            mine = load_builder(own.builder)
            self.levels = {s.skill: LEVELS.index(s.level) for s in mine.skills}
            self.needs_lens = mine.acuity_arcmin > settings.SHARP_ARCMIN
            self.guided = mine.guided
            if mine.currency in settings.CURRENCIES:
                self.currency = settings.CURRENCIES.index(mine.currency)
        if own.bench is not None:
            alloys = {solder.alloy for solder in load_bench(own.bench).solders}
            self.alloy = next((n for n, a in enumerate(settings.ALLOYS) if a in alloys), 0)
            ticked = settings.remembered().get(TICKED)
            self.ticked = set(map(str, ticked)) if isinstance(ticked, list) else set()

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
        near = "x" if self.guided else " "
        yield ("guided", ""), Content(f"  [{near}] somebody who knows stands by while I work")
        yield ("currency", ""), Content(f"  ◂ {settings.CURRENCIES[self.currency]} ▸ my currency")
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

    def on_option_list_option_highlighted(self) -> None:
        """What is meant by the skill in hand, as a picture."""
        at, loaded = self.query_one("#who", OptionList).highlighted, self.app.loaded
        kind, name = self._rows[at] if at is not None else ("", "")
        if loaded is None:
            return
        skills = {skill.id: skill for skill in loaded.reference.risk.levels.skills}
        skill = skills.get(name) if kind == "skill" else None
        room = max(min(self.size.width, 80) - 24, 12)
        rows = beside(skill.picture, wrapped(skill.means, 0, 0, room)) if skill else ()
        self.query_one("#who-says", Static).update(Content.styled("\n".join(rows), "$accent"))

    def action_turn(self, step: int) -> None:
        at = self.query_one("#who", OptionList).highlighted
        match self._rows[at] if at is not None else ("", ""):
            case ("skill", skill):
                self.levels[skill] = (self.levels.get(skill, 0) + step) % len(LEVELS)
            case ("lens", _):
                self.needs_lens = not self.needs_lens
            case ("guided", _):
                self.guided = not self.guided
            case ("currency", _):
                self.currency = (self.currency + step) % len(settings.CURRENCIES)
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
            currency = settings.CURRENCIES[self.currency]
            builder = settings.own_builder(done, self.needs_lens, self.guided, currency)
            bench = settings.own_bench(tools, settings.ALLOYS[self.alloy])
            paths = {
                name: settings.keep(name, settings.as_yaml(value))
                for name, value in (("builder", builder), ("bench", bench))
            }
        except Exception as error:
            says = Content.styled(one_line(str(error), 200), "$error")
            self.query_one("#who-says", Static).update(says)
            return
        settings.remember({TICKED: sorted(self.ticked)})
        self.dismiss()
        kept = ", ".join(str(path) for path in paths.values())
        self.app.notify(f"kept in {kept}", markup=False)
        self.app.open_files(
            replace(self.app.inputs, bench=paths["bench"], builder=paths["builder"])
        )


MOST_JOBS = 40


class Commands(Provider):
    """Places, the keys of the place at hand, and every job by its reference."""

    @property
    def _app(self) -> Program:
        return cast("Program", self.app)

    def _fixed(self) -> Iterator[tuple[str, str, Callable[[], object]]]:
        app = self._app
        for place in PLACES:
            yield f"Go to {place.label}", place.purpose, partial(app.action_go, place.name)
        yield (
            "Build at the bench",
            "one job at a time, recorded",
            partial(app.run_action, "app.build"),
        )
        yield (
            "Class",
            "several builders before several kits",
            partial(app.run_action, "app.class"),
        )
        yield (
            "Open a kit or a source",
            "kit, bill of materials, board file",
            partial(app.run_action, "app.open"),
        )
        if isinstance(self.screen, PlaceScreen):
            report = self.screen.action_report
            yield "Write a report", "page that prints, text, rows or data", report
        yield (
            "Help for this place",
            "what it shows and its keys",
            partial(app.run_action, "app.help"),
        )
        for active in self.screen.active_bindings.values():
            binding = active.binding
            if active.node is self.screen and binding.description:
                key = binding.key_display or app.get_key_display(binding)
                yield (
                    binding.description,
                    f"key {key}",
                    partial(self.screen.run_action, binding.action),
                )

    async def discover(self) -> Hits:
        for title, help_text, command in self._fixed():
            yield DiscoveryHit(title, command, help=help_text)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for title, help_text, command in self._fixed():
            if (score := matcher.match(title)) > 0:
                yield Hit(score, matcher.highlight(title), command, help=help_text)
        shown = self._app.shown
        want = query.casefold().strip()
        if shown is None or not want:
            return
        for rank, row in enumerate(shown.about(query)[:MOST_JOBS]):
            exact = 1.0 if row.name.casefold() == want else 0.5
            yield Hit(
                exact - rank * 1e-4,
                Content(f"{row.band.mark} {row.name}"),
                partial(self._app.look_at, row.key),
                # As content: a part's value is never markup.
                help=cast("str", Content(f"{row.part}, {row.technique}")),
            )
