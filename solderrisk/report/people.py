"""People in words: what to practise, with boxes to tick; a class, who is ready for what and
what to buy once for all; what was learned at the bench."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from solderrisk.report.pictures import Html, bullets, el, joined
from solderrisk.report.words import MARK_WORDS, mark
from solderrisk.words import (
    as_text,
    chance,
    counted,
    money,
    percent,
    plain,
    rate,
    wrapped,
)

if TYPE_CHECKING:
    from solderrisk.journal.classroom import ClassPlan, Place, Purchase
    from solderrisk.journal.learning import Compared, Reliable, Score
    from solderrisk.journal.pool import Rate
    from solderrisk.model.question import Question, Reference
    from solderrisk.plan.practice import PassMark, PracticeStep

MOST_BOXES = 60
STATES = {
    "claimed": "shown by your record",
    "believed": "you say so, not shown",
    "open": "open",
}


def mark_words(mark: PassMark) -> str:
    """'39 joints with no fault', '5 parts with none spoiled': in parts where parts count."""
    if mark.whole_part:
        bad = "none spoiled" if not mark.allowed else f"at most {mark.allowed} spoiled"
        return f"{counted(mark.parts, 'part')} with {bad}"
    faults = "no fault" if not mark.allowed else f"at most {counted(mark.allowed, 'fault')}"
    many = counted(mark.parts, "part") if mark.parts else counted(mark.joints, "joint")
    return f"{many} with {faults}"


def claim_words(mark: PassMark) -> str:
    """'80 % confidence of at most 4.1 % faults'."""
    what = "of parts spoiled" if mark.whole_part else "faults"
    return f"{percent(mark.confidence)} confidence of at most {rate(mark.rate)} {what}"


def in_turn_words(step: PracticeStep) -> str:
    """When a record that is judged as it grows passes, in the unit of the pass marks."""
    told = []
    for allowed, joints in enumerate(step.sequential):
        first = step.marks[0]
        parts = joints // step.joints_per_part if first.parts else 0
        told.append(mark_words(replace(first, joints=joints, parts=parts, allowed=allowed)))
    return ", ".join(told)


def needed_words(step: PracticeStep) -> str:
    """What is still to be done without a fault, in the unit of the pass marks."""
    if not step.marks[0].parts:
        return counted(step.needed, "clean joint")
    return counted(-(-step.needed // step.joints_per_part), "clean part")


def counting_words(step: PracticeStep) -> str:
    """What counts as one fault."""
    each = step.joints_per_part
    if step.marks[0].whole_part:
        return (
            "a part counts once: good, or spoiled by one lifted land, bent lead or joint torn "
            f"off; note {each} joints for each part tried and one fault for each spoiled one"
        )
    if each > 1:
        return (
            "every joint and gap that needs mending is a fault, over whole parts of about "
            f"{each} joints"
        )
    return "every joint that needs mending is a fault"


def record_words(step: PracticeStep) -> str:
    """What the builder's records show."""
    if not step.joints:
        return "no record yet"
    return (
        f"{counted(step.faults, 'fault')} in {counted(step.joints, 'joint')}: at most "
        f"{rate(step.fault_bound)} faults with {percent(step.marks[0].confidence)} confidence"
    )


def practice_sheet(steps: Sequence[PracticeStep], currency: str) -> Html | None:
    """What to practise, with boxes to tick: one for each joint or part of the pass mark."""
    rows = [_rung(step, currency) for step in steps if step.state == "open"]
    if not rows:
        return None
    return joined([el("p", "Open rungs in their order; a box for each good one.", class_="quiet"),
                   *rows])  # fmt: skip


def _rung(step: PracticeStep, currency: str) -> Html:
    first = step.marks[0]
    number, each = (first.parts, "part") if first.parts else (first.joints, "joint")
    ten = number > MOST_BOXES
    boxes = [el("span", class_="box", aria_hidden="true")] * -(-number // (10 if ten else 1))
    told = f"{step.hours:.1f} h, {money(step.price, currency)}, on {step.material}"
    count = "a box for every ten joints" if ten else f"a box for each {each}"
    return el(
        "div",
        el("h3", f"{step.title} ", el("span", told, class_="quiet")),
        bullets(step.steps),
        el("p", f"Passed with {', or '.join(map(mark_words, step.marks))}; {count}. Faults: ",
           el("span", class_="blank short")),
        el("p", *boxes, class_="boxes"),
        class_="rung",
    )  # fmt: skip


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
