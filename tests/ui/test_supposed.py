"""What is supposed of a sitting: jobs done, a job faulty, the rest planned anew."""

from __future__ import annotations

from solderrisk.session import Session
from solderrisk.tui.app import SolderriskApp
from solderrisk.tui.setup import Inputs, Supposed
from tests.ui.driving import LARGE, flat, opened, press

KEYS = ("lift:a", "fit:a", "fit:b", "gate:x", "fit:c")


def test_done_up_to_a_job_and_back() -> None:
    some = Supposed().through(KEYS, "fit:b")
    assert some == Supposed(("lift:a", "fit:a", "fit:b"))
    assert some.through(KEYS, "fit:a") == Supposed(("lift:a",))
    assert not some.through(KEYS, "lift:a")
    assert some.through(KEYS, "fit:c").done == KEYS


def test_a_fault_supposes_that_the_job_was_done() -> None:
    fault = Supposed().faulty(KEYS, "fit:b")
    assert fault == Supposed(("lift:a", "fit:a", "fit:b"), ("fit:b",))
    assert fault.faulty(KEYS, "fit:b").again == ()
    # Done at last: it is not to be done again any more.
    assert fault.through(("lift:a", "fit:a", "fit:c", "fit:b"), "fit:b").again in ((), ("fit:b",))
    assert fault.told() == "3 jobs done, fit b to do again"


async def test_suppose_done_then_a_fault_on_the_real_order() -> None:
    """Each is marked, told as a supposition, refuses moves with the reason, and goes."""
    inputs = Inputs("rain-counter", "decent", "hobbyist")
    async with opened(session=Session(), inputs=inputs, size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        assert app.shown is not None
        computed = app.shown.assessment.order
        stage = next(s for s in computed.stages if len(s.keys) > 2)
        await press(pilot, "4", *["down"] * (stage.number - 1), "tab")
        text = flat(await press(pilot, "down", "d"))
        assert app.supposed.done == computed.keys[: computed.keys.index(stage.keys[1]) + 1]
        assert "Supposed, not recorded:" in text
        assert "✓ done" in text
        # What is done does not move.
        assert "is done already" in flat(await press(pilot, "shift+down"))
        # A fault: the job comes off what is done and is planned anew, first thing or later.
        text = flat(await press(pilot, "u"))
        assert app.supposed.again == (stage.keys[1],)
        assert stage.keys[1] not in app.supposed.done
        assert "to do again" in text
        assert "↻ again" in text
        order = app.shown.assessment.order
        assert sorted(order.keys) == sorted(computed.keys)
        assert order.keys[: len(app.supposed.done)] == app.supposed.done
        # A what-if in between keeps what is supposed.
        await press(pilot, "5", "h", "right", "4")
        assert app.shown.assessment.order.keys == order.keys
        text = flat(await press(pilot, "r"))
        assert not app.supposed
        assert "Supposed" not in text
        await press(pilot, "5", "r")
        assert app.shown.assessment.order.keys == computed.keys


async def test_a_move_on_the_real_order_and_a_lock_are_told() -> None:
    inputs = Inputs("rain-counter", "decent", "hobbyist")
    async with opened(session=Session(), inputs=inputs, size=LARGE) as pilot:
        app = pilot.app
        assert isinstance(app, SolderriskApp)
        assert app.shown is not None
        stage = next(s for s in app.shown.assessment.order.stages if len(s.keys) > 2)
        computed = app.shown.assessment.order.keys
        await press(pilot, "4", *["down"] * (stage.number - 1), "tab")
        text = flat(await press(pilot, "shift+down"))
        assert app.shown.assessment.order.keys != computed
        assert "Your own order" in text
        assert "by hand" in text
        text = flat(await press(pilot, "x"))
        assert "1 lock ‡" in text
        planned = await press(pilot, "p")
        assert not app.refused
        assert "‡" in planned
        # Up and up, until a rule stands in the way.
        for _ in computed:
            text = flat(await press(pilot, "shift+up"))
            if app.refused:
                break
        assert "has to come before" in text or "locked" in text
        assert "✖" in text
