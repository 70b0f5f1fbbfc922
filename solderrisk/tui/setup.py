"""What the screens compare: the saved set-up and the one that is being tried."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from solderrisk.arguments import DEMO_BENCH, DEMO_BUILDER, DEMO_KIT

if TYPE_CHECKING:
    from solderrisk.model.bench import Bench
    from solderrisk.model.builder import Builder
    from solderrisk.model.question import Question


@dataclass(frozen=True)
class Inputs:
    """The files to open, by path or by a demo's name; ``libraries`` go before our own."""

    kit: str | Path = DEMO_KIT
    bench: str | Path = DEMO_BENCH
    builder: str | Path = DEMO_BUILDER
    libraries: Sequence[Path] = ()
    target: float | None = None
    journal: str | None = None  # None: the person's own


def stamps(inputs: Inputs) -> tuple[float, ...]:
    """When each of the opened files was last written; 0 for what is no file."""
    found = []
    for path in (inputs.kit, inputs.bench, inputs.builder, *inputs.libraries):
        try:
            found.append(Path(path).stat().st_mtime)
        except OSError:
            found.append(0.0)
    return tuple(found)


def opened(inputs: Inputs) -> Question:
    """The files as the question that they pose."""
    from solderrisk.files.loading import open_inputs

    found = open_inputs(inputs.kit, inputs.bench, inputs.builder, inputs.libraries)
    return found.but(target=inputs.target, builder=_with_journal(found, inputs.journal))


def _with_journal(found: Question, path: str | None) -> Builder:
    """The builder with what their journal knows. One that cannot be read is told at the
    bench, where it matters, and does not keep the kit from being opened."""
    from solderrisk.journal.place import default_path

    where = path or default_path()
    if not os.path.exists(where):
        return found.builder
    from solderrisk.journal.exchange import readable
    from solderrisk.journal.people import known
    from solderrisk.journal.place import JournalProblem

    try:
        with readable(where) as journal:
            return known(found.builder, journal, found.reference)
    except JournalProblem:
        return found.builder


# Collections of a bench whose items are switched one by one.
TOOLS = (
    ("irons", "iron"),
    ("hot_air", "hot air"),
    ("preheaters", "preheater"),
    ("desolderers", "vacuum desolderer"),
    ("magnifiers", "magnifier"),
    ("solders", "solder"),
    ("fluxes", "flux"),
    ("removal_alloys", "removal alloy"),
    ("aids", "aid"),
)


def without(bench: Bench, off: frozenset[tuple[str, int]]) -> Bench:
    """The bench less some items, each by its field and its number in it."""
    changes = {
        field: tuple(item for n, item in enumerate(getattr(bench, field)) if (field, n) not in off)
        for field, _ in TOOLS
        if any(of == field for of, _ in off)
    }
    return bench.model_copy(update=changes) if changes else bench


@dataclass(frozen=True)
class Setup:
    """Everything a what-if can change.

    ``bench`` is the saved one less what is ``off`` plus the priced tools ``added`` (see
    ``dials``); ``pins`` are (job key, technique) pairs, ``assumed`` (name, value) pairs of
    numbers that the user has moved, ``practice`` (skill, joints) pairs that are planned.
    """

    bench: Bench
    builder: Builder
    target: float | None = None
    pins: tuple[tuple[str, str], ...] = ()
    off: frozenset[tuple[str, int]] = frozenset()
    added: tuple[str, ...] = ()
    assumed: tuple[tuple[str, float], ...] = ()
    practice: tuple[tuple[str, float], ...] = ()

    def asks(self, loaded: Question) -> Question:
        """What is opened, asked for this set-up.

        Raises:
            UserProblem: a number that was moved cannot be what it is set to.
        """
        moved = dict(self.assumed)
        return loaded.but(
            bench=self.bench,
            builder=self.builder,
            target=self.target,
            pins=self.pins,
            practice=self.practice,
            reference=loaded.reference.assuming(moved) if moved else loaded.reference,
        )

    def pinned(self, key: str) -> str | None:
        return dict(self.pins).get(key)

    def with_pin(self, key: str, technique: str | None) -> Setup:
        """The same with one technique pinned, or unpinned with None."""
        rest = tuple(pin for pin in self.pins if pin[0] != key)
        return replace(self, pins=rest if technique is None else (*rest, (key, technique)))
