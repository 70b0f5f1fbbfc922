"""Nothing typed is lost unasked, and files saved elsewhere are read anew."""

from __future__ import annotations

from pathlib import Path

from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.faults import AskFirst
from solderrisk.tui.screens.file_dialogs import SaveSetup
from solderrisk.tui.setup import Inputs
from tests.ui.driving import LARGE, SMALL, flat, opened, press, rest, screen_text, type_text

KIT = """\
name: small
title: {title}
boards: [{{name: main}}]
placements: [{{refs: R1-R3, footprint: CHIP-0805, board: main}}]
"""


async def test_leaving_asks_about_what_is_tried() -> None:
    async with opened(5) as pilot:
        app = pilot.app
        await press(pilot, "5", "h", "down", "right", "q")
        assert isinstance(app.screen, AskFirst)
        assert "what you try: not saved yet" in flat(screen_text(pilot))
        await press(pilot, "escape")
        assert app.is_running
        await press(pilot, "q", "s")
        assert isinstance(app.screen, SaveSetup)
        await press(pilot, "escape", "q", "l")
        assert not app.is_running


async def test_leaving_without_changes_asks_nothing() -> None:
    async with opened(5) as pilot:
        await press(pilot, "q")
        assert not pilot.app.is_running


async def test_answers_to_a_draft_are_asked_about(tmp_path: Path) -> None:
    bill = tmp_path / "bill.csv"
    bill.write_text("Reference,Value,Footprint\nU7,mystery,\nU8,riddle,\n", encoding="utf-8")
    app = SolderriskApp(Inputs(str(bill)))
    app.tells_faults = False
    async with app.run_test(size=LARGE) as pilot:
        await rest(pilot)
        draft = app.screen
        await press(pilot, "t")
        await type_text(pilot, "SOIC-8")
        await press(pilot, "escape")
        assert app.screen is draft
        assert not draft.query_one("#own").has_focus
        await press(pilot, "t")
        await type_text(pilot, "SOIC-8")
        await press(pilot, "enter", "escape")
        assert isinstance(app.screen, AskFirst)
        assert "the kit of this draft (1 answer): not saved yet" in flat(screen_text(pilot))
        await press(pilot, "escape")
        assert app.screen is draft
        await press(pilot, "escape", "l")
        assert app.screen is not draft


async def test_a_file_saved_elsewhere_is_read_anew(tmp_path: Path) -> None:
    kit = tmp_path / "kit.yaml"
    kit.write_text(KIT.format(title="before"), encoding="utf-8")
    app = SolderriskApp(Inputs(str(kit), "bare", "newcomer"))
    app.tells_faults = False
    async with app.run_test(size=SMALL) as pilot:
        await rest(pilot)
        await press(pilot, "2")
        kit.write_text(KIT.format(title="after"), encoding="utf-8")
        _look(app)
        await rest(pilot)
        assert app.loaded is not None
        assert app.loaded.kit.title == "after"
        assert app.current_mode == "placements"
        kit.write_text("name: half\nplacements: []\n", encoding="utf-8")
        _look(app)
        await rest(pilot)
        # The last good one stays, with what is wrong above it.
        assert app.loaded.kit.title == "after"
        assert app.shown is not None
        assert "boards: is missing" in flat(screen_text(pilot))
        kit.write_text(KIT.format(title="mended"), encoding="utf-8")
        _look(app)
        await rest(pilot)
        assert not app.problem
        assert app.loaded.kit.title == "mended"


def _look(app: SolderriskApp) -> None:
    """As the timer does, whatever the file system's clock has noticed."""
    app._stamps = ()
    app._watch_files()
