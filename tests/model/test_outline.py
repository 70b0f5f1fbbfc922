"""Lands of every layout lie where the outline drawings put them."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.model.footprint import Body, Footprint, Lead, PadGroup
from solderrisk.model.outline import PadRect, body_size, extent, lead_rects, pad_rects


def footprint(length: float, width: float, *pads: PadGroup, family: str = "soic") -> Footprint:
    body = Body(length_mm=length, width_mm=width, height_mm=1.5)
    return Footprint(name="T", family=family, pads=pads, body=body, source="assumed")


def two_rows(count: int, pitch: float, span: float, **more: object) -> PadGroup:
    values = {
        "kind": "gull_wing",
        "count": count,
        "layout": "dual",
        "pitch_mm": pitch,
        "row_span_mm": span,
        "land_w_mm": 0.4 * pitch,
        "land_l_mm": 1.5,
    }
    return PadGroup.model_validate(values | more)


def places(part: Footprint) -> list[tuple[float, float]]:
    return [(round(r.x_mm, 3), round(r.y_mm, 3)) for r in pad_rects(part)]


def test_two_rows_count_down_left_and_up_right() -> None:
    # JEDEC MS-012-AA: 8 leads, pitch 1.27, pin 1 top left, counter-clockwise.
    part = footprint(4.9, 3.9, two_rows(8, 1.27, 5.4))
    assert places(part)[0] == (-2.7, 1.905)
    assert places(part)[3] == (-2.7, -1.905)
    assert places(part)[4] == (2.7, -1.905)
    assert places(part)[7] == (2.7, 1.905)


def test_body_lies_between_its_rows_whichever_side_is_called_length() -> None:
    # MS-012: 4.9 long along the rows; MO-142 (TSOP I): 18.4 long across the rows.
    assert body_size(footprint(4.9, 3.9, two_rows(8, 1.27, 5.4))) == (3.9, 4.9)
    tsop = footprint(18.4, 12.0, two_rows(48, 0.5, 19.4), family="tsop")
    assert body_size(tsop) == (18.4, 12.0)


def test_three_and_five_leads_spread_the_short_row() -> None:
    # TO-236AB: pin 3 opposite the middle of pins 1 and 2; MO-178 with 5: 1.9 mm apart.
    assert places(footprint(2.9, 1.3, two_rows(3, 1.9, 2.0), family="sot")) == [
        (-1.0, 0.95),
        (-1.0, -0.95),
        (1.0, 0.0),
    ]
    five = places(footprint(2.9, 1.6, two_rows(5, 0.95, 2.3), family="sot"))
    assert five[3:] == [(1.15, -0.95), (1.15, 0.95)]


@pytest.mark.parametrize(
    ("count", "pitch", "length", "width", "left"),
    [(100, 0.5, 14.0, 14.0, 25), (128, 0.5, 14.0, 20.0, 38), (100, 0.65, 14.0, 20.0, 30)],
)
def test_four_rows_share_pins_by_the_body(
    count: int, pitch: float, length: float, width: float, left: int
) -> None:
    # JEDEC MS-026 / MS-022: 14x14 has 25 a side; 14x20 has 38 + 26 at 0.5, 30 + 20 at 0.65.
    group = PadGroup(
        kind="gull_wing",
        count=count,
        layout="quad",
        pitch_mm=pitch,
        row_span_mm=length + 1.4,
        row_span_y_mm=width + 1.4,
        land_w_mm=0.3,
        land_l_mm=1.5,
    )
    rects = pad_rects(footprint(length, width, group, family="qfp"))
    assert len(rects) == count
    assert sum(r.x_mm == min(q.x_mm for q in rects) for r in rects) == left
    assert rects[0].x_mm < 0 < rects[0].y_mm
    # Counter-clockwise: the shoelace sum over the centres is positive.
    turning = sum(a.x_mm * b.y_mm - b.x_mm * a.y_mm for a, b in itertools.pairwise(rects))
    assert turning > 0


def test_side_rows_lie_along_x_and_end_rows_along_y() -> None:
    group = PadGroup(
        kind="no_lead",
        count=16,
        layout="quad",
        pitch_mm=0.5,
        row_span_mm=2.9,
        land_w_mm=0.28,
        land_l_mm=0.8,
    )
    centre = PadGroup(
        name="ep", kind="exposed", count=1, layout="centre", land_w_mm=1.7, land_l_mm=1.7
    )
    rects = pad_rects(footprint(3.0, 3.0, group, centre, family="qfn"))
    assert (rects[0].w_mm, rects[0].h_mm) == (0.8, 0.28)
    assert (rects[4].w_mm, rects[4].h_mm) == (0.28, 0.8)
    assert (rects[16].x_mm, rects[16].y_mm, rects[16].number) == (0.0, 0.0, 17)


def test_multi_row_header_counts_across_its_rows() -> None:
    header = PadGroup(
        kind="through_hole",
        count=6,
        layout="single",
        rows=2,
        pitch_mm=2.54,
        land_w_mm=1.7,
        land_l_mm=1.7,
        hole_mm=1.0,
    )
    rects = pad_rects(footprint(7.6, 5.1, header, family="header"))
    assert [(r.x_mm, r.y_mm) for r in rects[:3]] == [(-2.54, 1.27), (-2.54, -1.27), (0.0, 1.27)]
    assert all(r.round and r.hole_mm == 1.0 for r in rects)


def test_a_group_with_one_centre_is_moved_there() -> None:
    row = PadGroup(
        kind="gull_wing", count=3, pitch_mm=2.3, land_w_mm=1.0, land_l_mm=2.0, at=((0.0, -3.1),)
    )
    assert places(footprint(6.5, 3.5, row)) == [(-2.3, -3.1), (0.0, -3.1), (2.3, -3.1)]


def test_corner_pads_start_top_left() -> None:
    # JEDEC-style 3225 crystal: four lands on 2.2 x 1.7 mm centres.
    corner = PadGroup(
        kind="no_lead",
        count=4,
        layout="corners",
        row_span_mm=2.2,
        row_span_y_mm=1.7,
        land_w_mm=1.2,
        land_l_mm=1.4,
    )
    part = footprint(3.2, 2.5, corner, family="crystal_smd")
    assert places(part) == [(-1.1, 0.85), (-1.1, -0.85), (1.1, -0.85), (1.1, 0.85)]
    assert extent(part) == pytest.approx((3.6, 2.9))


def test_explicit_lands_lie_as_written() -> None:
    tab = PadGroup(
        kind="lug",
        count=2,
        layout="explicit",
        land_w_mm=2.0,
        land_l_mm=3.0,
        hole_mm=1.2,
        at=((-8.0, 0.0), (0.0, 6.0)),
    )
    part = footprint(12.0, 8.0, tab, family="shielded_connector")
    assert {(r.w_mm, r.h_mm, r.round) for r in pad_rects(part)} == {(2.0, 3.0, False)}
    assert body_size(part) == (12.0, 8.0)


def test_leads_run_from_body_to_the_end_of_the_foot() -> None:
    lead = Lead(width_mm=0.42, thickness_mm=0.2, foot_mm=0.8)
    part = footprint(4.9, 3.9, two_rows(8, 1.27, 5.4, lead=lead))
    first = lead_rects(part)[0]
    assert first.bounds == pytest.approx((-3.1, 1.905 - 0.21, -1.95, 1.905 + 0.21))
    assert len(lead_rects(part)) == 8
    chip = PadGroup(
        kind="chip_end", count=2, layout="ends", row_span_mm=1.5, land_w_mm=0.9, land_l_mm=0.8
    )
    assert lead_rects(footprint(1.6, 0.8, chip, family="chip")) == ()


def test_lugs_stand_the_long_way_of_their_land() -> None:
    lug = Lead(width_mm=2.6, thickness_mm=0.8)
    upright = PadGroup(
        kind="lug", count=1, land_w_mm=2.2, land_l_mm=4.2, hole_mm=3.2, slot_w_mm=1.2, lead=lug
    )
    lying = upright.model_copy(update={"land_w_mm": 4.2, "land_l_mm": 2.2})
    part = footprint(14.0, 9.0, upright, lying, family="dc_jack")
    assert [(r.w_mm, r.h_mm) for r in lead_rects(part)] == [(0.8, 2.6), (2.6, 0.8)]


def overlap(a: PadRect, b: PadRect) -> bool:
    al, ab, ar, at = a.bounds
    bl, bb, br, bt = b.bounds
    return al < br - 1e-9 and bl < ar - 1e-9 and ab < bt - 1e-9 and bb < at - 1e-9


@settings(max_examples=60, deadline=None)
@given(
    layout=st.sampled_from(["single", "dual", "quad", "grid"]),
    count=st.integers(2, 64),
    pitch=st.floats(0.4, 2.54),
    share=st.floats(0.2, 0.8),
)
def test_every_pad_is_placed_once_and_none_overlap(
    layout: str, count: int, pitch: float, share: float
) -> None:
    if layout == "quad":
        count = max(4, count - count % 4)
    land = share * pitch
    group = PadGroup.model_validate(
        {
            "kind": "gull_wing" if layout != "grid" else "ball",
            "count": count,
            "layout": layout,
            "pitch_mm": pitch,
            "row_span_mm": count * pitch + 4.0,
            "land_w_mm": land,
            "land_l_mm": land,
        }
    )
    rects = pad_rects(footprint(3.0, 3.0, group))
    assert [r.number for r in rects] == list(range(1, count + 1))
    assert not any(overlap(a, b) for a, b in itertools.combinations(rects, 2))
