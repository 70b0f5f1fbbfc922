"""Numbers that nobody measured: said with their source, moved, ranked, taken back."""

from __future__ import annotations

import threading

import pytest

from solderrisk.files.reference import load_reference
from solderrisk.model.problems import UserProblem
from solderrisk.model.question import ALONE, Question, Run
from solderrisk.plan.sensitivity import Ranking
from solderrisk.report.words import assumption_lines
from solderrisk.session import Session
from solderrisk.tui import setup as assumed
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.setup import Inputs, Setup
from tests.ui.driving import LARGE, flat, opened, press, screen_text, type_text
from tests.ui.sample import BENCH, BUILDER, QUESTION, SampleSession

LOADED = QUESTION
SAVED = Setup(BENCH, BUILDER)


def test_a_number_goes_round_its_range() -> None:
    known = load_reference().named()["bridge_rate"]
    setup, seen = SAVED, []
    for _ in range(3):
        setup = assumed.turned(LOADED, setup, "bridge_rate", 1)
        seen.append(dict(setup.assumed).get("bridge_rate"))
    assert seen == [known.high, known.low, None]
    assert setup == SAVED
    back = assumed.turned(LOADED, SAVED, "bridge_rate", -1)
    assert dict(back.assumed) == {"bridge_rate": known.low}
    between = assumed.moved(LOADED, SAVED, "bridge_rate", 0.0077)
    assert dict(assumed.turned(LOADED, between, "bridge_rate", 1).assumed) == {
        "bridge_rate": known.high
    }


@pytest.mark.parametrize("text", ["x", "nan", "inf", "-1", "2", "1e400"])
def test_what_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(UserProblem):
        assumed.typed(LOADED, SAVED, "bridge_rate", text)


def test_every_dial_says_its_source_and_range() -> None:
    named = load_reference().named()
    for name in assumed.FIRST:
        told = assumed.told(LOADED, name, {})
        assert named[name].source in told
        assert f"{named[name].low:g} to {named[name].high:g}" in told


async def test_figures_follow_a_moved_number_and_come_back() -> None:
    """On the real program: more bridges, less chance; saved nowhere, told everywhere."""
    inputs = Inputs("rain-counter", "decent", "hobbyist")
    async with opened(session=Session(), inputs=inputs, size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        before = app.shown
        assert before is not None
        told = flat(await press(pilot, "5", "g"))
        assert "assumed: sized by judgement" in told
        assert "Guessed numbers" in told
        moved = flat(await press(pilot, "right"))
        assert "0.012 high" in moved
        assert app.shown is not None
        assert app.shown.assessment.risk.faults.mid > before.assessment.risk.faults.mid
        # Every other place counts with it as well.
        assert "bridge_rate is set to 0.012" in " ".join(assumption_lines(app.shown.assessment))
        assert "%* of" in flat(await press(pilot, "1"))
        await press(pilot, "5", "t")
        await type_text(pilot, "0.002")
        assert "0.002 own" in flat(await press(pilot, "enter"))
        await press(pilot, "t")
        await type_text(pilot, "7")
        assert "at most 1" in flat(await press(pilot, "enter"))
        await press(pilot, "escape", "r")
        assert app.tried == app.saved
        assert app.shown.assessment.verdict == before.assessment.verdict


async def test_ranking_puts_what_matters_first_and_is_kept() -> None:
    session = SampleSession(5)
    async with opened(5, session=session, size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        text = flat(await press(pilot, "5", "a"))
        assert "void rate, per part: 66 to 61 %" in text
        assert "ranked for this kit" in text
        assert "the chance is 70 % at its low end, 50 % at its high end" in text
        assert "found by one look" not in text
        await press(pilot, "1", "5", "a")
        assert list(app.ranking.effects) == ["dead_rate", "void_rate"]


async def test_a_ranking_can_be_stopped_and_a_failed_one_tried_again() -> None:
    class Slow(SampleSession):
        started, stopped = threading.Event(), threading.Event()

        def rank(self, question: Question, run: Run = ALONE) -> Ranking:
            run.tell(0.4, "trying dead_rate")
            self.started.set()
            while run.cancelled is not None and not run.cancelled():
                self.stopped.wait(0.005)
            self.stopped.set()
            return Ranking(0.0, ())

    session = Slow(5)
    async with opened(5, session=session, size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        await pilot.press("5", "a")
        assert session.started.wait(5)
        await pilot.pause(0.1)
        assert "searching what matters most: 40 %; a stops it" in flat(screen_text(pilot))
        await press(pilot, "a")
        assert session.stopped.wait(5)
        assert not app.ranking.running
        assert not app.ranking.done
    failing = SampleSession(5)
    failing.fails_ranking = ValueError("no number moves it")
    async with opened(5, session=failing, size=LARGE) as pilot:
        assert "no number moves it" in flat(await press(pilot, "5", "a"))
        failing.fails_ranking = None
        assert "ranked for this kit" in flat(await press(pilot, "a"))
