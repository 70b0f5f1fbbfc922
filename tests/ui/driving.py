"""Driving the program in tests: open it, wait until it rests, read the screen as text."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from textual import events
from textual.pilot import Pilot
from textual.widgets import DirectoryTree
from textual.worker import Worker

from solderrisk.session import Session
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.setup import Inputs
from solderrisk.tui.setup import opened as opened_files
from tests.ui.sample import SampleSession

SMALL, LARGE = (80, 24), (120, 40)
PLACE_KEYS = "1234567"
QUIET_ROUNDS = 2


@asynccontextmanager
async def opened(
    count: int = 40,
    size: tuple[int, int] = SMALL,
    *,
    session: Session | None = None,
    inputs: Inputs | None = None,
) -> AsyncIterator[Pilot[int]]:
    """The program on a sample kit of ``count`` placements, at rest."""
    session = session or SampleSession(count)
    read = session.read if isinstance(session, SampleSession) else opened_files
    app = SolderriskApp(inputs, session, read)
    app.animation_level = "none"
    app.tells_faults = False
    async with app.run_test(size=size) as pilot:
        await rest(pilot)
        yield pilot


async def rest(pilot: Pilot[int], limit_s: float = 20.0) -> None:
    """Wait until no worker runs and no message waits, so much processor time at most."""
    app = pilot.app
    assert isinstance(app, SolderriskApp)
    end = time.process_time() + limit_s
    quiet = 0
    while quiet < QUIET_ROUNDS:
        await settle(pilot)
        if works(app):
            quiet = 0
            assert time.process_time() < end, f"still busy: {app.busy}"
            await asyncio.sleep(0.002)
        else:
            quiet += 1
            # An idle processor: nothing waits that would ask for more work.
            await pilot.pause()


def works(app: SolderriskApp) -> bool:
    return bool(app.busy) or any(is_ours(w) and not w.is_finished for w in app.workers)


async def settle(pilot: Pilot[int]) -> None:
    """Let every widget take what waits for it, and lay out anew. The pilot's own pause
    waits for an idle processor, which takes long on a busy machine."""
    await pilot._wait_for_screen()
    await asyncio.sleep(0.001)
    pilot.app.screen._on_timer_update()


def is_ours(worker: Worker[object]) -> bool:
    """A file tree's own worker never ends."""
    return not isinstance(worker.node, DirectoryTree)


async def press(pilot: Pilot[int], *keys: str) -> str:
    """Press keys, wait until the program rests, give the screen."""
    for key in keys:
        pilot.app.simulate_key(key)
        await settle(pilot)
        await settle(pilot)
    await rest(pilot)
    return screen_text(pilot)


async def becomes(pilot: Pilot[int], done: Callable[[str], bool], looks: int = 100) -> str:
    """The screen once ``done`` says so, or as it is after so many looks: answers worked out
    aside come when they come on a busy machine."""
    text = screen_text(pilot)
    for _ in range(looks):
        if done(text):
            break
        await asyncio.sleep(0.05)
        await rest(pilot)
        text = screen_text(pilot)
    return text


async def type_text(pilot: Pilot[int], text: str) -> None:
    """Type into the field that has the focus, much faster than a person."""
    for character in text:
        pilot.app.post_message(events.Key(_key_name(character), character))
    await settle(pilot)


def _key_name(character: str) -> str:
    names = {".": "full_stop", "/": "slash", "-": "minus", "_": "underscore", " ": "space"}
    return names.get(character, character)


def screen_text(pilot: Pilot[int]) -> str:
    """The screen as lines of text."""
    strips = pilot.app.screen._compositor.render_strips()
    return "\n".join("".join(s.text for s in strip).rstrip() for strip in strips)


def flat(text: str) -> str:
    """The screen in one line without borders, for sentences that are wrapped. With panes
    side by side, look for what stands in one line of a pane."""
    return " ".join(text.replace("│", " ").split())
