"""Placements: a table that is searched and sorted, and everything about one job."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widget import Widget
from textual.widgets import DataTable, Input, Static

from solderrisk.tui.places import styles_of
from solderrisk.tui.rows import SORTS, JobRow, best_match, filtered, ordered
from solderrisk.tui.screens.base import PlaceScreen
from solderrisk.tui.widgets.job_detail import DETAILS, JobDetail
from solderrisk.tui.widgets.lines import TabStrip
from solderrisk.words import counted, likely, minutes, one_line

if TYPE_CHECKING:
    from solderrisk.tui.rows import Shown

PAGE = 200  # rows in the table at once: more would stall the screen
HEADS = ("", "Job", "Part", "How", "  Works", "   Loss", "   Time")
FIXED_CELLS = 34  # mark, job, the three figures and the scroll bar
FEWEST_CELLS = 12


class ListSide(Vertical):
    """The list with its search; tells the screen when it has another width."""

    def on_resize(self) -> None:
        if isinstance(self.screen, PlacementsScreen):
            self.screen.fit_columns()


class JobTable(DataTable[Content | str]):
    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "select_cursor", "Enlarge")]


class PlacementsScreen(PlaceScreen):
    PLACE = "placements"
    DEFAULT_CSS = styles_of(__file__)
    EMPTY = "This kit has no parts to fit, no lifts and no wires."
    HELP = """\
Every joint job of the kit. Press / and type to find: a reference (U3), or words such as
'lift', 'severe', 'hot air', 'tsop', a board's name; '-word' leaves something out. Enter
goes to the best match. s sorts by another column, S turns the order round; click a
column's head for the same.

