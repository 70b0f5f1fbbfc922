"""What the record teaches, in sentences: counts against forecasts, pooled rates, a class."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from solderrisk.words import chance, counted, money, percent, plain

if TYPE_CHECKING:
    from solderrisk.journal.classroom import ClassPlan
    from solderrisk.journal.learning import Compared, Score
    from solderrisk.journal.pool import Rate
    from solderrisk.model.reference import Reference

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


def score_lines(told: Score) -> list[str]:
    lines = [
        f"{counted(told.jobs, 'job')} looked over; Brier score {told.brier:.3f} "
        f"(reliability {told.reliability:.3f}, resolution {told.resolution:.3f}, "
        f"uncertainty {told.uncertainty:.3f})",
        "told chance of a fault   jobs   told   seen",
    ]
    for band in told.bands:
        mark = "#" * round(20 * band.seen)
        lines.append(
            f"{percent(band.low):>6} to {percent(band.high):<6}        {band.jobs:6d} "
            f"{percent(band.told):>6} {percent(band.seen):>6}  {mark}"
        )
    if told.coverage is None:
        lines.append("too few faults are expected yet to say whether the ranges hold")
    else:
        lines.append(
            f"{percent(told.coverage)} of {counted(told.groups, 'group')} inside the range told, "
            "90 % would be right"
        )
    return lines


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


def class_text(plan: ClassPlan, currency: str, reference: Reference) -> str:
    """A list to print: who may start what, who is one practice away, what to buy."""
    skills = {skill.id: skill.title for skill in reference.risk.levels.skills}
    lines = []
    for person in dict.fromkeys(place.person for place in plan.places):
        lines.append(person)
        for place in (p for p in plan.places if p.person == person):
            mark = "may start" if place.may_start else "not yet"
            line = f"  {place.kit:24s} {mark:10s} {chance(place.chance)}"
            if place.practice is not None:
                skill = skills[place.practice.skill]
                line += f"; one practice away: {place.practice.joints} joints, {skill}"
            lines.append(line)
        unread = plan.unread[person]
        if unread:
            lines.append(f"  to read first where it applies: {', '.join(map(plain, unread))}")
    lines += ["", "Bought once for all, most lifted over the target for the price first"]
    for purchase in plan.purchases[:10]:
        who = len({name for name, _ in purchase.lifts})
        lines.append(
            f"  {purchase.tool} ({money(purchase.price, currency)}, invented price), bench "
            f"{purchase.bench}: {counted(len(purchase.lifts), 'start')} more, {who} people"
        )
    if not plan.purchases:
        lines.append("  no single tool lifts anybody over the target")
    if plan.left_out:
        lines.append(f"  not tried for other benches: {', '.join(plan.left_out)}")
    return "\n".join(lines)


def class_csv(plan: ClassPlan) -> str:
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(
        ["person", "kit", "chance", "low", "high", "target", "may_start", "practice_skill",
         "practice_joints", "notes_to_read"]
    )  # fmt: skip
    for p in plan.places:
        practice = (p.practice.skill, p.practice.joints) if p.practice else ("", "")
        table.writerow(
            [_cell(p.person), _cell(p.kit), f"{p.chance.mid:.4f}", f"{p.chance.low:.4f}",
             f"{p.chance.high:.4f}", f"{p.target:g}", p.may_start, *practice,
             " ".join(plan.unread[p.person])]
        )  # fmt: skip
    return out.getvalue()


def _cell(text: str) -> str:
    """A name that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t") else text
