"""Pictures of the real program on the demo kit: ``python -m tests.ui.screenshots``.

Everything computed is deterministic, so the text of a picture changes only with the
program or its data.
"""

from __future__ import annotations

import asyncio
import html
import re
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from textual.pilot import Pilot
from textual.widgets import Input

from solderrisk.session import Session
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.setup import Inputs
from solderrisk.tui.sitting import Sitting

FOLDER = Path("screenshots")
SIZE = (120, 38)
SESSION = Session()
INPUTS = Inputs(kit="river-recorder", bench="well-equipped", builder="hobbyist")
PATIENCE_S = 120.0
# A walk through the program: each picture's name and the keys that lead on to it.
WALK = (
    ("verdict", ("1",)),
    ("placements", ("2", "h")),
    ("lands", ("l", "enter")),
    ("board", ("3",)),
    ("order", ("4", "down", "down", "tab")),
    ("what-if", ("5", "space")),
    ("practice", ("r", "6", "d")),
)
# At the bench of an easier kit, and a class before it: keys, then what is typed.
EASY = Inputs(kit="water-lamp", bench="decent", builder="hobbyist")
AT_BENCH = ("8", "space", "right", "right", "space", "space", "b")
CLASS = (("a", "newcomer,bare; bench-hand,well-equipped"), ("k", "; rain-counter"))
FONTS = "'DejaVu Sans Mono', Menlo, Consolas, monospace"


async def pictures() -> dict[str, str]:
    """SVG pictures by name."""
    made: dict[str, str] = {}
    async with opened(INPUTS) as (pilot, app):
        for name, keys in WALK:
            await press(pilot, app, *keys)
            # Not "trying" any more: the best order of a what-if is found as well.
            await rest(pilot, app)
            made[name] = picture(app)
    with TemporaryDirectory() as folder, patch.object(Sitting, "clock", lambda _: (754.0, False)):
        async with opened(replace(EASY, journal=str(Path(folder) / "journal"))) as (pilot, app):
            await press(pilot, app, *AT_BENCH)
            made["build"] = picture(app)
            await press(pilot, app, "escape")
    async with opened(EASY) as (pilot, app):
        await press(pilot, app, "9")
        for key, typed in CLASS:
            await press(pilot, app, key)
            app.screen.query_one(Input).insert_text_at_cursor(typed)
            await press(pilot, app, "enter")
        await press(pilot, app, "down")
        made["class"] = picture(app)
    return made


@asynccontextmanager
async def opened(inputs: Inputs) -> AsyncIterator[tuple[Pilot[int], SolderriskApp]]:
    app = SolderriskApp(inputs, SESSION)
    app.animation_level = "none"
    async with app.run_test(size=SIZE) as pilot:
        await rest(pilot, app)
        yield pilot, app


async def press(pilot: Pilot[int], app: SolderriskApp, *keys: str) -> None:
    for key in keys:
        await pilot.press(key)
        await rest(pilot, app)


def picture(app: SolderriskApp) -> str:
    return plain_svg(app.export_screenshot(title="solderrisk"))


async def rest(pilot: Pilot[int], app: SolderriskApp) -> None:
    """Wait until everything asked for is computed and drawn.

    Raises:
        RuntimeError: a problem of the files, or it takes far too long.
    """
    end = asyncio.get_running_loop().time() + PATIENCE_S
    await pilot.pause()
    while app.busy or app.settling or any(not worker.is_finished for worker in app.workers):
        if app.problem or asyncio.get_running_loop().time() > end:
            raise RuntimeError("; ".join(app.problem) or f"still {app.busy}")
        await asyncio.sleep(0.02)
        await pilot.pause()
    await pilot.pause()


def plain_svg(svg: str) -> str:
    """Without fonts from elsewhere: a picture loads nothing."""
    svg = re.sub(r"@font-face\s*\{.*?\}", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.DOTALL)
    svg = re.sub(r"font-family:\s*Fira Code,\s*monospace", f"font-family: {FONTS}", svg)
    return "\n".join(line.rstrip() for line in svg.splitlines() if line.strip()) + "\n"


def text_of(svg: str) -> list[str]:
    """The words of a picture, whatever its colours and ids."""
    found = re.findall(r"<text[^>]*>(.*?)</text>", svg, flags=re.DOTALL)
    words = (" ".join(html.unescape(part).split()) for part in found)
    return [word for word in words if word]


def same_picture(one: str, other: str) -> bool:
    """Whether two pictures say the same. Figures may differ by what another machine's
    arithmetic does to their last digits, bars and curves by a cell."""
    a, b = (" ".join(text_of(svg)).split() for svg in (one, other))
    words = [[word for word in text if any(c.isalpha() for c in word)] for text in (a, b)]
    figures = [[float(n) for n in re.findall(r"\d+(?:\.\d+)?", " ".join(t))] for t in (a, b)]
    return (
        words[0] == words[1]
        and len(figures[0]) == len(figures[1])
        and all(abs(x - y) <= 0.03 * max(x, y) + 0.02 for x, y in zip(*figures, strict=True))
    )


def main(folder: Path = FOLDER) -> int:
    folder.mkdir(exist_ok=True)
    for name, svg in asyncio.run(pictures()).items():
        (folder / f"{name}.svg").write_text(svg, encoding="utf-8")
        print(folder / f"{name}.svg")
    return 0


if __name__ == "__main__":
    sys.exit(main(*map(Path, sys.argv[1:2])))
