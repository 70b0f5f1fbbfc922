"""Every place at the sizes people have, compared as text.

SOLDERRISK_SNAPSHOTS=update writes the files anew; look at the difference before it is kept.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.ui.driving import LARGE, SMALL, becomes, opened, press

FOLDER = Path(__file__).with_name("snapshots")
# One walk through the program: each screen's name and the keys that lead on to it.
WALK = (
    ("verdict", ("1",)),
    ("placements-card", ("2",)),
    ("placements-heat", ("h",)),
    ("placements-lands", ("down", "l")),
    ("placements-faults", ("f", "enter")),
    ("placements-ways", ("w",)),
    ("placements-found", ("escape", "c", "slash", "j", "1", "enter")),
    ("board", ("3",)),
    ("board-next-part", ("right", "plus")),
    ("order", ("4",)),
    ("order-second-stage", ("down",)),
    ("what-if", ("5",)),
    ("what-if-tried", ("h", "down", "down", "left")),
    ("practice", ("r", "6")),
    ("safety", ("7", "space")),
    ("help", ("question_mark",)),
)


async def compare(name: str, pilot: Pilot[int]) -> None:
    path = FOLDER / f"{name}.txt"
    if os.environ.get("SOLDERRISK_SNAPSHOTS") == "update":
        text = await becomes(pilot, lambda _: False, looks=20)
        path.write_text(text + "\n", encoding="utf-8")
    assert path.exists(), f"no snapshot {path.name}; see the head of this module"
    kept = path.read_text(encoding="utf-8")
    assert await becomes(pilot, lambda text: text + "\n" == kept) + "\n" == kept


@pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
async def test_screens_look_as_kept(size: tuple[int, int]) -> None:
    wrong = []
    async with opened(40, size) as pilot:
        for name, keys in WALK:
            await press(pilot, *keys)
            try:
                await compare(f"{name}-{size[0]}x{size[1]}", pilot)
            except AssertionError as difference:
                wrong.append(f"{name}: {difference}")
    assert not wrong, "\n".join(wrong)
