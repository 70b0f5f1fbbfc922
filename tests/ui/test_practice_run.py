"""Practice and safety notes: written down by key, known the next time."""

from __future__ import annotations

from pathlib import Path

from solderrisk.journal.people import practice_records
from solderrisk.journal.store import Journal
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.setup import Inputs
from tests.journal.bench import REFERENCE
from tests.ui.driving import flat, opened, press, rest, screen_text
from tests.ui.test_build import SESSION, at_bench, inputs  # noqa: F401 - a fixture

FIRST = REFERENCE.plan.practice.exercises[0]


async def test_a_run_is_counted_by_key_and_says_what_it_changed(inputs: Inputs) -> None:  # noqa: F811
    app = SolderriskApp(inputs, SESSION)
    app.animation_level = "none"
    app.tells_faults = False
    async with app.run_test(size=(80, 24)) as pilot:
        await rest(pilot)
        text = await press(pilot, "6", "p")
        assert "What do you practise?" in text
        assert "clean joints still needed" in text
        await press(pilot, "enter", "space", "space", "space", "c", "space", "u")
        text = screen_text(pilot)
        assert "4 joints, 1 fault on record" in text
        assert app.loaded is not None
        with Journal(str(inputs.journal)) as journal:
            (record,) = practice_records(journal, app.loaded.builder.name, REFERENCE)
        assert (record.skill, record.joints, record.faults) == (FIRST.skill, 4, 1)
        told = flat(await press(pilot, "enter"))
        assert "believed now" in told
        assert "bench-kit works" in told
        # Back on the ladder the record is known.
        await press(pilot, "escape")
        assert any(r.joints == 4 for r in app.loaded.builder.records)


async def test_a_note_read_once_is_known_the_next_time(inputs: Inputs) -> None:  # noqa: F811
    for wanted in (False, True):
        app = SolderriskApp(inputs, SESSION)
        app.animation_level = "none"
        app.tells_faults = False
        async with app.run_test(size=(80, 24)) as pilot:
            await rest(pilot)
            text = await press(pilot, "7")
            assert ("✔" in text) is wanted
            if not wanted:
                assert "w keeps that" not in await press(pilot, "space")


async def test_a_journal_that_cannot_be_read_does_not_keep_the_kit_from_opening(
    inputs: Inputs,  # noqa: F811
) -> None:
    Path(str(inputs.journal)).write_bytes(b"no database" * 99)
    async with at_bench(inputs) as pilot:
        assert "damaged: kept as" in flat(screen_text(pilot))
        assert "begin" in flat(screen_text(pilot))


async def test_the_bench_is_reached_from_every_place() -> None:
    async with opened() as pilot:
        for place in "147":
            await press(pilot, place)
            assert "No build of this kit has begun" in await press(pilot, "8")
            await press(pilot, "escape")
