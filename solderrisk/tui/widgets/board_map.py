"""The board to scale, and the view that maps its millimetres to dots."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import ClassVar

from textual import events
from textual.message import Message

from solderrisk.model.jobs import Job
from solderrisk.model.kit import Board
from solderrisk.model.outline import Box, board_box, body_outline, lands
from solderrisk.report.words import Band
from solderrisk.tui.dots import Dot, Dots, Row
from solderrisk.tui.widgets.lines import Picture


@dataclass(frozen=True)
class View:
    """Maps board millimetres to dots. Dots are about square: a cell is 2 x 4 of them and
    twice as high as wide. ``flipped`` looks at the board from below."""

    left: float
    top: float
    dots_per_mm: float
    flipped: bool = False

    def dot(self, point: Dot) -> Dot:
        x = self.left - point[0] if self.flipped else point[0] - self.left
        return x * self.dots_per_mm, (self.top - point[1]) * self.dots_per_mm

    def polygon(self, points: list[Dot]) -> list[Dot]:
        return [self.dot(point) for point in points]

    @classmethod
    def fit(cls, box: Box, columns: int, rows: int, *, flipped: bool = False) -> View:
        """A view that shows the whole box, centred."""
        left, bottom, right, top = box
        wide, high = max(right - left, 1e-6), max(top - bottom, 1e-6)
        scale = min((columns - 1) / wide, (rows - 1) / high)
        pad_x = ((columns - 1) / scale - wide) / 2
        pad_y = ((rows - 1) / scale - high) / 2
        edge = right + pad_x if flipped else left - pad_x
        return cls(edge, top + pad_y, scale, flipped)

    def zoomed(self, factor: float, centre: Dot, columns: int, rows: int) -> View:
        """The same view enlarged, with ``centre`` in the middle."""
        scale = self.dots_per_mm * factor
        half_x, half_y = columns / 2 / scale, rows / 2 / scale
        left = centre[0] + half_x if self.flipped else centre[0] - half_x
        return replace(self, left=left, top=centre[1] + half_y, dots_per_mm=scale)


LANDS_FROM = 8.0  # dots per mm from which single lands are worth drawing
ZOOMS = (1.0, 1.6, 2.5, 4.0, 6.5, 10.0, 16.0)


@dataclass(frozen=True)
class Spot:
    """One part on the map."""

    job: Job
    band: Band
    in_stage: bool = False


@dataclass(frozen=True)
class HeatReach:
    """Where hot air on one part melts neighbours' solder and softens plastics."""

    key: str
    reflow_mm: float
    plastic_mm: float


@dataclass(frozen=True)
class Scene:
    """What the map shows. ``others`` are plastics by name and place."""

    board: Board
    spots: tuple[Spot, ...] = ()
    flipped: bool = False
    reach: HeatReach | None = None
    others: tuple[tuple[str, float, float], ...] = ()
    selected: str | None = None
    box: Box = field(default=(0.0, 0.0, 1.0, 1.0))


