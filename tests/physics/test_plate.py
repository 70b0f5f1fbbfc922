"""Hot plates: what helps, what is in the way, and what a bench would set."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import Bench, HotPlate
from solderrisk.physics.plate import plate_heat
from solderrisk.physics.results import PlateCase, PlateHeat
from tests.heat_joints import CHIP_0402, QFP_100, SAC, SNPB, SOIC_8, TAB, board

DATA = physics_data()
SMALL = HotPlate(name="small")


def on(part: object, alloy: str = SNPB, gap_mm: float | None = None, **plate: float) -> PlateHeat:
    tool = HotPlate(name="p", **plate)
    return plate_heat([PlateCase(part, board(1), alloy, tool, gap_mm)], DATA)[0]


def test_common_practice_with_a_small_plate() -> None:
    """Common practice: tin-lead paste melts within a few minutes on a plate at 230 to 260 C,
    tin-bismuth at 180 to 220; lead-free wants more than 250 C; a board held off the plate by
    parts below it suits tin-bismuth only."""
    leaded, free, bismuth = (on(SOIC_8, alloy) for alloy in (SNPB, SAC, "Sn42Bi58"))
    assert 230.0 <= leaded.peak_plate_c <= 265.0
    assert 180.0 <= bismuth.peak_plate_c <= 220.0
    assert free.peak_plate_c > 260.0
    for heat in (leaded, bismuth):
        assert heat.decision == "wets"
        assert heat.molten_s is not None
        assert 120.0 < heat.molten_s < 360.0
        assert heat.ramp_k_s < 3.0
        assert heat.above_s >= 15.0
    assert on(SOIC_8, SAC, highest_c=250.0).decision != "wets"
    assert on(SOIC_8, SAC, 1.0, highest_c=250.0).decision == "fails"
    assert on(SOIC_8, "Sn42Bi58", 1.0).decision == "wets"


def test_the_soak_stays_below_the_paste_s_melting() -> None:
    for alloy in (SNPB, SAC, "Sn42Bi58"):
        heat = on(QFP_100, alloy)
        assert heat.soak_plate_c < heat.peak_plate_c
        assert heat.soak_s == DATA.parameters["plate_soak_s"]


@settings(max_examples=12, deadline=None)
@given(
    part=st.sampled_from([CHIP_0402, SOIC_8, QFP_100, TAB]),
    gap=st.floats(0.1, 0.6),
    wider=st.floats(1.2, 2.0),
    power=st.floats(150.0, 600.0),
)
def test_a_wider_gap_and_less_power_are_later(
    part: object, gap: float, wider: float, power: float
) -> None:
    def case(alloy: str, gap_mm: float, **plate: float) -> PlateCase:
        return PlateCase(part, board(1), alloy, HotPlate(name="p", **plate), gap_mm)

    near, far, weak, strong = plate_heat(
        [
            # At one setting of the plate, its highest, which both are driven to.
            case(SAC, gap, power_w=power, highest_c=255.0),
            case(SAC, gap * wider, power_w=power, highest_c=255.0),
            case(SNPB, gap, power_w=power / 1.5),
            case(SNPB, gap, power_w=power),
        ],
        DATA,
    )
    if near.peak_plate_c == far.peak_plate_c:
        assert far.settles_c < near.settles_c
    if strong.molten_s is not None and weak.molten_s is not None:
        assert strong.molten_s <= weak.molten_s


def test_paper_and_film_have_their_own_limits() -> None:
    paper = board(0, material="phenolic_paper", copper_layers=1, plane_layers=0)
    heat = plate_heat([PlateCase(SOIC_8, paper, SNPB, SMALL)], DATA)[0]
    assert heat.board_limit_c == 250.0
    core = board(0, material="aluminium_core", copper_layers=1, thickness_mm=1.6)
    (metal,) = plate_heat([PlateCase(SOIC_8, core, SNPB, SMALL)], DATA)
    assert metal.board_c - metal.top_c < heat.board_c - heat.top_c


def test_the_aid_alone_stands_for_a_small_plate() -> None:
    assert Bench(name="b").plates == ()
    (plate,) = Bench(name="b", aids=("hot_plate",)).plates
    assert plate.power_w == 300.0
    own = HotPlate(name="own", power_w=800)
    assert Bench(name="b", aids=("hot_plate",), hot_plates=(own,)).plates == (own,)


def test_equal_cases_are_asked_once() -> None:
    case = PlateCase(SOIC_8, board(1), SNPB, SMALL)
    first, again = plate_heat([case, case], DATA)
    assert first is again
    assert plate_heat([], DATA) == ()


def test_an_unknown_alloy_is_named() -> None:
    with pytest.raises(KeyError, match="no alloy"):
        plate_heat([PlateCase(SOIC_8, board(1), "Unobtainium", SMALL)], DATA)


def test_a_plate_that_is_too_weak_does_not_get_there() -> None:
    weak = on(QFP_100, SNPB, power_w=40.0)
    assert weak.molten_s is None
    assert weak.decision == "fails"
