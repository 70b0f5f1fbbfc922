"""No key ends the program, whatever it is doing and however fast the keys come."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.binding import Binding
from textual.pilot import Pilot
from textual.widgets import Input

from solderrisk.model.question import Question
from solderrisk.plan.results import Assessment
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.faults import FaultScreen
from solderrisk.tui.places import PLACES, place_maker
from solderrisk.tui.setup import Inputs
from tests.ui.driving import SMALL, flat, opened, press, rest, screen_text, settle, type_text
from tests.ui.sample import SampleSession

ELSEWHERE = {"q", "ctrl+c", "ctrl+q"}  # these leave on purpose


def keys_of_all_places() -> Iterator[tuple[str, str]]:
    """Every place's number with every key that is bound there; the program's own once."""
    for number, place in enumerate(PLACES):
        own = SolderriskApp.BINDINGS if number == 0 else []
        bound = [*type(place_maker(place)()).BINDINGS, *own]
        for binding in bound:
            assert isinstance(binding, Binding)
            for key in binding.key.split(","):
                if key not in ELSEWHERE:
                    yield place.key, key


PAIRS = sorted(set(keys_of_all_places()))


class Slow(SampleSession):
    """Never gets there."""

    def __init__(self, what: str) -> None:
        super().__init__(3)
        self.what = what
        self.end = False

    def wait(self) -> None:
        import time

        while not self.end:
            time.sleep(0.002)

    def read(self, inputs: Inputs) -> Question:
        if self.what == "opening":
            self.wait()
        if self.what == "failed":
            raise OSError("no such file")
        return super().read(inputs)

    def assess(self, *args: Any, **more: Any) -> Assessment:
        if self.what == "computing":
            self.wait()
        return super().assess(*args, **more)


@pytest.mark.parametrize("state", ["opening", "computing", "failed"])
async def test_every_key_of_every_place_before_there_is_a_kit(state: str) -> None:
    session = Slow(state)
    app = SolderriskApp(session=session, read=session.read)
    app.tells_faults = False
    async with app.run_test(size=SMALL) as pilot:
        for place, key in PAIRS:
            app.simulate_key(place)
            app.simulate_key(key)
            await settle(pilot)
            await _close_all(pilot)
        assert app.is_running
        session.end = True
        await rest(pilot)


@pytest.mark.parametrize("count", [1, 12])
async def test_every_key_of_every_place_with_a_kit(count: int) -> None:
    async with opened(count) as pilot:
        for place, key in PAIRS:
            for pressed in (place, key):
                pilot.app.simulate_key(pressed)
                await settle(pilot)
            await _close_all(pilot)
        await rest(pilot)
        assert pilot.app.is_running


async def _close_all(pilot: Pilot[int]) -> None:
    for _ in range(5):
        if len(pilot.app.screen_stack) == 1:
            return
        pilot.app.simulate_key("escape")
        await settle(pilot)


async def test_words_typed_ahead_reach_the_search_line() -> None:
    async with opened() as pilot:
        await press(pilot, "2")
        for character in "/hot air":
            name = {"/": "slash", " ": "space"}.get(character, character)
            pilot.app.post_message(events.Key(name, character))
        await rest(pilot)
        assert pilot.app.screen.query_one("#find", Input).value == "hot air"


async def test_pasted_text_follows_the_key_before_it() -> None:
    async with opened() as pilot:
        await press(pilot, "2")
        pilot.app.post_message(events.Key("slash", "/"))
        pilot.app.post_message(events.Paste("hot air"))
        await rest(pilot)
        assert pilot.app.screen.query_one("#find", Input).value == "hot air"


async def test_a_fault_inside_a_screen_is_told_and_the_program_goes_on() -> None:
    async with opened() as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        app.tells_faults = True

        def fails() -> None:
            raise RuntimeError("made for this test")

        app.screen.call_later(fails)
        await rest(pilot)
        assert isinstance(app.screen, FaultScreen)
        told = flat(screen_text(pilot))
        assert "RuntimeError: made for this test at test_any_key.py" in told
        await press(pilot, "enter")
        assert "SOIC" in await press(pilot, "2") or "R1" in screen_text(pilot)
        assert app.is_running


async def test_a_burst_of_keys_while_it_opens(tmp_path: Path) -> None:
    session = SampleSession(20)
    app = SolderriskApp(session=session, read=session.read)
    app.tells_faults = False
    async with app.run_test(size=SMALL) as pilot:
        for key in (
            "2",
            "h",
            "3",
            "plus",
            "5",
            "space",
            "4",
            "d",
            "6",
            "w",
            "escape",
            "2",
            "enter",
        ):
            app.simulate_key(key)
        await asyncio.sleep(0)
        await rest(pilot)
        await type_text(pilot, "x")
        assert app.is_running
