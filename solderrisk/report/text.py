"""An assessment as plain text for a terminal or a pipe."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Iterable

from solderrisk.plan.results import Assessment, Stage
from solderrisk.report.groups import PartCard, TechniqueCards, checks, safety_notes, technique_cards
from solderrisk.report.rates import faults_line
from solderrisk.report.words import bad_case, grouped, skill_words
from solderrisk.risk.results import JobRisk, ModeChance
from solderrisk.words import chance, grams, money, percent, plain, span, worked

WIDTH = 78
COSTS_SHOWN = 6
LOOKS_SHOWN = 6


def text(assessment: Assessment, *, cards: bool = False) -> str:
    """Verdict, costs, risk, order and safety as text of at most ``WIDTH`` columns;
    technique cards on demand."""
    parts = [
        _heading(assessment),
        _verdict(assessment),
        _findings(assessment),
        _risks(assessment),
        _second_looks(assessment),
        _costs(assessment),
        _order(assessment),
        _cards(assessment) if cards else [],
        _safety(assessment),
        _assumptions(assessment),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _heading(a: Assessment) -> list[str]:
    invented = "  (invented data)" if a.kit.invented else ""
    return [
        *wrapped(f"{a.kit.title or a.kit.name}{invented}", 0),
        *wrapped(f"builder: {a.builder.name}   bench: {a.bench.name}", 0),
    ]


def _verdict(a: Assessment) -> list[str]:
    v = a.verdict
    lines = [
        *wrapped(v.headline.upper(), 0),
        *_figure("chance of a working result", f"{chance(v.chance)}, wanted {percent(v.target)}"),
        *_figure("no fault at the first try", chance(v.first_time)),
        *_figure("faults to expect", faults_line(a.risk)),
        *_figure("time at the bench", span(a.risk.hours, "h")),
    ]
    return lines + [row for reason in v.reasons for row in wrapped("- " + reason)]


def _figure(name: str, value: str) -> list[str]:
    return wrapped(f"{name:28} {value}", 2, 31)


def _costs(a: Assessment) -> list[str]:
    c = a.costs
    used = f"{grams(c.solder_g)} of solder ({c.solder_wire_m:.1f} m of wire), {grams(c.flux_g)} of "
    used += "flux" + (f", {grams(c.removal_alloy_g)} of removal alloy" if c.removal_alloy_g else "")
    lines = [
        "COSTS",
        *_figure("to buy", money(c.to_buy, c.currency)),
        *_figure("gone in the bad case", bad_case(c)),
        *_figure("expected loss", span(c.expected_loss, c.currency)),
        *_figure("used up", used),
    ]
    known = [line for line in c.lines if line.note != "price not known" and line.amount >= 0.005]
    known.sort(key=lambda line: -line.amount)
    for line in known[:COSTS_SHOWN]:
        lines += wrapped(f"{line.amount:9.2f}  {plain(line.what)}", 2, 13)
    if len(known) > COSTS_SHOWN:
        rest = sum(line.amount for line in known[COSTS_SHOWN:])
        lines.append(f"  {rest:9.2f}  for {len(known) - COSTS_SHOWN} more")
    unknown = [plain(line.what) for line in c.lines if line.note == "price not known"]
    return lines + (wrapped("price not known: " + ", ".join(unknown)) if unknown else [])


def _second_looks(a: Assessment) -> list[str]:
    if not a.second_looks:
        return []
    shown = a.second_looks[:LOOKS_SHOWN]
    return ["CHECKS THAT PAY", *(row for look in shown for row in wrapped("- " + look.text))]


def _findings(a: Assessment) -> list[str]:
    if not a.findings:
        return []
    lines = ["WHAT TO KNOW FIRST"]
    for finding in a.findings:
        remedy = f" {finding.remedy[:1].upper()}{finding.remedy[1:]}." if finding.remedy else ""
        lines += wrapped(f"{finding.level}: {finding.text}.{remedy}")
    return lines


def _risks(a: Assessment) -> list[str]:
    if not a.verdict.top:
        return []
    lines = ["WHERE THE RISK IS", "  share of failure, ends well, work"]
    for key in a.verdict.top:
        job = a.risk.by_key[key]
        well = "blocked" if job.blocked else chance(job.chosen.after_mending)
        lines += wrapped(f"{percent(a.risk.fail_share[key]):>6}  {well:16}  {_work(job)}", 2, 6)
        lines += wrapped(job.why_chosen, 6)
        for mode in sorted(job.chosen.modes, key=lambda m: -m.total.mid)[:2]:
            lines += wrapped(_fault(mode), 6)
        lines += wrapped(_needs(a, job), 6)
    return lines


def _work(job: JobRisk) -> str:
    footprint = job.job.footprint.name if job.job.footprint else ""
    technique = "no technique possible" if job.blocked else job.chosen.title
    return f"{job.job.key.replace(':', ' ')} {footprint}, {technique}"


def _fault(mode: ModeChance) -> str:
    why = mode.why.removeprefix(mode.title).strip()
    return f"{mode.title}, {percent(mode.total.mid)} for one or more: {why}"


def _needs(a: Assessment, job: JobRisk) -> str:
    tools = a.tools(job.tooling_needed) or "nothing beyond the bench"
    return f"skill needed: {skill_words(job)}; tooling needed: {tools}"


def _order(a: Assessment) -> list[str]:
    order = a.order
    lines = ["FITTING ORDER"]
    lines += wrapped(order.note) if order.note else []
    lines += [row for note in order.notes for row in wrapped("- " + note)]
    for stage in order.stages:
        lines += stage_lines(stage, a)
    return lines


def stage_lines(stage: Stage, a: Assessment) -> Iterable[str]:
    """One block of the order."""
    yield from wrapped(
        f"{stage.number:2d}. {stage.title}  [{worked(stage.minutes, stage.wait_hours)}]", 2, 6
    )
    yield from wrapped("prepare: " + "; ".join(stage.prepare), 6) if stage.prepare else []
    yield from wrapped("work: " + grouped(stage.keys), 6) if stage.keys else []
    looks = checks(stage)
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
        whys = (f"{o.title}: {o.why or ', '.join(o.missing)}" for o in risk.options)
        return [*lines, *(row for why in whys for row in wrapped(why, 4))]
    lines += [row for label, value in card.settings for row in wrapped(f"{label}: {value}", 4)]
    lines += _labelled("way round", [card.orientation] if card.orientation else [], 4)
    lines += _labelled("look for", card.look_for, 4)
    lines += _labelled("mind", card.cautions, 4)
    return lines


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


def _assumptions(a: Assessment) -> list[str]:
    if not a.assumptions:
        return []
    return ["ASSUMED", *(row for item in a.assumptions for row in wrapped("- " + item))]


def wrapped(item: str, indent: int = 2, hang: int | None = None) -> list[str]:
    """One item folded to ``WIDTH`` columns; further lines are indented by ``hang``."""
    hang = indent + 2 if hang is None else hang
    # Runs of blanks are the caller's columns and stay; controls and line ends go.
    words = "".join(c if c.isprintable() else " " for c in item).rstrip()
    rows = textwrap.wrap(
        _spread(words),
        WIDTH,
        initial_indent=" " * indent,
        subsequent_indent=" " * hang,
        break_on_hyphens=False,
    )
    return [row.replace(_HALF, "") for row in rows]


# Wide characters (East Asian) take two columns; a filler keeps the fold right.
_HALF = "\u200b"


def _spread(words: str) -> str:
    return "".join(c + _HALF if unicodedata.east_asian_width(c) in "WF" else c for c in words)
