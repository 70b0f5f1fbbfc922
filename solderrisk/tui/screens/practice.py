"""Practice: the ladder, the difficulty statement, and counting a run."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.journal.people import known, practise_run, restore, still_needed, take_back
from solderrisk.journal.place import default_path
from solderrisk.journal.store import Journal
from solderrisk.model.bench import LEVELS
from solderrisk.model.problems import UserProblem
from solderrisk.report.people import mark_words, needed_words, record_words
from solderrisk.report.words import LEVEL_WORDS, mark, refs_line
from solderrisk.tui.faults import Steady
from solderrisk.tui.places import styles_of
from solderrisk.tui.screens.base import PlaceScreen, told
from solderrisk.tui.screens.build import MODE_LETTERS
from solderrisk.tui.widgets.lines import KeyLine, Lines
from solderrisk.words import chance, counted, likely, money, one_line, plain, rate

if TYPE_CHECKING:
    from solderrisk.model.bench import Builder
    from solderrisk.model.plan_data import Exercise
    from solderrisk.model.question import Question
    from solderrisk.plan.practice import PracticeStep
    from solderrisk.plan.results import StatementCell
    from solderrisk.tui.app import SolderriskApp
    from solderrisk.tui.rows import Shown


MOST_SHOWN = 8  # fault letters spelt out


class PracticeRun(Steady, Screen[None]):
    """Choose an exercise, then count its joints and faults."""

    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
Choose what you practise with enter. Then space counts a clean joint, or a good part where
whole parts are counted; a letter counts a joint with that fault; P counts a spoiled part.
u takes the last one back, Y restores it. Each key is kept the moment it is pressed. Enter
says what the run has changed, escape goes back."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "clean", "Clean joint"),
        Binding("u", "undo", "Undo"),
        Binding("P", "spoiled", "Part spoiled"),
        Binding("Y", "redo", "Restore", show=False),
        Binding("enter", "belief", "What it says"),
        *(Binding(letter, f"fault('{letter}')", show=False) for letter in MODE_LETTERS),
        Binding("question_mark", "app.help", "Help", key_display="?"),
        Binding("escape", "leave", "Back"),
    ]

    app: SolderriskApp
    _exercise: Exercise | None = None
    _says = ""

    def compose(self) -> ComposeResult:
        yield Static(id="run-top", markup=False)
        yield Lines(id="run-choice", markup=False)
        yield Static(id="run-text", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        self._journal: Journal | None = None
        self._do(self._open)
        choice = self.query_one("#run-choice", OptionList)
        for exercise in self._asked.reference.plan.practice.exercises:
            choice.add_option(Option(self._rung(exercise), id=exercise.id))
        choice.highlighted = 0
        self.set_focus(choice)

    def on_unmount(self) -> None:
        if self._journal is not None:
            self._journal.close()

    @property
    def _asked(self) -> Question:
        if self.app.loaded is None:
            raise UserProblem("no kit is open yet")
        return self.app.loaded

    def _open(self) -> None:
        self._journal = Journal(self.app.inputs.journal or default_path())

    @property
    def _kept_in(self) -> Journal:
        if self._journal is None:
            raise UserProblem("the journal cannot be opened; nothing is counted")
        return self._journal

    def _builder(self) -> Builder:
        asked = self._asked
        return (
            known(asked.builder, self._kept_in, asked.reference) if self._journal else asked.builder
        )

    # What is shown

    def _rung(self, exercise: Exercise) -> Content:
        needed = still_needed(exercise, self._builder(), self._asked.reference)
        told = f"{needed:,} clean joints still needed" if needed else "passed"
        return Content.assemble(
            ("✔ " if not needed else "· ", "$success"),
            one_line(exercise.title, 60),
            (f"  {told}", "$quiet"),
        )

    def _tell(self) -> None:
        choosing = self._exercise is None
        self.query_one("#run-choice").display = choosing
        top = "What do you practise?" if choosing else one_line(self._exercise_title(), 70)
        self.query_one("#run-top", Static).update(Content.styled(top, "bold"))
        self.query_one("#run-text", Static).update(self._text())

    def _exercise_title(self) -> str:
        return self._exercise.title if self._exercise else ""

    def _text(self) -> Content:
        says = Content.styled(f"\n{self._says}\n", "bold $accent" if self._says else "")
        exercise = self._exercise
        if exercise is None or self._journal is None:
            return says
        builder, reference = self._builder(), self._asked.reference
        needed = still_needed(exercise, builder, reference)
        mine = [r for r in builder.records if r.skill == exercise.skill]
        joints, faults = sum(r.joints for r in mine), sum(r.faults for r in mine)
        letters = reference.plan.journal.letters
        parts: list[tuple[str, str]] = [
            (f"{joints:,} joints, {counted(faults, 'fault')} on record\n", "bold"),
            (f"{needed:,} clean joints still needed\n" if needed else "passed\n", "$accent"),
            (f"on {one_line(exercise.material, 200)}\n\n", "$quiet"),
        ]
        for mode, letter in list(letters.items())[:MOST_SHOWN]:
            parts += [(letter, "bold $accent"), (f" {mode.replace('_', ' ')}  ", "")]
        unread = [n for n in exercise.notes if n not in self.app.acknowledged]
        if unread:
            parts.append((f"\n▲ read first under 7 Safety: {', '.join(unread)}", "bold $warning"))
        return Content.assemble(*parts) + says

    # Keys

    def _do(self, what: Callable[[], object]) -> None:
        self._says = ""
        try:
            what()
        except UserProblem as problem:
            self._says = f"✖ {one_line(str(problem), 300)}"
        self._tell()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        exercises = self._asked.reference.plan.practice.exercises
        self._exercise = next(e for e in exercises if e.id == event.option_id)
        self.set_focus(None)
        self._do(lambda: None)

    def _count(self, faults: dict[str, int], spoiled: int = 0) -> None:
        exercise = self._exercise
        if exercise is None:
            raise UserProblem("choose an exercise with enter first")
        whole = exercise.whole_part
        joints = exercise.joints_per_part if whole or spoiled else 1
        spoiled = 1 if whole and faults else spoiled
        asked = self._asked
        practise_run(
            self._kept_in, asked.reference, asked.builder.name, exercise.id, joints, faults, spoiled
        )

    def action_clean(self) -> None:
        self._do(lambda: self._count({}))

    def action_spoiled(self) -> None:
        self._do(lambda: self._count({}, 1))

    def action_fault(self, letter: str) -> None:
        letters = self._asked.reference.plan.journal.letters
        mode = next((mode for mode, each in letters.items() if each == letter), None)
        if mode is not None:
            self._do(lambda: self._count({mode: 1}))

    def action_undo(self) -> None:
        self._do(lambda: take_back(self._kept_in, self._asked.builder.name))

    def action_redo(self) -> None:
        self._do(lambda: restore(self._kept_in, self._asked.builder.name))

    def action_belief(self) -> None:
        """What is believed now, and what it does to the kit that is open."""
        if self._exercise is not None:
            self._do(partial(self._believed, self._exercise))

    def _believed(self, exercise: Exercise) -> None:
        asked, session = self._asked, self.app.session
        now = asked.but(builder=self._builder())
        was, is_ = (session.beliefs(q)[exercise.skill].mean for q in (asked, now))
        before, after = session.chances(asked).working, session.chances(now).working
        self._says = (
            f"faults per ordinary joint: {rate(is_)} believed now, {rate(was)} before this run; "
            f"{one_line(asked.kit.name, 30)} works {chance(after)}, before {likely(before.mid)}"
        )

    def action_leave(self) -> None:
        self.dismiss()


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
        from solderrisk.tui.screens.practice import PracticeRun

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