Below or beside the table: the technique card, the heating of the joint against time,
the leads on their lands, what can go wrong and why, and the other ways of doing it.
Enter enlarges that part, escape goes back to the table."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("slash", "find", "Find", key_display="/"),
        Binding("s", "sort(1)", "Sort"),
        Binding("S", "sort(0)", "Turn round", show=False),
        *(Binding(key, f"detail('{name}')", label, show=False) for name, label, key in DETAILS),
        Binding("n", "page(1)", "More rows", show=False),
        Binding("b", "page(-1)", "Rows before", show=False),
        Binding("m", "on_map", "On the board"),
        Binding("enter", "enlarge", "Enlarge", show=True),
        Binding("escape", "back", "Back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._sort, self._backwards, self._page = SORTS[0], False, 0
        self._rows: list[JobRow] = []
        self._filling = False
        self._spare = 0  # cells shared by the two wide columns

    def build(self) -> Iterable[Widget]:
        yield ListSide(
            Input(placeholder="find: U3, lift, severe, hot air …", id="find", compact=True),
            JobTable(id="jobs", cursor_type="row", cell_padding=0),
            Static(id="count", markup=False),
            id="list-side",
        )
        yield JobDetail(id="detail")

    def on_mount(self) -> None:
        super().on_mount()
        self.watch(self.app, "chosen", self._follow, init=False)

    def built(self) -> None:
        self.query_one("#find", Input).cursor_blink = False
        self.fit_columns()

    def fit_columns(self) -> None:
        """Share the width between the part and the technique."""
        table = self.query_one("#jobs", DataTable)
        spare = max(self.query_one("#list-side").size.width - FIXED_CELLS, 2 * FEWEST_CELLS)
        if spare == self._spare:
            return
        self._spare = spare
        table.clear(columns=True)
        widths = (2, 10, spare // 2, spare - spare // 2, 7, 7, 7)
        for label, width in zip(HEADS, widths, strict=True):
            table.add_column(label, width=width)
        if self._filled is not None:
            self._list()

    def first_focus(self) -> None:
        self.set_focus(self.query_one("#jobs"))

    def fill(self, shown: Shown) -> None:
        self._sort = self.app.sort if self.app.sort in SORTS else self._sort
        self._list()
        self._show_detail()

    # The table

    def _list(self) -> None:
        shown = self.app.shown
        if shown is None:
            return
        words = self.query_one("#find", Input).value
        self._rows = ordered(filtered(shown.rows, words), self._sort, backwards=self._backwards)
        at = next((i for i, r in enumerate(self._rows) if r.key == self.app.chosen), None)
        if at is not None:
            self._page = at // PAGE
        pages = max((len(self._rows) - 1) // PAGE + 1, 1)
        self._page = min(self._page, pages - 1)
        first = self._page * PAGE
        self._put(self._rows[first : first + PAGE], None if at is None else at - first)
        self.query_one("#count", Static).update(self._count_line(len(shown.rows), pages))

    def _put(self, rows: list[JobRow], cursor: int | None) -> None:
        table = self.query_one("#jobs", DataTable)
        self._filling = True
        table.clear()
        wide = self._spare // 2, self._spare - self._spare // 2
        table.add_rows(_cells(row, *wide) for row in rows)
        if cursor is not None:
            table.move_cursor(row=cursor, animate=False)
        self._filling = False

    def _count_line(self, total: int, pages: int) -> Content:
        here = len(self._rows)
        first = self._page * PAGE
        which = f"{here:,} of {total:,}" if here != total else counted(total, "job")
        if pages > 1:
            which += f", rows {first + 1:,} to {min(first + PAGE, here):,}: n next, b before"
        turned = " turned round" if self._backwards else ""
        text = f"{which}; by {self._sort}{turned}"
        return Content.styled("nothing matches; escape clears" if not here else text, "$quiet")

    def on_data_table_row_highlighted(self, event: DataTable.RowHighlighted) -> None:
        # Where the cursor is now: the event may be older than the rows.
        at = self._page * PAGE + event.data_table.cursor_row
        if not self._filling and 0 <= at < len(self._rows) and event.data_table.has_focus:
            self.app.chosen = self._rows[at].key

    def on_data_table_row_selected(self, event: DataTable.RowSelected) -> None:
        at = self._page * PAGE + event.cursor_row
        if 0 <= at < len(self._rows):
            self.app.chosen = self._rows[at].key
        self.action_enlarge()

    def on_data_table_header_selected(self, event: DataTable.HeaderSelected) -> None:
        by = {0: "risk", 1: "reference", 4: "chance", 5: "loss", 6: "time"}.get(event.column_index)
        if by:
            self._backwards = not self._backwards if by == self._sort else False
            self._sort = by
            self._list()

    def on_input_changed(self, event: Input.Changed) -> None:
        self._page = 0
        if event.value:
            key = best_match(self._matching(), event.value)
            if key:
                self.app.chosen = key
        self._list()

    def _matching(self) -> list[JobRow]:
        shown = self.app.shown
        return filtered(shown.rows, self.query_one("#find", Input).value) if shown else []

    def on_input_submitted(self) -> None:
        self.set_focus(self.query_one("#jobs"))

    # One job

    def _follow(self) -> None:
        if self.app.current_mode == self.PLACE and self._filled is not None:
            self._show_detail()

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        if self.app.shown is not None and self._filled is self.app.shown:
            self._list()
            self._show_detail()

    def _show_detail(self) -> None:
        shown, key = self.app.shown, self.app.chosen
        risk = shown.risks.get(key) if shown and key else None
        self.query_one("#detail", JobDetail).show(shown, risk)

    def on_tab_strip_chosen(self, event: TabStrip.Chosen) -> None:
        if event.name in {name for name, _, _ in DETAILS}:
            self.action_detail(event.name)
        else:
            super().on_tab_strip_chosen(event)

    # Keys

    def action_find(self) -> None:
        self.remove_class("enlarged", "picture")
        find = self.query_one("#find", Input)
        self.set_focus(find)
        find.action_select_all()

    def action_sort(self, forward: int) -> None:
        if forward:
            self._sort = SORTS[(SORTS.index(self._sort) + 1) % len(SORTS)]
            self._backwards = False
            self.app.sort = self._sort
        else:
            self._backwards = not self._backwards
        self._list()

    def action_page(self, step: int) -> None:
        pages = max((len(self._rows) - 1) // PAGE + 1, 1)
        wanted = min(max(self._page + step, 0), pages - 1)
        if wanted != self._page:
            self.app.chosen = self._rows[wanted * PAGE].key
            self._list()

    def action_detail(self, name: str) -> None:
        self.query_one("#detail", JobDetail).choose(name)

    def action_enlarge(self) -> None:
        self.add_class("enlarged")
        self.query_one("#detail", JobDetail).take_focus()
        self.refresh_bindings()

    def action_on_map(self) -> None:
        self.app.action_go("board")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Going back is offered where there is something to go back from."""
        if action != "back" or self._filled is None:
            return super().check_action(action, parameters)
        return self.has_class("enlarged") or bool(self.query_one("#find", Input).value)

    def action_back(self) -> None:
        find = self.query_one("#find", Input)
        if self.has_class("enlarged"):
            self.remove_class("enlarged")
        elif find.value:
            find.value = ""
        self.set_focus(self.query_one("#jobs"))
        self.refresh_bindings()


def _cells(row: JobRow, part: int, how: int) -> tuple[Content | str, ...]:
    style = f"${row.band.style}"
    return (
        Content.styled(row.band.mark, style),
        Content.styled(one_line(row.name, 9), "bold"),
        Content(one_line(row.part, part - 1)),
        Content(one_line(row.technique, how - 1)),
        Content.styled(f"{likely(row.works):>7}", style),
        Content(f"{row.loss:7.2f}"),
        Content(f"{minutes(row.minutes):>7}"),
    )