class BoardMap(Picture, can_focus=True):
    """Arrow keys walk from part to part, + and - zoom, a click picks the nearest part."""

    DEFAULT_CSS = """
    BoardMap {
        width: 1fr;
        height: 1fr;
        & > .map--board { color: $quiet; }
        & > .map--part { color: $quiet; }
        & > .map--stage { color: $accent; text-style: bold; }
        & > .map--reflow { color: $error; }
        & > .map--plastic { color: $warning; }
        & > .map--selected { color: $foreground; text-style: bold; }
        & > .map--name { color: $foreground; text-style: bold reverse; }
        & > .map--label { color: $quiet; }
        & > .band-0 { color: $band-0; }
        & > .band-1 { color: $band-1; }
        & > .band-2 { color: $band-2; text-style: bold; }
        & > .band-3 { color: $band-3; text-style: bold; }
        & > .band-4 { color: $band-4; text-style: bold reverse; }
    }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "map--board",
        "map--part",
        "map--stage",
        "map--reflow",
        "map--plastic",
        "map--selected",
        "map--name",
        "map--label",
        "band-0",
        "band-1",
        "band-2",
        "band-3",
        "band-4",
    }

    class Picked(Message):
        """A part was chosen on the map."""

        def __init__(self, key: str) -> None:
            super().__init__()
            self.key = key

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.scene: Scene | None = None
        self.zoom = 0

    def show(self, scene: Scene | None) -> None:
        if scene is not None:
            placed = [spot.job for spot in scene.spots if spot.job.position]
            scene = _with_box(scene, board_box(scene.board, placed))
        if scene != self.scene:
            self.scene = scene
            self.redraw()

    def change_zoom(self, step: int) -> None:
        self.zoom = min(max(self.zoom + step, 0), len(ZOOMS) - 1)
        self.redraw()

    def view(self, width: int, height: int) -> View:
        scene = self.scene
        assert scene is not None
        columns, rows = width * 2, height * 4
        view = View.fit(scene.box, columns, rows, flipped=scene.flipped)
        if self.zoom == 0:
            return view
        return view.zoomed(ZOOMS[self.zoom], self._centre(scene), columns, rows)

    @staticmethod
    def _centre(scene: Scene) -> Dot:
        for spot in scene.spots:
            if spot.job.key == scene.selected and spot.job.position:
                return spot.job.position.x_mm, spot.job.position.y_mm
        left, bottom, right, top = scene.box
        return (left + right) / 2, (bottom + top) / 2

    def draw(self, width: int, height: int) -> list[Row]:
        scene = self.scene
        if scene is None:
            return [[("no board to show", "map--label")]]
        surface = Dots(width, height)
        view = self.view(width, height)
        _draw_board(surface, view, scene.box)
        for name, x, y in scene.others:
            at = view.dot((x, y))
            surface.text(int(at[0]) // 2, int(at[1]) // 4, "▲" + name[:10], "map--plastic")
        for spot in scene.spots:
            _draw_part(surface, view, spot, spot.job.key == scene.selected)
        if scene.reach is not None:
            _draw_reach(surface, view, scene)
        _draw_marks(surface, view, scene)
        return [surface.row(y) for y in range(height)]

    def step_to(self, dx: int, dy: int) -> str | None:
        """The nearest part in a direction on the screen; sideways distance counts double."""
        scene = self.scene
        if scene is None or not scene.spots:
            return None
        view = self.view(*self.size) if self.size.area else View.fit(scene.box, 100, 100)
        at = {s.job.key: view.dot((p.x_mm, p.y_mm)) for s in scene.spots if (p := s.job.position)}
        if scene.selected not in at:
            return next(iter(at), None)
        x0, y0 = at[scene.selected]

        def cost(key: str) -> float:
            ahead = (at[key][0] - x0) * dx + (at[key][1] - y0) * dy
            aside = abs((at[key][0] - x0) * dy) + abs((at[key][1] - y0) * dx)
            return ahead + 2 * aside if ahead > 0.01 and aside <= 3 * ahead + 2 else math.inf

        best = min(at, key=cost)
        return best if cost(best) < math.inf else None

    def on_click(self, event: events.Click) -> None:
        scene = self.scene
        if scene is None:
            return
        view = self.view(*self.size)
        x, y = event.x * 2 + 1, event.y * 4 + 2

        def distance(spot: Spot) -> float:
            at = spot.job.position
            if at is None:
                return math.inf
            dot = view.dot((at.x_mm, at.y_mm))
            return math.hypot(dot[0] - x, dot[1] - y)

        near = min(scene.spots, key=distance, default=None)
        if near is not None and distance(near) < math.inf:
            self.post_message(self.Picked(near.job.key))


def _with_box(scene: Scene, box: Box) -> Scene:
    return Scene(
        scene.board,
        tuple(s for s in scene.spots if s.job.position),
        scene.flipped,
        scene.reach,
        scene.others,
        scene.selected,
        box,
    )


def _draw_board(surface: Dots, view: View, box: Box) -> None:
    left, bottom, right, top = box
    corners = [(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]
    surface.path(view.polygon(corners), "map--board", rank=0)


def _draw_part(surface: Dots, view: View, spot: Spot, selected: bool) -> None:
    style = "map--stage" if spot.in_stage else spot.band.style
    rank = 2 if spot.in_stage else 1
    if selected:
        style, rank = "map--selected", 5
    outline = view.polygon(body_outline(spot.job))
    if spot.in_stage:
        surface.fill(outline, style, rank, sparse=True)
    surface.path([*outline, outline[0]], style, rank)
    if view.dots_per_mm >= LANDS_FROM:
        for polygon in lands(spot.job):
            surface.fill(view.polygon(polygon), style, rank)


def _draw_reach(surface: Dots, view: View, scene: Scene) -> None:
    reach = scene.reach
    assert reach is not None
    at = next((s.job.position for s in scene.spots if s.job.key == reach.key), None)
    if at is None:
        return
    for radius, style, gap, name in (
        (reach.plastic_mm, "map--plastic", 2, "plastics"),
        (reach.reflow_mm, "map--reflow", 1, "solder melts"),
    ):
        if radius <= 0:
            continue
        steps = 96
        ring = [
            view.dot(
                (
                    at.x_mm + radius * math.cos(2 * math.pi * i / steps),
                    at.y_mm + radius * math.sin(2 * math.pi * i / steps),
                )
            )
            for i in range(steps + 1)
        ]
        surface.path(ring, style, rank=4, gap=gap)
        x, y = view.dot((at.x_mm, at.y_mm + radius))
        label = f"{name} {radius:.0f} mm"
        cell_x, cell_y = int(x) // 2 - len(label) // 2, max(int(y) // 4 - 1, 0)
        if surface.free(cell_x, cell_y, len(label)):
            surface.text(cell_x, cell_y, label, style)


def _draw_marks(surface: Dots, view: View, scene: Scene) -> None:
    """Marks in the middle of each part, worst first, and names where there is room."""
    ordered = sorted(scene.spots, key=lambda s: (s.job.key != scene.selected, -s.band.rank))
    for spot in ordered:
        at = spot.job.position
        assert at is not None
        x, y = view.dot((at.x_mm, at.y_mm))
        cell_x, cell_y = int(x) // 2, int(y) // 4
        selected = spot.job.key == scene.selected
        style = "map--name" if selected else spot.band.style
        if surface.free(cell_x, cell_y, 1):
            surface.text(cell_x, cell_y, spot.band.mark, style)
        room = max(p[0] for p in view.polygon(body_outline(spot.job))) - x
        label = spot.job.ref[:12]
        if selected or room / 2 >= len(label) + 1:
            _label(surface, cell_x + 1, cell_y, label, style)


def _label(surface: Dots, x: int, y: int, text: str, style: str) -> None:
    for at_x, at_y in ((x, y), (x - 2 - len(text), y), (x, y - 1), (x, y + 1)):
        if surface.free(at_x, at_y, len(text)):
            surface.text(at_x, at_y, text, style)
            return
