"""Remedies are computed by the same model, cheapest first, and none is idle."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import Iron, Tip
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.remedies import air_remedies, remedies
from solderrisk.physics.results import IronCase, Remedy
from tests.heat_joints import (
    CARTRIDGE_120,
    JACK,
    PLAIN_25,
    QFP_48,
    SAC,
    SOIC_8,
    STATION_60,
    TAB,
    air_on,
    joint,
    tip_on,
)

DATA = physics_data()


def test_a_joint_that_wets_needs_none() -> None:
    assert remedies(tip_on(joint(SOIC_8), STATION_60, 1.0), DATA) == ()


def test_the_tip_in_the_drawer_comes_first() -> None:
    found = remedies(tip_on(joint(TAB, 2, 4), CARTRIDGE_120, 0.5), DATA)
    assert found[0].tip_width_mm in {tip.width_mm for tip in CARTRIDGE_120.tips}
    assert found[0].tip_owned
    assert found[0].power_w is None
    assert found[0].preheat_c is None


def test_a_tab_in_four_planes_needs_two_changes_of_a_25_w_iron() -> None:
    found = remedies(tip_on(joint(TAB, 4, 0), PLAIN_25, 1.0), DATA)
    assert found
    for remedy in found:
        assert _parts(remedy) >= 2
    assert any(remedy.power_w and remedy.power_w >= 100 for remedy in found)


@pytest.mark.parametrize(
    "case",
    [
        tip_on(joint(TAB, 4, 0), PLAIN_25, 1.0),
        tip_on(joint(TAB, 2, 0), STATION_60, 1.0),
        tip_on(joint(JACK, 2, 0), PLAIN_25, 3.0),
        tip_on(joint(TAB, 1, 4), STATION_60, 0.5),
    ],
)
def test_each_remedy_works_and_no_smaller_one_of_its_kind_does(case: IronCase) -> None:
    for remedy in remedies(case, DATA):
        heat = iron_heat([_applied(case, remedy)], DATA)[0]
        assert heat.decision == "wets"
        assert heat.margin_k == pytest.approx(remedy.margin_k)
        assert heat.wet_s == remedy.wet_s
        for kind in ("tip_width_mm", "power_w", "preheat_c"):
            if getattr(remedy, kind) is not None and _parts(remedy) > 1:
                less = _applied(case, replace(remedy, **{kind: None}))
                assert iron_heat([less], DATA)[0].decision != "wets"


def test_a_joint_out_of_reach_has_no_remedy() -> None:
    what = joint(SOIC_8)
    hidden = replace(what, group=what.group.model_copy(update={"kind": "exposed"}))
    assert remedies(tip_on(hidden, STATION_60, 1.0), DATA) == ()


def _parts(remedy: Remedy) -> int:
    return sum(v is not None for v in (remedy.tip_width_mm, remedy.power_w, remedy.preheat_c))


def _applied(case: IronCase, remedy: Remedy) -> IronCase:
    tip, iron, start_c = case.tip, case.iron, case.start_c
    if remedy.tip_width_mm is not None:
        tip = Tip(width_mm=remedy.tip_width_mm)
    if remedy.power_w is not None:
        strong = remedy.power_w >= 100.0 or iron.drive == "cartridge"
        drive = "cartridge" if strong else "station"
        iron = iron.model_copy(update={"power_w": remedy.power_w, "drive": drive})
    if remedy.preheat_c is not None:
        start_c = remedy.preheat_c
    return replace(case, tip=tip, iron=iron, start_c=start_c)


def test_what_takes_hot_air_out_of_its_doubt() -> None:
    case = air_on(QFP_48, 8.0, 40.0, 350.0, SAC)
    assert air_heat([case], DATA)[0].decision == "undecided"
    found = air_remedies(case, DATA)
    assert {remedy.preheat_c is not None for remedy in found} == {True, False}
    for remedy in found:
        assert remedy.wet_s is not None
    preheat = next(remedy.preheat_c for remedy in found if remedy.preheat_c)
    changed = air_heat([replace(case, start_c=preheat)], DATA)[0]
    assert changed.decision == "wets"
    assert air_remedies(replace(case, start_c=preheat), DATA) == ()
    over = changed.top_c > changed.limit_c
    assert over == any(r.over_limit_k > 0 for r in found if r.preheat_c)


@pytest.mark.parametrize("made", [PLAIN_25, STATION_60, CARTRIDGE_120])
def test_no_remedy_is_a_weaker_iron(made: Iron) -> None:
    found = remedies(tip_on(joint(TAB, 4, 0), made, 1.0), DATA)
    assert found
    assert all(remedy.power_w is None or remedy.power_w > made.power_w for remedy in found)


def test_air_that_spares_the_part_is_told_first() -> None:
    case = air_on(QFP_48, 8.0, 40.0, 300.0, SAC)
    over = [remedy.over_limit_k > 0 for remedy in air_remedies(case, DATA)]
    assert set(over) == {False, True}
    assert over == sorted(over)


def test_a_preheater_is_less_than_a_new_iron() -> None:
    """Common practice: warm the board before buying a station."""
    found = remedies(tip_on(joint(JACK, 2, 0), PLAIN_25, 3.0), DATA)
    alone = [remedy for remedy in found if _parts(remedy) == 1]
    kinds = ["iron" if remedy.power_w else "heat" for remedy in alone if not remedy.tip_width_mm]
    assert kinds == ["heat", "iron"]


def test_an_iron_that_can_be_set_is_set_no_hotter_than_the_part_bears() -> None:
    """A plain iron idles near 400 C whatever the part bears; what takes its place need not."""
    case = replace(tip_on(joint(TAB, 2, 0), PLAIN_25, 1.0), tip_c=400.0)
    margins = []
    for most_c in (400.0, 350.0):
        heat = TAB.heat.model_copy(update={"iron_c": most_c})
        part = TAB.model_copy(update={"heat": heat})
        asked = replace(case, joint=replace(case.joint, footprint=part))
        found = [remedy for remedy in remedies(asked, DATA) if remedy.power_w]
        assert all(remedy.drive != "plain" for remedy in found)
        margins.append({(r.power_w, r.tip_width_mm, r.preheat_c): r.margin_k for r in found})
    hot, mild = margins
    both = hot.keys() & mild.keys()
    assert both
    assert all(mild[key] < hot[key] for key in both)
