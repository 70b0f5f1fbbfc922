"""Build: one job large on the screen, for one hand on the tweezers.

Every key records at once; u takes it back. Letters are fault modes, the same everywhere.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from string import ascii_letters
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Input, Static

from solderrisk.model.problems import UserProblem
from solderrisk.tui.build_text import job_text, letters_line, top_line
from solderrisk.tui.faults import Steady
from solderrisk.tui.places import styles_of
from solderrisk.tui.sitting import Asked, Sitting
from solderrisk.tui.widgets.lines import KeyLine
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.journal.forecast import Told
    from solderrisk.journal.standing import Standing
    from solderrisk.model.question import Question
    from solderrisk.plan.results import Assessment
    from solderrisk.tui.program import Program
    from solderrisk.tui.rows import Shown

# Letters that are no fault mode: u undo, z failed, q leave, and what is rarely wanted.
COMMAND_LETTERS = "uzqALNHPWY"
MODE_LETTERS = [letter for letter in ascii_letters if letter not in COMMAND_LETTERS]
CLOCK_S = 1.0


class BuildScreen(Steady, Screen[None]):
    """Shows the job in hand of the app's ``sitting``."""

    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
One job at a time, in the order planned. Space says it is done and goes on to the next;
enter says that everything done so far was looked over and nothing more was found. Only
what was looked over counts when the program learns.

A letter records a fault on the job shown; the likely ones stand first. Then space says it
is mended, z that the try did not work, right goes on and leaves it open. P: the part is
lost, L: a land is lost.

At a test, type the reading, then space for passed or z for failed.

