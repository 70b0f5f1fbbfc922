"""Low-melt lifts: mixture, amount, time, cleaning, and when they will not do."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import Footprint
from solderrisk.physics.low_melt import Cooling, held_profile, low_melt_lift, time_above
from solderrisk.physics.results import LowMeltLift
from tests.heat_joints import DIP_16, JACK, QFP_48, QFP_100, SAC, SNPB, SOIC_8, board

DATA = physics_data()
P = DATA.parameters


def lift(
    part: Footprint, old: str = SNPB, new: str = "Sn42Bi58", start_c: float = 22.0
) -> LowMeltLift:
    return low_melt_lift(part, board(1), old, new, DATA, start_c)


@pytest.mark.parametrize("part", [SOIC_8, QFP_48, QFP_100, DIP_16, JACK], ids=lambda p: p.name)
@pytest.mark.parametrize("old", [SNPB, SAC])
def test_flooding_makes_the_lift_possible(part: Footprint, old: str) -> None:
    found = lift(part, old)
    assert found.feasible
    assert found.mix_liquidus_c + found.mix_doubt_k < DATA.alloys[old].liquidus_c
    assert found.molten_s > 0.5
    assert found.trap == ("bi_pb_sn" if old == SNPB else "bi_sn")
    assert found.trap_c == (96.0 if old == SNPB else 139.0)


def test_grams_are_those_of_a_bead_along_the_pins() -> None:
    """48 pins at 0.5 mm: 24 mm of 1.6 x 0.8 mm at 8.56 g/cm3 (alloy tables) is 0.26 g."""
    assert lift(QFP_48).alloy_g == pytest.approx(24.0 * 1.6 * 0.8 * 8.56e-3, rel=1e-6)
    assert lift(SOIC_8).alloy_g < lift(QFP_48).alloy_g < lift(QFP_100).alloy_g


def test_three_passes_clean_half_a_part_of_bismuth() -> None:
    """52 % x 0.15^n below 0.5 %: 7.8, 1.17, 0.18, so three passes."""
    found = lift(QFP_100)
    assert found.cleanings == 3
    assert found.residue_percent < P["residue_limit_percent"]
    assert found.residue_percent / P["cleaning_left"] > P["residue_limit_percent"]


def test_cadmium_is_refused() -> None:
    found = lift(SOIC_8, new="Bi50Pb26.7Sn13.3Cd10")
    assert not found.feasible
    assert found.obstacle == "cadmium"


def test_hidden_joints_cannot_be_flooded() -> None:
    balls = QFP_48.pads[0].model_copy(
        update={"kind": "ball", "layout": "grid", "pitch_mm": 0.8, "lead": None}
    )
    found = lift(QFP_48.model_copy(update={"pads": (balls,), "family": "bga"}))
    assert not found.feasible
    assert found.obstacle == "hidden"


def test_a_removal_alloy_that_melts_no_lower_is_no_help() -> None:
    assert not lift(SOIC_8, old="Sn42Bi58", new="Sn63Pb37").feasible


def test_unknown_alloys_are_named() -> None:
    with pytest.raises(KeyError, match="no alloy 'Sn50'"):
        lift(SOIC_8, new="Sn50")


def test_preheat_keeps_it_liquid_longer() -> None:
    """Bench experience: a flooded row freezes in a second or two on a cold board, in four
    to eight or more on a board of 100 C."""
    cold, warm = lift(QFP_48), lift(QFP_48, start_c=100.0)
    assert 0.5 < cold.molten_s < 4.0
    assert 4.0 < warm.molten_s < 15.0
    small = lift(SOIC_8)
    assert small.molten_s < P["lift_needs_s"]
    assert any(note.kind == "freezes_soon" for note in small.notes)


# --- cooling ------------------------------------------------------------------------------


def a_case(rings: int = 6) -> Cooling:
    k = np.arange(rings)
    return Cooling(
        hub_j_k=0.8, body_j_k=0.5, lead_w_k=0.05, body_loss_w_k=0.002,
        ring_j_k=0.1 * 1.4**k, link_w_k=np.full(rings, 0.3), loss_w_k=1e-3 * 1.4**k,
    )  # fmt: skip


def test_modes_agree_with_the_matrix_exponential() -> None:
    """scipy.linalg.expm of the conduction matrix: another way to the same exact answer."""
    case = a_case()
    conduction, capacity = case.matrix()
    start = held_profile(case, 150.0, 12.0)
    rate = -conduction / capacity[:, None]
    level = float((expm(rate * 3.0) @ start)[0])
    assert time_above(case, 150.0, 12.0, level, 60.0) == pytest.approx(3.0, rel=0.02)
    inner = -conduction[1:, 1:] / capacity[1:, None]
    source = -conduction[1:, 0] / capacity[1:] * 150.0
    driven = np.linalg.solve(inner, (expm(inner * 12.0) - np.eye(len(inner))) @ source)
    assert start[1:] == pytest.approx(driven, rel=1e-9)


def test_one_lump_cools_by_newton_s_law() -> None:
    """Without rings of weight the hub falls as exp(-G t / C)."""
    case = Cooling(hub_j_k=1.0, body_j_k=1e-6, lead_w_k=1e-9, body_loss_w_k=1.0,
                   ring_j_k=np.array([1e-6]), link_w_k=np.array([1e6]),
                   loss_w_k=np.array([0.25]))  # fmt: skip
    found = time_above(case, 100.0, 30.0, 50.0, 60.0)
    assert found == pytest.approx(math.log(2.0) / 0.25, rel=0.01)


@settings(max_examples=25, deadline=None)
@given(st.floats(20.0, 140.0), st.floats(1.0, 9.0))
def test_a_lower_level_is_kept_longer(level: float, below: float) -> None:
    case = a_case()
    higher = time_above(case, 150.0, 30.0, level, 60.0)
    assert time_above(case, 150.0, 30.0, level - below, 60.0) >= higher
    assert time_above(case, 150.0, 30.0, 151.0, 60.0) == 0.0


def test_two_ordinary_solders_are_no_removal_alloy() -> None:
    """More of the same solder lowers nothing; the doubt of the mixture counts against it."""
    for alloy in ("Sn63Pb37", "SAC305", "Sn99.3Cu0.7"):
        found = lift(SOIC_8, old=alloy, new=alloy)
        assert not found.feasible
        assert found.obstacle == "melts_no_lower"


def test_conduction_matrix_by_hand() -> None:
    """Hub, body, two rings: what a node gives is what its links and losses carry off."""
    case = Cooling(hub_j_k=1.0, body_j_k=2.0, lead_w_k=0.5, body_loss_w_k=0.1,
                   ring_j_k=np.array([3.0, 4.0]), link_w_k=np.array([0.3, 0.2]),
                   loss_w_k=np.array([0.01, 0.02]))  # fmt: skip
    conduction, capacity = case.matrix()
    assert capacity.tolist() == [1.0, 2.0, 3.0, 4.0]
    assert conduction == pytest.approx(
        np.array(
            [
                [0.8, -0.5, -0.3, 0.0],
                [-0.5, 0.6, 0.0, 0.0],
                [-0.3, 0.0, 0.51, -0.2],
                [0.0, 0.0, -0.2, 0.22],
            ]
        )
    )


def test_mixtures_with_indium_are_in_more_doubt() -> None:
    """Pairs with indium are hardly fitted: 40 K against the 15 K of tin, lead and bismuth."""
    assert lift(QFP_48).mix_doubt_k == 15.0
    assert lift(QFP_48).mix_doubt_down_k == 30.0
    found = lift(QFP_48, new="In51Bi32.5Sn16.5")
    assert found.mix_doubt_k == 40.0
