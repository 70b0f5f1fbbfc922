"""The verdict from hand-made chances."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from solderrisk.files.reference import load_reference
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.question import Question
from solderrisk.plan.verdict import by_needs, judged, top_jobs, verdict
from solderrisk.report.words import headline
from solderrisk.risk.results import KitRisk, Range
from tests.plan.kit_builder import LIBRARY, jobs, kit, part, risk

KIT = kit(
    placements=[part("U1", "QFP"), part("R1-R4", "R"), part("C1", "CAN")],
    wires=[{"ref": "W1", "board": "main", "connections": 2}],
)


def assessed(low: float, mid: float, high: float, **shares: float) -> KitRisk:
    found = risk(jobs(KIT))
    keys = {key.replace("_", ":"): share for key, share in shares.items()}
    return replace(found, working=Range(low, mid, high), fail_share=keys)


def blocked(found: KitRisk, *keys: str, needs: tuple[str, ...]) -> KitRisk:
    items = tuple(
        replace(item, blocked=True, tooling_needed=needs) if item.job.key in keys else item
        for item in found.jobs
    )
    return replace(found, jobs=items, by_key={item.job.key: item for item in items})


QUESTION = Question(KIT, Bench(name="b"), Builder(name="p"), LIBRARY, load_reference(), 0.75)


def asked(**more: Any) -> Question:
    return QUESTION.but(kit=QUESTION.kit.model_copy(update=more)) if more else QUESTION


def sure(share: float) -> NDArray[np.float64]:
    """Chances of which this share reaches what is wanted."""
    return np.where(np.arange(1000) < round(1000 * share), 0.9, 0.2)


@pytest.mark.parametrize(
    ("share", "answer", "leaning", "told"),
    [
        (1.0, "yes", True, "Manageable"),
        (0.8, "yes", True, "Manageable"),
        (0.79, "open", True, "Too close to call, leaning to manageable (about 4 in 5)"),
        (0.6, "open", True, "Too close to call, leaning to manageable (about 3 in 5)"),
        (0.34, "open", False, "Too close to call, leaning to not manageable (about 2 in 3)"),
        (0.2, "no", False, "Not manageable as things stand"),
        (0.0, "no", False, "Not manageable as things stand"),
    ],
)
def test_four_fifths_of_what_is_not_known_have_to_agree(
    share: float, answer: str, leaning: bool, told: str
) -> None:
    found = judged(sure(share), QUESTION)
    assert (found.answer, found.leaning, headline(found)) == (answer, leaning, told)


def test_what_is_wanted_exactly_is_reached() -> None:
    assert judged(np.full(10, 0.75), QUESTION).answer == "yes"


def test_what_cannot_be_done_decides_whatever_the_chance() -> None:
    found = blocked(assessed(0.9, 0.95, 0.99), "fit:U1", needs=("hot_air",))
    made = verdict(replace(found, working_samples=sure(1.0)), QUESTION)
    assert not made.manageable
    assert made.decided
    assert headline(made.judgement) == "Not manageable with these tools"


def test_blocked_jobs_stand_together_by_what_they_need() -> None:
    found = blocked(assessed(0, 0, 0), "fit:U1", "fit:R1", "fit:R2", needs=("gel_flux", "wick"))
    found = blocked(found, "wire:W1", needs=())
    assert [len(items) for items in by_needs(i for i in found.jobs if i.blocked).values()] == [3, 1]


def test_top_names_one_of_each_sort_worst_first() -> None:
    found = assessed(0.5, 0.6, 0.7, fit_R1=0.3, fit_R2=0.3, fit_U1=0.35, fit_C1=0.05, wire_W1=0.0)
    assert top_jobs(found, 6) == ("fit:U1", "fit:R1", "fit:C1")
    assert top_jobs(found, 1) == ("fit:U1",)
    assert verdict(found, QUESTION).top == ("fit:U1", "fit:R1", "fit:C1")


def test_a_kit_with_holes_is_never_called_manageable() -> None:
    """One part of seven is not counted: more than a tenth. One of twenty is less."""
    some = asked(not_counted=("X1",))
    found = judged(sure(1.0), some)
    assert (found.answer, found.has_figure) == ("open", False)
    assert headline(found) == "Not decided: 1 of 7 parts are not counted"
    many = kit(placements=[part("R1-R19", "R")]).model_copy(update={"not_counted": ("X1",)})
    found = judged(sure(1.0), QUESTION.but(kit=many))
    assert (found.answer, found.has_figure) == ("open", True)
    assert "1 part is not counted; the rest leans to manageable" in headline(found)
    assert judged(sure(0.0), QUESTION.but(kit=many)).answer == "no"
