"""Draft: what was recognised in the sources, and the open questions one by one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import DataTable, Input, OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.tui.faults import AskFirst, TakeUp
from solderrisk.tui.places import styles_of
from solderrisk.tui.screens.draft_parts import (
    gone_text,
    head_text,
    question_line,
    question_text,
    rows,
    settled,
    told_text,
)
from solderrisk.tui.widgets.lines import KeyLine, Lines
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.draft.answers import KeptDraft
    from solderrisk.model.draft import Draft, Question
    from solderrisk.tui.program import Program
    from solderrisk.tui.setup import Inputs

MOST_LINES = 300
MOST_QUESTIONS = 300


class Drafted(Message):
    """A draft, or why there is none."""

    def __init__(self, draft: Any, error: str) -> None:
        super().__init__()
        self.draft, self.error = draft, error


class DraftScreen(ModalScreen[None]):
    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
What was read from your files. On the left the open questions, on the right the one
chosen with its answers: enter takes an answer and goes to the next question, or type a
package's name. Nothing is guessed silently: ≈ marks what was guessed and from what.
Answers are kept until the kit is written, and offered when the same files are drafted again.

r shows every reference with what became of it. d says which parts come off a dead board:
those that are pointed at, marked by space among all references, or typed; u takes it back.
w writes a kit file, which is then opened; open questions go into it as remarks. Nothing is
written over."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("r", "report", "Report"),
        Binding("t", "type", "Type a name"),
        Binding("space", "mark", "Mark"),
        Binding("u", "undo", "Take back"),
        Binding("d", "donor", "Off a donor"),
        Binding("w", "write", "Write"),
        Binding("escape", "back", "Back"),
        Binding("question_mark", "app.help", "Help", key_display="?"),
    ]
    app: Program

    def __init__(self, sources: list[Path], inputs: Inputs) -> None:
        super().__init__()
        self._sources, self._inputs = sources, inputs
        self.draft: Draft | None = None
        self._wanted: str | None = None
        self._kept: KeptDraft | None = None  # of before
        self._says = ""  # about what is kept
        self._rows: list[str] = []  # references of the table
        self._marked: set[str] = set()

    def compose(self) -> ComposeResult:
        yield Static("Reading …", id="draft-head", markup=False)
        with Horizontal(id="draft-ask"):
            yield Lines(id="questions", markup=False)
            with Vertical(id="question-side"):
                yield Static(id="question-text", markup=False)
                yield Lines(id="choices", markup=False)
                yield Input(placeholder="or type a package's name", id="own", compact=True)
        yield DataTable(id="lines", cursor_type="row")
        yield Input(placeholder="kit file to write", id="kit-path", compact=True)
        yield KeyLine()

    def on_mount(self) -> None:
        for field in self.query(Input):
            field.cursor_blink = False
        table = self.query_one("#lines", DataTable)
        for label, width in (("", 2), ("Ref", 8), ("What", 15), ("Footprint", 14), ("From", 60)):
            table.add_column(label, width=width)
        table.display = False
        self.query_one("#kit-path").display = False
        libraries = self._inputs.libraries

        def read() -> Draft:
            from solderrisk.draft.drafting import draft
            from solderrisk.files.loading import load_library

            made = draft(self._sources, load_library(libraries))
            self._look_for_kept()
            return made

        self._work(read)

    # Answers of before

    def _look_for_kept(self) -> None:
        from solderrisk.draft import answers
        from solderrisk.files.text import FileProblems

        if not self.app.remembers:
            return
        try:
            self._kept = answers.kept_of(self._sources)
        except FileProblems as problem:
            self._says = f"kept answers are passed over: {problem.problems[0]}"

    def _keep(self, draft: Draft) -> None:
        from solderrisk.draft import answers
        from solderrisk.files.text import FileProblems

        if not self.app.remembers:
            return
        try:
            answers.keep(self._sources, draft)
            self._says = ""
        except FileProblems as problem:
            self._says = f"answers cannot be kept: {problem.problems[0]}"

    def _take_up(self, wanted: bool | None) -> None:
        draft, before = self.draft, self._kept
        if not wanted or draft is None or before is None:
            return

        def taken() -> Draft:
            from solderrisk.draft.answers import taken_up

            made = taken_up(draft, before)
            self._keep(made)
            if not self._says:
                self._says = gone_text(before, made)
            return made

        self._work(taken)

    # Reading and answering go on in a thread

    def _work(self, make: Callable[[], Any]) -> None:
        def run() -> None:
            try:
                made, error = make(), ""
            except Exception as problem:
                made, error = None, str(problem) or type(problem).__name__
            self.post_message(Drafted(made, error))

        self.run_worker(run, thread=True, group="draft")

    def on_drafted(self, message: Drafted) -> None:
        if message.draft is None:
            lines = "\n".join(one_line(line, 300) for line in message.error.splitlines()[:8])
            head = Content.assemble(("This could not be read\n", "bold $error"), lines)
            self.query_one("#draft-head", Static).update(head)
            self.query_one("#draft-ask").display = self.draft is not None
            return
        first = self.draft is None
        self.draft = message.draft
        self._show()
        if first and self._kept is not None and (self._kept.answers or self._kept.lifted):
            what = f"kept from before for this draft: {told_text(self._kept)}"
            self.app.push_screen(TakeUp(what), self._take_up)
        if first:
            if not message.draft.questions:
                self.action_report()
            else:
                self.set_focus(self.query_one("#choices"))

    def _show(self) -> None:
        draft = self.draft
        assert draft is not None
        self.query_one("#draft-head", Static).update(head_text(draft, self._says))
        listing = self.query_one("#questions", OptionList)
        answered = settled(draft)
        asked = draft.questions[:MOST_QUESTIONS]
        listing.clear_options()
        listing.add_options([Option(question_line(q, q.id in answered), id=q.id) for q in asked])
        at = next((n for n, q in enumerate(asked) if q.id == self._wanted), None)
        if at is None:
            at = next((n for n, q in enumerate(asked) if q.id not in answered), 0)
        if asked:
            listing.highlighted = at
        self._show_question()
        self._show_lines()

    def _question(self) -> Question | None:
        option = self.query_one("#questions", OptionList).highlighted_option
        if self.draft is None or option is None:
            return None
        return next((q for q in self.draft.questions if q.id == option.id), None)

    def _show_question(self) -> None:
        question, draft = self._question(), self.draft
        choices = self.query_one("#choices", OptionList)
        choices.clear_options()
        if question is None or draft is None:
            self.query_one("#question-text", Static).update("No open question. w writes the kit.")
            return
        given = dict(draft.answers).get(question.id)
        used = question.id in settled(draft)
        self.query_one("#question-text", Static).update(question_text(question, given, used))
        choices.add_options(
            [Option(f"{'● ' if c == given else '○ '}{one_line(c, 60)}") for c in question.choices]
        )
        if question.choices:
            now = given if given in question.choices else question.default
            at = question.choices.index(now) if now in question.choices else 0
            choices.highlighted = at

    def _show_lines(self) -> None:
        table = self.query_one("#lines", DataTable)
        at = table.cursor_row
        table.clear()
        assert self.draft is not None
        found = rows(self.draft, self._marked, MOST_LINES)
        self._rows = [ref for ref, _ in found]
        table.add_rows(cells for _, cells in found)
        table.move_cursor(row=at)

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        if event.option_list.id == "questions":
            self._show_question()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        question = self._question()
        if event.option_list.id == "questions":
            self.set_focus(self.query_one("#choices"))
        elif question is not None:
            self._answer(question, question.choices[event.option_index])

    def _answer(self, question: Question, choice: str) -> None:
        """Answer, and go on to the next open question."""
        draft = self.draft
        if draft is None:
            return
        self._wanted = None if choice else question.id

        def answered() -> Draft:
            from solderrisk.draft.answers import carried
            from solderrisk.draft.drafting import answer

            made = carried(answer(draft, question.id, choice), self.draft or draft)
            self._keep(made)
            return made

        self._work(answered)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        value = event.value.strip()
        question = self._question()
        if event.input.id == "kit-path":
            self._write(value)
        elif question is not None and value:
            event.input.value = ""
            self._answer(question, value)
            self.set_focus(self.query_one("#choices"))

    def action_undo(self) -> None:
        """Take back the answer, or among all references that a part comes off a donor."""
        from solderrisk.draft.answers import new

        question = self._question()
        if self.query_one("#lines").display and self.draft is not None:
            self._lifted(new(self.draft, self._at_hand()))
        elif question is not None:
            self._answer(question, "")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        report = self.is_mounted and self.query_one("#lines").display
        return action not in (("type",) if report else ("mark",))

    def action_mark(self) -> None:
        """Mark the part, or not any more, and go on to the next one."""
        table = self.query_one("#lines", DataTable)
        if self._rows:
            self._marked ^= {self._rows[table.cursor_row]}
            self._show_lines()
            table.move_cursor(row=table.cursor_row + 1)

    def action_donor(self) -> None:
        """Say which parts come off a donor."""
        from solderrisk.tui.screens.draft_parts import DonorScreen

        if self.draft is not None:
            self.app.push_screen(DonorScreen(self.draft, self._at_hand()), self._lifted)

    def _at_hand(self) -> tuple[str, ...]:
        """The references that are marked or pointed at."""
        table = self.query_one("#lines", DataTable)
        if table.display and self._rows:
            return tuple(r for r in self._rows if r in self._marked) or (
                self._rows[table.cursor_row],
            )
        question = self._question()
        return question.refs if question is not None else ()

    def _lifted(self, made: Draft | None) -> None:
        from solderrisk.draft.answers import carried

        if made is not None and self.draft is not None:
            # An answer may have come meanwhile.
            self.draft = carried(self.draft, made)
            self._marked.clear()
            self._keep(self.draft)
            self._show()

    def action_type(self) -> None:
        self.set_focus(self.query_one("#own"))

    def action_report(self) -> None:
        """Change between the questions and every reference."""
        table, ask = self.query_one("#lines"), self.query_one("#draft-ask")
        table.display = not table.display
        ask.display = not table.display
        self.refresh_bindings()
        self.set_focus(table if table.display else self.query_one("#choices"))

    def action_back(self) -> None:
        """Out of a field first, then out of the draft; answers are not thrown away unasked."""
        path, own = self.query_one("#kit-path", Input), self.query_one("#own", Input)
        if path.display or own.has_focus:
            path.display, own.value = False, ""
            self.set_focus(self.query_one("#choices"))
        elif self.unsaved:
            self.app.push_screen(AskFirst(f"{self.unsaved}: not saved yet"), self._leave)
        else:
            self.dismiss()

    @property
    def unsaved(self) -> str:
        """What would be lost by leaving; empty where nothing would."""
        if self.draft is None or not (self.draft.answers or self.draft.lifted):
            return ""
        kept = ", kept for next time" if self.app.remembers and not self._says else ""
        return f"the kit of this draft ({told_text(self.draft)}{kept})"

    def _leave(self, choice: str | None) -> None:
        if choice == "save":
            self.action_write()
        elif choice == "leave":
            self.dismiss()

    def action_write(self) -> None:
        path = self.query_one("#kit-path", Input)
        if self.draft is None:
            return
        path.display = True
        path.value = path.value or f"{self._sources[0].stem}.kit.yaml"
        self.set_focus(path)

    def _write(self, value: str) -> None:
        draft = self.draft
        if draft is None or not value:
            return
        path = Path(value).expanduser()
        try:
            from solderrisk.draft.write import kit_yaml
            from solderrisk.files.settings import own_currency
            from solderrisk.files.text import write_new

            write_new(path, kit_yaml(draft, own_currency() if self.app.remembers else ""))
        except Exception as error:
            says = Content.assemble((one_line(str(error), 200), "$error"))
            self.query_one("#draft-head", Static).update(says)
            return
        if self.app.remembers:
            from solderrisk.draft.answers import drop

            drop(self._sources)
        self.app.notify(f"wrote {path}", markup=False)
        self.dismiss()
        self.app.open_files(replace(self._inputs, kit=path))
