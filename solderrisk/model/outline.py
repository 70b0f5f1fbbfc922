"""Outlines of parts and where they lie on a board."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.jobs import Job
from solderrisk.model.kit import Board

# Kinds whose lands stand out from the body, and so tell which way it lies.
_STANDS_OUT = ("gull_wing", "j_lead", "no_lead", "castellation", "through_hole")

LandSpot = tuple[float, float, bool]  # centre x, y, and whether the land lies along x


@dataclass(frozen=True)
class PadRect:
    """One land or lead: its centre, its size along x and y, its group's name, its number."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    group: str
    number: int
    round: bool = False
    hole_mm: float | None = None
    slot_mm: float | None = None  # the narrow side, where the hole is a slot

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top."""
        return (
            self.x_mm - self.w_mm / 2,
            self.y_mm - self.h_mm / 2,
            self.x_mm + self.w_mm / 2,
            self.y_mm + self.h_mm / 2,
        )


@lru_cache(maxsize=4096)
def pad_rects(footprint: Footprint) -> tuple[PadRect, ...]:
    """Every land in the order of its number, which runs on from group to group."""
    return tuple(rect for _, rect in grouped_rects(footprint))


def grouped_rects(footprint: Footprint) -> list[tuple[PadGroup, PadRect]]:
    """Every land with its pad group, in the order of its number."""
    pairs: list[tuple[PadGroup, PadRect]] = []
    for group in footprint.pads:
        alike = group.through_board and math.isclose(group.land_w_mm, group.land_l_mm)
        for place, (x, y, along_x) in enumerate(_spots(group, footprint), 1):
            w, h = group.land_l_mm, group.land_w_mm
            if not along_x:
                w, h = h, w
            number = len(pairs) + 1
            round_land = alike and place not in group.square
            rect = PadRect(
                x, y, w, h, group.name, number, round_land, group.hole_mm, group.slot_w_mm
            )
            pairs.append((group, rect))
    return pairs


@lru_cache(maxsize=4096)
def body_size(footprint: Footprint) -> tuple[float, float]:
    """The body's size along x and along y.

    Outline drawings name the longer side of a two-row body its length whichever way the
    rows run; the way that fits its lands best is the right one.
    """
    length, width = footprint.body.length_mm, footprint.body.width_mm
    telling = [
        rect
        for group in footprint.pads
        if group.kind in _STANDS_OUT
        for rect in _plain_rects(group)
    ]
    as_written = _misfit(telling, length, width)
    turned = _misfit(telling, width, length)
    return (width, length) if turned < as_written else (length, width)


def bounds(footprint: Footprint) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of body and lands together."""
    along_x, along_y = body_size(footprint)
    boxes = [rect.bounds for rect in pad_rects(footprint)]
    boxes.append((-along_x / 2, -along_y / 2, along_x / 2, along_y / 2))
    left, bottom, right, top = zip(*boxes, strict=True)
    return min(left), min(bottom), max(right), max(top)


def extent(footprint: Footprint) -> tuple[float, float]:
    """Size along x and y of body and lands together."""
    left, bottom, right, top = bounds(footprint)
    return right - left, top - bottom


def lead_rects(footprint: Footprint) -> tuple[PadRect, ...]:
    """Leads as seen from above: from the body's edge to the end of the foot, or the
    lead's section in its hole. Parts without leads give none."""
    half = tuple(size / 2 for size in body_size(footprint))
    return tuple(
        lead
        for group, rect in grouped_rects(footprint)
        if (lead := _lead(rect, group, half)) is not None
    )


def _lead(rect: PadRect, group: PadGroup, half: tuple[float, ...]) -> PadRect | None:
    lead = group.lead
    if lead is None:
        return None
    if group.through_board:
        sides = (lead.width_mm, lead.width_mm if lead.round else lead.thickness_mm)
        # A flat lug stands the long way of its land.
        w, h = sorted(sides, reverse=rect.w_mm >= rect.h_mm)
        return PadRect(rect.x_mm, rect.y_mm, w, h, rect.group, rect.number, lead.round)
    foot = lead.foot_mm or lead.width_mm
    sideways = _outward_x(rect, half)
    centre, half_body = (rect.x_mm, half[0]) if sideways else (rect.y_mm, half[1])
    end = abs(centre) + foot / 2
    start = min(half_body, end - foot)
    middle, size = math.copysign((start + end) / 2, centre), end - start
    x, y = (middle, rect.y_mm) if sideways else (rect.x_mm, middle)
    w, h = (size, lead.width_mm) if sideways else (lead.width_mm, size)
    return PadRect(x, y, w, h, rect.group, rect.number)


