"""Joints as lumps: links, sinks and masses by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import PlaneLink
from solderrisk.physics.board import laminate_w_m2k
from solderrisk.physics.joint import (
    body_j_k,
    joint_cases,
    joint_lumps,
    joint_metal,
    lead_w_k,
    link_of,
)
from solderrisk.physics.results import JointCase, Note
from tests.heat_joints import CHIP_0402, DIP_16, GROUND_PIN, SNPB, SOIC_8, TAB, board, joint

DATA = physics_data()
P = DATA.parameters


def test_tied_groups_get_the_board_s_planes_and_spokes() -> None:
    (case,) = joint_cases(TAB, board(2, spokes=0), SNPB)
    assert case.links == (PlaneLink(group="tab", planes=2, spokes=0),)
    (case,) = joint_cases(SOIC_8, board(2), SNPB)
    assert case.links == ()
    (case,) = joint_cases(TAB, board(0), SNPB)
    assert case.links == ()


def test_named_links_go_before_the_star_and_the_board() -> None:
    star = PlaneLink(planes=4, spokes=2)
    named = PlaneLink(group="tab", planes=1, spokes=0)

    def tie(part: Footprint, *links: PlaneLink) -> PlaneLink | None:
        return link_of(JointCase(part, part.pads[0], board(2), SNPB, links))

    assert tie(TAB, star, named) == named
    assert tie(TAB, star) == star.model_copy(update={"group": "tab"})
    assert tie(SOIC_8, star) is None
    assert tie(SOIC_8, PlaneLink(group="pins", planes=1)) is not None
    assert tie(TAB, PlaneLink(group="tab", planes=0)) is None


def test_a_link_of_no_planes_means_none() -> None:
    """Also once the case has been made: the board's usual ties do not come back."""
    (case,) = joint_cases(TAB, board(4), SNPB, (PlaneLink(planes=0),))
    (alone,) = joint_cases(TAB, board(0), SNPB)
    assert link_of(case) is None
    assert joint_lumps(case, DATA).sheet_w_k == joint_lumps(alone, DATA).sheet_w_k


def test_the_only_pad_takes_a_star_link() -> None:
    stud = TAB.model_copy(update={"pads": (TAB.pads[0].model_copy(update={"tied": False}),)})
    (case,) = joint_cases(stud, board(2), SNPB, (PlaneLink(planes=2, spokes=0),))
    assert link_of(case) == PlaneLink(group="tab", planes=2, spokes=0)


def test_links_resolve_once() -> None:
    (case,) = joint_cases(TAB, board(2), SNPB, (PlaneLink(planes=2, spokes=3),))
    assert link_of(case) == PlaneLink(group="tab", planes=2, spokes=3)


def test_spokes_by_hand() -> None:
    """Two planes, four spokes 0.3 x 0.3 mm of 35 um: 8 x 390 x 35e-6 = 0.1092 W/K, and the
    ring of FR-4 beside them 2 pi 0.8 x 1.6e-3 / ln((r + 0.3) / r)."""
    land = math.sqrt(1.7 * 1.7 / math.pi)
    expected = 0.1092 + 2 * math.pi * 0.8 * 1.6e-3 / math.log((land + 0.3) / land)
    lumps = joint_lumps(joint(GROUND_PIN, 2, 4), DATA)
    assert lumps.hub_w_k == pytest.approx(expected, rel=1e-6)
    assert joint_lumps(joint(GROUND_PIN, 2, 0), DATA).hub_w_k == math.inf


def test_sheet_of_two_planes_by_hand() -> None:
    """2 x 0.8 x 390 x 35e-6 + 0.8 x 1.6e-3 = 0.02312 W/K."""
    lumps = joint_lumps(joint(TAB, 2, 0), DATA)
    assert lumps.sheet_w_k == pytest.approx(0.02312, rel=1e-6)
    assert lumps.copper_j_m2k == pytest.approx(2 * 0.8 * 3.45e6 * 35e-6)


def test_a_dip_pin_s_masses_by_hand() -> None:
    """Copper alloy lead 0.46 x 0.25 mm over 1.6 + 1.5 mm, two lands of 35 um, 1.6 mm of FR-4
    below the land, and the solder that the volume rules give (barrel and two fillets: more
    than the barrel, less than twice as much)."""
    lead = 0.46 * 0.25 * 3.1 * 0.0034
    lands = 2 * 2.25 * 0.035 * 3.45e-3
    laminate = 2.25 * 1.6 * 2.0e-3
    barrel_g = (math.pi / 4 * 0.64 - 0.115) * 1.6 * 8.4e-3
    lumps = joint_lumps(joint(DIP_16, alloy=SNPB), DATA)
    solder_g = lumps.latent_j / 45.0
    assert barrel_g < solder_g < 2 * barrel_g
    expected = solder_g * 0.17 + lead + lands + laminate
    assert lumps.capacity_j_k == pytest.approx(expected, rel=1e-3)
    assert lumps.barrel


