"""Advice, what would change an answer, and practice, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from solderrisk.model.base import Parameter
from solderrisk.model.bench import Bench, Level
from solderrisk.model.kit import Kit
from solderrisk.model.plan_data import PricedTool
from solderrisk.model.question import Named
from solderrisk.plan.practice import PassMark, PracticeStep
from solderrisk.plan.results import Advice, Assessment, Gain, StatementCell, Training
from solderrisk.plan.sensitivity import Outcome, Ranking, Trial
from solderrisk.report.people import (
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
    grouped,
    item_name,
    mark,
)
from solderrisk.words import (
    WIDTH,
    chance,
    column,
    counted,
    cut,
    likely,
    money,
    percent,
    plain,
    short_list,
    wrapped,
)

NAME_W = 15
CELL_W = 21


def advice_line(advice: Advice) -> str:
    """What the advice comes to, in a sentence without its end."""
    found, wanted = chance(advice.chance), percent(advice.wanted)
    if not advice.reached:
        with_it = "; with the best of it this is what comes out" if advice.buys else ""
        return f"Nothing in the list makes it a yes at {wanted}; this comes near: {found}{with_it}"
    if not advice.buys and not advice.practice:
        return f"Nothing is needed: {found}, {wanted} wanted"
    proof = "no cheaper set does" if advice.proved else "a cheaper set may exist: cut short"
    return f"With this it is a yes: {found}, {wanted} wanted; {proof}"


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
    if ranking.unheard is not None:
        told, none = likely(ranking.unheard.heard), likely(ranking.unheard.none)
        lines += wrapped(f"This kit works {told} with all of them, {none} with none.", 0)
    for each in ranking.reported:
        kit, told = each.kit, f"{likely(each.before)} and {likely(each.after)} predicted"
        lines += ["", *wrapped(f"{kit.title}: {kit.good:g} of {kit.of:g}, {told}", 0)]
        without = {} if ranking.unheard is None else ranking.unheard.without
        left = f"this kit works {likely(without[kit.id])} without it; " if without else ""
        lines += wrapped(f"{left}counts for {each.counts:g}; {kit.source}", 4)
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


GAINS_SHOWN = 3


def _way_out(a: Assessment, alone: Sequence[Gain]) -> list[str]:
    """The cheapest tools that open every blocked job, unless one thing alone does it for
    less."""
    tools = [line for line in a.costs.lines if line.kind == "tool" and line.amount is not None]
    jobs = sum(job.blocked for job in a.risk.jobs)
    price = sum(line.amount for line in tools if line.amount is not None)
    if len(tools) < 2 or any(g.enables >= jobs and g.price <= price for g in alone):
        return []
    name = column(" + ".join(line.what for line in tools), 44)
    opened = f"opens {counted(jobs, 'job')}"
    return [f"  {name}{f'{price:.0f} {a.kit.currency}':>10}{'':>8}{opened:>13}"]


def change_rows(a: Assessment, gains: Sequence[Gain]) -> list[str]:
    """The best of what is for sale or can be practised."""
    if not a.verdict.judgement.has_figure:
        missing = "  " + cut(f"a footprint for {short_list(a.kit.not_counted)}", WIDTH - 2)
        return ["", "WHAT WOULD DECIDE IT", missing]
    if a.verdict.judgement.answer == "yes" or not gains:
        return []
    now = a.verdict.chance.mid
    telling = [g for g in gains if g.enables or _whole_points(now + g.alone) > _whole_points(now)]
    best = sorted(telling, key=lambda g: (-g.enables, -round(g.alone, 3), g.cost))[:GAINS_SHOWN]
    rows = _way_out(a, best)
    if not best and not rows:
        return ["", "WHAT WOULD CHANGE IT", "  no single thing in the list of tools and practice"]
    currency = a.kit.currency
    for gain in best:
        then = f"{_whole_points(now)} -> {_whole_points(now + gain.alone)}"
        if gain.enables:
            then = f"opens {counted(gain.enables, 'job')}"
        hours = f"{gain.hours:.1f} h" if gain.hours else ""
        name = column(item_name(gain.item), 44)
        rows.append(f"  {name}{f'{gain.price:.0f} {currency}':>10}{hours:>8}{then:>13}")
    return ["", f"{'WHAT WOULD CHANGE IT':46}{'price':>10}{'time':>8}{'works, %':>13}", *rows]


def _whole_points(chance: float) -> int:
    return round(100 * chance)
