"""The temperature-time picture of one heating, with wetting and damage thresholds."""

from __future__ import annotations

from itertools import pairwise
from typing import ClassVar

from solderrisk.physics.results import Curve
from solderrisk.tui.dots import Dots, Row, round_ticks
from solderrisk.tui.widgets.picture import Picture
from solderrisk.words import seconds

AXIS = 6  # cells kept for the temperature scale


class HeatCurve(Picture):
    """Solid: the joint. Dotted: tip, or the part's top. Dashed levels are named in text."""

    DEFAULT_CSS = """
    HeatCurve {
        width: 1fr;
        height: 1fr;
        & > .curve--axis { color: $quiet; }
        & > .curve--joint { color: $primary; text-style: bold; }
        & > .curve--source { color: $accent; }
        & > .curve--needed { color: $success; }
        & > .curve--harm { color: $error; }
    }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "curve--axis",
        "curve--joint",
        "curve--source",
        "curve--needed",
        "curve--harm",
    }

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.curve: Curve | None = None
        self.message = "no heating to show"

    def show(self, curve: Curve | None, message: str = "no heating to show") -> None:
        self.curve, self.message = curve, message
        self.redraw()

    def draw(self, width: int, height: int) -> list[Row]:
        curve = self.curve
        if curve is None or len(curve.time_s) < 2:
            return [[(self.message, "curve--axis")]]
        if width < 24 or height < 5:
            return [[("too small to draw", "curve--axis")]]
        plot = Dots(width - AXIS, height - 2)
        low, high = _span(curve)
        wet_s = crossing(curve, curve.needed_c)
        end = telling_s(curve, wet_s)

        def at(time: float, temperature: float) -> tuple[float, float]:
            return (
                time / end * (plot.columns - 1),
                (high - temperature) / (high - low) * (plot.rows - 1),
            )

        for level, style, name in _levels(curve):
            plot.line(at(0, level), at(end, level), style, rank=0, gap=4)
            self._name_level(plot, at(0, level)[1], name, style)
        plot.path([at(*p) for p in _until(curve, curve.source_c, end)], "curve--source", 1, 1)
        plot.path([at(*p) for p in _until(curve, curve.joint_c, end)], "curve--joint", 2)
        if wet_s is not None:
            plot.line(at(wet_s, curve.needed_c), at(wet_s, low), "curve--needed", 1, gap=2)
        rows = [_scale_row(plot, y, low, high) for y in range(plot.height)]
        rows.append(_time_row(end, plot.width))
        rows.append(
            [
                (" " * AXIS, "curve--axis"),
                ("━ joint  ", "curve--joint"),
                ("┅ tip or part's top  ", "curve--source"),
                (f"┊ wets at {seconds(wet_s)}  " if wet_s is not None else "", "curve--needed"),
                (curve.label, "curve--axis"),
            ]
        )
        return rows

    @staticmethod
    def _name_level(plot: Dots, y: float, name: str, style: str) -> None:
        row = min(max(int(y // 4), 0), plot.height - 1)
        x = plot.width - len(name)
        for candidate in (row, row - 1, row + 1):
            if plot.free(x, candidate, len(name)):
                plot.text(x, candidate, name, style)
                return


def crossing(curve: Curve, level_c: float) -> float | None:
    """When the joint first reaches a temperature, s; None where it never does."""
    points = list(zip(curve.time_s, curve.joint_c, strict=True))
    for (t0, c0), (t1, c1) in pairwise(points):
        if c0 < level_c <= c1:
            return t0 + (level_c - c0) / (c1 - c0) * (t1 - t0)
    return 0.0 if points[0][1] >= level_c else None


def telling_s(curve: Curve, wet_s: float | None) -> float:
    """How much time to show: the wetting in some width, and the harm where it is near."""
    last = curve.time_s[-1] or 1.0
    harm_s = crossing(curve, curve.harm_c)
    if wet_s is None:
        return last
    return min(last, max(4.0 * wet_s, 1.3 * harm_s if harm_s else 0.0, 1.0))


def _until(curve: Curve, values: tuple[float, ...], end: float) -> list[tuple[float, float]]:
    """(time, temperature) up to ``end``, with the point at ``end`` put in."""
    points: list[tuple[float, float]] = []
    for (t0, c0), (t1, c1) in pairwise(zip(curve.time_s, values, strict=True)):
        points.append((t0, c0))
        if t1 >= end:
            share = (end - t0) / (t1 - t0) if t1 > t0 else 0.0
            return [*points, (end, c0 + share * (c1 - c0))]
    return [*points, (curve.time_s[-1], values[-1])]


def _levels(curve: Curve) -> list[tuple[float, str, str]]:
    return [
        (curve.needed_c, "curve--needed", f"wets {curve.needed_c:.0f} °C"),
        (curve.harm_c, "curve--harm", f"harm {curve.harm_c:.0f} °C"),
    ]


def _span(curve: Curve) -> tuple[float, float]:
    values = (*curve.joint_c, *curve.source_c, curve.needed_c, curve.harm_c)
    low, high = min(values), max(values)
    return low, max(high * 1.04, low + 1.0)


def _scale_row(plot: Dots, y: int, low: float, high: float) -> Row:
    top, bottom = (high - (high - low) * part / plot.height for part in (y, y + 1))
    most = max(plot.height // 2, 1)
    tick = next((t for t in round_ticks(low, high, min(most, 6)) if bottom < t <= top), None)
    mark = f"{tick:4.0f} ┤" if tick is not None else "     │"
    return [(mark, "curve--axis"), *plot.row(y)]


def _time_row(end: float, width: int) -> Row:
    line = ["─"] * width
    for tick in round_ticks(0.0, end, max(width // 12, 2)):
        text = f"{tick:g} s"
        x = round(tick / end * (width - 1))
        x = min(max(x - len(text) // 2, 0), width - len(text))
        line[x : x + len(text)] = list(text)
    return [("     └", "curve--axis"), ("".join(line[:width]), "curve--axis")]
