"""Advice, practice and what was learned at the bench, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from solderrisk.model.base import Parameter
from solderrisk.model.bench import Bench, Level
from solderrisk.model.kit import Kit
from solderrisk.model.plan_data import PricedTool
from solderrisk.model.question import Named
from solderrisk.plan.results import Advice, Gain, PassMark, PracticeStep, StatementCell, Training
from solderrisk.plan.sensitivity import Outcome, Ranking, Trial
from solderrisk.report.practice import (
    STATES,
    claim_words,
    counting_words,
    in_turn_words,
    mark_words,
    needed_words,
    record_words,
)
from solderrisk.report.words import (
    LEVEL_WORDS,
    MARK_WORDS,
    WORKS,
    advice_line,
    grouped,
    item_name,
    mark,
)
from solderrisk.words import WIDTH, chance, counted, likely, money, percent, plain, wrapped

if TYPE_CHECKING:
    from solderrisk.journal.learning import Compared, Reliable, Score
    from solderrisk.journal.pool import Rate


NAME_W = 15
CELL_W = 21


def advice_text(advice: Advice, table: Sequence[Gain], currency: str) -> str:
    """The advice in words, and what every single thing would do."""
    lines = wrapped(f"{advice_line(advice)}.", 0)
    for item in advice.items:
        lines += wrapped(f"+ {item_name(item)}, {_paid(item, currency)}")
    if advice.buys or advice.practice:
        hours = f", {advice.hours:.1f} h of practice" if advice.hours else ""
        lines += wrapped(f"together {money(advice.price, currency)}{hours}")
    lines += wrapped(f"{counted(advice.tried, 'combination')} tried")
    if table:
        lines += ["", *gains_table(table, currency)]
        if advice.buys:
            lines += wrapped("beside: with all that is to buy above at hand already", 2)
    lines += ["", *wrapped("prices are invented round figures; give your own with --prices FILE")]
    return _ended(lines)


def _paid(item: PricedTool | Training, currency: str) -> str:
    hours = f", {item.hours:.1f} h" if isinstance(item, Training) else ""
    return f"{money(item.price, currency)}{hours}"


NO_GAIN = 0.0005


def gains_table(table: Sequence[Gain], currency: str, most: int = 100) -> list[str]:
    """Single things by what they give for their cost; the name is never cut, the jobs that
    they help stand below."""
    head = f"{'One thing at a time, most for its cost first':46}{'price':>10}{'hours':>7}"
    lines = [f"{head}{'alone':>7}{'beside':>8}"]
    telling = [gain for gain in table if gain.enables or abs(gain.alone) >= NO_GAIN]
    for gain in telling[:most]:
        lines += _gain_rows(gain, currency)
    if len(telling) < len(table) and len(telling) <= most:
        rest = counted(len(table) - len(telling), "other thing")
        lines.append(f"{rest} in the list make no difference")
    return lines


def _points(gain: float) -> float:
    """Points of a hundred to one digit, never a negative nothing."""
    return round(100 * gain, 1) + 0.0


def _gain_rows(gain: Gain, currency: str) -> Iterable[str]:
    names = wrapped(item_name(gain.item), 2, 4)
    if len(names[-1]) > 44:
        names.append("")
    hours = f"{gain.hours:.1f}" if gain.hours else "-"
    yield from names[:-1]
    yield (
        f"{names[-1]:46}{money(gain.price, currency):>10}{hours:>7}"
        f"{_points(gain.alone):>+7.1f}{_points(gain.together):>+8.1f}"
    )
    if gain.helps:
        what = "makes possible" if gain.enables else "helps"
        yield from wrapped(f"{what} {grouped(gain.helps)}", 4)


def statement_text(
    kit: Kit, cells: Sequence[StatementCell], wanted: float, benches: Sequence[Bench] = ()
) -> str:
    """The difficulty statement, fit to publish: tables of at most three benches, what the
    figures and the ``benches`` mean, and the work that decides them."""
    lines = wrapped(f"{kit.title or kit.name}: chance in % that it works, by builder and bench", 0)
    names = list(dict.fromkeys(cell.bench for cell in cells))
    per_table = (WIDTH - NAME_W) // CELL_W
    for start in range(0, len(names), per_table):
        lines += ["", *_table(cells, names[start : start + per_table])]
    lines += ["", *wrapped(f"{percent(wanted)} is wanted: {MARK_WORDS}.", 0), *wrapped(WORKS, 0, 0)]
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
        row = {cell.bench: _cell(cell) for cell in cells if cell.level == level}
        yield f"{LEVEL_WORDS[level]:{NAME_W}}" + "".join(
            f"{row.get(bench, '-'):>{CELL_W}}" for bench in benches
        )


def _cell(cell: StatementCell) -> str:
    found = cell.judgement
    if not found.possible:
        return mark(found)
    told = chance(cell.chance, "") if found.has_figure else "not decided"
    return f"{told} {mark(found)}"


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
        marks = ", or ".join(map(mark_words, step.marks))
        lines += wrapped(f"pass mark: {marks} ({claim_words(step.marks[0])})", 4)
        lines += wrapped(f"or judged as you go: passed at {in_turn_words(step)} so far", 4)
        lines += wrapped(f"counting: {counting_words(step)}", 4)
        lines += wrapped(f"record: {record_words(step)}", 4)
        if step.needed:
            lines += wrapped(f"still needed: {needed_words(step)}", 4)
        if step.missing_notes:
            notes = ", ".join(plain(note) for note in step.missing_notes)
            lines += wrapped(f"read first: safety notes on {notes}", 4)
        lines += [row for item in step.steps for row in wrapped(f"- {item}", 4)]
    return _ended(lines)


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


def effects_text(ranking: Ranking, named: Mapping[str, Parameter]) -> str:
    """The numbers that the chance rests on: their range, and the chance at both ends."""
    lines = wrapped(
        "Chance of a working result with one number at its 5 % and at its 95 % point, all else as "
        "little known as it is, and its share of the doubt; the hands alone make "
        f"{percent(ranking.hands)} of it. Set your own with --assume NAME=VALUE",
        0,
    )
    for effect in ranking.effects:
        ends = f"{likely(effect.at_low)} to {likely(effect.at_high)}"
        lines += ["", f"{effect.name:32}  {ends:14}  {percent(effect.share)} of the doubt"]
        lines += wrapped(f"with it: {', '.join(effect.others)}", 4) if effect.others else []
        lines += _number(named[effect.name]) if effect.name in named else _unnamed(effect.name)
    if not ranking.effects:
        lines += ["", "no single number moves it by as much as 0.2 %"]
    for trial in ranking.trials:
        lines += ["", *wrapped(_trial_line(trial), 0)]
        lines += [line for each in trial.outcomes for line in wrapped(_outcome_line(each), 4)]
    if ranking.reported:
        lines += ["", *wrapped("Kits that people reported on: how often they came out well, "
                               "what is predicted of such kits without these reports and with "
                               "them; --assume reported_weight=0 leaves them out", 0)]  # fmt: skip
    for each in ranking.reported:
        kit, told = each.kit, f"{likely(each.before)} and {likely(each.after)} predicted"
        lines += ["", *wrapped(f"{kit.title}: {kit.good:g} of {kit.of:g}, {told}", 0)]
        lines += wrapped(f"counts for {each.counts:g}; {kit.source}", 4)
    return _ended(lines)


def _trial_line(trial: Trial) -> str:
    return (
        f"To find out: {trial.joints} joints on scrap, {trial.title} ({trial.hours:.1f} h); "
        f"settles it in {percent(trial.settles)} of what they may show, each as likely:"
    )


def _outcome_line(outcome: Outcome) -> str:
    answers = {"yes": "yes", "no": "no", "open": "still open"}
    faults = counted(outcome.faults, "fault")
    return f"{faults}: works {chance(outcome.chance)}, {answers[outcome.answer]}"


def _unnamed(cause: str) -> list[str]:
    """Causes that are no number of the data files."""
    told = {
        "heat.iron": "where within its doubt the heat of an iron at a joint lies",
        "heat.air": "where within its doubt the heat that arrives from hot air lies",
        "heat.mix": "where within its doubt a mixture with removal alloy melts",
        "heat.class": "what parts bear whose class nobody knows",
    }
    return wrapped(told.get(cause, "what levels are said to do, all of them together"), 4)


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


WHAT_IS_SEEN = (
    "Expected is what would be found and written down of what is made; both shares are",
    "assumed, with ranges. Only jobs looked over count, only against forecasts kept before.",
)


def sentence(group: Compared, titles: dict[str, str]) -> str:
    """'bridge, drag soldering: 11 seen, 24 expected (15 to 35): about half of what was
    expected'."""
    expected = group.expected
    what = titles.get(group.mode, group.mode)
    what += f", {plain(group.name)}" if group.name else ""
    figures = (
        f"{what}: {group.seen} seen, {expected.mid:.1f} expected "
        f"({expected.low:.0f} to {expected.high:.0f})"
    )
    return f"{figures}: {_judged(group)}"


