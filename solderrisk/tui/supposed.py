"""What is supposed in this sitting: jobs done so far, and jobs to be done again.

Nothing of it is recorded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solderrisk.report.words import grouped
from solderrisk.words import counted


@dataclass(frozen=True)
class Supposed:
    """``done`` in the order it was done; ``again``: found faulty, to be done anew."""

    done: tuple[str, ...] = ()
    again: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.done or self.again)

    def through(self, keys: Sequence[str], key: str) -> Supposed:
        """Everything up to a job is done; where it is done already, not from it on."""
        at = list(keys).index(key)
        done = tuple(keys[:at] if key in self.done else keys[: at + 1])
        return Supposed(done, tuple(k for k in self.again if k not in done))

    def faulty(self, keys: Sequence[str], key: str) -> Supposed:
        """A job, done with all before it, has to be done anew; once more takes that back."""
        if key in self.again:
            return Supposed(self.done, tuple(k for k in self.again if k != key))
        reached = self if key in self.done else self.through(keys, key)
        return Supposed(reached.done, (*reached.again, key))

    def mark(self, key: str) -> str:
        return " ↻ again" if key in self.again else " ✓ done" if key in self.done else ""

    def told(self) -> str:
        parts = [f"{counted(len(self.done), 'job')} done"] if self.done else []
        parts += [f"{grouped(self.again)} to do again"] if self.again else []
        return ", ".join(parts)
