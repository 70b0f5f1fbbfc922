"""The verdict from hand-made chances."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solderrisk.plan.verdict import by_needs, top_jobs, verdict
from solderrisk.risk.results import KitRisk, Range
from tests.plan.kit_builder import jobs, kit, part, risk

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


@pytest.mark.parametrize(
    ("chance", "manageable", "decided", "headline"),
    [
        ((0.8, 0.9, 0.95), True, True, "Manageable"),
        ((0.2, 0.3, 0.4), False, True, "Not manageable as things stand"),
        ((0.6, 0.8, 0.9), True, False, "Too close to call, leaning to manageable"),
        ((0.5, 0.7, 0.9), False, False, "Too close to call, leaning to not manageable"),
        ((0.75, 0.75, 0.75), True, True, "Manageable"),
    ],
)
def test_chance_against_target(
    chance: tuple[float, float, float], manageable: bool, decided: bool, headline: str
) -> None:
    found = verdict(assessed(*chance), 0.75)
    assert (found.manageable, found.decided, found.headline) == (manageable, decided, headline)


def test_what_cannot_be_done_decides_whatever_the_chance() -> None:
    found = verdict(blocked(assessed(0.9, 0.95, 0.99), "fit:U1", needs=("hot_air",)), 0.75)
    assert not found.manageable
    assert found.decided
    assert found.reasons == ("nothing on this bench can fit U1; it needs hot air",)


def test_blockers_are_told_by_what_they_need() -> None:
    found = blocked(assessed(0, 0, 0), "fit:U1", "fit:R1", "fit:R2", needs=("gel_flux", "wick"))
    found = blocked(found, "wire:W1", needs=())
    assert verdict(found, 0.75).reasons == (
        "nothing on this bench can fit U1, R1, R2; it needs gel flux, wick",
        "nothing on this bench can connect W1; no tool in the list helps",
    )
    assert [len(items) for items in by_needs(i for i in found.jobs if i.blocked).values()] == [3, 1]


def test_top_names_one_of_each_sort_worst_first() -> None:
    found = assessed(0.5, 0.6, 0.7, fit_R1=0.3, fit_R2=0.3, fit_U1=0.35, fit_C1=0.05, wire_W1=0.0)
    assert top_jobs(found, 6) == ("fit:U1", "fit:R1", "fit:C1")
    assert top_jobs(found, 1) == ("fit:U1",)
    assert verdict(found, 0.75).top == ("fit:U1", "fit:R1", "fit:C1")


def test_reasons_carry_their_figures() -> None:
    reasons = verdict(assessed(0.5, 0.6, 0.7, fit_U1=0.354, fit_R1=0.2), 0.75).reasons
    assert reasons[0] == (
        "fit U1 (point iron) carries 35 % of the failure, ends well 99.9 %; most likely fault: "
        "bridge, 2 %"
    )
    assert len(reasons) == 2


def test_doubt_about_heat_is_a_reason() -> None:
    found = assessed(0.5, 0.6, 0.7, fit_U1=0.4)
    first = found.jobs[0]
    unsure = replace(first, options=(replace(first.chosen, decided=False),))
    told = verdict(replace(found, jobs=(unsure, *found.jobs[1:])), 0.75).reasons
    assert told[-1] == "heat is inside its doubt at U1"


def test_a_kit_with_holes_is_never_called_manageable() -> None:
    found = verdict(assessed(0.8, 0.9, 0.95), 0.75, missing=3)
    assert not found.manageable
    assert not found.decided
    assert found.headline.startswith("Not decided: 3 references are not counted")
    poor = verdict(assessed(0.1, 0.2, 0.3), 0.75, missing=3)
    assert poor.headline == "Not manageable as things stand"
