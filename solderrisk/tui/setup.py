"""What the screens compare: the saved set-up and the one that is being tried."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from solderrisk.model.bench import Bench
    from solderrisk.model.builder import Builder
    from solderrisk.model.kit import Kit
    from solderrisk.model.library import Library


@dataclass(frozen=True)
class Inputs:
    """The files to open; None means the demo's. ``libraries`` go before our own."""

    kit: Path | None = None
    bench: Path | None = None
    builder: Path | None = None
    libraries: tuple[Path, ...] = ()
    target: float | None = None


@dataclass(frozen=True)
class Loaded:
    """The files as values."""

    kit: Kit
    bench: Bench
    builder: Builder
    library: Library
    inputs: Inputs = Inputs()


@dataclass(frozen=True)
class Setup:
    """Everything a what-if can change. ``pins`` are (job key, technique) pairs."""

    bench: Bench
    builder: Builder
    target: float | None = None
    pins: tuple[tuple[str, str], ...] = field(default=())

    def pinned(self, key: str) -> str | None:
        return dict(self.pins).get(key)

    def with_pin(self, key: str, technique: str | None) -> Setup:
        """The same with one technique pinned, or unpinned with None."""
        rest = tuple(pin for pin in self.pins if pin[0] != key)
        return replace(self, pins=rest if technique is None else (*rest, (key, technique)))
