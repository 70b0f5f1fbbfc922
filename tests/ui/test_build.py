"""At the bench: every key records at once, and can be taken back."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
import yaml
from textual.pilot import Pilot

from solderrisk.cli import run
from solderrisk.journal.place import JournalProblem
from solderrisk.journal.recording import Recorder
from solderrisk.journal.state import BuildState
from solderrisk.journal.store import Journal
from solderrisk.session import Session
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.screens.build import COMMAND_LETTERS, BuildScreen
from solderrisk.tui.setup import Inputs
from solderrisk.tui.sitting import Sitting
from tests.journal.bench import KIT, REFERENCE, assessed, told
from tests.ui.driving import flat, press, rest, screen_text, type_text

PHONE = (40, 24)
SESSION = Session()  # kept: the same kit is opened again and again


@pytest.fixture
def inputs(tmp_path: Path) -> Inputs:
    kit = tmp_path / "kit.yaml"
    kit.write_text(yaml.safe_dump(KIT), encoding="utf-8")
    return Inputs(kit=kit, journal=str(tmp_path / "journal.sqlite"))


@asynccontextmanager
async def at_bench(inputs: Inputs, size: tuple[int, int] = PHONE) -> AsyncIterator[Pilot[int]]:
    app = SolderriskApp(inputs, SESSION, at_bench=True)
    app.animation_level = "none"
    app.tells_faults = False
    async with app.run_test(size=size) as pilot:
        await rest(pilot)
        yield pilot


def state(inputs: Inputs) -> BuildState:
    with Journal(str(inputs.journal)) as journal:
        return Recorder(journal, journal.builds()[0]).state


async def until(pilot: Pilot[int], key: str) -> None:
    """Go right until a job is in hand."""
    screen = pilot.app.screen
    assert isinstance(screen, BuildScreen)
    assert screen.sitting is not None
    keys = [job.key for job in screen.sitting.open.sheet.jobs]
    at = keys.index(screen.sitting.key or keys[0])
    way = "right" if keys.index(key) > at else "left"
    await press(pilot, *[way] * abs(keys.index(key) - at))
    assert screen.sitting.key == key


async def test_a_build_begins_is_left_and_opens_where_it_was_left(inputs: Inputs) -> None:
    async with at_bench(inputs) as pilot:
        assert "No build of this kit has begun" in screen_text(pilot)
        text = await press(pilot, "space")
        assert "0/20" in text
        first = state(inputs).left[0]
        assert "1/20" in await press(pilot, "space")
        await press(pilot, "space", "q")
    assert state(inputs).done[0] == first
    async with at_bench(inputs) as pilot:
        text = screen_text(pilot)
        assert "2/20" in text
        assert "works" in text
        assert "b bridge" in text or "o open" in text


async def test_one_letter_records_a_fault_and_space_mends_it(inputs: Inputs) -> None:
    async with at_bench(inputs) as pilot:
        await press(pilot, "space")
        await until(pilot, "fit:U2")
        await press(pilot, "space")
        await until(pilot, "fit:U2")
        before = screen_text(pilot)
        text = flat(await press(pilot, "b"))
        assert "bridge on U2" in text
        assert "space mended · z tried, did not work · esc later" in text
        # What to do about it stands there at once.
        assert "flux" in text
        assert "stop:" in text
        assert state(inputs).jobs["fit:U2"].open == {"bridge": 1}
        await press(pilot, "z")
        assert state(inputs).jobs["fit:U2"].tries == 1
        text = await press(pilot, "space")
        assert state(inputs).jobs["fit:U2"].open == {}
        # The numbers on top have moved with it.
        assert text.splitlines()[0] != before.splitlines()[0] or "works" in text
        await press(pilot, "u", "u", "u")
        assert state(inputs).jobs["fit:U2"].faults == []
        await press(pilot, "Y", "Y")
        assert state(inputs).jobs["fit:U2"].tries == 1


async def test_a_gate_takes_a_reading_and_names_suspects(inputs: Inputs) -> None:
    async with at_bench(inputs) as pilot:
        await press(pilot, "space")
        run(["record", str(inputs.kit), "done", "R1-R12", "--journal", str(inputs.journal)])
        await asyncio.sleep(1.1)
        await rest(pilot)
        assert "12/20" in screen_text(pilot)
        await until(pilot, "gate:shorts")
        text = flat(await press(pilot, "z"))
        assert "Suspects: R1 " in text
        assert "failed; find what it shows" in text
        await press(pilot, "4", "full_stop", "9", "9", "backspace", "8", "space")
        assert state(inputs).jobs["gate:shorts"].reading == 4.98
        assert state(inputs).jobs["gate:shorts"].passed


async def test_a_lost_part_asks_what_becomes_of_it(inputs: Inputs) -> None:
    async with at_bench(inputs) as pilot:
        await press(pilot, "space")
        await until(pilot, "fit:U3")
        await press(pilot, "space")
        await until(pilot, "fit:U3")
        text = flat(await press(pilot, "P"))
        assert "1 a spare · 2 buy another · 3 the build ends" in text
        assert state(inputs).unsettled == ("fit:U3",)
        await press(pilot, "2")
        assert state(inputs).unsettled == ()
        assert "fit:U3" in state(inputs).left


async def test_what_cannot_be_is_said_and_not_recorded(inputs: Inputs) -> None:
    async with at_bench(inputs) as pilot:
        await press(pilot, "space")
        await until(pilot, "gate:rail")
        assert "✖ gate:rail waits for" in flat(await press(pilot, "space"))
        assert "✖ gate:rail is no soldering" in flat(await press(pilot, "b"))
        assert "✖ nothing is waiting to be looked over" in flat(await press(pilot, "enter"))
        assert len(state(inputs).events) == 1


async def test_notes_hands_and_looking_over(inputs: Inputs) -> None:
    async with at_bench(inputs, (80, 24)) as pilot:
        await press(pilot, "space", "space", "H")
        await type_text(pilot, "ben")
        await press(pilot, "enter", "space", "N")
        await type_text(pilot, "tip is worn")
        await press(pilot, "enter", "enter")
        found = state(inputs)
    assert found.by_who == {assessed().builder.name: 1, "ben": 1}
    assert [text for _, text in found.notes] == ["tip is worn"]
    soldered = [key for key in found.done if not key.startswith("task:")]
    assert all(found.jobs[key].looked for key in soldered)


async def test_a_kit_that_changed_is_asked_about(inputs: Inputs) -> None:
    async with at_bench(inputs) as pilot:
        await press(pilot, "space", "space")
    kit = {**KIT, "target_chance": 0.9}
    Path(inputs.kit).write_text(yaml.safe_dump(kit), encoding="utf-8")
    async with at_bench(inputs) as pilot:
        assert "The kit has changed" in flat(screen_text(pilot))
        await press(pilot, "space")
        assert "1/20" in screen_text(pilot)
    assert [e.kind for e in state(inputs).events] == ["started", "done", "worked", "replanned"]


async def test_what_is_left_can_be_planned_anew(inputs: Inputs) -> None:
    async with at_bench(inputs) as pilot:
        await press(pilot, "space", "space", "A")
        assert "planned anew" in flat(screen_text(pilot))
        assert "1/20" in screen_text(pilot)


def test_every_fault_mode_has_one_letter_and_no_command_takes_it() -> None:
    letters = REFERENCE.plan.journal.letters
    assert set(letters) >= {mode.id for mode in REFERENCE.risk.faults.modes}
    assert not set(letters.values()) & set(COMMAND_LETTERS)


class Clock:
    def __init__(self) -> None:
        self.steady = 100.0

    def time(self) -> float:
        return time.time()

    def monotonic(self) -> float:
        return self.steady


def test_minutes_belong_to_one_block_and_long_pauses_are_asked(inputs: Inputs) -> None:
    clock = Clock()
    sitting = Sitting(inputs, clock)
    sitting.begin(told())
    clock.steady += 180
    sitting.done()
    assert sitting.open.state.minutes == 3
    clock.steady += 60
    sitting.key = "fit:R1"
    sitting.fault("open")
    clock.steady += 120
    sitting.mended(True)
    clock.steady += 1500
    sitting.done()
    # Seeking and mending are work; the pause waits for an answer.
    assert sitting.open.state.minutes == 6
    assert sitting.asked is not None
    assert (sitting.asked.what, sitting.asked.minutes) == ("pause", 25)
    sitting.count_pause(True)
    assert sitting.open.state.minutes == 31
    clock.steady += 30
    sitting.done()
    assert sitting.open.state.minutes == pytest.approx(31.5)
    sitting.close()


def test_the_same_evening_by_keys_and_by_commands(inputs: Inputs, tmp_path: Path) -> None:
    """Jobs, faults, gates, a lost part: the same state, whichever way it was recorded."""
    sitting = Sitting(inputs)
    sitting.begin(told())
    other = str(tmp_path / "other.sqlite")
    kit = str(inputs.kit)

    def typed(*words: str) -> None:
        assert run(["record", kit, *words, "--journal", other]) == 0

    typed("start")
    while sitting.key is not None:
        key = sitting.key
        if key.startswith("gate:"):
            sitting.gate(False)
            typed("gate", key, "failed")
            sitting.write_reading("5")
            sitting.gate(True)
            typed("gate", key, "passed", "--reading", "5")
            continue
        sitting.done()
        typed("done", key)
        if key in ("fit:R3", "fit:U2", "fit:R7"):
            sitting.key = key
            sitting.fault("bridge")
            sitting.mended(True)
            typed("fault", key, "bridge")
            typed("mended", key, "bridge")
            sitting.go_on()
        if key == "fit:U3" and not sitting.open.state.jobs[key].lost:
            sitting.key = key
            sitting.lost("part")
            typed("lost", key)
            sitting.settle("spare")
            typed("lost", key, "--then", "spare")
    sitting.looked()
    typed("looked", ",".join(key for key in sitting.open.state.done if "gate" not in key))
    sitting.end(True)
    typed("end", "works")
    with Journal(other) as journal:
        commands = Recorder(journal, journal.builds()[0]).state
    keys = sitting.open.state
    assert keys.done == commands.done
    assert keys.left == commands.left == ()
    assert keys.ended is commands.ended is True
    for key, job in keys.jobs.items():
        twin = commands.jobs[key]
        for name in ("open", "tries", "lost", "settled", "technique", "passed", "reading"):
            assert getattr(job, name) == getattr(twin, name), (key, name)
        assert bool(job.looked) == bool(twin.looked)
    with pytest.raises(JournalProblem, match="nothing is left"):
        sitting.done()
    sitting.close()
