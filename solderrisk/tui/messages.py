"""What worker threads tell the program, and the search for the assumed numbers that matter."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol

from textual.message import Message
from textual.worker import Worker, get_current_worker

from solderrisk.arguments import STATEMENT_BENCHES
from solderrisk.tui.setup import Setup, without

if TYPE_CHECKING:
    from solderrisk.model.bench import Bench
    from solderrisk.model.question import Cancelled, Progress, Question, Run
    from solderrisk.plan.sensitivity import Effect
    from solderrisk.session import Session
    from solderrisk.tui.setup import Supposed


class Opened(Message):
    """Files are read."""

    def __init__(self, loaded: Question) -> None:
        super().__init__()
        self.loaded = loaded


class Assessed(Message):
    """An assessment is there; ``shown`` is a rows.Shown. Where it is not ``final``, it keeps
    the order of another set-up."""

    def __init__(self, shown: Any, loaded: Question, setup: Setup, final: bool) -> None:
        super().__init__()
        self.shown, self.loaded, self.setup, self.final = shown, loaded, setup, final


class Ordered(Message):
    """An order made by hand with what it supposes, or why it cannot be."""

    def __init__(self, shown: Any, of: Any, supposed: Supposed, refusal: str) -> None:
        super().__init__()
        self.shown, self.of, self.supposed, self.refusal = shown, of, supposed, refusal


class GaveUp(Message):
    """A computation was dropped because something newer was asked for."""


class Answered(Message):
    """An answer asked for on demand: advice, ladder, statement, second looks."""

    def __init__(self, name: str, loaded: Question, setup: Setup, value: Any, error: str) -> None:
        super().__init__()
        self.name, self.loaded, self.setup = name, loaded, setup
        self.value, self.error = value, error


class Failed(Message):
    """Something could not be done; each line is one problem in plain words."""

    def __init__(self, *lines: str) -> None:
        super().__init__()
        self.lines = lines


def told(error: Exception) -> tuple[str, ...]:
    """An error in plain lines, the program's own first."""
    problems = getattr(error, "problems", None)
    if problems:
        return tuple(str(problem) for problem in problems)
    text = str(error).strip()
    return tuple(text.splitlines()) if text else (type(error).__name__,)


TELL_EVERY_S = 0.2


def now_and_then(tell: Progress, stopped: Cancelled) -> Progress:
    """Progress that is told only so often, and no more once nobody wants it."""
    last = 0.0

    def told_sometimes(share: float, what: str) -> None:
        nonlocal last
        if time.monotonic() - last > TELL_EVERY_S and not stopped():
            last = time.monotonic()
            tell(share, what)

    return told_sometimes


class RankingTold(Message):
    """How far the search is; at its end the effects, or why there are none."""

    def __init__(
        self,
        loaded: Question,
        share: float,
        trying: str = "",
        effects: tuple[Effect, ...] | None = None,
        error: str = "",
    ) -> None:
        super().__init__()
        self.loaded, self.share, self.trying = loaded, share, trying
        self.effects, self.error = effects, error


def statement_benches(asked: Question) -> list[Bench]:
    """The benches of the difficulty statement."""
    from solderrisk.files.loading import load_benches

    return load_benches(STATEMENT_BENCHES, asked.bench)


class Asker(Protocol):
    """What the program gives to those that work aside."""

    loaded: Question | None
    tried: Setup | None
    leaving: bool

    @property
    def session(self) -> Session: ...
    @property
    def run_worker(self) -> Any: ...
    @property
    def post_message(self) -> Any: ...


