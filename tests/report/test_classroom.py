"""A class in words and rows."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

from solderrisk import open_inputs
from solderrisk.journal.classroom import ClassPlan, Place, Practice, Purchase
from solderrisk.plan.results import Judgement
from solderrisk.report.people import class_csv, class_text
from solderrisk.risk.results import Range

YES = Judgement("yes", 0.9)
ADA = Place("ada", "bare", "lamp", Range(0.6, 0.8, 0.9), 0.7, YES, None)
OPEN, SIXTY = Judgement("open", 0.3), Practice("iron_through_hole", 60)
BEN = Place("=ben", "bare", "lamp", Range(0.1, 0.3, 0.8), 0.7, OPEN, SIXTY)
PLAN = ClassPlan(
    (ADA, BEN),
    (Purchase("loupe", 10.0, "bare", (("=ben", "lamp"),), (("=ben", "radio"), ("cy", "radio"))),),
    {"ada": (), "=ben": ("hot_air",)},
    ("odd",),
)


def told(plan: ClassPlan) -> str:
    return class_text(plan, open_inputs("water-lamp", "bare", "newcomer"))


def test_the_list_says_verdict_practice_notes_and_purchases() -> None:
    ada, ben = told(PLAN).split("\n\n")[1:3]
    assert "✔ lamp: 80 % (60..90)" in ada
    assert "practice" not in ada
    assert "≈ lamp: 30 % (10..80)" in ben
    assert "one practice away: 60 joints" in ben
    assert "to read first where it applies: hot air" in ben
    bought = " ".join(told(PLAN).split("\n\n")[3].split())
    assert "1 verdict to yes (1 builder), 2 verdicts nearer to it (2 builders)" in bought
    assert "not tried for other benches: odd" in bought


def test_no_figure_where_the_work_cannot_be_done_or_too_little_is_counted() -> None:
    without = replace(ADA, judgement=Judgement("no", 0.0, possible=False))
    unknown = replace(ADA, judgement=Judgement("open", 0.9, missing=10, counted=5))
    for place, word in ((without, "not with these tools"), (unknown, "not decided")):
        plan = replace(PLAN, places=(place,))
        assert word in told(plan)
        assert "80 %" not in told(plan).split("\n\n")[1]
    rows = list(csv.DictReader(io.StringIO(class_csv(replace(PLAN, places=(without, unknown))))))
    assert [(row["answer"], row["chance"]) for row in rows] == [("tools", ""), ("open", "")]


def test_rows_are_safe_in_a_spreadsheet() -> None:
    rows = list(csv.DictReader(io.StringIO(class_csv(PLAN))))
    assert [row["person"] for row in rows] == ["ada", "'=ben"]
    assert (rows[1]["practice_joints"], rows[1]["notes_to_read"]) == ("60", "hot_air")
