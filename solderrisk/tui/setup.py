"""What is opened and tried, and the numbers that nobody has measured."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from solderrisk.arguments import DEMO_BENCH, DEMO_BUILDER, DEMO_KIT
from solderrisk.report.words import grouped
from solderrisk.words import counted, one_line, percent, plain

if TYPE_CHECKING:
    from solderrisk.model.base import Parameter
    from solderrisk.model.bench import Bench, Builder
    from solderrisk.model.question import Question
    from solderrisk.plan.sensitivity import Effect


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


Key = tuple[str | int, ...]


@dataclass(frozen=True)
class Dial:
    """``value`` as it stands, ``was`` as the files say it. ``key`` says what it turns: its
    kind, and what is needed to find it."""

    key: Key
    group: str
    label: str
    value: str
    was: str
    on: bool | None = None  # None where it is no switch

    @property
    def changed(self) -> bool:
        return self.value != self.was


GROUP = "Guessed numbers"
# Shown until the numbers are ranked for the kit: what usually decides, in words.
FIRST = {
    "bridge_rate": "bridges, easy gap",
    "open_rate": "open joints",
    "lifted_pad_rate": "pads lifted",
    "stuck_rate": "pulled while still held",
    "dead_rate": "lifted parts found dead",
    "fine_lead_rate": "thin leads bent",
    "mend_success": "faults mended",
    "look_finds": "found by one look",
    "hunt_meter": "found later with a meter",
}


def assumed_dials(loaded: Question, tried: Setup, ranked: Mapping[str, Effect]) -> Iterator[Dial]:
    """Dials of the ranked numbers, or of the usual ones, and of all that were moved."""
    known = _known(loaded)
    own = dict(tried.assumed)
    for name in dict.fromkeys((*(ranked or FIRST), *own)):
        parameter = known.get(name)
        if parameter is None or (len(stops(parameter)) < 2 and name not in own):
            continue
        value = own.get(name, parameter.value)
        unit = "" if parameter.unit in ("", "1") else f", {parameter.unit}"
        yield Dial(
            ("assumed", name),
            GROUP,
            one_line(f"{_title(name)}{unit}{_moves(ranked.get(name))}", 60),
            f"{value:.4g}{_end(parameter, value)}",
            f"{parameter.value:.4g}",
        )


def stops(parameter: Parameter) -> tuple[float, ...]:
    """Where a dial rests: low, as stated, high; fewer where they coincide."""
    ends = (parameter.low, parameter.value, parameter.high)
    return tuple(sorted({end for end in ends if end is not None}))


def turned(loaded: Question, tried: Setup, name: str, step: int) -> Setup:
    """The number at its next stop; after the last one comes the first."""
    parameter = _known(loaded)[name]
    at, places = dict(tried.assumed).get(name, parameter.value), stops(parameter)
    onward = [p for p in places if (p > at if step > 0 else p < at)]
    if onward:
        return moved(loaded, tried, name, onward[0] if step > 0 else onward[-1])
    return moved(loaded, tried, name, places[0] if step > 0 else places[-1])


def moved(loaded: Question, tried: Setup, name: str, value: float) -> Setup:
    """The set-up with one number of the user's; the stated value takes it back."""
    rest = tuple(pair for pair in tried.assumed if pair[0] != name)
    if value == _known(loaded)[name].value:
        return replace(tried, assumed=rest)
    return replace(tried, assumed=(*rest, (name, value)))


def typed(loaded: Question, tried: Setup, name: str, text: str) -> Setup:
    """The set-up with a typed value; an empty text takes it back.

    Raises:
        UserProblem: no number, or one that cannot be.
    """
    from solderrisk.model.problems import UserProblem

    known = _known(loaded)[name]
    try:
        value = float(text.replace(",", ".")) if text.strip() else known.value
    except ValueError:
        raise UserProblem(f"{one_line(text, 20)!r} is no number") from None
    if not abs(value) < 1e12:
        raise UserProblem(f"{one_line(text, 20)} is no number to count with")
    setup = moved(loaded, tried, name, value)
    if setup.assumed:
        loaded.reference.assuming(dict(setup.assumed))
    return setup


def told(loaded: Question, name: str, effects: Mapping[str, Effect]) -> str:
    """Range and source of a number, and what it does to the chance where that is known."""
    known = _known(loaded).get(name)
    if known is None:
        return ""
    ends = f"range {known.low:.4g} to {known.high:.4g}; " if known.low is not None else ""
    note = f" ({one_line(known.note, 120)})" if known.note else ""
    effect = effects.get(name)
    does = (
        f"; the chance is {percent(effect.at_low)} at its low end, "
        f"{percent(effect.at_high)} at its high end"
        if effect
        else ""
    )
    return f"{name}: stated {known.told}; {ends}{one_line(known.source, 600)}{note}{does}"


def as_options(tried: Setup) -> str:
    """The moved numbers as the command line takes them."""
    return " ".join(f"--assume {name}={value:.6g}" for name, value in tried.assumed)


def _known(loaded: Question) -> dict[str, Parameter]:
    return loaded.reference.named()


def _moves(effect: Effect | None) -> str:
    if effect is None:
        return ""
    return f": {100 * effect.at_low:.0f} to {100 * effect.at_high:.0f} %"


def _title(name: str) -> str:
    if name in FIRST:
        return FIRST[name]
    return plain(name.replace(".", " "))


def _end(parameter: Parameter, value: float) -> str:
    if value == parameter.value:
        return ""
    return " low" if value == parameter.low else " high" if value == parameter.high else " own"
