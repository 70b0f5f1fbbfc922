"""The parts of a draft: its head, questions and rows in words; which of them come off a dead board,
and what board that is."""

from __future__ import annotations

from collections.abc import Container, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, get_args

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from solderrisk.model.kit import Board, Donor
from solderrisk.model.problems import UserProblem
from solderrisk.tui.places import styles_of
from solderrisk.tui.widgets.lines import KeyLine, Lines
from solderrisk.words import counted, one_line

if TYPE_CHECKING:
    from solderrisk.draft.answers import KeptDraft
    from solderrisk.model.draft import Draft, DraftLine, LineState, Question
    from solderrisk.tui.program import Program

STATES = {"recognised": "✔", "guessed": "≈", "unknown": "?", "ignored": "–"}
STATE_STYLES = {
    "recognised": "$success",
    "guessed": "$warning",
    "unknown": "bold $error",
    "ignored": "$quiet",
}
# Unknown lines first: they are what a person came for.
STATE_ORDER: tuple[LineState, ...] = ("unknown", "guessed", "recognised", "ignored")


def settled(draft: Draft) -> set[str]:
    """Questions whose answers could be used: an answer that names nothing known could not."""
    unknown = {line.ref for line in draft.lines if line.state == "unknown"}
    given = dict(draft.answers)
    return {q.id for q in draft.questions if q.id in given and not unknown.intersection(q.refs)}


def gone_text(before: KeptDraft, made: Draft) -> str:
    """What is said of things kept that do not fit any more; empty where all do."""
    gone = [
        (len(old) - len(new), what)
        for old, new, what in (
            (before.answers, made.answers, "answer"),
            (before.lifted, made.lifted, "donor part"),
        )
        if len(old) > len(new)
    ]
    if not gone:
        return ""
    told = " and ".join(counted(number, what) for number, what in gone)
    fits = "does not" if [number for number, _ in gone] == [1] else "do not"
    return f"the files have changed: {told} of before {fits} fit any more"


def told_text(draft: Draft | KeptDraft) -> str:
    """What a person has said of the draft; empty where nothing."""
    told = [counted(len(draft.answers), "answer")] if draft.answers else []
    told += [f"{counted(len(draft.lifted), 'part')} off a donor"] if draft.lifted else []
    return ", ".join(told)


def head_text(draft: Draft, says: str = "") -> Content:
    """Counts, what is still open, what is said of kept answers, and the notes."""
    counts = ", ".join(f"{STATES[state]} {draft.count(state)} {state}" for state in STATE_ORDER)
    waiting = len(draft.questions) - len(settled(draft))
    off = f"; {counted(len(draft.lifted), 'part')} off a donor" if draft.lifted else ""
    parts: list[tuple[str, str]] = [
        (f"{one_line(draft.name, 40)}  ", "bold"),
        (f"{len(draft.lines):,} references: {counts}; ", ""),
        (counted(waiting, "open question") if waiting else "no open question", "bold $accent"),
        (off, ""),
    ]
    parts += [(f"\n{one_line(says, 300)}", "$warning")] if says else []
    parts += [(f"\n· {one_line(note, 200)}", "$quiet") for note in draft.notes[:3]]
    return Content.assemble(*parts)


def question_line(question: Question, answered: bool) -> Content:
    mark, style = ("✔", "$success") if answered else ("?", "bold $error")
    refs = ", ".join(question.refs[:3]) + (" …" if len(question.refs) > 3 else "")
    return Content.assemble(
        (f"{mark} ", style), (f"{one_line(refs, 18)}  ", "bold"), (one_line(question.text, 80), "")
    )


def question_text(question: Question, given: str | None, used: bool) -> Content:
    refs = ", ".join(question.refs[:20])
    rest = len(question.refs) - 20
    parts: list[tuple[str, str]] = [
        (f"{one_line(question.text, 300)}\n", "bold"),
        (f"for {one_line(refs, 300)}" + (f" and {rest} more" if rest > 0 else ""), "$quiet"),
    ]
    if question.default and not given:
        parts.append((f"\nuntil you answer: {one_line(question.default, 80)}", "$warning"))
    if given:
        told = "" if used else ": no package of this name is known; it stays open"
        style = "$success" if used else "$warning"
        parts.append((f"\nyour answer: {one_line(given, 80)}{told}", style))
    return Content.assemble(*parts)