class Answers:
    """What is worked out aside once it is looked at, kept for the set-up it is about."""

    def __init__(self, app: Asker) -> None:
        self._app = app
        self._kept: dict[str, Answered] = {}
        self._asked: dict[str, Setup] = {}

    def drop(self) -> None:
        self._kept, self._asked = {}, {}

    def of(self, name: str) -> Answered | None:
        """The answer, or None while it is worked out."""
        loaded, setup = self._app.loaded, self._app.tried
        if loaded is None or setup is None:
            return None
        found = self._kept.get(name)
        if found and found.setup == setup and found.loaded is loaded:
            return found
        if self._asked.get(name) != setup:
            self._asked[name] = setup
            self._app.run_worker(
                lambda: self._work(name, loaded, setup),
                thread=True,
                exclusive=True,
                group=f"answer-{name}",
            )
        return None

    def take(self, message: Answered) -> None:
        self._kept[message.name] = message

    def _work(self, name: str, loaded: Question, setup: Setup) -> None:
        from solderrisk.model.question import Run

        worker, app = get_current_worker(), self._app

        def outdated() -> bool:
            gone = app.loaded is not loaded or app.tried != setup
            return app.leaving or worker.is_cancelled or gone

        value, error = None, ""
        try:
            value = self._made(name, loaded, setup, Run(cancelled=outdated))
        except Exception as problem:
            error = "; ".join(told(problem))
        if not outdated():
            app.post_message(Answered(name, loaded, setup, value, error))

    def _made(self, name: str, loaded: Question, setup: Setup, run: Run) -> Any:
        session, asked = self._app.session, setup.asks(loaded)
        match name:
            case "advice":
                return session.advise(asked, run=run)
            case "gains":
                return session.gains(asked, run=run)
            case "buys":
                own = asked.but(bench=without(loaded.bench, setup.off))
                return session.gains(own, setup.added, run)
            case "looks":
                return session.second_looks(asked, run)
            case "statement":
                return session.statement(asked, statement_benches(asked), run)
            case "ladder":
                return session.ladder(asked.builder, asked.reference)
            case _:
                raise ValueError(f"no answer to {name}")


class Ranking:
    """One search at a time; another kit drops what was found."""

    def __init__(self, app: Asker) -> None:
        self._app = app
        self._worker: Worker[Any] | None = None
        self.effects: dict[str, Effect] = {}
        self.of: Setup | None = None
        self.share, self.trying, self.error = 0.0, "", ""

    @property
    def running(self) -> bool:
        return self._worker is not None and not self._worker.is_finished

    @property
    def done(self) -> bool:
        """Whether a search has ended, even with nothing found."""
        return self.of is not None and not self.running and not self.error

    def drop(self) -> None:
        self.cancel()
        self.effects, self.of, self.error = {}, None, ""

    def cancel(self) -> None:
        if self._worker is not None:
            self._worker.cancel()
            self._worker, self.of = None, None

    def start(self) -> None:
        """Search for the set-up being tried, as its numbers are stated."""
        loaded, setup = self._app.loaded, self._app.tried
        if loaded is None or setup is None or self.running:
            return
        self.share, self.trying, self.error = 0.0, "", ""
        self.effects, self.of = {}, setup
        self._worker = self._app.run_worker(
            lambda: self._search(loaded, setup), thread=True, exclusive=True, group="rank"
        )

    def _search(self, loaded: Question, setup: Setup) -> None:
        from solderrisk.model.question import Run

        worker, app = get_current_worker(), self._app

        def stopped() -> bool:
            return worker.is_cancelled or app.leaving or app.loaded is not loaded

        def tell(share: float, trying: str) -> None:
            app.post_message(RankingTold(loaded, share, trying))

        try:
            asked = replace(setup, assumed=()).asks(loaded)
            effects = app.session.rank(asked, Run(now_and_then(tell, stopped), stopped)).effects
            message = RankingTold(loaded, 1.0, effects=effects)
        except Exception as error:
            message = RankingTold(loaded, 1.0, error=str(error) or type(error).__name__)
        if not stopped():
            app.post_message(message)

    def take(self, message: RankingTold) -> None:
        """What the search told; news of a dropped one is not for us."""
        if message.loaded is not self._app.loaded or self._worker is None:
            return
        self.share, self.trying, self.error = message.share, message.trying, message.error
        if message.effects is not None:
            self.effects = {effect.name: effect for effect in message.effects}
        if message.effects is not None or message.error:
            self._worker = None