def _outward_x(rect: PadRect, half: tuple[float, ...]) -> bool:
    """Whether the pad stands further out of the body along x than along y."""
    return abs(rect.x_mm) - half[0] >= abs(rect.y_mm) - half[1]


def _misfit(rects: list[PadRect], along_x: float, along_y: float) -> tuple[float, float]:
    """How far two rows stick out past the body's ends, then the area by which lands and
    body overlap or stand apart; rounded, so that ties are ties."""
    ends = max((abs(rect.y_mm) for rect in rects), default=0.0) - along_y / 2
    area = sum(_mismatch(rect, along_x, along_y) for rect in rects)
    return round(max(ends, 0.0), 6), round(area, 6)


def _mismatch(rect: PadRect, along_x: float, along_y: float) -> float:
    left, bottom, right, top = rect.bounds
    wide = min(right, along_x / 2) - max(left, -along_x / 2)
    high = min(top, along_y / 2) - max(bottom, -along_y / 2)
    if wide >= 0 and high >= 0:
        return wide * high
    return math.hypot(min(wide, 0.0), min(high, 0.0)) * min(rect.w_mm, rect.h_mm)


def _plain_rects(group: PadGroup) -> list[PadRect]:
    """Lands of two rows that face each other along x; none of other layouts."""
    if group.turned and len(group.turned) == group.count:
        spots: list[LandSpot] = [(x, y, True) for x, y in group.at]
    elif _layout(group) == "dual":
        spots = _dual(group)
    else:
        return []
    size = (group.land_l_mm, group.land_w_mm)
    return [PadRect(x, y, *size, group.name, n + 1) for n, (x, y, _) in enumerate(spots)]


def _layout(group: PadGroup) -> str:
    many_ended = group.layout == "ends" and group.count > 2
    return "dual" if many_ended or (group.layout == "corners" and group.count > 4) else group.layout


def _spots(group: PadGroup, footprint: Footprint) -> list[LandSpot]:
    match _layout(group):
        case "explicit":
            return [(x, y, n in group.turned) for n, (x, y) in enumerate(group.at, 1)]
        case "ends":
            half = _span(group) / 2
            return [(-half, 0.0, True), (half, 0.0, True)][: group.count]
        case "dual":
            return _dual(group)
        case "quad":
            return _quad(group)
        case "corners":
            return _corners(group, footprint)
        case "centre":
            return _shifted(group, _lattice(group, 1, along_x=True))
        case "single":
            return _shifted(group, _lattice(group, min(group.rows, group.count), by_column=True))
        case _:
            rows = group.rows if group.rows > 1 else math.ceil(math.sqrt(group.count))
            return _shifted(group, _lattice(group, rows))


def _span(group: PadGroup) -> float:
    return group.row_span_mm or group.row_span_y_mm or 2 * group.land_l_mm


def _step(group: PadGroup) -> float:
    """Distance inside a row; lone pairs may give it as a span instead of a pitch."""
    return group.pitch_mm or group.row_span_y_mm or 1.5 * group.land_w_mm


def _row(count: int, length: float) -> list[float]:
    """``count`` centres spread over a length, from its negative to its positive end."""
    if count == 1:
        return [0.0]
    return [length * (n / (count - 1) - 0.5) for n in range(count)]


def _dual(group: PadGroup) -> list[LandSpot]:
    half = _span(group) / 2
    left = math.ceil(group.count / 2)
    right = group.count - left
    # An odd part (SOT-23, SOT-23-5) spreads its shorter row over the longer one's length.
    length = (left - 1) * _step(group)
    down = [(-half, -y, True) for y in _row(left, length)]
    up = [(half, y, True) for y in _row(right, length)] if right else []
    return down + up


