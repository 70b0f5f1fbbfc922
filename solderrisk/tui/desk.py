"""What the screens ask of the layers below, called from worker threads only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from solderrisk.model.draft import Draft
    from solderrisk.physics.results import Alignment, Curve
    from solderrisk.plan.results import Assessment, FittingOrder
    from solderrisk.plan.sensitivity import Effect, Progress
    from solderrisk.risk.results import JobRisk, Option
    from solderrisk.tui.setup import Inputs, Loaded, Setup
    from solderrisk.tui.supposed import Supposed

Cancelled = Callable[[], bool]


class Desk(Protocol):
    """Every method may take long, may raise, and gives up early when told to."""

    def load(self, inputs: Inputs) -> Loaded:
        """Read the files of a kit, a bench and a builder."""

    def assess(
        self, loaded: Loaded, setup: Setup, cancelled: Cancelled, order: FittingOrder | None
    ) -> Assessment:
        """Assess a set-up; with ``order`` that order is kept, which is much quicker."""

    def answer(self, name: str, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Any:
        """One of the answers that are worked out on demand; see ``real_desk.ANSWERS``."""

    def rank(
        self, loaded: Loaded, setup: Setup, progress: Progress, cancelled: Cancelled
    ) -> Sequence[Effect]:
        """The assumed numbers that move the chance most; takes many seconds."""

    def move(
        self,
        loaded: Loaded,
        setup: Setup,
        assessment: Assessment,
        supposed: Supposed,
        key: str,
        before: str | None,
    ) -> FittingOrder:
        """The order with one job moved to just before another, or to the end. Raises where
        a rule forbids it; the message is the rule's reason."""

    def plan_anew(
        self,
        loaded: Loaded,
        setup: Setup,
        assessment: Assessment,
        supposed: Supposed,
        locked: Sequence[str],
        cancelled: Cancelled,
    ) -> tuple[FittingOrder, Supposed]:
        """The best order that leaves the locked jobs in their places and what is supposed
        done in front; and what of that stays done after what has to be done again."""

    def curve(self, loaded: Loaded, setup: Setup, risk: JobRisk, option: Option) -> Curve | None:
        """Temperatures against time of an option's heating, None where nothing is heated."""

    def alignment(self, loaded: Loaded, risk: JobRisk) -> Alignment | None:
        """How far a part may sit off its lands."""

    def draft(self, sources: Sequence[Path], libraries: Sequence[Path]) -> Draft:
        """Read sources that a kit can be drafted from."""

    def answer_question(self, draft: Draft, question: str, choice: str) -> Draft:
        """The draft with one more question answered, or taken back with an empty choice."""

    def kit_text(self, draft: Draft) -> str:
        """The kit file of a draft."""

    def report(self, ending: str, loaded: Loaded, setup: Setup, assessment: Assessment) -> str:
        """The report as '.html', '.txt', '.csv' or '.json'."""
