"""What must be read before the work, where that is kept, and leaving at any moment."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from solderrisk.files.loading import load_builder
from solderrisk.tui.app import SolderriskApp
from tests.ui.driving import LARGE, SMALL, flat, opened, press, rest, screen_text, type_text
from tests.ui.sample import SampleSession

LEAVING = """
import time
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.app import run_to_the_end
def read(inputs):
    time.sleep(3600)
class Left(SolderriskApp):
    def on_ready(self):
        self.set_timer(0.3, lambda: self.simulate_key({key!r}))
run_to_the_end(Left(read=read))
raise SystemExit(5)
"""


async def test_what_is_read_is_kept_in_a_new_builder_file(tmp_path: Path) -> None:
    async with opened(size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        assert "read first under 7 Safety: Lead in the solder" in flat(await press(pilot, "2"))
        assert "0 of 1 that must be read are read" in flat(await press(pilot, "7"))
        told = flat(await press(pilot, "space"))
        assert "1 of 1 that must be read are read" in told
        assert "read first" not in flat(await press(pilot, "2"))
        await press(pilot, "7")
        dialog = flat(await press(pilot, "w"))
        assert "The builder file keeps which safety notes you have read." in dialog
        assert "Ana-tried.yaml" in dialog
        path = tmp_path / "read-by_ana.yaml"
        await press(pilot, "tab", "ctrl+u")
        await type_text(pilot, str(path))
        await press(pilot, "enter")
        assert load_builder(path).acknowledged == ("lead",)


async def test_assumed_numbers_are_told_when_nothing_can_be_saved() -> None:
    async with opened(size=LARGE) as pilot:
        await press(pilot, "5", "g", "right")
        assert "--assume bridge_rate=0.012" in flat(await press(pilot, "w"))


async def test_what_is_typed_goes_into_the_field_and_nowhere_else() -> None:
    """Keys of the places below a dialog do not eat characters of a path."""
    typed = "/tmp/a-b_c+d.e/1 2,3=4?q.yaml"
    for keys in (("5", "w"), ("1", "w"), ("o",)):
        async with opened(5, LARGE) as pilot:
            await press(pilot, *keys, "ctrl+u")
            await type_text(pilot, typed)
            await rest(pilot)
            assert typed in screen_text(pilot)


@pytest.mark.parametrize("size", [SMALL, (60, 20), LARGE])
async def test_the_head_line_fits(size: tuple[int, int]) -> None:
    async with opened(5, size) as pilot:
        line = screen_text(pilot).splitlines()[0]
        assert "…" not in line
        assert "decent" in line
        assert "Ana" in line
        await press(pilot, "5", "h", "down", "right")
        line = screen_text(pilot).splitlines()[0]
        assert "decent" in line
        assert "decent*" not in line
        assert "Ana*" in line


@pytest.mark.parametrize("key", ["q", "ctrl+c"])
def test_leaving_waits_for_no_computation(key: str) -> None:
    driver = "textual.drivers.headless_driver:HeadlessDriver"
    done = subprocess.run(
        [sys.executable, "-c", LEAVING.format(key=key)],
        env={**os.environ, "TEXTUAL_DRIVER": driver},
        timeout=300,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr


async def test_leaving_while_screens_are_being_built_is_no_fault() -> None:
    for pressed in range(1, 7):
        session = SampleSession(40)
        app = SolderriskApp(session=session, read=session.read)
        async with app.run_test(size=(40, 10)) as pilot:
            await rest(pilot)
            for key in "234567"[:pressed]:
                app.simulate_key(key)
            app.simulate_key("ctrl+c")
            await pilot.pause(0.05)
        assert not app.return_code
