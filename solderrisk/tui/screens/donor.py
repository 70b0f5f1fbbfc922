"""Which parts of a draft come off a dead board, and what board that is."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, get_args

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
from solderrisk.words import one_line

if TYPE_CHECKING:
    from solderrisk.model.draft import Draft
    from solderrisk.tui.program import Program

CONDITIONS: tuple[str, ...] = get_args(Donor.model_fields["condition"].annotation)
LAYERS = (1, 2, 4, 6, 8)
PLANES = {1: 0, 2: 1, 4: 2, 6: 2, 8: 4}  # as such boards usually have
USUAL = "old-board"


class DonorScreen(ModalScreen["Draft | None"]):
    """Gives the draft with these parts lifted, None where nothing is changed."""

    DEFAULT_CSS = styles_of(__file__, "dialog")
    HELP = """\
Name parts and the board that they come off. Left and right change the line in hand, tab goes
on, enter takes it over. Without a board's name the parts are new again. What the board is made
of decides how hard its parts come off: look at it, and change it in the kit file."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("right,space", "turn(1)", "Change", key_display="←→"),
        Binding("left", "turn(-1)", "Less", show=False),
        Binding("enter", "take", "Take over"),
        Binding("escape", "dismiss", "Back"),
    ]
    app: Program

    def __init__(self, draft: Draft, refs: str) -> None:
        super().__init__()
        self._draft, self._refs = draft, refs
        last = draft.donors[-1] if draft.donors else None
        self._name = last.name if last else USUAL
        self._condition = CONDITIONS.index(last.condition) if last else CONDITIONS.index("unknown")
        layers = last.board.copper_layers if last else 4
        self._layers = LAYERS.index(layers) if layers in LAYERS else 2
        self._only = True

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static("Parts off a dead board", classes="title", markup=False)
            yield Static("parts, like U1, R1-R4", classes="quiet", markup=False)
            yield Input(self._refs, id="donor-refs", compact=True)
            yield Static("the board's name (empty: they are new)", classes="quiet", markup=False)
            yield Input(self._name, id="donor-name", compact=True)
            yield Lines(id="donor-lines", markup=False)
            yield Static(id="donor-says", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        for field in self.query(Input):
            field.cursor_blink = False
        self._list()
        self.set_focus(self.query_one("#donor-refs"))

    def _list(self) -> None:
        lines = self.query_one("#donor-lines", OptionList)
        at = lines.highlighted
        lines.clear_options()
        only = "x" if self._only else " "
        condition = CONDITIONS[self._condition].replace("_", " ")
        lines.add_options([
            Option(Content(f"[{only}] nobody sells them")),
            Option(Content(f"◂ {condition:<12} ▸ how the board looks")),
            Option(Content(f"◂ {LAYERS[self._layers]:<12} ▸ copper layers")),
        ])  # fmt: skip
        lines.highlighted = at or 0

    def action_turn(self, step: int) -> None:
        match self.query_one("#donor-lines", OptionList).highlighted:
            case 0:
                self._only = not self._only
            case 1:
                self._condition = (self._condition + step) % len(CONDITIONS)
            case 2:
                self._layers = (self._layers + step) % len(LAYERS)
        self._list()

    def on_input_submitted(self) -> None:
        self.action_take()

    def on_option_list_option_selected(self) -> None:
        self.action_take()

    def action_take(self) -> None:
        from solderrisk.draft.lifting import lift, new, refs_of

        name = self.query_one("#donor-name", Input).value.strip()
        try:
            refs = refs_of(self._draft, self.query_one("#donor-refs", Input).value)
            made = (
                lift(self._draft, refs, self._donor(name), irreplaceable=self._only)
                if name
                else new(self._draft, refs)
            )
        except UserProblem as problem:
            says = Content.styled(one_line(str(problem), 200), "$error")
            self.query_one("#donor-says", Static).update(says)
            return
        self.dismiss(made)

    def _donor(self, name: str) -> Donor:
        if len(name) > 60:
            raise UserProblem("the board's name is too long")
        layers = LAYERS[self._layers]
        board = Board(name=name, copper_layers=layers, plane_layers=PLANES[layers])
        condition = CONDITIONS[self._condition]
        return Donor.model_validate({"name": name, "board": board, "condition": condition})
