"""Practice in words, and as a sheet with boxes to tick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from solderrisk.report.pictures import Html, bullets, el, joined
from solderrisk.words import counted, money, percent, rate

if TYPE_CHECKING:
    from solderrisk.plan.results import PassMark, PracticeStep

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
