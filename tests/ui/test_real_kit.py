"""The program as it is, on the demo kit: nothing stands in for the layers below."""

from __future__ import annotations

from pathlib import Path

import pytest

from solderrisk.files.loading import load_kit, open_inputs
from solderrisk.report.order import title
from solderrisk.session import Session
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.screens.order import if_wrong
from solderrisk.tui.setup import Inputs
from solderrisk.words import percent
from tests.ui.driving import LARGE, PLACE_KEYS, flat, opened, press, rest, type_text
from tests.ui.screenshots import pictures, same_picture

SCREENSHOTS = Path(__file__).resolve().parents[2] / "screenshots"


async def test_the_screens_show_what_assess_says() -> None:
    found = open_inputs("water-lamp", "bare", "newcomer")
    known = Session().assess(found)
    inputs = Inputs("water-lamp", "bare", "newcomer")
    async with opened(session=Session(), inputs=inputs, size=LARGE) as pilot:
        text = flat(await press(pilot, "1"))
        assert percent(known.verdict.chance.mid) in text
        for key in PLACE_KEYS:
            assert "Traceback" not in await press(pilot, key)
        for key in "hlfwc":
            await press(pilot, "2", key)
        assert title(known.order.stages[0])[:12] in flat(await press(pilot, "4"))
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        before = app.shown
        assert before is not None
        soldered = next(key for key in known.order.keys if key in known.risk.by_key)
        told = if_wrong(before, soldered).plain
        worst = max(known.risk.by_key[soldered].chosen.modes, key=lambda mode: mode.total.mid)
        card = known.rescue(soldered, worst.mode)
        assert card is not None
        assert card.way in told
        assert 1 <= told.count("stop:") <= 3
        moved = await press(pilot, "5", "h", "down", "right")
        assert "Differs from your files" in moved
        assert app.shown is not before


async def test_a_file_that_is_wrong_is_told_in_lines(tmp_path: Path) -> None:
    wrong = tmp_path / "kit.yaml"
    wrong.write_text(
        "name: x\nboards:\n- {name: main}\nplacements:\n- {refs: R1, footprint: ZZ9}\n"
    )
    async with opened(session=Session(), inputs=Inputs(wrong)) as pilot:
        text = flat(await press(pilot, "1"))
        assert "This does not work yet" in text
        assert "placements[0]" in text
        # And the way out: open another one.
        await press(pilot, "o", "ctrl+u")
        await type_text(pilot, "water-lamp")
        await press(pilot, "enter")
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        assert not app.problem
        assert app.shown is not None


async def test_a_source_becomes_a_kit_by_keyboard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    source = tmp_path / "parts.csv"
    source.write_text(
        'Designator,Value,Package,Quantity\nR1,10k,0603,1\n"R2,R3",1k,R_0805_2012Metric,2\n'
        "U1,MCU,WEIRD-99,1\nJ1,conn,,1\n"
    )
    async with opened(session=Session(), inputs=Inputs("water-lamp")) as pilot:
        await press(pilot, "o", "ctrl+u")
        await type_text(pilot, str(source))
        report = flat(await press(pilot, "enter"))
        assert "2 unknown" in report
        assert "3 open questions" in report
        assert "R1" in flat(await press(pilot, "enter"))
        # The second question: type a package that the choices do not have.
        await press(pilot, "t")
        await type_text(pilot, "nonsense")
        assert "no package of this name is known" in flat(await press(pilot, "enter"))
        await press(pilot, "t")
        await type_text(pilot, "SOIC-8")
        assert "1 open question" in flat(await press(pilot, "enter"))
        lines = flat(await press(pilot, "r"))
        assert "your answer: SOIC-8" in lines
        await press(pilot, "r", "w", "ctrl+u")
        await type_text(pilot, "made.yaml")
        await press(pilot, "enter")
        await rest(pilot)
        library = open_inputs("water-lamp", "bare", "newcomer").library
        kit = load_kit(tmp_path / "made.yaml", library)
        assert {p.refs for p in kit.placements} >= {"R1", "U1"}
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        assert app.loaded is not None
        assert app.loaded.kit == kit


async def test_a_source_can_be_opened_at_once(tmp_path: Path) -> None:
    source = tmp_path / "parts.csv"
    source.write_text("Designator,Value,Package\nR1,10k,R_0805_2012Metric\n")
    async with opened(session=Session(), inputs=Inputs(source)) as pilot:
        text = flat(await press(pilot, "f1"))
        assert "1 recognised" in text
        assert "no open question" in text
        assert "No kit is open" in flat(await press(pilot, "escape"))
        missing = Inputs(tmp_path / "none.csv")
    async with opened(session=Session(), inputs=missing) as pilot:
        assert "This could not be read" in flat(await press(pilot, "f1"))


async def test_the_statement_is_published_as_a_page(tmp_path: Path) -> None:
    inputs = Inputs("rain-counter", "decent", "hobbyist")
    async with opened(session=Session(), inputs=inputs, size=LARGE) as pilot:
        await press(pilot, "6", "w", "ctrl+u")
        await type_text(pilot, str(tmp_path / "page.pdf"))
        assert "has to end in one of" in flat(await press(pilot, "enter"))
        await press(pilot, "ctrl+u")
        await type_text(pilot, str(tmp_path / "page.html"))
        await press(pilot, "enter")
        page = (tmp_path / "page.html").read_text(encoding="utf-8")
        assert "Difficulty statement" in page
        assert "well-equipped" in page
        # Never over a file that is there.
        await press(pilot, "w", "ctrl+u")
        await type_text(pilot, str(tmp_path / "page.html"))
        assert "exists already" in flat(await press(pilot, "enter"))


def test_a_stale_picture_is_told() -> None:
    picture = "<svg><text x='1'>works 53 % (25..76)</text><text>U1</text></svg>"
    assert same_picture(picture, picture.replace("x='1'", "x='2'").replace("76", "77"))
    assert not same_picture(picture, picture.replace("53", "63"))
    assert not same_picture(picture, picture.replace("U1", "U2"))
    assert not same_picture(picture, picture.replace("works", "fails"))


async def test_screenshots_are_those_of_this_program() -> None:
    """``python -m tests.ui.screenshots`` makes them anew."""
    made = await pictures()
    stale = []
    for name, svg in made.items():
        path = SCREENSHOTS / f"{name}.svg"
        if not path.exists() or not same_picture(path.read_text(encoding="utf-8"), svg):
            stale.append(name)
    assert not stale, "run: python -m tests.ui.screenshots"
    assert {path.stem for path in SCREENSHOTS.glob("*.svg")} == set(made)
