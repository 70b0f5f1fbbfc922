"""Board map: where the risk sits, what the heat reaches, what the stage at hand covers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from solderrisk.report.words import BANDS, band_of, job_name, refs_line
from solderrisk.tui.places import styles_of
from solderrisk.tui.screens.base import PlaceScreen
from solderrisk.tui.widgets.board_map import BoardMap, HeatReach, Scene, Spot
from solderrisk.words import donor_at, likely, one_line, plain

if TYPE_CHECKING:
    from solderrisk.model.jobs import Job
    from solderrisk.model.kit import Board, Side
    from solderrisk.tui.rows import Shown

WORST_HERE = 14


class BoardScreen(PlaceScreen):
    PLACE = "board"
    DEFAULT_CSS = styles_of(__file__)
    EMPTY = "A board map needs parts with positions; a board file or a placement file has them."
    HELP = """\
The board to scale, seen from the side named above it. Every part carries the mark of its
band; parts of the stage at hand are shaded. Where the chosen job uses hot air, the inner
ring is where neighbours' solder melts and the outer one where plastics soften (▲).

Arrow keys walk from part to part, + and - zoom, f turns the board over, v goes to the
next board, < and > step through the stages. Enter shows the part's technique."""
    BINDINGS: ClassVar[list[BindingType]] = [
        *(
            Binding(key, f"walk({dx}, {dy})", "Walk", show=False)
            for key, dx, dy in (("left", -1, 0), ("right", 1, 0), ("up", 0, -1), ("down", 0, 1))
        ),
        Binding("plus,equals_sign", "zoom(1)", "Zoom", key_display="+ -"),
        Binding("minus", "zoom(-1)", "Zoom out", show=False),
        Binding("f", "flip", "Flip"),
        Binding("v", "next_board", "Board"),
        Binding("greater_than_sign,full_stop", "stage(1)", "Stage", key_display="< >"),
        Binding("less_than_sign,comma", "stage(-1)", "Stage before", show=False),
        Binding("enter", "see", "Job", show=True),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._place = ""
        self._side: Side = "top"

    def build(self) -> Iterable[Widget]:
        yield Vertical(Static(id="map-title", markup=False), BoardMap(id="map"), id="map-main")
        yield Static(id="map-side", markup=False)

    def on_mount(self) -> None:
        super().on_mount()
        for name in ("chosen", "stage"):
            self.watch(self.app, name, self._follow, init=False)

    def _is_empty(self) -> bool:
        shown = self.app.shown
        return shown is not None and not any(job.position for job in shown.jobs.values())

    def first_focus(self) -> None:
        self.set_focus(self.query_one(BoardMap))

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        self._follow()

    def _follow(self) -> None:
        if self.app.current_mode == self.PLACE and self._filled is not None and self.app.shown:
            self.fill(self.app.shown)

    def fill(self, shown: Shown) -> None:
        chosen = shown.jobs.get(self.app.chosen or "")
        boards = self._boards(shown)
        if chosen is not None and chosen.position and chosen.place in boards:
            self._place, self._side = chosen.place, chosen.side
        if self._place not in boards:
            self._place = next(iter(boards))
        scene = self._scene(shown, self._place, boards[self._place])
        self.query_one(BoardMap).show(scene)
        self.query_one("#map-title", Static).update(self._title(scene, len(boards)))
        self.query_one("#map-side", Static).update(self._beside(shown, chosen, scene))

    def _boards(self, shown: Shown) -> dict[str, Board]:
        """By place: the kit's boards, then the donors that parts are lifted from."""
        kit = shown.assessment.kit
        donors = {f"donor:{donor.name}": donor.board for donor in kit.donors}
        return {board.name: board for board in kit.boards} | donors

    def _scene(self, shown: Shown, place: str, board: Board) -> Scene:
        app = self.app
        spots = tuple(
            Spot(risk.job, band_of(risk), shown.stage_of.get(key) == app.stage)
            for key, risk in shown.risks.items()
            if risk.job.place == place and risk.job.side == self._side and risk.job.position
        )
        name = donor_at(place) or place
        near = (p for p in shown.assessment.kit.plastics if p.board == name)
        return Scene(
            board,
            spots,
            flipped=self._side == "bottom",
            reach=self._reach(shown),
            others=tuple((one_line(p.name, 10), p.x_mm, p.y_mm) for p in near),
            selected=app.chosen,
        )

    def _reach(self, shown: Shown) -> HeatReach | None:
        risk = shown.risks.get(self.app.chosen or "")
        heat = risk.chosen.air_heat if risk and risk.options and not risk.blocked else None
        if risk is None or heat is None:
            return None
        return HeatReach(risk.job.key, heat.reflow_radius_mm, heat.plastic_radius_mm)

    def _title(self, scene: Scene, boards: int) -> Content:
        from solderrisk.report.order import title

        board = scene.board
        stages = self.app.shown.assessment.order.stages if self.app.shown else ()
        stage = stages[self.app.stage] if self.app.stage < len(stages) else None
        return Content.assemble(
            (one_line(self._place.replace(":", " "), 24), "bold"),
            f" {board.length_mm:g} × {board.width_mm:g} mm, {self._side} side",
            ("" if "length_mm" in board.model_fields_set else ", size assumed", "$warning"),
            (f", one of {boards} boards" if boards > 1 else "", "$quiet"),
            (f"  stage {stage.number}: {one_line(title(stage), 40)}" if stage else "", "$accent"),
        )

    def _beside(self, shown: Shown, chosen: Job | None, scene: Scene) -> Content:
        parts: list[tuple[str, str]] = []
        risk = shown.risks.get(chosen.key) if chosen else None
        if chosen is not None and risk is not None:
            band = band_of(risk)
            works = likely(risk.chosen.after_mending.mid) if risk.options else "–"
            how = risk.chosen.title if risk.options and not risk.blocked else "no technique"
            parts += [
                (f"{band.mark} {job_name(chosen)}", f"bold ${band.style}"),
                (f" {one_line(chosen.title, 24)}, {plain(how)}, works {works}", ""),
                ("" if chosen.position else ", no position known", "$warning"),
                ("\n", ""),
            ]
        if scene.reach is not None:
            parts.append((self._reached(scene) + "\n", "$error"))
        if not scene.spots:
            parts.append(("No part with a known position on this side.\n", "$warning"))
        gap = "\n" if self.has_class("-wide") else "  "
        legend = gap.join([*(f"{b.mark} {b.word}" for b in BANDS), "⡪ this stage"])
        if self.has_class("-wide"):
            parts += self._worst_here(scene)
        parts.append((legend, "$quiet"))
        lost = sum(r.job.position is None and r.job.kind == "fit" for r in shown.risks.values())
        if lost:
            parts.append((f"\n{lost} parts have no known position", "$quiet"))
        return Content.assemble(*parts)

    def _worst_here(self, scene: Scene) -> list[tuple[str, str]]:
        """The parts of this side that carry most risk, where there is room to name them."""
        shown = self.app.shown
        assert shown is not None
        rows = {row.key: row for row in shown.rows}
        here = [rows[spot.job.key] for spot in scene.spots if spot.job.key in rows]
        here.sort(key=lambda row: (-row.band.rank, row.works))
        parts: list[tuple[str, str]] = [("\nWorst on this side\n", "bold $primary")]
        for row in here[:WORST_HERE]:
            parts.append((f"{row.band.mark} {one_line(row.name, 9):<9} ", f"${row.band.style}"))
            parts.append((f"{likely(row.works):>7}\n", ""))
        return [*parts, ("\n", "")]

    @staticmethod
    def _reached(scene: Scene) -> str:
        """Who stands inside the ring in which solder melts."""
        reach = scene.reach
        assert reach is not None
        at = next((s.job.position for s in scene.spots if s.job.key == reach.key), None)
        if at is None:
            return f"melts within {reach.reflow_mm:.0f} mm; no position known"
        inside = tuple(
            s.job.key
            for s in scene.spots
            if s.job.key != reach.key
            and (p := s.job.position)
            and (p.x_mm - at.x_mm) ** 2 + (p.y_mm - at.y_mm) ** 2 < reach.reflow_mm**2
        )
        who = refs_line(inside, 6) if inside else "nobody"
        return f"melts within {reach.reflow_mm:.0f} mm: {who}"

    def on_board_map_picked(self, event: BoardMap.Picked) -> None:
        self.app.chosen = event.key

    def action_walk(self, dx: int, dy: int) -> None:
        key = self.query_one(BoardMap).step_to(dx, dy)
        if key:
            self.app.chosen = key

    def action_zoom(self, step: int) -> None:
        self.query_one(BoardMap).change_zoom(step)

    def action_flip(self) -> None:
        self._look_elsewhere(self._place, "bottom" if self._side == "top" else "top")

    def action_next_board(self) -> None:
        if self.app.shown is None:
            return
        names = list(self._boards(self.app.shown))
        at = names.index(self._place) if self._place in names else -1
        self._look_elsewhere(names[(at + 1) % len(names)], "top")

    def _look_elsewhere(self, place: str, side: Side) -> None:
        """Show another board or side with its worst part chosen, or none."""
        shown = self.app.shown
        if shown is None:
            return
        self._place, self._side = place, side
        here = [r for r in shown.risks.values() if r.job.place == place and r.job.side == side]
        placed = [r for r in here if r.job.position]
        worst = max(placed, key=lambda r: band_of(r).rank, default=None)
        self.app.chosen = worst.job.key if worst else None
        self.fill(shown)

    def action_stage(self, step: int) -> None:
        shown = self.app.shown
        if shown is not None and shown.assessment.order.stages:
            self.app.stage = (self.app.stage + step) % len(shown.assessment.order.stages)

    def action_see(self) -> None:
        if self.app.chosen:
            self.app.look_at(self.app.chosen)
