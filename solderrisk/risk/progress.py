"""Telling how far a long answer is, and stopping it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Progress = Callable[[float, str], None]
Cancelled = Callable[[], bool]


class Stopped(Exception):  # noqa: N818 - it is asked for
    """The caller asked to stop."""


@dataclass(frozen=True)
class Steps:
    progress: Progress | None
    cancelled: Cancelled | None

    def __call__(self, share: float, text: str) -> None:
        """Tell how far it is.

        Raises:
            Stopped: the caller wants no more.
        """
        if self.cancelled is not None and self.cancelled():
            raise Stopped("stopped")
        if self.progress is not None:
            self.progress(share, text)