def rows(draft: Draft, marked: Container[str], most: int) -> list[tuple[str, tuple[Content, ...]]]:
    """References with their table's rows, at most so many of them, the unknown ones first."""
    lines = sorted(draft.lines, key=lambda line: STATE_ORDER.index(line.state))[:most]
    off = {part.ref: part.donor for part in draft.lifted}
    return [(x.ref, _cells(x, off.get(x.ref, ""), x.ref in marked)) for x in lines]


def _cells(line: DraftLine, donor: str, marked: bool) -> tuple[Content, ...]:
    mark = "●" if marked else " "
    style, off = STATE_STYLES[line.state], f"off {donor}; " if donor else ""
    return (
        Content.assemble((STATES[line.state], style), (mark, "bold $accent")),
        Content.styled(one_line(line.ref, 8), "bold"),
        Content(one_line(line.what, 15)),
        Content(one_line(line.footprint or "none", 14)),
        Content.styled(one_line(f"{off}{line.from_what} ({line.source})", 120), "$quiet"),
    )


CONDITIONS: tuple[str, ...] = get_args(Donor.model_fields["condition"].annotation)
LAYERS = (1, 2, 4, 6, 8)
PLANES = {1: 0, 2: 1, 4: 2, 6: 2, 8: 4}  # as such boards usually have
ALLOYS = ("Sn63Pb37", "SAC305")
MOST_SPARES = 20
MOST_PRICE = 1_000_000
USUAL = "old-board"


