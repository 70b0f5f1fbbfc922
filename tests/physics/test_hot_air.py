"""Hot air: what common practice knows, what must be monotone, what must be conserved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import HeatLimit
from solderrisk.physics.air_net import Arrival, air_arrays, arrivals, part_under_air
from solderrisk.physics.hot_air import air_curve, air_heat, harm_radius_mm
from solderrisk.physics.march import AirNet, Rings, march_air
from solderrisk.physics.part_limits import body_limit
from solderrisk.physics.results import AirCase, AirHeat, Note
from tests.heat_joints import (
    BGA_256,
    DIP_16,
    GROUND_PIN,
    JACK,
    QFP_48,
    QFP_100,
    SAC,
    SNPB,
    SOIC_8,
    TAB,
    air_on,
    board,
)

DATA = physics_data()


def heat(case: AirCase) -> AirHeat:
    return air_heat([case], DATA)[0]


@pytest.mark.parametrize(
    ("air_c", "alloy", "start_c"),
    [(350.0, SNPB, 22.0), (350.0, SAC, 22.0), (400.0, SAC, 22.0), (350.0, SAC, 100.0)],
)
def test_lifting_a_100_pin_qfp_takes_20_to_60_seconds(
    air_c: float, alloy: str, start_c: float
) -> None:
    found = heat(air_on(QFP_100, 10.0, 60.0, air_c, alloy, start_c=start_c))
    assert found.molten_s is not None
    assert 20.0 <= found.molten_s <= 60.0


def test_what_is_near_must_be_masked_and_what_is_far_need_not() -> None:
    case = air_on(QFP_100, 10.0, 60.0)
    found = heat(case)
    assert 10.0 < found.reflow_radius_mm < 30.0
    assert found.reflow_radius_mm < found.plastic_radius_mm < 50.0
    assert harm_radius_mm(case, found.plastic_c, DATA) == pytest.approx(found.plastic_radius_mm)
    assert harm_radius_mm(case, 95.0, DATA) > found.plastic_radius_mm
    assert harm_radius_mm(case, 600.0, DATA) == 0.0


def test_what_arrives_of_the_heat_is_the_largest_doubt() -> None:
    found = heat(air_on(QFP_48, 8.0, 40.0, 350.0, SAC))
    assert found.decision == "undecided"
    assert abs(found.margin_k) <= found.band_k
    hotter = heat(air_on(QFP_48, 8.0, 40.0, 400.0, SAC))
    assert hotter.decision == "wets"
    assert hotter.molten_s is not None
    assert hotter.molten_s_low is not None
    assert hotter.molten_s_high is not None
    assert hotter.molten_s_low < hotter.molten_s < hotter.molten_s_high


def test_cool_air_never_melts_it() -> None:
    found = heat(air_on(QFP_48, 8.0, 40.0, 200.0))
    assert found.decision == "fails"
    assert found.molten_s is None
    assert found.top_c < 200.0


def test_ranges_of_the_correlation_are_enforced() -> None:
    low = heat(air_on(QFP_48, 8.0, 3.0))
    assert any(note.kind == "jet_flow" for note in low.doubts)
    close = heat(air_on(QFP_48, 8.0, 40.0, height_mm=10.0))
    assert any(note.kind == "jet_height" for note in close.doubts)
    inside = heat(air_on(QFP_48, 5.0, 30.0, height_mm=20.0))
    assert not any(note.kind.startswith("jet") for note in inside.doubts)
    wide = heat(air_on(QFP_100, 1.0, 20.0, height_mm=5.0))
    assert Note("wide_part") in wide.doubts
    thin = heat(air_on(QFP_48, 5.0, 30.0, on=board(1, thickness_mm=0.4)))
    assert any(note.kind == "thin_board" for note in thin.doubts)


def test_a_board_hotter_than_melting_is_molten_at_once() -> None:
    found = heat(air_on(QFP_48, 8.0, 40.0, 350.0, "Sn42Bi58", start_c=170.0))
    assert found.molten_s == 0.0
    assert found.ramp_k_s == 0.0
    assert Note("all_molten") in found.notes
    cooler = heat(air_on(QFP_48, 8.0, 40.0, 350.0, "Sn42Bi58", start_c=130.0))
    assert Note("all_molten") not in cooler.notes


def test_a_fast_ramp_is_told() -> None:
    found = heat(air_on(SOIC_8, 5.0, 25.0, 400.0))
    assert found.ramp_k_s > DATA.parameters["ramp_k_s"]
    assert any(note.kind == "steep" for note in found.notes)


def test_limits_of_the_part() -> None:
    lift = heat(air_on(QFP_100, 10.0, 60.0))
    assert lift.limit_c == 235.0  # from a tin-lead board: 1.4 mm, 274 mm3, J-STD-020 table 4-1
    assert heat(air_on(QFP_100, 10.0, 60.0, purpose="fit")).limit_c == 260.0
    soft = QFP_100.model_copy(update={"heat": HeatLimit(softens_c=180.0)})
    assert body_limit(soft, False, DATA).sure_c == 180.0
    sheet = QFP_100.model_copy(
        update={"heat": HeatLimit(body_c=245.0, source="the part's data sheet")}
    )
    assert body_limit(sheet, True, DATA).sure_c == 245.0


def test_the_curve_is_the_answer_s() -> None:
    case = air_on(QFP_100, 10.0, 60.0)
    curve, found = air_curve(case, DATA), heat(case)
    assert curve.harm_c == found.limit_c
    assert found.molten_s is not None
    average_s = found.molten_s / DATA.parameters["air_uneven"]
    at = np.interp(average_s, curve.time_s, curve.joint_c)
    assert at == pytest.approx(curve.needed_c, abs=0.5)
    assert np.interp(found.molten_s, curve.time_s, curve.source_c) == pytest.approx(found.top_c)


def test_a_pad_under_the_body_comes_last() -> None:
    exposed = QFP_48.pads[0].model_copy(
        update={"kind": "exposed", "name": "pad", "count": 1, "layout": "centre", "lead": None,
                "land_w_mm": 4.0, "land_l_mm": 4.0, "pitch_mm": None}
    )  # fmt: skip
    with_pad = QFP_48.model_copy(update={"pads": (*QFP_48.pads, exposed)})
    plain, padded = (heat(air_on(part, 8.0, 40.0)) for part in (QFP_48, with_pad))
    assert plain.molten_s is not None
    assert padded.molten_s is not None
    assert padded.molten_s > plain.molten_s


# --- properties ---------------------------------------------------------------------------

FEW = settings(max_examples=15, deadline=None)
PARTS = st.sampled_from([SOIC_8, QFP_48, QFP_100, TAB, JACK, DIP_16])


@st.composite
def cases(draw: st.DrawFn) -> AirCase:
    return air_on(
        draw(PARTS),
        draw(st.floats(4.0, 12.0)),
        draw(st.floats(15.0, 90.0)),
        draw(st.floats(280.0, 450.0)),
        draw(st.sampled_from([SNPB, SAC])),
        on=board(draw(st.integers(0, 2)), thickness_mm=draw(st.sampled_from([0.8, 1.6]))),
        start_c=draw(st.floats(15.0, 120.0)),
        height_mm=draw(st.floats(10.0, 40.0)),
    )


def no_worse(better: AirHeat, worse: AirHeat) -> None:
    assert better.margin_k >= worse.margin_k - 1e-6
    if worse.molten_s is not None:
        assert better.molten_s is not None
        assert better.molten_s <= worse.molten_s * (1.0 + 1e-6)


@FEW
@given(cases(), st.floats(5.0, 80.0))
def test_hotter_air_never_hurts(case: AirCase, more_k: float) -> None:
    no_worse(heat(replace(case, air_c=case.air_c + more_k)), heat(case))


@FEW
@given(cases(), st.floats(5.0, 60.0))
def test_preheat_never_hurts(case: AirCase, more_k: float) -> None:
    no_worse(heat(replace(case, start_c=case.start_c + more_k)), heat(case))


@FEW
@given(cases())
def test_nothing_is_hotter_than_the_air(case: AirCase) -> None:
    found = heat(case)
    assert case.start_c - 1e-6 <= found.top_c <= case.air_c
    assert harm_radius_mm(case, case.air_c + 1.0, DATA) == 0.0
    if found.molten_s_low and found.molten_s and found.molten_s_high:
        assert found.molten_s_low <= found.molten_s <= found.molten_s_high


@FEW
@given(st.floats(0.05, 2.0), st.floats(0.001, 0.2), st.floats(0.005, 0.1), st.floats(1.0, 120.0))
def test_energy_is_conserved(body_j: float, lead: float, sheet: float, end_s: float) -> None:
    """A body heated by the jet on a board without losses: what is stored is what the jet
    brought, by the trapezoid of its flow on a fine grid."""
    count = 8
    edge = np.linspace(0.0, 40e-3, count + 1)
    area = np.pi * np.diff(edge**2)
    middle = (edge[1:] + edge[:-1]) / 2
    link = np.zeros(count)
    link[1:] = 2 * np.pi * sheet / np.log(middle[1:] / middle[:-1])
    to_ring = np.zeros(count)
    to_ring[:3] = lead
    rings = Rings(
        capacity=(3300.0 * area)[:, None], link=link[:, None], loss=to_ring[:, None],
        store=np.zeros((0, count, 1)), store_link=np.zeros((0, count, 1)), edge_m=edge[:, None],
    )  # fmt: skip
    net = AirNet(
        body_j_k=np.array([body_j]), body_jet_w_k=np.array([0.02]),
        body_wall_k=np.array([300.0]), to_ring_w_k=to_ring[:, None],
        ring_heat_w=np.zeros((count, 1)),
    )  # fmt: skip
    run = march_air(net, rings, end_s, per_block=40, blocks=6)
    flow = 0.02 * (300.0 - run.body_k[:, 0])
    brought = float(integrate.trapezoid(flow, run.time_s))
    stored = body_j * run.body_k[-1, 0] + float((rings.capacity * run.ring_k[-1]).sum())
    assert stored == pytest.approx(brought, rel=2e-3)


def test_neighbours_melt_from_their_solidus_on_while_the_part_is_taken_off() -> None:
    """Sn60Pb40 is soft from 183 C on although liquid only at 190 C (alloy tables), and the
    air stays on while the part is lifted."""
    case = air_on(QFP_100, 10.0, 60.0, alloy="Sn60Pb40")
    found = heat(case)
    assert found.reflow_radius_mm == pytest.approx(harm_radius_mm(case, 183.0, DATA))
    assert found.reflow_radius_mm > harm_radius_mm(case, 190.0, DATA) + 0.1
    at_once = replace(DATA, parameters=DATA.parameters.replaced({"air_handling_s": 0.01}))
    assert found.reflow_radius_mm > air_heat([case], at_once)[0].reflow_radius_mm + 0.1


def test_what_a_body_gets_and_gives_by_hand() -> None:
    """TQFP-48, 7 x 7 x 1 mm: Fourier's law through 0.1 mm of air (k 0.04, Incropera, table
    A.4, near 500 K) and through half of its compound (k 0.7)."""
    part = part_under_air(air_on(QFP_48, 8.0, 40.0), DATA)
    assert part.gap_w_m2k == pytest.approx(0.04 / 0.1e-3)
    assert part.half_top_k_w == pytest.approx(0.5e-3 / (0.7 * 49e-6))


def test_far_from_the_jet_a_face_still_has_its_natural_convection() -> None:
    """16 W/m2K of convection and radiation on each face are not less because a jet is on."""
    case = air_on(SOIC_8, 2.0, 1.0, on=board(1, length_mm=500.0, width_mm=500.0))
    part = part_under_air(case, DATA)
    _, rings = air_arrays([case], [part], [Arrival(0.12, 1.0)], DATA.parameters)
    area = np.pi * np.diff(part.edge_m**2)
    assert rings.loss[-1, 0] == pytest.approx(2 * 16.0 * area[-1])


def test_a_housing_s_material_softens_where_no_data_sheet_says() -> None:
    """PBT housings deform from about 200 C (common practice), less than a body's 260 C."""
    assert body_limit(GROUND_PIN, False, DATA).sure_c == 200.0