def _judged(group: Compared) -> str:
    if group.inside:
        return "as expected" if group.tells else "too few to tell"
    if group.ratio >= 1.75:
        return f"about {group.ratio:.1f} times what was expected"
    if group.ratio > 1:
        return "somewhat more than expected"
    if group.ratio > 0.6:
        return "fewer than expected"
    return "about half of what was expected" if group.ratio > 0.4 else "far fewer than expected"


LINE = 41  # characters from 0 to 100 %


def score_lines(told: Score) -> list[str]:
    lines = [
        f"{counted(told.jobs, 'job')} looked over; Brier score {told.brier:.3f} "
        f"(reliability {told.reliability:.3f}, resolution {told.resolution:.3f}, "
        f"uncertainty {told.uncertainty:.3f})",
        f"chance told      jobs   told   seen  0 %{'':33}100 %",
    ]
    for band in told.bands:
        lines.append(
            f"{percent(band.low):>5} to {percent(band.high):<5} {band.jobs:6d} "
            f"{percent(band.told):>6} {percent(band.seen):>6}  {against_told(band)}"
        )
    lines.append("o seen, --- what that may come from, | told: right where | stands in it")
    if told.coverage is None:
        lines.append("too few faults are expected yet to say whether the ranges hold")
    else:
        lines.append(
            f"{percent(told.coverage)} of {counted(told.groups, 'group')} inside the range told, "
            "90 % would be right"
        )
    return lines


def against_told(band: Reliable) -> str:
    """A line from 0 to 100 %: what was seen with its range, and what was told."""
    low, seen, high, told = (
        round((LINE - 1) * share) for share in (band.seen_low, band.seen, band.seen_high, band.told)
    )
    line = ["-" if low <= at <= high else "." for at in range(LINE)]
    line[seen] = "o"
    line[told] = "+" if told == seen else "|"
    return "".join(line)


def rate_line(pooled: Rate) -> str:
    if pooled.parameter is None:
        return f"{pooled.name}: none, {pooled.why}"
    found = pooled.parameter
    line = (
        f"{pooled.name}: {found.value:g} ({found.low:g} to {found.high:g}) {found.unit}; "
        f"{found.source}; nobody moves it by more than {pooled.influence:.0%} of its half-range"
    )
    if pooled.unclear:
        line += f"; not separable, prior kept: {', '.join(pooled.unclear)}"
    return line