class DonorScreen(ModalScreen["Draft | None"]):
    """Gives the draft with these parts lifted, None where nothing is changed."""

    DEFAULT_CSS = styles_of(__file__, "dialog")
    HELP = """\
Name parts and the board that they come off. Left and right change the line in hand, tab goes
on, enter takes it over. Up and down in the board's name go through those that the draft has.
Without a name the parts are new again. What the board is made of decides how hard its parts
come off: look at it. Its size and thickness can be changed in the kit file."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", "Take over"),
        Binding("tab", "app.focus_next", "Next"),
        Binding("right,space", "turn(1)", "Change", key_display="←→"),
        Binding("left", "turn(-1)", "Less", show=False),
        Binding("down", "named(1)", "Known boards", key_display="↑↓"),
        Binding("up", "named(-1)", "Known boards", show=False),
        Binding("escape", "dismiss", "Back"),
    ]
    app: Program

    def __init__(self, draft: Draft, refs: Sequence[str]) -> None:
        super().__init__()
        self._draft, self._refs = draft, ", ".join(refs)
        self._known = {donor.name: donor for donor in draft.donors}
        part = next((part for part in draft.lifted if part.ref in refs), None)
        last = draft.donors[-1].name if draft.donors else USUAL
        self._board = part.donor if part else last
        self._only = part.irreplaceable if part else True
        self._spares = part.spares if part else 0
        self._condition, self._layers, self._alloy = "unknown", 4, ALLOYS[0]

    def compose(self) -> ComposeResult:
        known = f"; ↑↓ known: {', '.join(self._known)}" if self._known else ""
        with Vertical(classes="dialog"):
            yield Static("Parts off a dead board", classes="title", markup=False)
            yield Static("parts, like U1, R1-R4", classes="quiet", markup=False)
            yield Input(self._refs, id="donor-refs", compact=True)
            about = one_line(f"the board's name (empty: they are new{known})", 200)
            yield Static(about, classes="quiet", markup=False)
            yield Input(self._board, id="donor-name", compact=True)
            yield Lines(id="donor-lines", markup=False)
            yield Static("what the board cost", classes="quiet", markup=False)
            yield Input("0", id="donor-price", compact=True)
            yield Static("enter takes it over", id="donor-says", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        for field in self.query(Input):
            field.cursor_blink = False
        self._show_donor(self._board)
        self.set_focus(self.query_one("#donor-refs"))

    def on_input_changed(self, event: Input.Changed) -> None:
        if event.input.id == "donor-name":
            self._show_donor(event.value.strip())

    def _show_donor(self, name: str) -> None:
        """A board that is known is shown as it is: nothing of it is changed by naming it."""
        donor = self._known.get(name)
        if donor is not None:
            self._condition = donor.condition
            self._layers, self._alloy = donor.board.copper_layers, donor.board.alloy
            self.query_one("#donor-price", Input).value = f"{donor.price:g}"
        self._list()

    def _list(self) -> None:
        lines = self.query_one("#donor-lines", OptionList)
        at = lines.highlighted
        lines.clear_options()
        only = "x" if self._only else " "
        turned = (
            (str(self._spares), "more of them, if one is lost"),
            (self._condition.replace("_", " "), "how the board looks"),
            (str(self._layers), "copper layers"),
            (self._alloy, "solder on it"),
        )
        lines.add_options([
            Option(Content(f"[{only}] nobody sells them")),
            *(Option(Content(f"◂ {value:<12} ▸ {what}")) for value, what in turned),
        ])  # fmt: skip
        lines.highlighted = at or 0

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "named":
            return bool(self._known) and self._in("donor-name")
        return self._in("donor-lines") if action == "turn" else True

    def _in(self, name: str) -> bool:
        return self.focused is not None and self.focused.id == name

    def action_named(self, step: int) -> None:
        field, names = self.query_one("#donor-name", Input), tuple(self._known)
        at = names.index(field.value) + step if field.value in names else min(step, 0)
        field.value = names[at % len(names)]
        field.action_end()

    def action_turn(self, step: int) -> None:
        match self.query_one("#donor-lines", OptionList).highlighted:
            case 0:
                self._only = not self._only
            case 1:
                self._spares = (self._spares + step) % (MOST_SPARES + 1)
            case 2:
                self._condition = _turned(CONDITIONS, self._condition, step)
            case 3:
                self._layers = _turned(LAYERS, self._layers, step)
            case 4:
                self._alloy = _turned(ALLOYS, self._alloy, step)
        self._list()

    # Enter comes through the field that has it: what was typed before it is then there.

    def on_input_submitted(self) -> None:
        self.action_take()

    def on_option_list_option_selected(self) -> None:
        self.action_take()

    def action_take(self) -> None:
        from solderrisk.draft.answers import lift, new, refs_of

        name = self.query_one("#donor-name", Input).value.strip()
        try:
            refs = refs_of(self._draft, self.query_one("#donor-refs", Input).value)
            if name:
                donor = self._donor(name)
                made = lift(self._draft, refs, donor, irreplaceable=self._only, spares=self._spares)
            else:
                made = new(self._draft, refs)
        except UserProblem as problem:
            says = Content.styled(one_line(str(problem), 200), "$error")
            self.query_one("#donor-says", Static).update(says)
            return
        self.dismiss(made)

    def _donor(self, name: str) -> Donor:
        if len(name) > 60:
            raise UserProblem("the board's name is too long")
        board = Board(
            name=name,
            copper_layers=self._layers,
            plane_layers=PLANES[self._layers],
            alloy=self._alloy,
        )
        told = {"name": name, "board": board, "condition": self._condition, "price": self._price()}
        return Donor.model_validate(told)

    def _price(self) -> float:
        text = self.query_one("#donor-price", Input).value.strip()
        try:
            price = float(text.replace(",", ".")) if text else 0.0
        except ValueError:
            price = -1.0
        if not 0 <= price <= MOST_PRICE:
            raise UserProblem(f"the board's price is a number from 0 to {MOST_PRICE:,}")
        return price


def _turned(values: Sequence[Any], value: Any, step: int) -> Any:
    return values[(values.index(value) + step) % len(values)] if value in values else values[0]
