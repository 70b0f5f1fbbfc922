"""A class in words and rows: who is ready for what, and what to buy once for all."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection
from typing import TYPE_CHECKING

from solderrisk.report.groups import as_text
from solderrisk.report.words import MARK_WORDS, mark
from solderrisk.words import chance, counted, money, percent, plain, wrapped

if TYPE_CHECKING:
    from solderrisk.journal.classroom import ClassPlan, Place, Purchase
    from solderrisk.model.question import Question, Reference

MOST_PURCHASES = 10


def class_text(plan: ClassPlan, question: Question) -> str:
    """A list to print; ``question`` gives currency and titles."""
    lines = wrapped(f"Chance that each kit works, by person: {MARK_WORDS}", 0)
    for person in dict.fromkeys(place.person for place in plan.places):
        mine = [place for place in plan.places if place.person == person]
        lines += ["", f"{person}, bench {mine[0].bench}"]
        for place in mine:
            lines += wrapped(place_line(place, question.reference), 2, 6)
        if plan.unread[person]:
            lines += wrapped(f"to read first where it applies: {unread(plan, person)}", 2, 6)
    title, *bought = purchase_lines(plan, question.kit.currency)
    lines += ["", title, *(row for line in bought for row in wrapped(line, 2, 6))]
    return "\n".join(lines)


def place_line(place: Place, reference: Reference) -> str:
    """'✔ rain-counter: 82 % (60..95), 70 % wanted', with the practice that is enough."""
    found = place.judgement
    told = f"{mark(found)} {place.kit}"
    if not found.possible:
        return f"{told}: not with these tools"
    if not found.has_figure:
        return f"{told}: not decided, too little is counted"
    told += f": {chance(place.chance)}, {percent(place.target)} wanted"
    if place.practice is not None:
        titles = {skill.id: skill.title for skill in reference.risk.levels.skills}
        told += f"; one practice away: {place.practice.joints} joints, "
        told += titles[place.practice.skill]
    return told


def unread(plan: ClassPlan, person: str) -> str:
    """The safety notes that somebody still has to read."""
    return ", ".join(map(plain, plan.unread[person]))


def purchase_lines(plan: ClassPlan, currency: str) -> list[str]:
    """What to buy once for all; a title, then a line for each."""
    lines = ["Bought once for all, most verdicts turned to yes for the price first"]
    lines += [_bought(purchase, currency) for purchase in plan.purchases[:MOST_PURCHASES]]
    if not plan.purchases:
        lines.append("no single tool changes a verdict")
    if plan.left_out:
        lines.append(f"not tried for other benches: {', '.join(plan.left_out)}")
    return lines


def _bought(purchase: Purchase, currency: str) -> str:
    told = f"{purchase.tool} ({money(purchase.price, currency)}, invented price), bench "
    told += f"{purchase.bench}: "
    turned = [
        f"{counted(len(pairs), 'verdict')} {to} ({_builders(pairs)})"
        for pairs, to in ((purchase.lifts, "to yes"), (purchase.nearer, "nearer to it"))
        if pairs
    ]
    return told + ", ".join(turned)


def _builders(pairs: Collection[tuple[str, str]]) -> str:
    return counted(len({person for person, _ in pairs}), "builder")


HEAD = (
    "person", "bench", "kit", "answer", "chance", "low", "high", "target", "practice_skill",
    "practice_joints", "notes_to_read",
)  # fmt: skip


def class_csv(plan: ClassPlan) -> str:
    """A row for each person and kit; ``answer`` is yes, no, open or tools."""
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(HEAD)
    for place in plan.places:
        practice = place.practice
        table.writerow(
            [
                *(as_text(place.person), as_text(place.bench), as_text(place.kit), _answer(place)),
                *_figures(place),
                f"{place.target:g}",
                *((practice.skill, practice.joints) if practice else ("", "")),
                " ".join(plan.unread[place.person]),
            ]
        )
    return out.getvalue()


def _answer(place: Place) -> str:
    return place.judgement.answer if place.judgement.possible else "tools"


def _figures(place: Place) -> tuple[str, str, str]:
    told = place.chance
    if not (place.judgement.possible and place.judgement.has_figure):
        return "", "", ""
    return f"{told.mid:.4f}", f"{told.low:.4f}", f"{told.high:.4f}"
