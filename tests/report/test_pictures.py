"""Pictures: what is drawn lies where plain reckoning puts it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from solderrisk.model.footprint import Body, Footprint, Lead, PadGroup
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Board, Position, Side
from solderrisk.physics.results import AirHeat, Alignment, Curve, IronHeat
from solderrisk.report.pictures import Html, chance_bar, heating, leads, small_bar
from solderrisk.report.to_scale import board_map, common_scale, legend
from solderrisk.report.words import BANDS
from solderrisk.risk.results import JobRisk, Option, Range

ROW = Footprint(
    name="ROW-20",
    family="soic",
    pads=(
        PadGroup(kind="gull_wing", count=20, layout="dual", pitch_mm=0.5, row_span_mm=6.0,
                 land_w_mm=0.3, land_l_mm=1.4,
                 lead=Lead(width_mm=0.2, thickness_mm=0.15, foot_mm=0.6)),
    ),
    body=Body(length_mm=4.4, width_mm=6.0, height_mm=1.0),
    orientation="pin_one",
    source="assumed: made for a test",
)  # fmt: skip


def shapes(made: Html, class_: str) -> list[ET.Element]:
    root = ET.fromstring(made)
    return [e for e in root.iter() if e.get("class") == class_]


def number(element: ET.Element, name: str) -> float:
    return float(element.get(name, "nan"))


def spots(element: ET.Element) -> list[tuple[float, float]]:
    pairs = [pair.split(",") for pair in element.get("points", "").split()]
    return [(float(x), float(y)) for x, y in pairs]


def test_chance_bar() -> None:
    made = chance_bar(Range(0.25, 0.5, 0.75), 0.8)
    scale, found = shapes(made, "scale")[0], shapes(made, "range")[0]
    left, width = number(scale, "x"), number(scale, "width")
    assert number(found, "x") == pytest.approx(left + 0.25 * width, abs=0.1)
    assert number(found, "width") == pytest.approx(0.5 * width, abs=0.1)
    mid = shapes(made, "mid")[0]
    assert number(mid, "x") + number(mid, "width") / 2 == pytest.approx(left + 0.5 * width, abs=0.1)
    line = next(e for e in shapes(made, "target") if e.tag == "line")
    assert number(line, "x1") == pytest.approx(left + 0.8 * width, abs=0.1)
    assert "50 % (25..75)" in made
    assert "wanted 80 %" in made


@pytest.mark.parametrize("chance", [0.0, 1.0])
def test_bars_stay_inside_at_the_ends(chance: float) -> None:
    for made in (chance_bar(Range(chance, chance, chance), chance), small_bar(Range(0, 0, 1), 1)):
        root = ET.fromstring(made)
        width = float(root.get("viewBox", "").split()[2])
        for box in root.iter("rect"):
            assert number(box, "x") >= -2
            assert number(box, "x") + number(box, "width") <= width + 2


def curve(end: float = 20.0) -> Curve:
    times = tuple(end * n / 40 for n in range(41))
    return Curve(
        times, tuple(22 + 12 * t for t in times), tuple(300.0 for _ in times), 203, 288, "x"
    )


def test_heating_levels_and_times_stand_where_they_belong() -> None:
    heat = IronHeat(262, 203, 59, 10, "wets", "none", 5.0, 4.0, 6.0, 6.0, 15.0)
    made = heating(curve(), heat)
    needed, harm = shapes(made, "needed")[0], shapes(made, "harm")[0]
    axis = [e for e in shapes(made, "axis") if number(e, "y1") == number(e, "y2")]
    ground = max(number(e, "y1") for e in axis)
    # Heights above the axis are in proportion to temperatures.
    high, low = ground - number(harm, "y1"), ground - number(needed, "y1")
    assert high / low == pytest.approx(288 / 203, rel=0.02)
    hold, hurt = shapes(made, "moment")
    left = number(needed, "x1")
    assert (number(hurt, "x1") - left) / (number(hold, "x1") - left) == pytest.approx(2.5, rel=0.02)
    assert "hold 6.0 s" in made
    assert "hurt 15.0 s" in made
    joint = spots(shapes(made, "joint")[0])
    assert joint[0][0] == pytest.approx(left, abs=0.1)
    assert all(a[0] <= b[0] and a[1] >= b[1] for a, b in pairwise(joint))


def test_heating_without_answer_or_of_air() -> None:
    assert "hold" not in heating(curve(), None)
    air = AirHeat(15, 12, 19, 30, 10, "wets", 240, 260, 3, 8, 15, 120)
    assert "liquid 15 s" in heating(curve(30.0), air)
    never = AirHeat(None, None, None, -30, 10, "fails", 240, 260, 3, 8, 15, 120)
    assert "liquid" not in heating(curve(), never)


def test_heating_is_cut_where_nothing_more_happens() -> None:
    heat = IronHeat(262, 203, 59, 10, "wets", "none", 0.1, 0.1, 0.2, 1.0, 3.0)
    joint = spots(shapes(heating(curve(), heat), "joint")[0])
    assert len(joint) < 12  # of 41 points over 20 s; 3.6 s are shown
    assert joint[-1][0] == pytest.approx(280 - 6, abs=0.2)


def test_leads_are_drawn_to_scale() -> None:
    made = leads(ROW, Alignment(0.1, 1.0, 2))
    lands, feet = shapes(made, "land"), shapes(made, "lead")
    assert len(lands) == len(feet) >= 5
    pitch = number(lands[1], "x") - number(lands[0], "x")
    assert number(lands[0], "width") / pitch == pytest.approx(0.3 / 0.5, rel=0.02)
    assert number(feet[0], "width") / pitch == pytest.approx(0.2 / 0.5, rel=0.02)
    assert number(lands[0], "height") / pitch == pytest.approx(1.4 / 0.5, rel=0.02)
    limit = shapes(made, "limit")[0]
    near = min(feet, key=lambda foot: abs(number(foot, "x") - number(limit, "x")))
    assert abs(number(limit, "x") - number(near, "x")) / pitch == pytest.approx(0.1 / 0.5, rel=0.05)
    root = ET.fromstring(made)
    height = float(root.get("viewBox", "").split()[3])
    assert all(number(box, "y") + number(box, "height") <= height for box in root.iter("rect"))


def test_parts_without_leads_show_their_lands() -> None:
    flat = ROW.model_copy(
        update={"pads": (ROW.pads[0].model_copy(update={"kind": "no_lead", "lead": None}),)}
    )
    made = leads(flat, Alignment(0.05, 1.0, 2))
    assert shapes(made, "lead") == []
    assert len(shapes(made, "limit")) == 1


def fitted(ref: str, x: float, y: float, *, turn: float = 0.0, side: Side = "top",
           works: float = 0.9999) -> JobRisk:  # fmt: skip
    board = Board(name="main", length_mm=100, width_mm=50)
    at = Position(ref=ref, x_mm=x, y_mm=y, rotation_deg=turn, side=side)
    job = Job(f"fit:{ref}", ref, "fit", "chip", "main", ROW, board, position=at, side=side)
    option = Option("point", "point by point", True, after_mending=Range(works, works, works))
    return JobRisk(job, (option,), False, None, ())


BOARD = Board(name="main", length_mm=100, width_mm=50)


def centre(points: list[tuple[float, float]]) -> tuple[float, float]:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def test_parts_lie_where_the_board_has_them() -> None:
    scale = common_scale([BOARD])
    made = board_map(BOARD, "top", [fitted("U1", 25, 40)], scale)
    assert made is not None
    body = spots(shapes(made, "band-0")[0])
    # y runs up on the board and down in the picture.
    assert centre(body) == pytest.approx((25 * scale, 10 * scale), abs=0.2)
    xs, ys = [x for x, _ in body], [y for _, y in body]
    assert max(xs) - min(xs) == pytest.approx(4.4 * scale, abs=0.2)
    assert max(ys) - min(ys) == pytest.approx(6.0 * scale, abs=0.2)
    dot = shapes(made, "pin-one")[0]
    assert number(dot, "cx") < 25 * scale
    assert number(dot, "cy") < 10 * scale  # pin 1 of two rows is top left


def test_a_turned_part_is_turned() -> None:
    made = board_map(BOARD, "top", [fitted("U1", 25, 25, turn=90)], common_scale([BOARD]))
    assert made is not None
    body = spots(shapes(made, "band-0")[0])
    xs, ys = [x for x, _ in body], [y for _, y in body]
    assert max(xs) - min(xs) > max(ys) - min(ys)
    dot = shapes(made, "pin-one")[0]
    x, y = centre(body)
    assert number(dot, "cx") < x
    assert number(dot, "cy") > y  # top left turned a quarter counter-clockwise


def test_the_bottom_is_seen_from_below() -> None:
    scale = common_scale([BOARD])
    risks = [fitted("U1", 25, 40, side="bottom")]
    made = board_map(BOARD, "bottom", risks, scale)
    assert made is not None
    assert centre(spots(shapes(made, "band-0")[0])) == pytest.approx(
        (75 * scale, 10 * scale), abs=0.2
    )
    dot = shapes(made, "pin-one")[0]
    assert number(dot, "cx") < 75 * scale  # as one sees it: top left again
    assert board_map(BOARD, "top", risks, scale) is None


def test_marks_and_classes_by_risk() -> None:
    risks = [
        fitted(f"U{n}", 10 + 20 * n, 25, works=w) for n, w in enumerate((0.9995, 0.995, 0.97, 0.9))
    ]
    made = board_map(BOARD, "top", risks, common_scale([BOARD]))
    assert made is not None
    for n, band in enumerate(BANDS[:4]):
        assert len(shapes(made, band.style)) == 1
        assert f"U{n}" in made
        assert n == 0 or band.mark in made
    assert all(band.mark in legend() and band.word.split()[0] in legend() for band in BANDS[:4])


def test_names_do_not_cover_each_other() -> None:
    risks = [fitted(f"R{n}", 5 + 3.5 * (n % 25), 5 + 8 * (n // 25)) for n in range(125)]
    made = board_map(BOARD, "top", risks, common_scale([BOARD]))
    assert made is not None
    boxes = []
    for text in ET.fromstring(made).iter("text"):
        size = number(text, "font-size")
        width = len(text.text or "") * size * 0.5
        boxes.append((number(text, "x") - width / 2, number(text, "y") - size, width, size))
    assert len(boxes) > 60
    for n, (x, y, w, h) in enumerate(boxes):
        for x2, y2, w2, h2 in boxes[n + 1 :]:
            assert not (x < x2 + w2 and x2 < x + w and y < y2 + h2 and y2 < y + h)


def test_heat_reach_is_to_scale() -> None:
    risk = fitted("U1", 50, 25)
    heat = AirHeat(30, 25, 40, 30, 10, "wets", 240, 260, 3, 8.0, 15.0, 120)
    hot = Option("air", "hot air", True, air_heat=heat, after_mending=Range(0.9, 0.95, 0.99))
    scale = common_scale([BOARD])
    made = board_map(BOARD, "top", [JobRisk(risk.job, (hot,), False, None, ())], scale)
    assert made is not None
    assert number(shapes(made, "reflow-reach")[0], "r") == pytest.approx(8 * scale, abs=0.1)
    assert number(shapes(made, "plastic-reach")[0], "r") == pytest.approx(15 * scale, abs=0.1)


def test_every_picture_speaks() -> None:
    for made in (
        chance_bar(Range(0.1, 0.2, 0.3), 0.5),
        heating(curve(), None),
        leads(ROW, Alignment(0.1, 1.0, 2)),
        board_map(BOARD, "top", [fitted("U1", 25, 40)], 5.0),
    ):
        assert made is not None
        root = ET.fromstring(made)
        assert root.get("role") == "img"
        assert re.search(r"\w{4}", root.findtext("title") or "")
