"""Numbers that nobody has measured: shown with unit, range and source, moved by the user."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from solderrisk.tui.setup import Setup
from solderrisk.words import one_line, percent, plain

if TYPE_CHECKING:
    from solderrisk.model.parameters import Parameter
    from solderrisk.model.question import Question
    from solderrisk.plan.sensitivity import Effect


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
