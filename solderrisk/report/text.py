"""An assessment as plain text for a terminal or a pipe: the answer first, the rest by name."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from solderrisk.plan.results import Assessment, Gain, Stage
from solderrisk.report import order as order_words
from solderrisk.report.findings import finding_remedy, finding_text
from solderrisk.report.groups import (
    PartCard,
    TechniqueCards,
    faults_line,
    hindrances,
    rescue_lines,
    safety_notes,
    technique_cards,
    troubles,
)
from solderrisk.report.words import (
    UNDECIDED,
    assumption_lines,
    bad_case,
    chance_told,
    expected_loss,
    grouped,
    headline,
    in_hundred,
    job_name,
    look_text,
    mode_why,
    reasons,
    skill_words,
    to_buy,
    unpriced,
    why_chosen,
    worst_mode,
)
from solderrisk.risk.results import JobRisk, ModeChance
from solderrisk.words import (
    WIDTH,
    chance,
    column,
    counted,
    cut,
    folded,
    grams,
    likely,
    named,
    one_line,
    percent,
    plain,
    sentence,
    span,
    worked,
    wrapped,
)

COSTS_SHOWN = 6
LOOKS_SHOWN = 6
ANSWER_ROWS = 24  # of the answer, which has to stand on one screen
DECIDING = 3

Section = Callable[[Assessment], list[str]]


def text(a: Assessment, gains: Sequence[Gain] = (), show: Sequence[str] = ()) -> str:
    """The answer in ``ANSWER_ROWS`` rows of at most ``WIDTH`` columns; with ``show`` the
    sections of these names below it, 'all' for every one. ``gains``: single purchases and
    practices, of which the best are told."""
    names = SECTIONS if "all" in show else [name for name in SECTIONS if name in show]
    parts = [answer(a, gains, more=not names), *(SECTIONS[name](a) for name in names)]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def answer(a: Assessment, gains: Sequence[Gain] = (), *, more: bool = True) -> list[str]:
    """What a person has to know before anything else."""
    change: list[str] = []
    if gains or not a.verdict.judgement.has_figure:
        from solderrisk.report.planning import change_rows

        change = change_rows(a, gains)
    last = _more(a) if more else []
    ends = ends_rows(a)
    head = [*_heading(a), *says_rows(a)]
    room = ANSWER_ROWS - len(head) - len(change) - len(ends) - len(last)
    return [*head, *change, *_decides(a, room), *ends, *last]


def _heading(a: Assessment) -> list[str]:
    invented = "  (invented data)" if a.kit.invented else ""
    title = cut(a.kit.title or a.kit.name, WIDTH - len(invented)) + invented
    who = f"builder {cut(a.builder.name, 24)}, bench {cut(a.bench.name, 24)}"
    about = f"{who} ({a.builder.title})" if a.builder.title else who
    return [title, cut(about)]


def says_rows(a: Assessment, width: int = WIDTH) -> list[str]:
    """The answer in rows of at most ``width`` columns."""
    v = a.verdict
    told = f"{headline(v.judgement).upper()}. {sentence(in_hundred(v))}."
    lines = wrapped(told, 0, 2, width)
    if v.judgement.possible and v.judgement.has_figure:
        told = f"works {chance_told(v)}: the range is what is not known"
        lines += wrapped(told, 2, width=width)
    if not v.judgement.possible:
        told_why = [f"- {reason}" for reason in reasons(a)[:2]]
        lines += [row for why in told_why for row in wrapped(why, 2, width=width)][:4]
    return lines


def _decides(a: Assessment, room: int) -> list[str]:
    """The work that carries most of the failure, and what goes wrong there."""
    rows = []
    for key in a.verdict.top[:DECIDING]:
        job = a.risk.by_key[key]
        if job.blocked:
            continue
        worst = worst_mode(job)
        name = column(f"{job_name(job.job)}  {job.job.title}", 30)
        why = one_line(worst.title, 22) if worst else ""
        rows.append(f"  {name}{chance(job.chosen.after_mending):>21}  {why}".rstrip())
    rows = rows[: max(room - 2, 1)]
    head = f"{'WHAT DECIDES IT':32}{'works':>21}  what goes wrong"
    return ["", head, *rows] if rows else []


def ends_rows(a: Assessment, width: int = WIDTH) -> list[str]:
    """What is lost if it fails, what comes before the start, what is not known."""
    told = (_if_it_fails(a), _before(a), _not_known(a))
    return ["", *(row for line in told if line for row in wrapped(line, 0, 2, width)[:2])]


def _if_it_fails(a: Assessment) -> str:
    c = a.costs
    gone = sum(job.irreplaceable and job.kind == "fit" for job in a.jobs)
    hours = f"{a.risk.hours.high:.0f} h" if a.risk.hours.high >= 1 else "under an hour"
    told = f"about {_round(c.bad_money)} {c.currency} and {hours} are lost"
    if c.bad_money < 1:
        told = f"{hours} of work is lost"
    if c.unpriced:
        told = f"{unpriced(c)}; besides them {told}"
    nobody = f"; {counted(gone, 'part')} cannot be bought again" if gone else ""
    return f"IF IT FAILS  {told}{nobody}"


def _round(amount: float) -> str:
    """Two figures: more would be more than anybody knows."""
    return f"{float(f'{amount:.2g}'):,.0f}" if amount >= 10 else f"{amount:.0f}"


def _before(a: Assessment) -> str:
    read = sum(note.acknowledge for note in a.safety)
    waits = [stage for stage in a.order.stages if stage.wait_hours]
    told = [f"read {counted(read, 'safety note')}"] if read else []
    hours = sum(stage.wait_hours for stage in waits)
    if waits:
        first = one_line(order_words.title(waits[0]), 40)
        told.append(f"{hours:.0f} h of waiting, first for: {first}")
    return f"BEFORE YOU START  {'; '.join(told)}" if told else ""


def _not_known(a: Assessment) -> str:
    told = [f"{counted(len(a.kit.not_counted), 'part')} not counted"] if a.kit.not_counted else []
    if any(finding.kind == "ties_unknown" for finding in a.findings):
        told.append("which pins lie on copper planes")
    told += [unpriced(a.costs)] if a.costs.unpriced else []
    told += [f"{len(a.assumed.own)} numbers set by you"] if a.assumed.own else []
    own, theirs = a.builder.currency, a.kit.currency
    told += [f"prices are in {theirs}, not {own}"] if own not in ("", theirs) else []
    told.append(f"{a.assumed.judged} of {a.assumed.of} rates are judgement")
    told.append("estimates, no clearance to work")
    return f"NOT KNOWN  {'; '.join(told)}"


def _more(a: Assessment) -> list[str]:
    names = "|".join((*SECTIONS, "all"))
    return [f"MORE  --show {names}; solderrisk advise"]


def _figure(name: str, value: str) -> list[str]:
    return wrapped(f"{name:28} {value}", 2, 31)


def _costs(a: Assessment) -> list[str]:
    c = a.costs
    used = f"{grams(c.solder_g)} of solder ({c.solder_wire_m:.1f} m of wire), {grams(c.flux_g)} of "
    used += "flux" + (f", {grams(c.removal_alloy_g)} of removal alloy" if c.removal_alloy_g else "")
    lines = [
        "COSTS",
        *_figure("to buy", to_buy(c)),
        *_figure("lost if it fails", bad_case(c)),
        *_figure("expected loss", expected_loss(c)),
        *_figure("used up", used),
        *_figure("time at the bench", span(a.risk.hours, "h")),
    ]
    known = [(line.amount, line) for line in c.lines if line.amount and line.amount >= 0.005]
    known.sort(key=lambda pair: -pair[0])
    for amount, line in known[:COSTS_SHOWN]:
        lines += wrapped(f"{amount:9.2f}  {plain(line.what)}", 2, 13)
    if len(known) > COSTS_SHOWN:
        rest = sum(amount for amount, _ in known[COSTS_SHOWN:])
        lines.append(f"  {rest:9.2f}  for {len(known) - COSTS_SHOWN} more")
    unknown = [plain(line.what) for line in c.lines if line.amount is None]
    unknown += [folded(c.unpriced)] if c.unpriced else []
    return lines + (wrapped("price not known: " + ", ".join(unknown)) if unknown else [])


def _risk(a: Assessment) -> list[str]:
    """Findings, what carries the risk, and checks that pay."""
    parts = [_reasons(a), _findings(a), _worst(a), _second_looks(a)]
    return [row for part in parts if part for row in ("", *part)][1:]


def _reasons(a: Assessment) -> list[str]:
    lines = [
        "FIGURES",
        *_figure("works", f"{chance_told(a.verdict)}, wanted {percent(a.verdict.target)}"),
        *_figure("no fault at the first try", chance(a.verdict.first_time)),
        *_figure("works when power first comes on", chance(a.risk.first_power)),
        *_figure("if only the hands were in doubt", chance(a.risk.by_hands)),
        *_figure("if only the numbers were", chance(a.risk.by_numbers)),
        *_figure("faults to expect", faults_line(a.risk)),
    ]
    return lines + [row for reason in reasons(a) for row in wrapped("- " + reason)]


def _second_looks(a: Assessment) -> list[str]:
    if not a.second_looks:
        return []
    shown = a.second_looks[:LOOKS_SHOWN]
    return ["CHECKS THAT PAY", *(row for look in shown for row in wrapped("- " + look_text(look)))]


def _findings(a: Assessment) -> list[str]:
    if not a.findings:
        return []
    lines = ["WHAT TO KNOW FIRST"]
    for finding in a.findings:
        remedy = sentence(finding_remedy(finding))
        lines += wrapped(f"{finding.level}: {finding_text(finding)}. {remedy}.")
    return lines


def _worst(a: Assessment) -> list[str]:
    if not a.verdict.top:
        return []
    lines = ["WHERE THE RISK IS", "  share of failure, works, what"]
    for key in a.verdict.top:
        job = a.risk.by_key[key]
        well = "blocked" if job.blocked else chance(job.chosen.after_mending)
        lines += wrapped(f"{percent(a.risk.fail_share[key]):>6}  {well:16}  {_work(job)}", 2, 6)
        lines += wrapped(why_chosen(job), 6)
        for mode in sorted(job.chosen.modes, key=lambda m: -m.total.mid)[:2]:
            lines += wrapped(_fault(mode), 6)
        lines += wrapped(_needs(a, job), 6)
    return lines


def _work(job: JobRisk) -> str:
    footprint = job.job.footprint.name if job.job.footprint else ""
    technique = "no technique possible" if job.blocked else job.chosen.title
    return f"{job_name(job.job)} {footprint}, {technique}"


def _fault(mode: ModeChance) -> str:
    return f"{mode.title}, {likely(mode.total.mid)} for one or more: {mode_why(mode)}"


def _needs(a: Assessment, job: JobRisk) -> str:
    tools = named(job.tooling_needed, a.tool_names) or "nothing beyond the bench"
    if job.blocked and not job.tooling_needed:
        helps = named(job.tooling_helps, a.tool_names)
        tools = f"{helps} would help, still {UNDECIDED}" if helps else "no tool in the list helps"
    return f"skill needed: {skill_words(job)}; tooling needed: {tools}"


def _order(a: Assessment) -> list[str]:
    order = a.order
    lines = ["FITTING ORDER"]
    lines += wrapped(order_words.note(order))
    lines += [row for each in order.waived for row in wrapped("- " + order_words.waived_text(each))]
    for stage in order.stages:
        lines += stage_lines(stage, a)
    return lines


def stage_lines(stage: Stage, a: Assessment) -> Iterable[str]:
    """One block of the order."""
    about = worked(stage.minutes, stage.wait_hours)
    yield from wrapped(f"{stage.number:2d}. {order_words.title(stage)}  [{about}]", 2, 6)
    lines = order_words.prepare(stage)
    yield from wrapped("prepare: " + "; ".join(lines), 6) if lines else []
    yield from wrapped("work: " + grouped(stage.keys), 6) if stage.keys else []
    looks = order_words.checks(stage)
    yield from wrapped("then " + "; ".join(looks), 6) if looks else []
    if stage.gate:
        gate = next(job for job in a.jobs if job.key == stage.gate)
        yield from wrapped(f"test: {gate.title}", 6)


def _cards(a: Assessment) -> list[str]:
    lines = ["TECHNIQUE CARDS"]
    for group in technique_cards(a):
        lines += ["", *_technique(group)]
    return lines


def _technique(group: TechniqueCards) -> list[str]:
    lines = wrapped(f"== {group.title}")
    for number, step in enumerate(group.steps, start=1):
        lines += wrapped(f"{number}. {step}", 2, 5)
    lines += _labelled("look for", group.look_for)
    lines += _labelled("mind", group.cautions)
    for part in group.parts:
        lines += ["", *_part(part)]
    return lines


def _part(part: PartCard) -> list[str]:
    card, risk = part.card, part.risk
    also = f"  (also {grouped(part.keys[1:])})" if part.keys[1:] else ""
    lines = wrapped(f"{card.title}{also}", 2, 4)
    if risk.blocked:
        return [*lines, *(row for why in hindrances(risk) for row in wrapped(why, 4))]
    lines += [row for label, value in card.settings for row in wrapped(f"{label}: {value}", 4)]
    lines += _labelled("orientation", [card.orientation] if card.orientation else [], 4)
    lines += _labelled("look for", card.look_for, 4)
    lines += _labelled("mind", card.cautions, 4)
    footprint = risk.job.footprint
    return lines + (wrapped(f"figures of the part: {footprint.source}", 4) if footprint else [])


def _rescue(a: Assessment) -> list[str]:
    lines = ["WHEN IT GOES WRONG"]
    for trouble in troubles(a):
        card = trouble.card
        lines += ["", *wrapped(f"{', '.join(trouble.faults)}: {card.way}", 2, 4)]
        lines += wrapped(f"({grouped(trouble.keys)})", 4, 5)
        lines += [row for label, value in rescue_lines(card) for row in _step(label, value)]
    return lines


def _step(label: str, value: str) -> list[str]:
    return wrapped(f"{label} {value}" if label[:1].isdigit() else f"{label}: {value}", 4, 7)


def _labelled(label: str, items: Iterable[str], indent: int = 2) -> list[str]:
    return [row for item in items for row in wrapped(f"{label}: {item}", indent)]


def _safety(a: Assessment) -> list[str]:
    if not a.safety:
        return []
    lines = ["SAFETY  (local rules, data sheets and trained people go first)"]
    shared, own = safety_notes(a)
    lines += [row for item in shared for row in wrapped(item)]
    for note in own:
        must = "read before the work: " if note.acknowledge else ""
        lines += wrapped(f"- {must}{note.title}")
        lines += [row for item in note.text for row in wrapped(item, 4)]
    return lines


def _assumed(a: Assessment) -> list[str]:
    return ["ASSUMED", *(row for item in assumption_lines(a) for row in wrapped("- " + item))]


SECTIONS: dict[str, Section] = {
    "order": _order,
    "risk": _risk,
    "cards": _cards,
    "rescue": _rescue,
    "costs": _costs,
    "safety": _safety,
    "assumed": _assumed,
}
