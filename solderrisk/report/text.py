"""An assessment as plain text for a terminal or a pipe."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from solderrisk.plan.results import Assessment, Stage
from solderrisk.risk.results import JobRisk, Range

WIDTH = 78


def percent(value: Range) -> str:
    """'81 % (72..88)', with a decimal where it is close to 0 or 1."""
    digits = 1 if value.mid > 0.99 or value.mid < 0.01 else 0
    mid, low, high = (f"{100 * number:.{digits}f}" for number in (value.mid, value.low, value.high))
    return f"{mid} % ({low}..{high})"


def text(assessment: Assessment, *, cards: bool = False) -> str:
    """Verdict, costs, risk, order and safety as text; technique cards on demand."""
    parts = [
        _heading(assessment),
        _verdict(assessment),
        _costs(assessment),
        _findings(assessment),
        _risks(assessment),
        _order(assessment),
        _cards(assessment) if cards else [],
        _safety(assessment),
        _assumptions(assessment),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _heading(a: Assessment) -> list[str]:
    invented = "  (invented data)" if a.kit.invented else ""
    return [
        f"{a.kit.title or a.kit.name}{invented}",
        f"builder: {a.builder.name}   bench: {a.bench.name}",
    ]


def _verdict(a: Assessment) -> list[str]:
    v = a.verdict
    lines = [
        v.headline.upper(),
        f"  chance of a working result   {percent(v.chance)}, target {100 * v.target:.0f} %",
        f"  no fault at the first try    {percent(v.first_time)}",
        f"  hours at the bench           {a.risk.hours:.1f}",
    ]
    for reason in v.reasons:
        lines += wrapped("- " + reason)
    return lines


def _costs(a: Assessment) -> list[str]:
    c = a.costs
    lines = [
        f"COSTS ({c.currency})",
        f"  to buy {c.to_buy:.2f}; gone in the bad case {c.bad_case:.2f}; "
        f"expected loss {c.expected_loss:.2f}",
        f"  solder {c.solder_g:.1f} g ({c.solder_wire_m:.1f} m of wire), flux {c.flux_g:.1f} g, "
        f"removal alloy {c.removal_alloy_g:.1f} g",
    ]
    biggest = sorted(c.lines, key=lambda line: -line.amount)[:6]
    lines += [f"  {line.amount:9.2f}  {line.what}" for line in biggest if line.amount >= 0.005]
    lines += [
        f"       {line.note}: {line.what}" for line in c.lines if line.note == "price not known"
    ]
    return lines


def _findings(a: Assessment) -> list[str]:
    if not a.findings:
        return []
    lines = ["WHAT TO KNOW"]
    for finding in a.findings:
        lines += wrapped(
            f"{finding.level}: {finding.text}. {finding.remedy[:1].upper()}{finding.remedy[1:]}."
        )
    return lines


def _risks(a: Assessment) -> list[str]:
    lines = ["WHERE THE RISK IS", "  share  ends well        work"]
    for key in a.verdict.top:
        job = a.risk.by_key[key]
        share = a.risk.fail_share[key]
        lines.append(f"  {share:5.0%}  {percent(job.chosen.after_mending):15s}  {_work(job)}")
        lines += wrapped(job.why_chosen, 9)
        for mode in sorted(job.chosen.modes, key=lambda m: -m.total.mid)[:2]:
            lines += wrapped(f"{mode.title} {mode.total.mid:.1%}: {mode.why}", 9)
        needed = job.skill_needed or "no level on this bench"
        tools = ", ".join(job.tooling_needed) or "nothing beyond the bench"
        lines += wrapped(f"skill needed: {needed}; tooling needed: {tools}", 9)
    return lines


def _work(job: JobRisk) -> str:
    footprint = job.job.footprint.name if job.job.footprint else ""
    technique = "no technique possible" if job.blocked else job.chosen.title
    return f"{job.job.key} {footprint}, {technique}"


def _order(a: Assessment) -> list[str]:
    order = a.order
    lines = [f"FITTING ORDER  ({order.note})"]
    for stage in order.stages:
        lines += stage_lines(stage, a)
    return lines


def stage_lines(stage: Stage, a: Assessment) -> Iterable[str]:
    """One block of the order."""
    yield f"  {stage.number:2d}. {stage.title}  [{stage.minutes:.0f} min]"
    yield from wrapped("prepare: " + "; ".join(stage.prepare), 6) if stage.prepare else []
    yield from wrapped(compact(stage.keys), 6)
    yield from wrapped("check: " + "; ".join(stage.inspect), 6) if stage.inspect else []
    if stage.gate:
        gate = next(job for job in a.jobs if job.key == stage.gate)
        yield from wrapped(f"gate: {gate.title}", 6)


def compact(keys: Sequence[str]) -> str:
    """Job keys with runs folded: 'fit R1-R12, R15; lift U1'."""
    by_kind: dict[str, list[str]] = {}
    for key in keys:
        kind, _, ref = key.partition(":")
        by_kind.setdefault(kind, []).append(ref)
    return "; ".join(f"{kind} {_fold(refs)}" for kind, refs in by_kind.items())


def _fold(refs: list[str]) -> str:
    runs: list[list[tuple[str, int | None, str]]] = []
    for ref in refs:
        head = ref.rstrip("0123456789")
        number = int(ref[len(head) :]) if ref[len(head) :] else None
        last = runs[-1][-1] if runs else None
        follows = last and number is not None and last[1] is not None
        if follows and last and last[0] == head and number == (last[1] or 0) + 1:
            runs[-1].append((head, number, ref))
        else:
            runs.append([(head, number, ref)])
    return ", ".join(
        f"{run[0][2]}-{run[-1][2]}" if len(run) > 2 else ", ".join(item[2] for item in run)
        for run in runs
    )


def _cards(a: Assessment) -> list[str]:
    lines = ["TECHNIQUE CARDS"]
    shown: set[object] = set()
    for key in (key for stage in a.order.stages for key in stage.keys if key in a.cards):
        job = a.risk.by_key[key].job
        if job.alike in shown:
            continue
        shown.add(job.alike)
        twins = [j.job.key for j in a.risk.jobs if j.job.alike == job.alike]
        card = a.cards[key]
        lines += ["", f"  {card.title}" + (f"  (also {compact(twins[1:])})" if twins[1:] else "")]
        lines.append(f"    {card.technique}")
        for line in (*card.settings_lines, *(f"{n}. {s}" for n, s in enumerate(card.steps, 1))):
            lines += wrapped(line, 4)
        for label, items in (("look for", card.look_for), ("mind", card.cautions)):
            lines += [row for item in items for row in wrapped(f"{label}: {item}", 4)]
        lines += wrapped(f"orientation: {card.orientation}", 4) if card.orientation else []
    return lines


def _safety(a: Assessment) -> list[str]:
    if not a.safety:
        return []
    lines = ["SAFETY  (local rules, data sheets and trained people go first)"]
    for note in a.safety:
        must = "read before the work: " if note.acknowledge else ""
        lines += wrapped(f"- {must}{note.title}")
        lines += [row for item in note.text for row in wrapped(item, 4)]
    return lines


def _assumptions(a: Assessment) -> list[str]:
    if not a.assumptions:
        return []
    return ["ASSUMED", *(row for item in a.assumptions for row in wrapped("- " + item))]


def wrapped(item: str, indent: int = 2) -> list[str]:
    """One item folded to the width, indented."""
    space = " " * indent
    return textwrap.wrap(
        item, WIDTH, initial_indent=space, subsequent_indent=space + ("  " if indent < 5 else "")
    )