u takes the last record back, Y restores it. Left and right show other jobs. N writes a
note, H says whose hands work, A plans what is left anew, W says that the kit works. Everything
is kept the moment the key is pressed; leave at any time."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "yes", "Done"),
        Binding("enter", "looked", "Looked, nothing found"),
        Binding("u", "undo", "Undo"),
        Binding("z", "no", "Failed", show=False),
        Binding("Y", "redo", "Restore", show=False),
        Binding("P", "lost('part')", "Part lost"),
        Binding("L", "lost('land')", "Land lost", show=False),
        Binding("N", "note", "Note"),
        Binding("H", "hands", "Hands", show=False),
        Binding("A", "plan", "Plan anew", show=False),
        Binding("W", "finish(True)", "It works", show=False),
        Binding("left", "step(-1)", "Others", key_display="←→"),
        Binding("right", "step(1)", "Next", show=False),
        Binding("backspace", "type('')", "Rub out", show=False),
        Binding("full_stop", "type('.')", "Point", show=False),
        Binding("minus", "type('-')", "Minus", show=False),
        *(Binding(digit, f"digit('{digit}')", show=False) for digit in "0123456789"),
        *(Binding(letter, f"fault('{letter}')", show=False) for letter in MODE_LETTERS),
        Binding("question_mark", "app.help", "Help", key_display="?"),
        Binding("escape", "leave", "Back"),
    ]

    app: Program
    sitting: Sitting | None = None
    _stands: Standing | None = None
    _stands_for: tuple[object, int] | None = None

    def compose(self) -> ComposeResult:
        yield Static(id="bench-top", markup=False)
        yield VerticalScroll(Static(id="bench-job", markup=False), id="bench-main")
        yield Static(id="bench-letters", markup=False)
        yield Static(id="bench-says", markup=False)
        yield Input(id="bench-input", max_length=400)
        yield KeyLine()

    def on_mount(self) -> None:
        self.query_one("#bench-input").display = False
        self.set_focus(self.query_one("#bench-main"))
        for name in ("shown", "busy", "problem"):
            self.watch(self.app, name, self.tell, init=False)
        self.set_interval(CLOCK_S, self._tick)
        self._do(self._sit_down)
        self.call_after_refresh(self.tell)

    def _sit_down(self) -> None:
        self.sitting = Sitting(self.app.inputs)

    def on_unmount(self) -> None:
        if self.sitting is not None:
            self.sitting.close()

    # What is shown

    def tell(self) -> None:
        """Show where the build stands."""
        if not self.is_mounted or self.app.leaving:
            return
        sitting, shown = self.sitting, self._plan_of
        self._top()
        if sitting is None:
            return
        if shown is not None and sitting.asked is None and sitting.differs(shown.assessment):
            sitting.asked = Asked("changed")
        body = job_text(sitting, shown, self._stands, self._letters(), self.app.acknowledged)
        self.query_one("#bench-job", Static).update(body)
        self.query_one("#bench-letters", Static).update(
            letters_line(sitting, shown, self._letters())
        )
        says = f"✖ {self._refused}" if self._refused else sitting.says
        self.query_one("#bench-says", Static).update(
            Content.styled(one_line(says, 300), "bold $warning" if self._refused else "$quiet")
        )

    _refused = ""

    @property
    def _plan_of(self) -> Shown | None:
        """What the files say; what is only tried is not built."""
        return self.app.baseline or self.app.shown

    def _top(self) -> None:
        sitting, shown = self.sitting, self._plan_of
        if sitting is None or sitting.recorder is None:
            told = Content.styled(self.app.busy or "at the bench", "$quiet")
        else:
            self._stand(sitting, shown.assessment if shown else None)
            unpriced = shown is not None and shown.assessment.costs.unpriced
            known = self.app.loaded is not None and not unpriced
            currency = self.app.loaded.kit.currency if self.app.loaded and known else ""
            told = top_line(sitting, self._stands, currency)
        self.query_one("#bench-top", Static).update(told)

    def _stand(self, sitting: Sitting, assessment: Assessment | None) -> None:
        """Work the numbers out anew where something was recorded."""
        loaded = self.app.loaded
        if assessment is None or loaded is None or sitting.recorder is None:
            return
        now = (assessment, len(sitting.recorder.all_events))
        if self._stands_for is None or self._stands_for != now:
            self._stands_for = now
            self._stands = sitting.standing(assessment, loaded)

    def _tick(self) -> None:
        if self.sitting is not None and self.app.screen is self:
            if self.sitting.look_out():
                self.tell()
            else:
                self._top()

    def _letters(self) -> dict[str, str]:
        """Fault modes by their letter."""
        loaded = self.app.loaded
        if loaded is None:
            return {}
        return {letter: mode for mode, letter in loaded.reference.plan.journal.letters.items()}

    # Keys

    def _do(self, what: Callable[[], object]) -> None:
        """Do it, or say in one line why not."""
        self._refused = ""
        try:
            what()
        except UserProblem as problem:
            self._refused = str(problem)
            if self.sitting is None:
                self.query_one("#bench-says", Static).update(
                    Content.styled(one_line(self._refused, 300), "bold $error")
                )
        self.tell()

    def _with(self, what: Callable[[Sitting], object]) -> None:
        if self.sitting is not None:
            self._do(partial(what, self.sitting))

    def action_yes(self) -> None:
        self._with(self._yes)

    def _yes(self, sitting: Sitting) -> None:
        asked = sitting.asked.what if sitting.asked else None
        if asked in ("begin", "changed"):
            self._begin(sitting)
        elif asked == "mend":
            sitting.mended(True)
        elif asked == "pause":
            sitting.count_pause(True)
        elif asked == "undo":
            sitting.undo()
        elif asked == "lost":
            raise UserProblem("1 a spare is fitted, 2 another is bought, 3 the build ends")
        elif sitting.at_gate:
            sitting.gate(True)
        else:
            sitting.done()

    def _begin(self, sitting: Sitting) -> None:
        shown, loaded = self._plan_of, self.app.loaded
        if shown is None or loaded is None:
            raise UserProblem("the kit is still being assessed; try again in a moment")
        if sitting.recorder is None:
            sitting.begin(self._told(shown.assessment, loaded))
        else:
            sitting.replan(self._told(shown.assessment, loaded), "the kit has changed")

    def _told(self, assessment: Assessment, loaded: Question) -> Told:
        from solderrisk.journal.forecast import Told

        return Told(assessment, loaded.reference, self.app.session.beliefs(loaded))

    def action_no(self) -> None:
        self._with(self._no)

    def _no(self, sitting: Sitting) -> None:
        asked = sitting.asked.what if sitting.asked else None
        if asked == "mend":
            sitting.mended(False)
        elif asked == "pause":
            sitting.count_pause(False)
        elif asked is None and sitting.at_gate:
            sitting.gate(False)
        else:
            raise UserProblem("z is for a mending or a test that failed")

    def action_looked(self) -> None:
        self._with(lambda sitting: sitting.looked())

    def action_fault(self, letter: str) -> None:
        mode = self._letters().get(letter)
        if mode is not None:
            self._with(lambda sitting: sitting.fault(mode))

    def action_digit(self, digit: str) -> None:
        self._with(lambda sitting: self._digit(sitting, digit))

    def _digit(self, sitting: Sitting, digit: str) -> None:
        if sitting.asked is not None and sitting.asked.what == "lost":
            choice = {"1": "spare", "2": "buy", "3": "end"}.get(digit)
            if choice is not None:
                sitting.settle(choice)
        else:
            sitting.write_reading(digit)

    def action_type(self, character: str) -> None:
        self._with(lambda sitting: sitting.write_reading(character))

    def action_lost(self, what: str) -> None:
        self._with(lambda sitting: sitting.lost(what))

    def action_undo(self) -> None:
        self._with(lambda sitting: sitting.undo())

    def action_redo(self) -> None:
        self._with(lambda sitting: sitting.redo())

    def action_step(self, by: int) -> None:
        self._with(lambda sitting: sitting.step(by))

    def action_finish(self, works: bool) -> None:
        self._with(lambda sitting: sitting.end(works))

    def action_plan(self) -> None:
        self._with(self._plan)

    def _plan(self, sitting: Sitting) -> None:
        """The best order of what is left; searched in the background."""
        shown, loaded = self._plan_of, self.app.loaded
        if shown is None or loaded is None:
            raise UserProblem("the kit is still being assessed; try again in a moment")
        done = sitting.open.state.done
        sitting.says = "looking for the best order of what is left …"
        self.run_worker(partial(self._search, shown, done), thread=True, exclusive=True)

    def _search(self, shown: Shown, done: tuple[str, ...]) -> None:
        from dataclasses import replace

        loaded = self.app.loaded
        if loaded is None:
            return
        order, _ = self.app.session.replan(loaded, shown.assessment, done=done)
        self.app.call_from_thread(self._planned, replace(shown.assessment, order=order))

    def _planned(self, assessment: Assessment) -> None:
        loaded = self.app.loaded
        if loaded is not None:
            told = self._told(assessment, loaded)
            self._with(lambda sitting: sitting.replan(told, "asked for"))

    # Text that is typed

    def action_note(self) -> None:
        self._ask("note")

    def action_hands(self) -> None:
        self._ask("whose hands work now?")

    def _ask(self, what: str) -> None:
        field = self.query_one("#bench-input", Input)
        field.placeholder, field.value = what, ""
        field.display = True
        self.set_focus(field)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        text, what = event.value, event.input.placeholder
        self._close_input()
        if text.strip():
            self._with(lambda s: s.note(text) if what == "note" else s.hand(text.strip()))

    def _close_input(self) -> None:
        self.query_one("#bench-input").display = False
        self.set_focus(self.query_one("#bench-main"))

    def action_leave(self) -> None:
        if self.query_one("#bench-input").display:
            self._close_input()
        elif self.sitting is not None and self.sitting.asked is not None and self._can_wait():
            self._with(lambda sitting: sitting.leave_question())
        else:
            self.dismiss()

    def _can_wait(self) -> bool:
        asked = self.sitting.asked if self.sitting else None
        return asked is not None and asked.what not in ("begin", "changed")
