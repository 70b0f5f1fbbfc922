"""Build: one job large on the screen, for one hand on the tweezers.

Every key records at once; u takes it back. Letters are fault modes, the same everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from string import ascii_lowercase
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Input, Static

from solderrisk.model.problems import UserProblem
from solderrisk.report.words import key_name
from solderrisk.tui.faults import Steady
from solderrisk.tui.sitting import Asked, Sitting
from solderrisk.tui.theme import styles_of
from solderrisk.tui.widgets.strips import KeyLine
from solderrisk.words import chance, counted, likely, one_line, span

if TYPE_CHECKING:
    from solderrisk.journal.standing import Standing
    from solderrisk.journal.state import JobState
    from solderrisk.plan.results import Assessment
    from solderrisk.tui.app import SolderriskApp
    from solderrisk.tui.rows import Shown

Parts = list[tuple[str, str]]

# Letters that are no fault mode: u undo, y again, z failed, j part lost, e land lost, i note,
# g hands, q leave.
COMMAND_LETTERS = "uyzjeigq"
MODE_LETTERS = [letter for letter in ascii_lowercase if letter not in COMMAND_LETTERS]
LIKELY = 6  # fault modes spelt out with the job
CLOCK_S = 1.0


class BuildScreen(Steady, Screen[None]):
    """Shows the job in hand of the app's ``sitting``."""

    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
One job at a time, in the order planned. Space says it is done and goes on to the next;
enter says that everything done so far was looked over and nothing more was found. Only
what was looked over counts when the program learns.

A letter records a fault on the job shown; the likely ones stand first. Then space says it
is mended, z that the try did not work, right goes on and leaves it open. j: the part is
lost, e: a land is lost.

At a test, type the reading, then space for passed or z for failed.

u takes the last record back, y restores it. Left and right show other jobs. i writes a
note, g says whose hands work, = plans what is left anew, ! says that the kit works. Everything
is kept the moment the key is pressed; leave at any time."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "yes", "Done"),
        Binding("enter", "looked", "Looked, nothing found"),
        Binding("u", "undo", "Undo"),
        Binding("z", "no", "Failed", show=False),
        Binding("y", "redo", "Restore", show=False),
        Binding("j", "lost('part')", "Part lost"),
        Binding("e", "lost('land')", "Land lost", show=False),
        Binding("i", "note", "Note"),
        Binding("g", "hands", "Hands", show=False),
        Binding("equals_sign", "plan", "Plan anew", show=False),
        Binding("exclamation_mark", "finish(True)", "It works", show=False),
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

    app: SolderriskApp
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
            told = top_line(sitting, self._stands)
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
        elif sitting.key is not None and sitting.key.startswith("gate:"):
            sitting.gate(True)
        else:
            sitting.done()

    def _begin(self, sitting: Sitting) -> None:
        shown, loaded = self._plan_of, self.app.loaded
        if shown is None or loaded is None:
            raise UserProblem("the kit is still being assessed; try again in a moment")
        if sitting.recorder is None:
            sitting.begin(shown.assessment, loaded)
        else:
            sitting.replan(shown.assessment, loaded, "the kit has changed")

    def action_no(self) -> None:
        self._with(self._no)

    def _no(self, sitting: Sitting) -> None:
        asked = sitting.asked.what if sitting.asked else None
        if asked == "mend":
            sitting.mended(False)
        elif asked == "pause":
            sitting.count_pause(False)
        elif asked is None and sitting.key is not None and sitting.key.startswith("gate:"):
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
            self._with(lambda sitting: sitting.replan(assessment, loaded, "asked for"))

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


# --- in words ---


def top_line(sitting: Sitting, stands: Standing | None) -> Content:
    state = sitting.open.state
    parts: Parts = [(f"{len(state.done)}/{len(state.jobs)} ", "bold")]
    if stands is not None:
        parts += [
            (" works ", "$quiet"),
            (likely(stands.chance.mid), "bold"),
            (f"  {stands.hours.mid:.1f} h left ", "$quiet"),
        ]
    worked_s, _ = sitting.clock()
    parts.append((f" ◷ {int(worked_s) // 60}:{int(worked_s) % 60:02d}", "$accent"))
    if state.ended is not None:
        parts.append(("  ended: it works" if state.ended else "  ended", "bold"))
    return Content.assemble(*parts)


def job_text(
    sitting: Sitting,
    shown: Shown | None,
    stands: Standing | None,
    letters: dict[str, str],
    read: Iterable[str],
) -> Content:
    """The job in hand, or what is asked."""
    parts: Parts = []
    if sitting.asked is not None:
        parts += asked_parts(sitting.asked, shown)
    if sitting.recorder is None:
        return Content.assemble(*parts)
    if sitting.key is None:
        parts += _all_done(sitting)
        return Content.assemble(*parts)
    planned = sitting.open.state.planned(sitting.key)
    job = sitting.open.state.jobs[sitting.key]
    parts += [
        (f"{key_name(planned.key)}  ", "bold $accent"),
        (f"{one_line(planned.title, 80)}\n", "bold"),
        (f"{planned.footprint}\n" if planned.footprint else "", "$quiet"),
    ]
    parts += _job_state(job)
    if planned.kind == "gate":
        parts += _gate_parts(sitting, stands)
    elif shown is not None and planned.key in shown.risks:
        parts += _card_parts(shown, planned.key, letters, set(read))
    return Content.assemble(*parts)