def test_a_wide_ball_grid_takes_its_time() -> None:
    """Common practice: 60 to 120 s of moving air for a ball grid of 17 mm on a board of 100 C,
    and nobody knows it closer than that; a part no wider than the nozzle is done sooner."""
    wide = air_heat([air_on(BGA_256, 10.0, 55.0, 330.0, start_c=100.0)], DATA)[0]
    assert wide.molten_s_low is not None
    assert wide.molten_s is not None
    assert wide.molten_s_high is not None
    assert 50.0 < wide.molten_s_low < 65.0 < wide.molten_s < 100.0 < wide.molten_s_high <= 120.0
    under = air_heat([air_on(BGA_256, 18.0, 99.0, 330.0, start_c=100.0)], DATA)[0]
    assert under.molten_s is not None
    assert under.molten_s < wide.molten_s / 2


def test_moving_costs_nothing_where_joints_lie_on_the_rim() -> None:
    beliefs = arrivals(DATA.parameters)
    case = air_on(QFP_100, 5.0, 25.0)
    part = part_under_air(case, DATA)
    assert part.swept_d == 1.0
    still = [Arrival(belief.slope, 1.0) for belief in beliefs]
    moved, at_rest = (
        air_arrays([case], [part], each, DATA.parameters)[0] for each in (beliefs, still)
    )
    assert (moved.body_jet_w_k == at_rest.body_jet_w_k).all()