def test_ways_into_the_body() -> None:
    outside = 260.0 * 0.41 * 0.2e-3 / 1.0
    assert lead_w_k(joint(SOIC_8), DATA) < outside
    assert lead_w_k(joint(SOIC_8), DATA) > 0.2 * outside
    chip = 20.0 * 0.5 * 0.5e-3 / 0.5
    assert lead_w_k(joint(CHIP_0402), DATA) == pytest.approx(chip)


def test_body_capacity_from_what_is_known() -> None:
    body = SOIC_8.body
    assert body_j_k(body, DATA) == pytest.approx(4.9 * 3.9 * 1.5 * 0.0019)
    assert body_j_k(body.model_copy(update={"mass_g": 2.0}), DATA) == 2.0 * P["body_j_gk"]
    assert body_j_k(body.model_copy(update={"heat_capacity_j_k": 0.7}), DATA) == 0.7


def test_planes_cut_the_laminate_into_slabs() -> None:
    """One plane heats 1.6 mm from a face, k/t; two planes two halves of it, 4 k/t; four
    planes six sixths, 36 k/t."""
    unit = 0.3 / 1.6e-3
    assert laminate_w_m2k(1, 1.6e-3, 0.3) == pytest.approx(unit)
    assert laminate_w_m2k(2, 1.6e-3, 0.3) == pytest.approx(4 * unit)
    assert laminate_w_m2k(4, 1.6e-3, 0.3) == pytest.approx(36 * unit)


def test_answers_are_kept_per_data() -> None:
    case = joint(TAB, 2, 0)
    other = replace(DATA)
    assert joint_lumps(case, DATA) is joint_lumps(case, DATA)
    assert joint_lumps(case, other) is not joint_lumps(case, DATA)
    assert joint_lumps(case, other) == joint_lumps(case, DATA)


def test_both_faces_of_the_board_lose_heat() -> None:
    """8 W/m2K by natural convection and 8 by radiation (Incropera, chapters 9 and 12), on two
    faces."""
    assert joint_lumps(joint(TAB, 2, 0), DATA).loss_w_m2k == pytest.approx(2 * 16.0)


def test_a_body_loses_heat_from_its_top_and_sides() -> None:
    """DIP of 19 x 6.4 x 3.3 mm: 121.6 and 2 x 3.3 x 25.4 mm2, 16 W/m2K."""
    expected = 16.0 * (121.6 + 167.64) * 1e-6
    assert joint_lumps(joint(DIP_16), DATA).body_loss_w_k == pytest.approx(expected, rel=1e-6)


def test_a_pad_without_a_lead_reaches_the_middle_of_its_body() -> None:
    """Fourier's law through half the height: 0.7 x 16 mm2 / 1.15 mm."""
    bare = TAB.model_copy(update={"pads": (TAB.pads[0].model_copy(update={"lead": None}),)})
    assert lead_w_k(joint(bare), DATA) == pytest.approx(0.7 * 16.0e-6 / 1.15e-3)


@pytest.mark.parametrize(("spokes", "gap_mm", "lags"), [(4, 0.3, True), (1, 3.0, False)])
def test_a_barrel_s_far_side_lags_behind_a_strong_sink(
    spokes: int, gap_mm: float, lags: bool
) -> None:
    """Brass post and solder in a 1.0 mm hole, 1.6 mm deep: (110 x 0.41 + 58 x 0.376) mm2 /
    1.6 mm = 0.042 W/K. One plane of 35 um takes about 0.06 W/K after a second (2 pi
    0.0122 / p(3)); behind four short spokes 0.04 W/K, of the barrel's size;
    behind one long thin spoke less than 0.02."""
    case = joint(GROUND_PIN, 1, spokes)
    link = case.links[0].model_copy(update={"spoke_gap_mm": gap_mm, "spoke_w_mm": 0.3})
    found = joint_lumps(replace(case, links=(link,)), DATA)
    assert (Note("far_side_lags") in found.notes) is lags


def test_a_foot_holds_heat_over_its_own_length() -> None:
    """SOIC: copper alloy 0.41 x 0.2 mm over a foot of 0.7 mm, one land of 35 um."""
    _, metal = joint_metal(joint(SOIC_8), DATA)
    assert metal == pytest.approx(0.41 * 0.2 * 0.7 * 0.0034 + 0.6 * 1.5 * 0.035 * 3.45e-3)
