"""Advice, difficulty statement and practice ladder as plain text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.bench import Bench
from solderrisk.model.builder import Level
from solderrisk.model.kit import Kit
from solderrisk.model.parameters import Parameter
from solderrisk.model.reference import Named
from solderrisk.plan.results import Advice, PassMark, PracticeStep, StatementCell
from solderrisk.plan.sensitivity import Effect
from solderrisk.report.text import WIDTH, wrapped
from solderrisk.report.words import LEVEL_WORDS, WORKS, grouped
from solderrisk.words import chance, counted, money, percent, plain

STATES = {
    "claimed": "shown by your record",
    "believed": "by your own description",
    "open": "open",
}
NAME_W = 15
CELL_W = 21


def advice_text(advice: Advice, currency: str) -> str:
    """The advice in words."""
    lines = wrapped(f"{advice.text}.", 0)
    for label, items in (("buy", advice.buys), ("practise", advice.practice)):
        lines += [row for item in items for row in wrapped(f"{label}: {item}")]
    if advice.buys or advice.practice:
        together = f"together {money(advice.price, currency)}"
        lines += wrapped(together + (f", {advice.hours:.1f} h of practice" if advice.hours else ""))
    lines += wrapped(
        f"chance then {chance(advice.chance)}; {counted(advice.tried, 'set')} looked at"
    )
    if advice.buys:
        lines += wrapped("prices are invented round figures; give your own with --prices FILE")
    return _ended(lines)


def statement_text(kit: Kit, cells: Sequence[StatementCell], benches: Sequence[Bench] = ()) -> str:
    """The difficulty statement, fit to publish: tables of at most three benches, what the
    figures and the ``benches`` mean, and the work that decides them."""
    lines = wrapped(f"{kit.title or kit.name}: chance that it works, by builder and bench", 0)
    names = list(dict.fromkeys(cell.bench for cell in cells))
    per_table = (WIDTH - NAME_W) // CELL_W
    for start in range(0, len(names), per_table):
        lines += ["", *_table(cells, names[start : start + per_table])]
    lines += ["", *wrapped(WORKS, 0, 0)]
    told = [bench for bench in benches if bench.title]
    if told:
        lines += ["", "Benches", *(r for b in told for r in wrapped(f"{b.name}: {b.title}"))]
    lines += ["", "What decides it"]
    for decisive, where in _decided(cells).items():
        what = grouped(sorted(decisive)) or "nothing stands out"
        lines += wrapped(f"{_where(where, cells)}: {what}")
    return _ended(lines)


def _table(cells: Sequence[StatementCell], benches: Sequence[str]) -> Iterable[str]:
    yield f"{'':{NAME_W}}" + "".join(f"{bench[: CELL_W - 2]:>{CELL_W}}" for bench in benches)
    for level in dict.fromkeys(cell.level for cell in cells):
        row = {cell.bench: chance(cell.chance) for cell in cells if cell.level == level}
        yield f"{LEVEL_WORDS[level]:{NAME_W}}" + "".join(
            f"{row.get(bench, '-'):>{CELL_W}}" for bench in benches
        )


def _decided(cells: Sequence[StatementCell]) -> dict[frozenset[str], list[StatementCell]]:
    """Cells by the work that decides them, in whatever order it does."""
    found: dict[frozenset[str], list[StatementCell]] = {}
    for cell in cells:
        found.setdefault(frozenset(cell.decisive), []).append(cell)
    return found


def _where(some: Sequence[StatementCell], cells: Sequence[StatementCell]) -> str:
    """'everywhere', or levels with the benches they share."""
    if len(some) == len(cells):
        return "everywhere"
    every = {cell.bench for cell in cells}
    by_benches: dict[tuple[str, ...], list[str]] = {}
    for level in dict.fromkeys(cell.level for cell in some):
        benches = tuple(cell.bench for cell in some if cell.level == level)
        by_benches.setdefault(benches, []).append(LEVEL_WORDS[level])
    return "; ".join(
        f"{', '.join(levels)} on {'any bench' if set(benches) == every else ', '.join(benches)}"
        for benches, levels in by_benches.items()
    )


def ladder_text(steps: Sequence[PracticeStep]) -> str:
    """The practice ladder in words."""
    lines: list[str] = []
    for number, step in enumerate(steps, 1):
        lines += wrapped(f"{number:2d}. {step.title}  [{STATES[step.state]}]", 0, 4)
        shows = f"'{LEVEL_WORDS[step.shows]}' in {step.skill_title or plain(step.skill)}"
        lines += wrapped(f"shows {shows}; on {step.material}; about {step.hours:.1f} h", 4)
        marks = ", or ".join(mark.told for mark in step.marks)
        lines += wrapped(f"pass mark: {marks} ({step.marks[0].claim})", 4)
        lines += wrapped(f"or judged as you go: passed at {_going(step)} so far", 4)
        lines += wrapped(f"counting: {step.counting}", 4) if step.counting else []
        lines += wrapped(f"record: {step.record}", 4)
        if step.needed:
            lines += wrapped(f"still needed: {counted(step.needed, 'clean joint')}", 4)
        if step.missing_notes:
            notes = ", ".join(plain(note) for note in step.missing_notes)
            lines += wrapped(f"read first: safety notes on {notes}", 4)
        lines += [row for item in step.steps for row in wrapped(f"- {item}", 4)]
    return _ended(lines)


def _going(step: PracticeStep) -> str:
    whole = step.marks[0].whole_part
    told = []
    for faults, joints in enumerate(step.sequential):
        many = f"{joints // step.joints_per_part} parts" if whole else f"{joints} joints"
        bad = "spoiled" if whole else "fault" if faults == 1 else "faults"
        told.append(f"{many} with {faults or 'no' if not whole else faults or 'none'} {bad}")
    return ", ".join(told)


def marks_text(marks: Mapping[Level, Sequence[PassMark]]) -> str:
    """What shows each level: joints without any fault, by confidence."""
    first = next(iter(marks.values()))
    head = "".join(f"{100 * mark.confidence:10.0f} %" for mark in first)
    lines = ["Joints without a fault that show a level, by confidence", ""]
    lines.append(f"{'':28s}{head}   faults at most")
    for level, row in marks.items():
        joints = "".join(f"{mark.joints:12d}" for mark in row)
        lines.append(f"{LEVEL_WORDS[level]:28s}{joints}   {100 * row[0].rate:.1f} %")
    return _ended(lines)


def effects_text(effects: Sequence[Effect], named: Mapping[str, Parameter]) -> str:
    """The numbers that the chance rests on: their range, and the chance at both ends."""
    lines = wrapped(
        "Chance of a working result with one number at the low and at the high end of its range; "
        "set your own with --assume NAME=VALUE",
        0,
    )
    for effect in effects:
        ends = f"{percent(effect.at_low)} to {percent(effect.at_high)}"
        lines += ["", f"{effect.name:36}  {ends}", *_number(named[effect.name])]
    if not effects:
        lines += ["", "no single number moves it by as much as 0.05 %"]
    return _ended(lines)


def assumed_text(numbers: Sequence[Named]) -> str:
    """Every number that a user may move."""
    lines: list[str] = []
    for number in numbers:
        lines += [number.name, *_number(number.parameter)]
    return _ended(lines)


def _number(parameter: Parameter) -> list[str]:
    low, high = parameter.low, parameter.high
    between = f", {low:g} to {high:g}" if low is not None and high is not None else ""
    unit = "" if parameter.unit == "1" else f" {parameter.unit}"
    return wrapped(f"{parameter.value:g}{between}{unit}; {parameter.source}", 4)


def _ended(lines: Iterable[str]) -> str:
    return "\n".join(lines) + "\n"