def asked_parts(asked: Asked, shown: Shown | None) -> Parts:
    name = key_name(asked.key) if asked.key else ""
    match asked.what:
        case "begin":
            text = "No build of this kit has begun.\nSpace begins one"
            text += "." if shown else ", once the kit is assessed."
        case "changed":
            text = "The kit has changed since this build was planned.\nSpace plans what is left."
        case "mend":
            text = (
                f"{asked.mode.replace('_', ' ')} on {name}\n"
                "space mended · z tried, did not work · esc later"
            )
        case "lost":
            text = f"{name}: the part is lost\n1 a spare · 2 buy another · 3 the build ends"
        case "pause":
            text = (
                f"{asked.minutes:.0f} minutes passed without a record\n"
                "space counts them as work · z they were a pause"
            )
        case "undo":
            text = f"With it go: {', '.join(asked.told)}\nspace takes all back · esc leaves it"
    return [(f"▲ {text}\n\n", "bold $warning")]


def _all_done(sitting: Sitting) -> Parts:
    state = sitting.open.state
    waiting = sum(not job.looked for key, job in state.jobs.items() if key.startswith("fit:"))
    parts: Parts = [("Everything is done.\n", "bold $success")]
    if waiting:
        parts.append((f"{counted(waiting, 'part')} not looked over yet: enter\n", ""))
    if state.ended is None:
        parts.append(("! says that it works.\n", ""))
    return parts


def _job_state(job: JobState) -> Parts:
    parts: Parts = []
    if job.done:
        looked = ", looked over" if job.looked else ""
        parts.append((f"✔ done by {one_line(job.who, 20)}{looked}\n", "$success"))
    parts += [
        (f"✖ open: {counted(times, mode.replace('_', ' '))}\n", "bold $warning")
        for mode, times in job.open.items()
    ]
    return parts


def _gate_parts(sitting: Sitting, stands: Standing | None) -> Parts:
    job = sitting.open.state.jobs[sitting.key or ""]
    parts: Parts = [
        ("Reading: ", "$quiet"),
        (f"{sitting.typed or '…'}\n", "bold"),
        ("space passed · z failed\n", ""),
    ]
    if job.passed is False:
        parts.append(("failed; find what it shows, record it, test again\n", "bold $warning"))
    if stands is not None and stands.suspects:
        parts.append(("Suspects: ", "$quiet"))
        told = (f"{key_name(key)} {likely(share)}" for key, share in stands.suspects[:LIKELY])
        parts.append((", ".join(told) + "\n", "bold"))
    return parts


def likely_modes(shown: Shown, key: str, letters: dict[str, str]) -> dict[str, str]:
    """The fault modes of a job that come first, with their titles."""
    risk = shown.risks.get(key)
    if risk is None or risk.blocked:
        return {}
    known = set(letters.values())
    modes = sorted(risk.chosen.modes, key=lambda mode: -mode.total.mid)
    return {mode.mode: mode.title for mode in [m for m in modes if m.mode in known][:LIKELY]}


def letters_line(sitting: Sitting, shown: Shown | None, letters: dict[str, str]) -> Content:
    """Letters of the likely faults of the job in hand, always in sight."""
    if shown is None or sitting.key is None or sitting.asked is not None:
        return Content("")
    by_mode = {mode: letter for letter, mode in letters.items()}
    parts: Parts = []
    for mode in likely_modes(shown, sitting.key, letters):
        parts += [(by_mode[mode], "bold $accent"), (f" {mode.replace('_', ' ')}  ", "")]
    return Content.assemble(*parts)


def _card_parts(shown: Shown, key: str, letters: dict[str, str], read: set[str]) -> Parts:
    card, risk = shown.assessment.cards.get(key), shown.risks[key]
    parts: Parts = []
    notes = {note.id: note.title for note in shown.assessment.safety if note.acknowledge}
    unread = [notes[n] for n in (card.safety if card else ()) if n in notes and n not in read]
    if unread:
        parts.append((f"▲ read first under 7 Safety: {', '.join(unread)}\n", "bold $warning"))
    if card is not None and not risk.blocked:
        parts.append((f"{one_line(card.technique, 60)}\n", "bold"))
        parts += [(f"{label}: {one_line(text, 200)}\n", "") for label, text in card.settings]
        if card.orientation:
            parts.append((f"Way round: {one_line(card.orientation, 200)}\n", "bold"))
        parts += [(f"look: {one_line(line, 160)}\n", "$success") for line in card.look_for[:4]]
        parts += [(f"▲ {one_line(line, 200)}\n", "$warning") for line in card.cautions[:3]]
    by_mode = {mode: letter for letter, mode in letters.items()}
    first = likely_modes(shown, key, letters)
    parts.append(("\n", ""))
    for mode, letter in by_mode.items():
        if mode not in first:
            parts.append((f"{letter} {mode.replace('_', ' ')}  ", "$quiet"))
    parts.append((f"\n\nthis job works {chance(risk.chosen.after_mending)}", "$quiet"))
    parts.append((f", {span(risk.chosen.minutes, 'min', 0)}\n", "$quiet"))
    return parts
