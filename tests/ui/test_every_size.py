"""Every place with an empty kit, one placement and 2,000; small, large and odd terminals."""

from __future__ import annotations

import time

import pytest

from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.places import PLACES
from tests.ui.driving import LARGE, PLACE_KEYS, SMALL, flat, opened, press, rest, screen_text
from tests.ui.sample import SampleSession


@pytest.mark.parametrize("count", [0, 1, 2000])
async def test_every_place_shows_something(count: int) -> None:
    async with opened(count) as pilot:
        for key in PLACE_KEYS:
            text = await press(pilot, key)
            lines = [line for line in text.splitlines() if line.strip()]
            assert len(lines) > 5, f"place {key} is empty:\n{text}"
            assert max(map(len, text.splitlines())) <= SMALL[0]


async def test_an_empty_kit_says_what_to_do_next() -> None:
    async with opened(0) as pilot:
        for key, words in (("2", "no parts to fit"), ("3", "positions"), ("4", "put in order")):
            text = flat(await press(pilot, key))
            assert words in text
            assert "Press o to open" in text


async def test_no_colour_needs_no_style_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with opened(40, LARGE) as pilot:
        assert pilot.app.no_color
        marked = await press(pilot, "1")
        for keys in ((*PLACE_KEYS,), ("2", "h"), ("l",), ("f",), ("w",), ("3", "plus", "plus")):
            for key in keys:
                await press(pilot, key)
        colours = {
            segment.style.color.triplet
            for strip in pilot.app.screen._compositor.render_strips()
            for segment in strip
            if segment.style and segment.style.color and segment.style.color.triplet
        }
    # Marks say in words and shapes what colours would.
    assert "●" in marked
    assert all(c.red == c.green == c.blue for c in colours)


async def test_resizing_keeps_the_place_and_the_job() -> None:
    async with opened(40, LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        await press(pilot, "2", "down", "down")
        chosen = app.chosen
        for size in ((40, 10), (20, 5), SMALL, (200, 60), LARGE):
            await pilot.resize_terminal(*size)
            await rest(pilot)
        await press(pilot, "3", "4", "2")
        assert app.chosen == chosen
        assert "Placements" in screen_text(pilot)


async def test_a_storm_of_keys_ends_in_order() -> None:
    """Faster than anybody types; the newest set-up wins and nothing is left computing."""
    session = SampleSession(40)
    async with opened(session=session) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        places = (*"123456723", "down", "up", "right", "tab", "h", "l", "f", "c", "w", "enter")
        dials = ("5", *["down"] * 6, *["space"] * 9, *["right"] * 5, "slash", "s", "enter")
        for key in (*places, *dials) * 6:
            app.simulate_key(key)
        await rest(pilot)
        assert app.shown is not None
        assert app.tried is not None
        assert app.shown.assessment.bench == app.tried.bench
        assert app.shown.assessment.builder == app.tried.builder
        await press(pilot, "r")


async def test_two_thousand_placements_stay_quick() -> None:
    async with opened(2000) as pilot:
        await press(pilot, "2")
        for keys, limit_s in ((("s",), 1.0), (("slash", *"r17", "enter"), 2.5), (("3",), 2.0)):
            start = time.process_time()
            await press(pilot, *keys)
            assert time.process_time() - start < limit_s, keys


@pytest.mark.parametrize("columns", [40, 60, 80])
async def test_every_place_is_named_by_its_key_at_any_width(columns: int) -> None:
    async with opened(5, (columns, 20)) as pilot:
        for place in PLACES:
            line = (await press(pilot, place.key)).splitlines()[1]
            assert f"[{place.key} {place.label}]" in line
            assert all(other.key in line for other in PLACES)
