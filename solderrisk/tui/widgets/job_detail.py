"""One job in full: card, heat over time, faults, other ways."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import ContentSwitcher, OptionList, Static
from textual.widgets.option_list import Option as Line
from textual.worker import get_current_worker

from solderrisk.physics.results import Curve
from solderrisk.tui import rows as job_text
from solderrisk.tui.dots import Dots, Row, round_ticks
from solderrisk.tui.widgets.lead_picture import LeadPicture
from solderrisk.tui.widgets.lines import Lines, Picture, TabStrip
from solderrisk.words import one_line, seconds

if TYPE_CHECKING:
    from solderrisk.model.question import Question
    from solderrisk.plan.results import Card
    from solderrisk.risk.results import JobRisk
    from solderrisk.tui.program import Program
    from solderrisk.tui.rows import Shown


AXIS = 6  # cells kept for the temperature scale


class HeatCurve(Picture):
    """Solid: the joint. Dotted: tip, or the part's top. Dashed levels are named in text."""

    DEFAULT_CSS = """
    HeatCurve {
        width: 1fr;
        height: 1fr;
        & > .curve--axis { color: $quiet; }
        & > .curve--joint { color: $primary; text-style: bold; }
        & > .curve--source { color: $accent; }
        & > .curve--needed { color: $success; }
        & > .curve--harm { color: $error; }
    }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "curve--axis",
        "curve--joint",
        "curve--source",
        "curve--needed",
        "curve--harm",
    }

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.curve: Curve | None = None
        self.message = "no heating to show"

    def show(self, curve: Curve | None, message: str = "no heating to show") -> None:
        self.curve, self.message = curve, message
        self.redraw()

    def draw(self, width: int, height: int) -> list[Row]:
        curve = self.curve
        if curve is None or len(curve.time_s) < 2:
            return [[(self.message, "curve--axis")]]
        if width < 24 or height < 5:
            return [[("too small to draw", "curve--axis")]]
        plot = Dots(width - AXIS, height - 2)
        low, high = _span(curve)
        wet_s = crossing(curve, curve.needed_c)
        end = telling_s(curve, wet_s)

        def at(time: float, temperature: float) -> tuple[float, float]:
            return (
                time / end * (plot.columns - 1),
                (high - temperature) / (high - low) * (plot.rows - 1),
            )

        for level, style, name in _levels(curve):
            plot.line(at(0, level), at(end, level), style, rank=0, gap=4)
            self._name_level(plot, at(0, level)[1], name, style)
        plot.path([at(*p) for p in _until(curve, curve.source_c, end)], "curve--source", 1, 1)
        plot.path([at(*p) for p in _until(curve, curve.joint_c, end)], "curve--joint", 2)
        if wet_s is not None:
            plot.line(at(wet_s, curve.needed_c), at(wet_s, low), "curve--needed", 1, gap=2)
        rows = [_scale_row(plot, y, low, high) for y in range(plot.height)]
        rows.append(_time_row(end, plot.width))
        rows.append(
            [
                (" " * AXIS, "curve--axis"),
                ("━ joint  ", "curve--joint"),
                ("┅ tip or part's top  ", "curve--source"),
                (f"┊ wets at {seconds(wet_s)}  " if wet_s is not None else "", "curve--needed"),
                (curve.label, "curve--axis"),
            ]
        )
        return rows

    @staticmethod
    def _name_level(plot: Dots, y: float, name: str, style: str) -> None:
        row = min(max(int(y // 4), 0), plot.height - 1)
        x = plot.width - len(name)
        for candidate in (row, row - 1, row + 1):
            if plot.free(x, candidate, len(name)):
                plot.text(x, candidate, name, style)
                return


def crossing(curve: Curve, level_c: float) -> float | None:
    """When the joint first reaches a temperature, s; None where it never does."""
    points = list(zip(curve.time_s, curve.joint_c, strict=True))
    for (t0, c0), (t1, c1) in pairwise(points):
        if c0 < level_c <= c1:
            return t0 + (level_c - c0) / (c1 - c0) * (t1 - t0)
    return 0.0 if points[0][1] >= level_c else None


def telling_s(curve: Curve, wet_s: float | None) -> float:
    """How much time to show: the wetting in some width, and the harm where it is near."""
    last = curve.time_s[-1] or 1.0
    harm_s = crossing(curve, curve.harm_c)
    if wet_s is None:
        return last
    return min(last, max(4.0 * wet_s, 1.3 * harm_s if harm_s else 0.0, 1.0))


def _until(curve: Curve, values: tuple[float, ...], end: float) -> list[tuple[float, float]]:
    """(time, temperature) up to ``end``, with the point at ``end`` put in."""
    points: list[tuple[float, float]] = []
    for (t0, c0), (t1, c1) in pairwise(zip(curve.time_s, values, strict=True)):
        points.append((t0, c0))
        if t1 >= end:
            share = (end - t0) / (t1 - t0) if t1 > t0 else 0.0
            return [*points, (end, c0 + share * (c1 - c0))]
    return [*points, (curve.time_s[-1], values[-1])]


def _levels(curve: Curve) -> list[tuple[float, str, str]]:
    return [
        (curve.needed_c, "curve--needed", f"wets {curve.needed_c:.0f} °C"),
        (curve.harm_c, "curve--harm", f"harm {curve.harm_c:.0f} °C"),
    ]


def _span(curve: Curve) -> tuple[float, float]:
    values = (*curve.joint_c, *curve.source_c, curve.needed_c, curve.harm_c)
    low, high = min(values), max(values)
    return low, max(high * 1.04, low + 1.0)


def _scale_row(plot: Dots, y: int, low: float, high: float) -> Row:
    top, bottom = (high - (high - low) * part / plot.height for part in (y, y + 1))
    most = max(plot.height // 2, 1)
    tick = next((t for t in round_ticks(low, high, min(most, 6)) if bottom < t <= top), None)
    mark = f"{tick:4.0f} ┤" if tick is not None else "     │"
    return [(mark, "curve--axis"), *plot.row(y)]


def _time_row(end: float, width: int) -> Row:
    line = ["─"] * width
    for tick in round_ticks(0.0, end, max(width // 12, 2)):
        text = f"{tick:g} s"
        x = round(tick / end * (width - 1))
        x = min(max(x - len(text) // 2, 0), width - len(text))
        line[x : x + len(text)] = list(text)
    return [("     └", "curve--axis"), ("".join(line[:width]), "curve--axis")]


DETAILS = (
    ("card", "Card", "c"),
    ("heat", "Heat", "h"),
    ("lands", "Lands", "l"),
    ("faults", "Faults", "f"),
    ("ways", "Ways", "w"),
)

PICTURES = ("heat", "lands")  # details that want the room


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

    app: Program

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
        self.screen.set_class(name in PICTURES, "picture")
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
                self.query_one("#faults-text", Static).update(
                    job_text.faults(risk, shown.assessment)
                )
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
            lambda: self._compute(setup.asks(loaded), risk),
            thread=True,
            exclusive=True,
            group="drawing",
        )

    def _compute(self, asked: Question, risk: JobRisk) -> None:
        worker = get_current_worker()
        curve = alignment = None
        error = ""
        try:
            alignment = self.app.session.alignment(asked, risk.job)
            if not worker.is_cancelled and risk.options:
                curve = self.app.session.curve(asked, risk.chosen)
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
