"""Solder volume: sums, limits, and how it grows."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.kit import Board
from solderrisk.physics.solder_volume import (
    added_flux_mg,
    barrel_fill_rule,
    joint_volume_mm3,
    solder_need,
)
from tests.shapes import barrel, chip, group, gull, part

DATA = physics_data()
BOARD = Board(name="b")


def volume(footprint: object, thickness: float = 1.6) -> float:
    board = BOARD.model_copy(update={"thickness_mm": thickness})
    return solder_need(footprint, board, 8.4, 0.5, 2.2, DATA).volume_mm3


@settings(max_examples=50, deadline=None)
@given(
    hole=st.floats(0.6, 1.2),
    extra=st.floats(0.2, 0.45),
    thickness=st.floats(0.4, 3.2),
    more=st.floats(1.01, 1.5),
)
def test_barrels_grow_with_board_hole_and_land(
    hole: float, extra: float, thickness: float, more: float
) -> None:
    land = hole + extra
    small = volume(barrel(hole=hole, land=land), thickness)
    assert 0 < small < volume(barrel(hole=hole, land=land), thickness * more)
    assert small < volume(barrel(hole=hole * more, land=land * more), thickness)


def test_need_is_the_sum_over_joints() -> None:
    one, many = barrel(count=2), barrel(count=14)
    assert volume(many) == pytest.approx(7 * volume(one), rel=1e-12)
    need = solder_need(many, BOARD, 7.4, 0.5, 2.2, DATA)
    assert need.mass_g == pytest.approx(need.volume_mm3 * 7.4e-3)


def test_paste_has_no_wire() -> None:
    need = solder_need(chip(), BOARD, 8.4, None, 10.0, DATA)
    assert need.wire_mm == 0.0
    assert need.flux_mg > 0
    assert solder_need(chip(), BOARD, 8.4, 0.5, 0.0, DATA).flux_mg == 0.0


def test_a_chip_takes_far_less_than_a_barrel() -> None:
    assert volume(gull()) / 100 < volume(chip()) / 2 < volume(barrel()) / 8


@pytest.mark.parametrize(
    ("kind", "share"), [("exposed", 0.06), ("tab", 0.06), ("ball", 0.06), ("no_lead", 0.05)]
)
def test_flat_joints_are_a_film_on_their_land(kind: str, share: float) -> None:
    flat = group(kind, 1, 3.0, 4.0)
    film_mm3 = joint_volume_mm3(part("other_smd", 5, 5, 1, flat), flat, BOARD, DATA)
    assert film_mm3 == pytest.approx(12.0 * share)


def test_a_wire_has_a_dome_no_higher_than_half_its_land() -> None:
    wide, narrow = group("wire", 1, 2.0, 2.0), group("wire", 1, 0.4, 2.0)
    holder = part("wire_pad", 2, 2, 1, wide, narrow)
    assert joint_volume_mm3(holder, wide, BOARD, DATA) == pytest.approx(4.0 * 0.5)
    assert joint_volume_mm3(holder, narrow, BOARD, DATA) == pytest.approx(0.8 * 0.2)


def test_fill_rule_reads_like_a_bench_card() -> None:
    assert barrel_fill_rule(8, 2, DATA).share == 0.75
    assert barrel_fill_rule(14, 2, DATA).depth_mm == 1.2
    assert barrel_fill_rule(8, 1, DATA).share is None
    with pytest.raises(ValueError, match="lead_count"):
        barrel_fill_rule(0, 2, DATA)


def test_every_packaged_footprint_has_a_believable_need() -> None:
    for footprint in load_library(()):
        need = solder_need(footprint, BOARD, 8.4, 0.5, 2.2, DATA)
        each = need.volume_mm3 / footprint.joint_count
        assert 1e-4 < each < 150, footprint.name
        assert added_flux_mg(footprint, DATA) > 0, footprint.name
