"""What people come for, by keyboard alone: decide, plan, train, publish a statement."""

from __future__ import annotations

from pathlib import Path

from solderrisk.files.loading import load_bench, load_builder
from solderrisk.tui.app import SolderriskApp
from tests.ui.driving import LARGE, becomes, flat, opened, press, type_text
from tests.ui.sample import SampleSession


async def test_decide_whether_to_buy_the_kit() -> None:
    """Is it for me, what carries the risk, what would make it one for me?"""
    async with opened() as pilot:
        text = flat(await press(pilot, "1"))
        assert "66 in 100 such builds would work; you asked for 70" in text
        # What would change it is in sight at once, what to know a page below.
        text = flat(await becomes(pilot, lambda seen: "finer tip" in seen))
        assert "finer tip, 0.8 mm 9 EUR 66 -> 70" in text
        assert "IF IT FAILS" in text
        assert "the wires W1 have to be stripped" in flat(await press(pilot, "end"))
        assert "66 in 100" in flat(await press(pilot, "home"))
        detail = flat(await press(pilot, "enter"))
        assert "lift U1" in detail
        assert "hot-air lift" in detail
        faults = flat(await press(pilot, "f", "enter"))
        assert "bridge between leads" in faults
        assert "per joint: 0.2 mm gap, drag with gel flux, steady hand" in faults
        await press(pilot, "escape", "1")
        await pilot.resize_terminal(*LARGE)
        assert "finer tip" in flat(await press(pilot, "1"))


async def test_plan_the_work() -> None:
    """What first, with what, why, and where on the board."""
    async with opened() as pilot:
        order = flat(await press(pilot, "4"))
        assert "1 Lift U1 from old" in order
        assert "prepare: main, top side up" in order
        assert "before fit U1: a part is lifted before it" in order
        second = flat(await press(pilot, "down"))
        assert "then gate rails: Rails at 3.3 V" in flat(await press(pilot, "tab", "pagedown"))
        assert "2. Fit U1, J1" in second
        board = flat(await press(pilot, "m"))
        assert "[3 Board]" in board
        assert "stage 2: Fit U1, J1" in board
        reached = flat(await press(pilot, "2", "slash", *"lift", "enter", "m"))
        assert "melts within 14 mm" in reached


async def test_change_the_order_by_hand() -> None:
    """A job is moved as far as the rules allow, locked, and the rest planned round it."""
    async with opened(size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        computed = app.shown.assessment.order if app.shown else None
        await press(pilot, "4", "down", "tab", "shift+down")
        assert app.shown is not None
        assert app.shown.assessment.order.keys[:3] == ("lift:U1", "fit:J1", "fit:U1")
        assert "by hand" in await press(pilot, "4")
        assert "U1 ‡" in await press(pilot, "x")
        assert "not proved optimal" in await press(pilot, "p")
        assert "is locked in its place; x unlocks it" in flat(await press(pilot, "shift+up"))
        assert "is locked" not in flat(await press(pilot, "x"))
        # What a rule forbids is refused with its reason.
        await press(pilot, "shift+up", "shift+up")
        refused = flat(await press(pilot, "shift+up"))
        assert "has to come first" in refused
        await press(pilot, "r")
        assert app.shown.assessment.order == computed
        assert not app.locked


async def test_train_with_pass_marks() -> None:
    """What would practice bring, and what to practise first."""
    async with opened(size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        before = app.shown.assessment.verdict.chance.mid if app.shown else 1.0
        text = flat(await press(pilot, "5", "h", "down", "right"))
        assert "Differs from your files" in text
        assert "several kits → every week" in text
        assert app.shown is not None
        assert app.shown.assessment.verdict.chance.mid > before
        await press(pilot, "6")
        ladder = flat(await becomes(pilot, lambda seen: "45 joints with" in flat(seen)))
        assert "45 joints with no fault, 77 joints with at most 1 fault" in ladder
        assert "read first under Safety: Lead in the solder" in ladder
        assert "Next: Drag a row of fine leads" in ladder
        await press(pilot, "7", "space")
        assert app.acknowledged == {"lead"}
        await press(pilot, "6")
        text = flat(await becomes(pilot, lambda seen: "45 joints with" in flat(seen)))
        assert "45 joints with" in text
        assert "read first under Safety" not in text


async def test_publish_a_difficulty_statement() -> None:
    async with opened(size=LARGE) as pilot:
        await press(pilot, "6", "d")
        text = flat(await becomes(pilot, lambda seen: "decided by lift U1" in flat(seen)))
        assert "bare decent well-equipped" in text
        assert "every week 30 % (25..35) ✘ 40 % (35..45) ✘ 50 % (45..55) ✘" in text
        assert "decided by lift U1" in text


async def test_try_other_tools_and_keep_them_in_new_files(tmp_path: Path) -> None:
    session = SampleSession()
    async with opened(session=session, size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        await press(pilot, "5", "m")
        text = await press(pilot, "space")
        assert app.tried is not None
        assert app.saved is not None
        assert not app.tried.bench.irons
        assert "*[ ] iron station 60 W" in text
        # A level as well, so that both files differ.
        await press(pilot, "h", "down", "right")
        bench, builder = tmp_path / "bench.yaml", tmp_path / "builder.yaml"
        await pilot.press("w")
        await pilot.press("ctrl+u")
        await type_text(pilot, str(bench))
        await pilot.press("tab", "ctrl+u")
        await type_text(pilot, str(builder))
        await press(pilot, "enter")
        assert load_bench(bench) == app.tried.bench
        assert load_builder(builder) == app.tried.builder
        # Never over a person's file.
        bench_text = bench.read_text()
        await pilot.press("w", "ctrl+u")
        await type_text(pilot, str(bench))
        refused = flat(await press(pilot, "enter"))
        assert "exists already" in refused
        assert bench.read_text() == bench_text
        await press(pilot, "escape")
        await press(pilot, "r")
        assert app.tried == app.saved


async def test_pin_a_technique_and_take_the_pin_out() -> None:
    async with opened(size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        await press(pilot, "2", "w", "enter", "down")
        assert app.chosen is not None
        text = await press(pilot, "enter")
        assert app.tried is not None
        assert dict(app.tried.pins) == {"lift:U1": "drag"}
        assert "(pinned)" in text
        assert "pinned: " in await press(pilot, "5", "h")
        await press(pilot, "down", "space")
        assert app.tried == app.saved


async def test_find_any_job_from_the_palette() -> None:
    async with opened(2000) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        await press(pilot, "ctrl+p")
        await press(pilot, *"r1777")
        await pilot.pause(0.4)
        await press(pilot, "enter")
        await pilot.pause(0.2)
        assert app.chosen == "fit:R1777"
        assert app.current_mode == "placements"
        assert "R1777" in await press(pilot, "2")
