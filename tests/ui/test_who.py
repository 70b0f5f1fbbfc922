"""One's own bench and builder are asked once, and the next run goes on where the last ended."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.files import settings
from solderrisk.files.loading import load_bench, load_builder
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.screens.help import WhoScreen
from solderrisk.tui.setup import Inputs
from tests.ui.driving import SMALL, press, rest, screen_text


@pytest.fixture
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "own")
    monkeypatch.delenv(settings.OFF, raising=False)
    return tmp_path / "own"


async def test_the_first_start_asks_and_keeps(own_folder: Path) -> None:
    app = SolderriskApp(Inputs())
    app.recall()
    app.inputs = Inputs("water-lamp")  # the quickest to work out
    app.tells_faults = False
    async with app.run_test(size=SMALL) as pilot:
        await rest(pilot)
        assert isinstance(app.screen, WhoScreen)
        await press(pilot, "right", "right")
        skills = len(app.loaded.reference.risk.levels.skills) if app.loaded else 0
        # What is meant stands below, as a picture with plain words.
        assert "A lead through a hole" in screen_text(pilot)
        # From the first skill down to the two lines after the lens.
        await press(pilot, *["down"] * (skills + 1), "space", "down", "right", "w")
        assert load_builder(own_folder / "builder.yaml").guided
        assert load_builder(own_folder / "builder.yaml").currency == "USD"
        assert load_builder(own_folder / "builder.yaml").level == "several"
        assert [iron.power_w for iron in load_bench(own_folder / "bench.yaml").irons] == [25]
        assert "mine, mine" in screen_text(pilot)
        # What was said before stands there when it is asked again.
        await press(pilot, "y")
        who = app.screen
        assert isinstance(who, WhoScreen)
        assert (next(iter(who.levels.values())), who.guided, who.currency) == (2, True, 1)
        await press(pilot, *["down"] * (skills + 4), "space", "w")
        bench = load_bench(own_folder / "bench.yaml")
        await press(pilot, "y")
        assert isinstance(app.screen, WhoScreen)
        assert app.screen.ticked
        await press(pilot, "w")
        assert load_bench(own_folder / "bench.yaml") == bench


async def test_the_next_run_goes_on_and_asks_no_more(own_folder: Path) -> None:
    settings.remember({"kit": "water-lamp", "place": "practice", "theme": "workbench-light"})
    app = SolderriskApp(Inputs("water-lamp"))
    app.recall()
    app.tells_faults = False
    async with app.run_test(size=SMALL) as pilot:
        await rest(pilot)
        assert not isinstance(app.screen, WhoScreen)
        assert app.current_mode == "practice"
        assert app.theme == "workbench-light"
        await press(pilot, "2", "s", "q")
    kept = settings.remembered()
    assert (kept["place"], kept["sort"]) == ("placements", "reference")
    assert kept["theme"] == "workbench-light"


async def test_nothing_is_kept_where_settings_are_off(
    own_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(settings.OFF, "1")
    app = SolderriskApp(Inputs("water-lamp", "bare", "newcomer"))
    app.recall()
    app.tells_faults = False
    async with app.run_test(size=SMALL) as pilot:
        await rest(pilot)
        assert not isinstance(app.screen, WhoScreen)
        await press(pilot, "q")
    assert not own_folder.exists()
