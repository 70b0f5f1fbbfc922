"""Practice: what to practise, the pass marks, and the difficulty statement of the kit."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from solderrisk.model.builder import LEVELS
from solderrisk.report.practice import mark_words, needed_words, record_words
from solderrisk.report.words import LEVEL_WORDS, mark, refs_line
from solderrisk.tui.screens.base import PlaceScreen, told
from solderrisk.tui.theme import styles_of
from solderrisk.words import chance, money, one_line, plain

if TYPE_CHECKING:
    from solderrisk.plan.results import PracticeStep, StatementCell
    from solderrisk.tui.rows import Shown

STATES = {"claimed": "✔ shown", "believed": "○ you say so", "open": "· open"}


class PracticeScreen(PlaceScreen):
    PLACE = "practice"
    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
The ladder says what to practise first, on what, and when it counts: a pass mark is so
many joints with so few faults that the level is shown, not guessed. p counts a run by
key while you work.

The difficulty statement is what a designer prints on a kit: the chance of a working kit
for each level of builder on each bench, with the jobs that decide it. Nobody's taste is
in it. w writes it to a page that prints, with the work sheet and the cards."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("d", "to('statement')", "Difficulty"),
        Binding("l", "to('ladder')", "Ladder"),
        Binding("p", "run", "Practise"),
        Binding("w", "report", "Write a report"),
    ]

    def action_run(self) -> None:
        """Count a practice run by key."""
        from solderrisk.tui.screens.practice_run import PracticeRun

        self.app.push_screen(PracticeRun(), lambda _: self.app.open_files(self.app.inputs))

    def build(self) -> Iterable[Widget]:
        yield VerticalScroll(
            Static(
                "Practice ladder (d: difficulty statement)",
                classes="title",
                id="ladder-title",
                markup=False,
            ),
            Static(id="ladder", markup=False),
            Static(
                "Difficulty statement: chance of a working kit",
                classes="title",
                id="statement-title",
                markup=False,
            ),
            Static(id="statement", markup=False),
            id="practice-main",
        )

    def first_focus(self) -> None:
        self.set_focus(self.query_one("#practice-main"))

    def fill(self, shown: Shown) -> None:
        self.answered()

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        if self._filled is not None:
            self.answered()

    def answered(self) -> None:
        names = self._names()
        currency = self.app.loaded.kit.currency if self.app.loaded else ""
        for name, show in (
            ("ladder", lambda value: ladder(value, currency, names, self.app.acknowledged)),
            ("statement", statement),
        ):
            self.query_one(f"#{name}", Static).update(told(self.app.answer(name), show))

    def _names(self) -> dict[str, str]:
        """Titles of skills and safety notes by their ids."""
        loaded, shown = self.app.loaded, self.app.shown
        skills = loaded.reference.risk.levels.skills if loaded and loaded.reference else ()
        notes = shown.assessment.safety if shown else ()
        titles = {skill.id: one_line(skill.title, 60) for skill in skills}
        return titles | {note.id: one_line(note.title, 60) for note in notes}

    def action_to(self, name: str) -> None:
        self.query_one("#practice-main").scroll_to_widget(
            self.query_one(f"#{name}-title"), animate=False, top=True
        )


def ladder(
    steps: Sequence[PracticeStep], currency: str, names: Mapping[str, str], read: Collection[str]
) -> Content:
    """What comes next, then every rung with its pass mark; open ones in full."""
    next_ones = [step.title for step in steps if step.ready]
    parts: list[tuple[str, str]] = []
    if next_ones:
        parts.append((f"Next: {one_line('; '.join(next_ones), 300)}\n\n", "bold $accent"))
    for step in steps:
        open_rung = step.state == "open"
        marks = ", ".join(map(mark_words, step.marks))
        parts += [
            (f"{STATES[step.state]:<18} ", "$accent" if open_rung else "$quiet"),
            (f"{one_line(step.title, 60)}\n", "bold" if open_rung else ""),
            (
                f"    {LEVEL_WORDS[step.shows]}, {_name(step.skill, names)}; {marks}\n",
                "$quiet",
            ),
        ]
        if open_rung:
            parts += _open_rung(step, currency, names, read)
    return Content.assemble(*parts) if parts else Content("Nothing to practise for this kit.")


def _open_rung(
    step: PracticeStep, currency: str, names: Mapping[str, str], read: Collection[str]
) -> list[tuple[str, str]]:
    """What to practise on, how, and what to read before."""
    price = money(step.price, currency)
    parts = [(f"    {step.hours:.1f} h, {price}, on {one_line(step.material, 160)}\n", "")]
    parts += [(f"    – {one_line(line, 200)}\n", "") for line in step.steps]
    unread = [_name(note, names) for note in step.missing_notes if note not in read]
    if unread:
        notes = ", ".join(unread)
        parts.append((f"    ▲ read first under Safety: {notes}\n", "$warning"))
    if step.needed:
        parts.append((f"    {needed_words(step)} still needed\n", "$accent"))
    return [*parts, (f"    {one_line(record_words(step), 160)}\n", "$quiet")]


def _name(id: str, names: Mapping[str, str]) -> str:
    return names.get(id, plain(id))


def _cell(cell: StatementCell | None) -> str:
    if cell is None or not cell.judgement.possible:
        return "–"
    return f"{chance(cell.chance)} {mark(cell.judgement)}"


def statement(cells: Sequence[StatementCell]) -> Content:
    """Levels down, benches across; then what decides each row's worst cell."""
    benches = list(dict.fromkeys(cell.bench for cell in cells))
    by: dict[tuple[str, str], StatementCell] = {(cell.level, cell.bench): cell for cell in cells}
    width = max([len("builder"), *(len(LEVEL_WORDS[level]) for level in LEVELS)]) + 2
    column = 18
    parts: list[tuple[str, str]] = [("builder".ljust(width), "$quiet")]
    parts += [(one_line(bench, column - 2).ljust(column), "bold") for bench in benches]
    parts.append(("\n", ""))
    for level in LEVELS:
        parts.append((LEVEL_WORDS[level].ljust(width), "bold"))
        for bench in benches:
            cell = by.get((level, bench))
            parts.append((_cell(cell).ljust(column), ""))
        parts.append(("\n", ""))
    decisive = list(dict.fromkeys(key for cell in cells for key in cell.decisive))
    parts.append((f"decided by {refs_line(tuple(decisive), 8)}\n", "$quiet"))
    parts.append(("A level is what somebody has done, not a title; ranges span 90 %.", "$quiet"))
    return Content.assemble(*parts)
