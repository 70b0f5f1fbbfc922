"""A class: who is in it by key, marks as the verdict's, kept for the next time, written out."""

from __future__ import annotations

import csv
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot

from solderrisk.files import settings
from solderrisk.session import Session
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.setup import Inputs
from tests.ui.driving import SMALL, flat, press, rest, screen_text, type_text

SESSION = Session()


@pytest.fixture
def people(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with two builders, with settings turned on."""
    monkeypatch.delenv(settings.OFF)
    for name, level in (("ada", "regular"), ("ben [red]", "never")):
        (tmp_path / f"{name[:3]}.yaml").write_text(f"name: '{name}'\nlevel: {level}\n")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@asynccontextmanager
async def in_class(size: tuple[int, int] = SMALL) -> AsyncIterator[Pilot[int]]:
    app = SolderriskApp(Inputs("water-lamp", "decent", "hobbyist"), SESSION)
    app.recall()
    app._asks_who = False
    app.animation_level = "none"
    app.tells_faults = False
    async with app.run_test(size=size) as pilot:
        await rest(pilot)
        await press(pilot, "9")
        await rest(pilot)
        yield pilot


async def typed(pilot: Pilot[int], key: str, text: str) -> str:
    await press(pilot, key)
    await type_text(pilot, text)
    await press(pilot, "enter")
    await rest(pilot)
    return screen_text(pilot)


async def test_people_and_kits_are_added_marked_and_kept(people: Path) -> None:
    async with in_class() as pilot:
        assert "1 builder, 1 kit" in screen_text(pilot)
        text = await typed(pilot, "a", "ada.yaml; ben.yaml,bare")
        rows = {line.split()[0]: line for line in text.splitlines() if line.strip()}
        assert rows["ada"].split()[-2:] == ["decent", "✔"]
        assert "ben [red]" in rows["ben"]
        text = await typed(pilot, "k", "; river-recorder")
        assert "3 builders, 2 kits" in text
        (ben,) = (line for line in text.splitlines() if "ben [red]" in line)
        assert ben.split()[-1] == "–"
        await press(pilot, "down", "down")
        told = flat(screen_text(pilot))
        assert "2 – river-recorder: not with these tools" in told
        await press(pilot, "up", "up", "d")
        await rest(pilot)
        assert "2 builders, 2 kits" in screen_text(pilot)
    async with in_class() as pilot:
        text = screen_text(pilot)
        assert "2 builders, 2 kits" in text
        assert "ben [red]" in text
        await press(pilot, "d")
        await rest(pilot)
        assert "somebody has to stay" in await press(pilot, "d")


async def test_what_cannot_be_read_is_told_and_what_was_typed_stays(people: Path) -> None:
    async with in_class((40, 20)) as pilot:
        text = flat(await typed(pilot, "a", "cy.yaml"))
        assert "cy.yaml" in text
        assert "✖" in text
        await press(pilot, *["backspace"] * 7)
        await type_text(pilot, "ada.yaml")
        await press(pilot, "enter")
        await rest(pilot)
        assert "2 builders" in screen_text(pilot)
        assert "two kits are called" in flat(await typed(pilot, "k", "; water-lamp"))


async def test_the_list_and_the_rows_are_written(people: Path) -> None:
    async with in_class() as pilot:
        await press(pilot, "w", "enter")
        assert "✔ water-lamp" in (people / "class.txt").read_text()
        await press(pilot, "w", "ctrl+u")
        await type_text(pilot, "rows.csv")
        await press(pilot, "enter")
        (row,) = csv.DictReader((people / "rows.csv").open(newline=""))
        assert (row["person"], row["kit"], row["answer"]) == ("hobbyist", "water-lamp", "yes")
        # A file that is there stays.
        await press(pilot, "w", "enter")
        assert "class.txt" in screen_text(pilot)
        assert "✖" in screen_text(pilot)
