"""Safety: notes that apply to this kit, to be read and acknowledged."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.report.words import refs_line
from solderrisk.tui.places import styles_of
from solderrisk.tui.screens.base import PlaceScreen
from solderrisk.tui.widgets.lines import Lines
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.plan.results import SafetyNote
    from solderrisk.tui.rows import Shown

DEFER = (
    "These notes are the usual cautions. Local rules, data sheets and people trained for the "
    "work go before them; no figure of this program is a permission."
)


class SafetyScreen(PlaceScreen):
    PLACE = "safety"
    DEFAULT_CSS = styles_of(__file__)
    HELP = """\
The notes that apply to this kit on this bench, and the jobs they are about. Space says
that you have read one; those that must be read before the work are marked ▲ until then,
here and on the cards of their jobs. The journal keeps what you have read and when; a note
that is worded anew is asked for again. w writes it to a new builder file as well.

Local rules, data sheets and people trained for the work always go first."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "read", "I have read it"),
        Binding("w", "save", "Save as"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._kept: set[str] = set()  # written down in the journal

    def build(self) -> Iterable[Widget]:
        yield Lines(id="notes", markup=False)
        yield VerticalScroll(Static(id="note-text", markup=False), id="note-side")

    def first_focus(self) -> None:
        self.set_focus(self.query_one("#notes"))

    def fill(self, shown: Shown) -> None:
        notes = self.query_one("#notes", OptionList)
        at = notes.highlighted or 0
        notes.clear_options()
        notes.add_options(
            [
                Option(note_line(note, note.id in self.app.acknowledged), id=note.id)
                for note in shown.assessment.safety
            ]
        )
        if notes.option_count:
            notes.highlighted = min(at, notes.option_count - 1)
        self._show_note()

    def _note(self) -> SafetyNote | None:
        at = self.query_one("#notes", OptionList).highlighted
        shown = self.app.shown
        if shown is None or at is None or at >= len(shown.assessment.safety):
            return None
        return shown.assessment.safety[at]

    def _show_note(self) -> None:
        note = self._note()
        text = note_text(note) if note else Content.styled(DEFER, "$quiet")
        text = self._count() + text
        self.query_one("#note-text", Static).update(text)

    def _count(self) -> Content:
        """How many of those that must be read have been, and where that is kept."""
        shown, loaded = self.app.shown, self.app.loaded
        asked = {n.id for n in shown.assessment.safety if n.acknowledge} if shown else set()
        if not asked or loaded is None:
            return Content("")
        read = asked & self.app.acknowledged
        kept = read <= set(loaded.builder.acknowledged) | self._kept
        told = f"{len(read)} of {len(asked)} that must be read are read"
        told += "" if kept else "; w keeps that in a new builder file"
        return Content.styled(told + "\n\n", "$success" if read == asked else "$warning")

    def action_save(self) -> None:
        from solderrisk.tui.screens.file_dialogs import SaveSetup

        self.app.push_screen(SaveSetup())

    def on_option_list_option_highlighted(self) -> None:
        self._show_note()

    def on_option_list_option_selected(self) -> None:
        self.action_read()

    def _keep(self, note_id: str) -> None:
        """Write down in the journal who read what, and when."""
        from solderrisk.journal.people import read_note
        from solderrisk.journal.place import JournalProblem, default_path
        from solderrisk.journal.store import Journal

        loaded = self.app.loaded
        if loaded is None:
            return
        notes = loaded.reference.plan.safety.notes
        note = next((note for note in notes if note.id == note_id), None)
        if note is None:
            return
        try:
            with Journal(self.app.inputs.journal or default_path()) as journal:
                read_note(journal, loaded.builder.name, note)
            self._kept.add(note_id)
        except JournalProblem as problem:
            self.notify(str(problem), markup=False)

    def action_read(self) -> None:
        """Acknowledge the note, and go to the next one that waits."""
        note, shown = self._note(), self.app.shown
        if note is None or shown is None:
            return
        self.app.acknowledged.add(note.id)
        self._keep(note.id)
        listing = self.query_one("#notes", OptionList)
        listing.replace_option_prompt(note.id, note_line(note, True))
        waiting = [
            number
            for number, each in enumerate(shown.assessment.safety)
            if each.acknowledge and each.id not in self.app.acknowledged
        ]
        if waiting:
            listing.highlighted = waiting[0]
        self._show_note()


def note_line(note: SafetyNote, read: bool) -> Content:
    mark, style = (
        ("✔", "$success") if read else ("▲", "$warning") if note.acknowledge else ("·", "")
    )
    return Content.assemble((f"{mark} ", style), one_line(note.title, 60))


def note_text(note: SafetyNote) -> Content:
    from solderrisk.report.findings import note_lines

    parts: list[tuple[str, str]] = [(f"{one_line(note.title, 80)}\n\n", "bold")]
    parts += [(f"– {one_line(line, 400)}\n", "") for line in note_lines(note)]
    if note.applies_to:
        parts.append((f"\nfor: {refs_line(note.applies_to, 12)}\n", "$quiet"))
    parts.append((f"source: {one_line(note.source, 120)}\n\n", "$quiet"))
    parts.append((DEFER, "$quiet"))
    return Content.assemble(*parts)
