"""The heavy work, called from worker threads only; imports wait until they are needed."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

from solderrisk.tui.setup import Inputs, Loaded, Setup

if TYPE_CHECKING:
    from solderrisk.physics.results import Alignment, Curve
    from solderrisk.plan.results import Assessment
    from solderrisk.risk.results import JobRisk, Option

Cancelled = Callable[[], bool]


class Desk(Protocol):
    """What the screens ask for. Every method may take long and may raise."""

    def load(self, inputs: Inputs) -> Loaded: ...

    def assess(self, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Assessment: ...

    def answer(self, name: str, loaded: Loaded, setup: Setup, cancelled: Cancelled) -> Any: ...

    def curve(self, risk: JobRisk, option: Option, setup: Setup) -> Curve | None: ...

    def alignment(self, risk: JobRisk, setup: Setup) -> Alignment | None: ...
