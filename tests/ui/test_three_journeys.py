"""Three journeys from the first file to the answer at 80x24, and how many keys each takes."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot

from solderrisk.files.loading import load_kit, load_library
from solderrisk.session import Session
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.setup import Inputs
from tests.ui.driving import SMALL, becomes, flat, press, rest, screen_text, type_text

SESSION = Session()
# An invented bill of forty parts without a package column.
FORTY = """Reference,Value,Description
R1-R10,10k,chip resistor 0805
R11-R14,4k7,chip resistor 0805
C1-C8,100n,ceramic capacitor 0805 50V
C9,470u,electrolytic capacitor radial 10 mm
C10,100u,electrolytic capacitor radial 6.3 mm
D1-D3,LED green,LED 3 mm
D4,,small signal diode DO-35
Q1-Q2,,transistor TO-92
U1,,microcontroller 44 pin TQFP 0.8 mm
U2,,op-amp SOIC-8
U3,,regulator TO-220
Y1,16 MHz,crystal HC-49
J1,,barrel jack
J2,,pin header 1x6 2.54
SW1-SW2,,tactile switch 6x6
RV1,10k,trimmer
L1,100u,choke axial
"""


class Keys:
    """Counts what a person presses; what is typed counts by its letters."""

    def __init__(self, pilot: Pilot[int]) -> None:
        self.pilot, self.count = pilot, 0

    async def press(self, *keys: str) -> str:
        self.count += len(keys)
        return await press(self.pilot, *keys)

    async def type(self, text: str) -> None:
        self.count += len(text)
        await type_text(self.pilot, text)
        await rest(self.pilot)


@asynccontextmanager
async def at_start(kit: str) -> AsyncIterator[Keys]:
    app = SolderriskApp(Inputs(kit, "decent", "hobbyist"), SESSION)
    app.animation_level = "none"
    app.tells_faults = False
    async with app.run_test(size=SMALL) as pilot:
        await rest(pilot)
        yield Keys(pilot)


@pytest.fixture
def bill(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("forty.csv").write_text(FORTY, encoding="utf-8")
    return "forty.csv"


async def test_buy_from_a_bill_of_forty_parts(bill: str) -> None:
    """Read, written as a kit, judged; then what to buy or practise first."""
    async with at_start(bill) as keys:
        assert "40 references: ? 0 unknown" in flat(screen_text(keys.pilot))
        await keys.press("w", "enter")
        text = flat(await becomes(keys.pilot, lambda seen: "IF IT FAILS" in seen))
        assert "builds would work; you asked for 75" in text
        assert "price of 40 parts not known" in text
        assert keys.count == 2
        await keys.press("5")
        text = await becomes(keys.pilot, lambda seen: "EUR" in seen)
        assert "practise" in text
        assert keys.count == 3


async def test_rebuild_with_a_donor(bill: str) -> None:
    """Two parts come off a dead board; the plan lifts them first and says how."""
    async with at_start(bill) as keys:
        await keys.press("d")
        await keys.type("u1,y1")
        await keys.press("enter", "w", "enter")
        await becomes(keys.pilot, lambda seen: "IF IT FAILS" in seen)
        text = flat(await keys.press("4"))
        assert "Lift" in text
        assert keys.count == 10
    kit = load_kit("forty.kit.yaml", load_library())
    assert sorted(p.refs for p in kit.placements if p.donor) == ["U1", "Y1"]


async def test_a_trainers_sheet(bill: str) -> None:
    """From a demo kit to a page with ladder, statement, work sheet and cards."""
    async with at_start("water-lamp") as keys:
        text = await keys.press("6")
        assert "Practice ladder" in text
        await keys.press("w", "enter")
        await becomes(keys.pilot, lambda _: Path("water-lamp-report.html").exists())
        assert keys.count == 3
    page = Path("water-lamp-report.html").read_text(encoding="utf-8")
    for words in ("Practice", "joints with no fault", "Difficulty"):
        assert words in page