def _quad(group: PadGroup) -> list[LandSpot]:
    step, span_x = _step(group), _span(group)
    span_y = group.row_span_y_mm or span_x
    # The same corner distance on all sides settles how a long body shares its pins.
    each = group.count // 2
    side = min(max(round((each + (span_y - span_x) / step) / 2), 0), each)
    bottom = each - side
    x, y = span_x / 2, span_y / 2
    spots = [(-x, -v, True) for v in _row(side, (side - 1) * step)] if side else []
    spots += [(v, -y, False) for v in _row(bottom, (bottom - 1) * step)] if bottom else []
    spots += [(x, v, True) for v in _row(side, (side - 1) * step)] if side else []
    rest = group.count - len(spots)
    return spots + ([(-v, y, False) for v in _row(rest, (rest - 1) * step)] if rest else [])


def _corners(group: PadGroup, footprint: Footprint) -> list[LandSpot]:
    body = footprint.body
    x = (group.row_span_mm or max(body.length_mm - group.land_l_mm, group.land_l_mm)) / 2
    y = (group.row_span_y_mm or group.pitch_mm or max(body.width_mm, 2 * group.land_w_mm)) / 2
    return [(-x, y, True), (-x, -y, True), (x, -y, True), (x, y, True)][: group.count]


def _lattice(
    group: PadGroup, rows: int, *, by_column: bool = False, along_x: bool = False
) -> list[LandSpot]:
    """Rows from top to bottom, columns from left to right."""
    step = _step(group)
    across = (group.row_span_mm or step) if group.layout == "single" else step
    columns = math.ceil(group.count / rows)
    xs = _row(columns, (columns - 1) * step)
    ys = _row(rows, (rows - 1) * across)[::-1]
    if by_column:
        places = [(x, y, along_x) for x in xs for y in ys]
    else:
        places = [(x, y, along_x) for y in ys for x in xs]
    return places[: group.count]


def _shifted(group: PadGroup, spots: list[LandSpot]) -> list[LandSpot]:
    if len(group.at) != 1:
        return spots
    dx, dy = group.at[0]
    return [(x + dx, y + dy, along_x) for x, y, along_x in spots]


Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, bottom, right, top


def placed(job: Job, x: float, y: float) -> Point:
    """A point of the part's own drawing on the board; bottom parts are mirrored in x.

    Raises:
        ValueError: the job has no position.
    """
    at = job.position
    if at is None:
        raise ValueError(f"{job.key} has no position")
    angle = math.radians(at.rotation_deg)
    if job.side == "bottom":
        x = -x
    return (
        at.x_mm + x * math.cos(angle) - y * math.sin(angle),
        at.y_mm + x * math.sin(angle) + y * math.cos(angle),
    )


def rectangle(job: Job, x: float, y: float, w: float, h: float) -> list[Point]:
    """A rectangle of the part's drawing as a polygon on the board."""
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [placed(job, x + sx * w / 2, y + sy * h / 2) for sx, sy in corners]


def body_outline(job: Job) -> list[Point]:
    if job.footprint is None:
        raise ValueError(f"{job.key} has no footprint")
    w, h = body_size(job.footprint)
    return rectangle(job, 0.0, 0.0, w, h)


def lands(job: Job) -> list[list[Point]]:
    if job.footprint is None:
        raise ValueError(f"{job.key} has no footprint")
    return [land(job, rect) for rect in pad_rects(job.footprint)]


def land(job: Job, rect: PadRect) -> list[Point]:
    return rectangle(job, rect.x_mm, rect.y_mm, rect.w_mm, rect.h_mm)


def board_box(board: Board, jobs: Sequence[Job]) -> Box:
    """The board's outline. Where positions do not start at its corner, the outline is
    laid centrally round them: only its size is known."""
    corners = [point for job in jobs for point in body_outline(job)]
    if not corners:
        return 0.0, 0.0, board.length_mm, board.width_mm
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    slack = 0.05 * max(board.length_mm, board.width_mm)
    inside = (
        min(xs) >= -slack
        and min(ys) >= -slack
        and max(xs) <= board.length_mm + slack
        and max(ys) <= board.width_mm + slack
    )
    if inside:
        return 0.0, 0.0, board.length_mm, board.width_mm
    middle_x, middle_y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    half_x = max(board.length_mm, max(xs) - min(xs)) / 2
    half_y = max(board.width_mm, max(ys) - min(ys)) / 2
    return middle_x - half_x, middle_y - half_y, middle_x + half_x, middle_y + half_y
