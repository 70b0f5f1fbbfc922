"""Everything about one job: card, heat, lands, faults, other ways."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import ContentSwitcher, OptionList, Static
from textual.widgets.option_list import Option as Line
from textual.worker import get_current_worker

from solderrisk.tui import job_text
from solderrisk.tui.widgets.heat_curve import HeatCurve
from solderrisk.tui.widgets.lead_picture import LeadPicture
from solderrisk.tui.widgets.lines import Lines
from solderrisk.tui.widgets.tab_strip import TabStrip
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.plan.results import Card
    from solderrisk.risk.results import JobRisk
    from solderrisk.tui.app import SolderriskApp
    from solderrisk.tui.rows import Shown
    from solderrisk.tui.setup import Loaded, Setup

DETAILS = (
    ("card", "Card", "c"),
    ("heat", "Heat", "h"),
    ("lands", "Lands", "l"),
    ("faults", "Faults", "f"),
    ("ways", "Ways", "w"),
)


class Drawn(Message):
    """Curve and alignment of one job, computed in a worker."""

    def __init__(self, key: str, curve: Any, alignment: Any, error: str) -> None:
        super().__init__()
        self.key, self.curve, self.alignment, self.error = key, curve, alignment, error


class JobDetail(Vertical):
    """Shows a ``JobRisk``; heat and lands are computed when they are looked at."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left_square_bracket", "step(-1)", "Tab before", show=False),
        Binding("right_square_bracket", "step(1)", "Next tab", show=False),
        Binding("z", "whole", "Whole part", show=False),
    ]

    app: SolderriskApp

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._shown: Shown | None = None
        self._risk: JobRisk | None = None
        self._read: frozenset[str] = frozenset()

    def compose(self) -> ComposeResult:
        yield Static(id="detail-title", markup=False)
        yield TabStrip(DETAILS, "card", id="details")
        with ContentSwitcher(initial="card", id="pages"):
            with VerticalScroll(id="card"):
                yield Static(id="card-text", markup=False)
            with Vertical(id="heat"):
                yield Static(id="heat-text", markup=False)
                yield HeatCurve(id="curve")
            with Vertical(id="lands"):
                yield LeadPicture(id="leads")
            with VerticalScroll(id="faults"):
                yield Static(id="faults-text", markup=False)
            with Vertical(id="ways"):
                yield Lines(id="way-list", markup=False)

    @property
    def current(self) -> str:
        return self.query_one("#pages", ContentSwitcher).current or "card"

    def choose(self, name: str) -> None:
        self.query_one("#pages", ContentSwitcher).current = name
        self.query_one("#details", TabStrip).choose(name)
        self._fill()

    def take_focus(self) -> None:
        target = {"card": "#card", "faults": "#faults", "ways": "#way-list"}.get(self.current)
        if target:
            self.query_one(target).focus()

    def action_step(self, step: int) -> None:
        names = [name for name, _, _ in DETAILS]
        self.choose(names[(names.index(self.current) + step) % len(names)])

    def action_whole(self) -> None:
        self.query_one("#leads", LeadPicture).toggle_whole()

    def show(self, shown: Shown | None, risk: JobRisk | None) -> None:
        read = frozenset(self.app.acknowledged)
        if risk is not self._risk or read != self._read:
            self._shown, self._risk, self._read = shown, risk, read
            self._fill()

    def _fill(self) -> None:
        risk, shown = self._risk, self._shown
        title = self.query_one("#detail-title", Static)
        if risk is None or shown is None:
            title.update(Content.styled("no job chosen", "$quiet"))
            return
        title.update(job_text.title(risk))
        match self.current:
            case "card":
                card = shown.assessment.cards.get(risk.job.key)
                unread = self._unread(shown, card)
                self.query_one("#card-text", Static).update(job_text.card(card, risk, unread))
            case "faults":
                self.query_one("#faults-text", Static).update(job_text.faults(risk))
            case "ways":
                self._fill_ways(risk)
            case _:
                self._ask_drawing(risk)

    def _unread(self, shown: Shown, card: Card | None) -> list[str]:
        """Titles of the card's safety notes that have to be read and are not."""
        named = card.safety if card else ()
        return [
            one_line(note.title, 40)
            for note in shown.assessment.safety
            if note.acknowledge and note.id in named and note.id not in self._read
        ]

    def _fill_ways(self, risk: JobRisk) -> None:
        ways = self.query_one("#way-list", OptionList)
        at = ways.highlighted or 0
        ways.clear_options()
        setup = self.app.tried
        pinned = setup.pinned(risk.job.key) if setup else None
        ways.add_options(
            [
                Line(job_text.way(risk, option, pinned), id=f"{number}")
                for number, option in enumerate(risk.options)
            ]
        )
        if risk.options:
            ways.highlighted = min(at, len(risk.options) - 1)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Pin the technique, or take the pin out."""
        event.stop()
        setup, risk = self.app.tried, self._risk
        if setup is None or risk is None or event.option_id is None:
            return
        technique = risk.options[int(event.option_id)].technique
        wanted = None if setup.pinned(risk.job.key) == technique else technique
        self.app.try_setup(setup.with_pin(risk.job.key, wanted))

    # Heat and lands, computed off the screen's thread

    def _ask_drawing(self, risk: JobRisk) -> None:
        loaded, setup = self.app.loaded, self.app.tried
        assert loaded is not None
        assert setup is not None
        self.query_one("#leads", LeadPicture).show(risk.job.footprint, None)
        self.query_one("#heat-text", Static).update(job_text.heat(risk))
        self.query_one("#curve", HeatCurve).show(None, "Working it out …")
        self.run_worker(
            lambda: self._compute(loaded, setup, risk),
            thread=True,
            exclusive=True,
            group="drawing",
        )

    def _compute(self, loaded: Loaded, setup: Setup, risk: JobRisk) -> None:
        worker = get_current_worker()
        curve = alignment = None
        error = ""
        try:
            alignment = self.app.desk.alignment(loaded, risk)
            if not worker.is_cancelled and risk.options:
                curve = self.app.desk.curve(loaded, setup, risk, risk.chosen)
        except Exception as problem:
            error = one_line(str(problem), 100)
        if not worker.is_cancelled:
            self.post_message(Drawn(risk.job.key, curve, alignment, error))

    def on_drawn(self, message: Drawn) -> None:
        message.stop()
        if self._risk is None or message.key != self._risk.job.key:
            return
        empty = message.error or "nothing is heated here"
        self.query_one("#curve", HeatCurve).show(message.curve, empty)
        self.query_one("#leads", LeadPicture).show(self._risk.job.footprint, message.alignment)
