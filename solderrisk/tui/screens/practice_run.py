"""A practice run counted by key while working: each key is kept at once."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.journal.people import known, practise_run, restore, still_needed, take_back
from solderrisk.journal.place import default_path
from solderrisk.journal.store import Journal
from solderrisk.model.problems import UserProblem
from solderrisk.tui.faults import Steady
from solderrisk.tui.screens.build import MODE_LETTERS
from solderrisk.tui.theme import styles_of
from solderrisk.tui.widgets.lines import Lines
from solderrisk.tui.widgets.strips import KeyLine
from solderrisk.words import chance, counted, likely, one_line, rate

if TYPE_CHECKING:
    from solderrisk.model.builder import Builder
    from solderrisk.model.plan_data import Exercise
    from solderrisk.model.question import Question
    from solderrisk.tui.app import SolderriskApp

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
