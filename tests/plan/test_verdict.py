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
from solderrisk.physics.handwork import kit_fume
from solderrisk.physics.results import SolderNeed
from solderrisk.plan.results import SolderUse
from solderrisk.plan.verdict import (
    alignment_of,
    by_needs,
    fume_air_of,
    judged,
    solder_uses,
    top_jobs,
    verdict,
)
from solderrisk.report.words import headline
from solderrisk.risk.results import KitRisk, Range
from tests.plan.kit_builder import AIR, IRON, LIBRARY, WIDE, jobs, kit, option, part, risk

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


def test_fume_by_the_hottest_tip_at_the_pace_of_what_is_done() -> None:
    """3 jobs of 2 minutes and 4 mg each at 330 and 380 C; the one that cannot be done uses none."""
    reference = load_reference()
    ways = {"fit:R1": option("p"), "fit:R2": option("p", settings=WIDE),
            "fit:C1": option("air", settings=AIR), "fit:U1": option("p")}  # fmt: skip
    of = kit(placements=[part("R1-R2", "R"), part("C1", "CAN"), part("U1", "QFP")])
    found = blocked(risk(jobs(of), ways), "fit:U1", needs=())
    need = SolderNeed(volume_mm3=1.0, mass_g=0.01, wire_mm=5.0, flux_mg=4.0)
    uses = {job.key: (SolderUse(None, (), need),) for job in jobs(of)}
    bench = Bench(name="b")
    assert fume_air_of(found, uses, bench, reference) == kit_fume(
        12.0, 6.0, bench, reference.physics, 380.0
    )
    air = risk(jobs(of), {"fit": option("air", settings=AIR)})
    assert fume_air_of(air, uses, bench, reference) == kit_fume(
        16.0, 8.0, bench, reference.physics, None
    )


def test_where_solder_is_counted() -> None:
    """Of what is put on, or of nobody's where the work cannot be done; not of a lift, nor of a way
    that brings its own."""
    reference = load_reference()
    of = kit(placements=[part("U1", "SO", donor="old"), part("J1", "DIP")],
             wires=[{"ref": "W1", "board": "main", "connections": 3}])  # fmt: skip
    found = risk(jobs(of))
    uses = solder_uses(found, reference)
    assert {key: [use.solder for use in each] for key, each in uses.items()} == {
        "lift:U1": [], "fit:U1": [*IRON.solders], "fit:J1": [*IRON.solders],
        "wire:W1": [*IRON.solders],
    }  # fmt: skip
    # Three wires have six ends.
    one = kit(wires=[{"ref": "W1", "board": "main", "connections": 1}])
    single = solder_uses(risk(jobs(one)), reference)["wire:W1"][0].need.mass_g
    assert uses["wire:W1"][0].need.mass_g == pytest.approx(3 * single)
    shut = blocked(found, "fit:U1", needs=())
    bare = {"fit": option("p", settings=replace(IRON, solders=()))}
    assert solder_uses(risk(jobs(of), bare), reference)["fit:U1"] == ()
    bare_shut = blocked(risk(jobs(of), bare), "fit:U1", needs=())
    assert [use.solder for use in solder_uses(bare_shut, reference)["fit:U1"]] == [None]
    assert solder_uses(shut, reference)["fit:U1"][0].solder == IRON.solders[0]
    for job in jobs(of):
        assert (alignment_of(job, reference) is None) or job.kind == "fit"
    assert any(alignment_of(job, reference) is not None for job in jobs(of))


def test_a_burnt_board_has_no_yes() -> None:
    donor = {"name": "old", "board": {"name": "o"}, "condition": "burnt"}
    of = kit(placements=[part("U1", "QFP", donor="old")], donors=[donor])
    found = judged(sure(1.0), QUESTION.but(kit=of))
    assert (found.answer, found.burnt) == ("open", ("U1",))
    assert judged(sure(0.0), QUESTION.but(kit=of)).answer == "no"
    made = verdict(assessed(0.7, 0.8, 0.9), QUESTION)
    assert (made.judgement.answer, made.judgement.odds) == ("open", pytest.approx(2 / 3))
