"""Irons: what common practice knows, what must be monotone, what must be conserved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import Iron, Tip
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import PlaneLink
from solderrisk.physics.iron import decide, iron_curve, iron_heat, iron_inputs
from solderrisk.physics.march import IronNet, first_crossing, march, rings_round
from solderrisk.physics.results import IronCase, IronHeat, Note
from tests.heat_joints import (
    CARTRIDGE_120,
    CHIP_0402,
    DIP_16,
    GROUND_PIN,
    IRONS,
    JACK,
    PLAIN_25,
    QFP_100,
    SNPB,
    SOIC_8,
    STATION_60,
    TAB,
    board,
    iron,
    joint,
    tip_on,
)

DATA = physics_data()


def heat(case: IronCase) -> IronHeat:
    return iron_heat([case], DATA)[0]


@pytest.mark.parametrize("part", [CHIP_0402, SOIC_8, QFP_100, DIP_16], ids=lambda p: p.name)
@pytest.mark.parametrize("alloy", [SNPB, "SAC305"])
def test_a_normal_joint_takes_one_to_three_seconds(part: Footprint, alloy: str) -> None:
    found = heat(tip_on(joint(part, alloy=alloy), STATION_60, 1.0))
    assert found.decision == "wets"
    assert found.dwell_s is not None
    assert 1.0 <= found.dwell_s <= 3.0
    assert found.dwell_s < found.safe_s


@pytest.mark.parametrize("width", [0.5, 1.0, 2.0, 3.0, 5.0])
@pytest.mark.parametrize("alloy", [SNPB, "SAC305"])
def test_25_w_never_heat_a_tab_in_four_planes(width: float, alloy: str) -> None:
    found = heat(tip_on(joint(TAB, 4, 0, alloy), PLAIN_25, width))
    assert found.decision != "wets"
    assert found.wet_s is None
    assert found.limit in ("power", "path")
    if alloy == "SAC305":
        assert found.decision == "fails"


def test_120_w_a_wide_tip_and_preheat_do_it_in_five_seconds() -> None:
    found = heat(tip_on(joint(TAB, 4, 0), CARTRIDGE_120, 3.0, 100.0))
    assert found.decision == "wets"
    assert found.wet_s is not None
    assert found.wet_s < 5.0


@pytest.mark.parametrize("with_iron", IRONS, ids=lambda i: i.name)
def test_a_narrow_tip_fails_on_every_heavy_joint(with_iron: Iron) -> None:
    heavy = [joint(TAB, planes, spokes) for planes in (1, 2, 4) for spokes in (0, 4)]
    heavy += [joint(JACK, 2, 4), joint(JACK, 2, 0)]
    found = iron_heat([tip_on(what, with_iron, 0.5) for what in heavy], DATA)
    assert {answer.decision for answer in found} == {"fails"}


def test_a_joint_under_the_body_is_out_of_reach() -> None:
    group = QFP_100.pads[0].model_copy(update={"kind": "exposed"})
    found = heat(tip_on(replace(joint(QFP_100), group=group), CARTRIDGE_120, 3.0))
    assert found.decision == "fails"
    assert found.reached_c < 40.0
    assert Note("hidden_joint") in found.notes


def test_a_tip_below_the_melting_point_never_wets() -> None:
    found = heat(tip_on(joint(CHIP_0402), STATION_60, 1.0, tip_c=215.0))
    assert found.decision == "fails"
    assert found.limit == "path"
    assert found.reached_c <= 215.0


def test_a_margin_inside_its_band_is_no_verdict() -> None:
    assert decide(4.0, 25.0) == decide(-25.0, 25.0) == "undecided"
    assert decide(26.0, 25.0) == "wets"
    assert decide(-26.0, 25.0) == "fails"


def test_the_band_comes_from_the_contact() -> None:
    """Runs with the poorest and best contact bracket the answer and give its band."""
    case = tip_on(joint(TAB, 2, 0), STATION_60, 3.0)
    found = heat(case)
    p = DATA.parameters
    contact = p.at("contact_w_m2k")
    assert contact.low is not None
    assert contact.high is not None
    reached = []
    for value in (contact.low, contact.value, contact.high):
        changed = replace(DATA, parameters=p.replaced({"contact_w_m2k": value}))
        reached.append(iron_heat([case], changed)[0].reached_c)
    assert reached == sorted(reached)
    half = max(reached[2] - reached[1], reached[1] - reached[0])
    assert found.band_k == pytest.approx(np.hypot(half, p["other_band_k"]), rel=1e-6)
    assert 10.0 < found.band_k < 40.0
    assert found.wet_s is not None
    assert found.wet_s_low is not None
    assert found.wet_s_low < found.wet_s


def test_notes_reach_the_answer() -> None:
    thin = heat(tip_on(joint(SOIC_8, on=board(1, thickness_mm=0.4)), PLAIN_25, 1.0))
    assert any(note.kind == "thin_board" for note in thin.notes)
    assert any(note.kind == "plain_iron" for note in thin.notes)
    many = replace(joint(TAB), links=(PlaneLink(group="tab", planes=6, spokes=0),))
    assert Note("more_planes", 6, 2) in heat(tip_on(many, STATION_60, 3.0)).notes
    lags = heat(tip_on(joint(GROUND_PIN, 4, 0), CARTRIDGE_120, 2.0))
    assert Note("far_side_lags") in lags.notes


def test_preheat_and_unset_temperature_are_told() -> None:
    hot = heat(tip_on(joint(SOIC_8), STATION_60, 1.0, tip_c=480.0))
    assert any(note.kind == "outside_range" for note in hot.notes)


def test_the_curve_is_the_answer_s() -> None:
    case = tip_on(joint(JACK, 2, 0), STATION_60, 3.0)
    curve, found = iron_curve(case, DATA), heat(case)
    assert len(curve.time_s) == len(curve.joint_c) == len(curve.source_c)
    assert curve.joint_c[0] == case.start_c
    assert max(curve.joint_c) == pytest.approx(found.reached_c)
    assert curve.needed_c == found.needed_c
    assert found.wet_s is not None
    at = np.interp(found.wet_s, curve.time_s, curve.joint_c)
    assert at == pytest.approx(found.needed_c, abs=0.1)


def test_equal_cases_are_computed_once_and_order_is_kept() -> None:
    a, b = tip_on(joint(SOIC_8), STATION_60, 1.0), tip_on(joint(TAB), STATION_60, 1.0)
    first = iron_heat([a, b, a], DATA)
    again = iron_heat([b, a], DATA)
    assert first[0] is first[2] is again[1]
    assert first[1] is again[0]


# --- properties ---------------------------------------------------------------------------

PARTS = st.sampled_from([SOIC_8, DIP_16, GROUND_PIN, TAB, JACK])
DRIVES = st.sampled_from([("plain", 25.0), ("station", 60.0), ("cartridge", 120.0)])
FEW = settings(max_examples=20, deadline=None)


@st.composite
def cases(draw: st.DrawFn) -> IronCase:
    drive, power = draw(DRIVES)
    what = joint(draw(PARTS), draw(st.integers(1, 4)), draw(st.integers(0, 6)),
                 draw(st.sampled_from([SNPB, "SAC305"])),
                 on=board(4, thickness_mm=draw(st.sampled_from([0.8, 1.6, 2.4]))))  # fmt: skip
    width = draw(st.floats(0.4, 4.0))
    start_c = draw(st.floats(15.0, 120.0))
    return tip_on(what, iron(power, drive), width, start_c)


def no_worse(better: IronHeat, worse: IronHeat) -> None:
    assert better.margin_k >= worse.margin_k - 1e-6
    if worse.wet_s is not None:
        assert better.wet_s is not None
        assert better.wet_s <= worse.wet_s * (1.0 + 1e-6)


@FEW
@given(cases(), st.floats(1.05, 4.0))
def test_more_power_never_hurts(case: IronCase, factor: float) -> None:
    more = case.iron.model_copy(update={"power_w": case.iron.power_w * factor})
    no_worse(heat(replace(case, iron=more)), heat(case))


@FEW
@given(cases(), st.floats(1.05, 3.0))
def test_a_wider_tip_never_heats_worse(case: IronCase, factor: float) -> None:
    wider = Tip(width_mm=case.tip.width_mm * factor)
    no_worse(heat(replace(case, tip=wider)), heat(case))


@FEW
@given(cases(), st.floats(5.0, 60.0))
def test_preheat_never_hurts(case: IronCase, more_k: float) -> None:
    no_worse(heat(replace(case, start_c=case.start_c + more_k)), heat(case))


@FEW
@given(cases(), st.integers(1, 5))
def test_more_spokes_take_more_heat(case: IronCase, spokes: int) -> None:
    group = case.joint.group
    if not group.tied:
        group = group.model_copy(update={"tied": True})
    few, more = (
        replace(case.joint, group=group,
                links=(PlaneLink(group=group.name, planes=2, spokes=n),))
        for n in (spokes, spokes + 1)
    )  # fmt: skip
    no_worse(heat(replace(case, joint=few)), heat(replace(case, joint=more)))


@FEW
@given(cases(), st.integers(1, 3))
def test_more_planes_take_more_heat(case: IronCase, planes: int) -> None:
    name = case.joint.group.name
    spokes = case.joint.links[0].spokes if case.joint.links else 0
    few, more = (
        replace(case.joint, links=(PlaneLink(group=name, planes=n, spokes=spokes),))
        for n in (planes, planes + 1)
    )
    no_worse(heat(replace(case, joint=few)), heat(replace(case, joint=more)))


@FEW
@given(
    st.floats(0.05, 2.0), st.floats(0.01, 1.0), st.floats(0.005, 0.3), st.floats(10.0, 200.0),
    st.floats(1.0, 30.0), st.booleans(),
)  # fmt: skip
def test_energy_is_conserved(
    joint_j: float, path: float, sheet: float, power: float, end_s: float, plain: bool
) -> None:
    """Without losses, what the heater gave is what is stored, to rounding."""
    one = np.ones(1)
    rings = rings_round(1e-3 * one, 40e-3 * one, sheet * one, 200.0 * one, 3200.0 * one,
                        750.0 * one, 0.0 * one, 0.2 * one, 18)  # fmt: skip
    net = IronNet(
        joint_j_k=joint_j * one, lead_w_k=0.01 * one, body_j_k=0.4 * one,
        body_loss_w_k=0.0 * one, trace_w_k=0.0 * one, path_w_k=path * one, tip_j_k=3.0 * one,
        tip_loss_w_k=0.0 * one, power_w=power * one,
        set_k=(np.inf if plain else 320.0) * one, first_tip_k=320.0 * one, room_k=0.0 * one,
    )  # fmt: skip
    run = march(net, rings, end_s)
    stored = (
        3.0 * (run.tip_k[-1] - 320.0) + joint_j * run.joint_k[-1] + 0.4 * run.body_k[-1]
        + (rings.capacity * run.ring_k).sum(axis=0) + (rings.store * run.store_k).sum(axis=(0, 1))
    )  # fmt: skip
    assert stored[0] == pytest.approx(run.heat_j[0], rel=1e-9, abs=1e-9)


@FEW
@given(cases())
def test_nothing_is_hotter_than_its_source(case: IronCase) -> None:
    found = heat(case)
    idle = DATA.parameters["plain_idle_c"] if case.iron.drive == "plain" else case.tip_c
    assert case.start_c - 1e-6 <= found.reached_c <= idle + 1e-6
    if found.wet_s_low and found.wet_s and found.wet_s_high:
        assert found.wet_s_low <= found.wet_s <= found.wet_s_high


def test_no_plane_is_less_than_any_plane() -> None:
    """The limit of no connection: a pad with its trace only."""
    bare = replace(joint(TAB), group=TAB.pads[0].model_copy(update={"tied": False}), links=())
    free, tied = (heat(tip_on(what, STATION_60, 2.0)) for what in (bare, joint(TAB, 1, 4)))
    assert free.margin_k > tied.margin_k


def test_the_grid_is_fine_enough() -> None:
    """Four times the rings and twelve times the steps change little."""
    given_cases = [tip_on(joint(part, 2, spokes), with_iron, 2.0)
                   for part in (SOIC_8, DIP_16, TAB, JACK) for spokes in (0, 4)
                   for with_iron in IRONS]  # fmt: skip
    coarse = iron_inputs(given_cases, DATA, ("value",))
    fine = iron_inputs(given_cases, DATA, ("value",), rings=56)
    a = march(coarse.net, coarse.rings, 20.0)
    b = march(fine.net, fine.rings, 20.0, per_block=60)
    assert np.abs(a.joint_k.max(axis=0) - b.joint_k.max(axis=0)).max() < 0.3
    wet_a = first_crossing(a.time_s, a.joint_k, coarse.needed_k)
    wet_b = first_crossing(b.time_s, b.joint_k, fine.needed_k)
    reached = np.isfinite(wet_b)
    assert (np.isfinite(wet_a) == reached).all()
    assert np.abs(wet_a[reached] / wet_b[reached] - 1.0).max() < 0.03


def test_soft_plastic_gives_way_after_a_while() -> None:
    """A body that is over its softening point from the start: two seconds are left."""
    soft = JACK.model_copy(update={"heat": JACK.heat.model_copy(update={"softens_c": 200.0})})
    found = heat(tip_on(joint(soft, 1, 4), STATION_60, 1.0, 205.0, 240.0))
    assert found.safe_s == pytest.approx(DATA.parameters["softens_s"])


def test_shapes_wet_from_needle_to_blade() -> None:
    """Common practice: of tips of one width a conical one gives least, a blade most."""
    shapes = ("conical", "chisel", "bevel", "blade")
    case = tip_on(joint(TAB, 2, 0), STATION_60, 2.0)
    found = [
        heat(replace(case, tip=Tip.model_validate({"width_mm": 2.0, "shape": shape}))).reached_c
        for shape in shapes
    ]
    assert found == sorted(found)
    assert found[1] - found[0] > 5.0
    assert found[3] - found[1] > 5.0
