"""The mouse does what keys do, and every theme has all our colours."""

from __future__ import annotations

from textual.theme import BUILTIN_THEMES
from textual.widgets import DataTable

from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.widgets.board_map import BoardMap
from solderrisk.tui.widgets.lines import KeyLine
from tests.ui.driving import LARGE, flat, opened, press, rest, screen_text


async def test_places_details_columns_and_parts_can_be_clicked() -> None:
    async with opened(40, LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        # "[1 Verdict] 2 Placements": the second name begins at cell 11.
        await pilot.click("#places", offset=(14, 0))
        await rest(pilot)
        assert "[2 Placements]" in screen_text(pilot)
        await pilot.click("#details", offset=(11, 0))
        await rest(pilot)
        assert "[h Heat]" in screen_text(pilot)
        # The head of the second column sorts by reference.
        await pilot.click("#jobs", offset=(4, 0))
        await rest(pilot)
        assert "by reference" in screen_text(pilot)
        await pilot.click("#jobs", offset=(4, 3))
        await rest(pilot)
        table = app.screen.query_one("#jobs", DataTable)
        assert table.cursor_row == 2
        await press(pilot, "escape")
        await pilot.click("#places", offset=(28, 0))
        await rest(pilot)
        board = app.screen.query_one(BoardMap)
        jack = app.shown.jobs["fit:J1"].position if app.shown else None
        assert jack is not None
        dot = board.view(*board.size).dot((jack.x_mm, jack.y_mm))
        await pilot.click("#map", offset=(int(dot[0]) // 2, int(dot[1]) // 4))
        await rest(pilot)
        assert app.chosen == "fit:J1"
        # "+ - Zoom  f Flip  ...": the second key turns the board over.
        keys = screen_text(pilot).splitlines()[-1]
        await pilot.click(KeyLine, offset=(keys.index("f Flip"), 0))
        await rest(pilot)
        assert "bottom side" in screen_text(pilot)


async def test_every_theme_has_our_colours() -> None:
    async with opened(5) as pilot:
        for name in BUILTIN_THEMES:
            pilot.app.theme = name
            assert {"band-0", "band-4", "copper", "quiet"} <= pilot.app.theme_variables.keys()
        for name in ("textual-light", "workbench-light", "workbench-dark"):
            pilot.app.theme = name
            await press(pilot, "1", "2")
            assert "Board" in flat(await press(pilot, "3"))
