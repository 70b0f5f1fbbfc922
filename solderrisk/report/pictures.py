"""Pictures for the printed report: inline SVG, legible without colour."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from solderrisk.model.kit import Board
from solderrisk.model.outline import extent
from solderrisk.physics.results import Curve
from solderrisk.plan.results import Assessment
from solderrisk.risk.results import JobRisk, Range

BAR_W, BAR_H = 320.0, 34.0
MAP_W = 640.0
CURVE_W, CURVE_H = 300.0, 150.0
# Light to dark, told apart in grey as well; the mark says the same.
RISK_STEPS = (
    (0.02, "#f2f2f2", ""),
    (0.10, "#c9d7ea", "·"),
    (0.25, "#7fa3d1", "▲"),
    (2.0, "#1f4e8c", "◆"),
)


def chance_bar(chance: Range, target: float) -> str:
    """The chance with its range on a 0..1 scale, the target as a mark."""

    def x(value: float) -> float:
        return 10 + value * (BAR_W - 20)

    ticks = "".join(
        f'<line x1="{x(t):.1f}" y1="20" x2="{x(t):.1f}" y2="23" stroke="#555"/>'
        f'<text x="{x(t):.1f}" y="32" font-size="8" text-anchor="middle">{100 * t:.0f}</text>'
        for t in (0, 0.25, 0.5, 0.75, 1)
    )
    return (
        f'<svg viewBox="0 0 {BAR_W:g} {BAR_H:g}" width="{BAR_W:g}" role="img" '
        f'aria-label="chance {chance.mid:.0%}, range {chance.low:.0%} to {chance.high:.0%}">'
        f'<rect x="10" y="6" width="{BAR_W - 20:g}" height="14" fill="#eee" stroke="#888"/>'
        f'<rect x="{x(chance.low):.1f}" y="9" width="{max(x(chance.high) - x(chance.low), 1):.1f}" '
        'height="8" fill="#7fa3d1"/>'
        f'<rect x="{x(chance.mid) - 1.5:.1f}" y="5" width="3" height="16" fill="#123"/>'
        f'<path d="M{x(target):.1f} 6 l-4 -6 h8 z" fill="#b34700"/>{ticks}</svg>'
    )


def board_map(a: Assessment, board: Board, side: str) -> str:
    """Outlines to scale with a mark by share of failure; empty where nothing has a place."""
    placed = [
        job
        for job in a.risk.jobs
        if job.job.place == board.name and job.job.position is not None and job.job.side == side
    ]
    if not placed:
        return ""
    scale = MAP_W / board.length_mm
    height = board.width_mm * scale
    body = "".join(
        _outline(job, a.risk.fail_share.get(job.job.key, 0), scale, height) for job in placed
    )
    return (
        f'<svg viewBox="0 0 {MAP_W:.0f} {height:.0f}" width="100%" role="img" '
        f'aria-label="{escape(board.name)}, {side}">'
        f'<rect x="0.5" y="0.5" width="{MAP_W - 1:.0f}" height="{height - 1:.0f}" fill="#fbfbf7" '
        f'stroke="#333"/>{body}</svg>'
    )


def _outline(job: JobRisk, share: float, scale: float, height: float) -> str:
    at, footprint = job.job.position, job.job.footprint
    if at is None or footprint is None:
        return ""
    length, width = extent(footprint)
    w, h = length * scale, width * scale
    x, y = at.x_mm * scale, height - at.y_mm * scale
    fill, mark = risk_step(share)
    size = max(5.0, min(11.0, min(w, h) * 0.8))
    text = f"{mark}{job.job.ref}" if min(w, h) > 9 or mark else ""
    label = (
        f'<text x="{x:.1f}" y="{y + size / 3:.1f}" font-size="{size:.1f}" text-anchor="middle" '
        f'fill="{"#fff" if fill == RISK_STEPS[-1][1] else "#000"}">{escape(text)}</text>'
    )
    return (
        f"<g><title>{escape(job.job.key)} {escape(footprint.name)}</title>"
        f'<rect x="{x - w / 2:.1f}" y="{y - h / 2:.1f}" width="{w:.1f}" height="{h:.1f}" '
        f'transform="rotate({-at.rotation_deg:g} {x:.1f} {y:.1f})" fill="{fill}" stroke="#333" '
        f'stroke-width="0.7"/>{label}</g>'
    )


def risk_step(share: float) -> tuple[str, str]:
    """Fill and mark for a share of the kit's failure."""
    return next((fill, mark) for limit, fill, mark in RISK_STEPS if share < limit)


def legend() -> str:
    """The marks in words."""
    return "◆ a quarter of the failure or more, ▲ a tenth or more, · 2 % or more"


def heating(curve: Curve) -> str:
    """Temperature against time with the wetting and harm thresholds."""
    top = max(*curve.joint_c, curve.harm_c, curve.needed_c) * 1.08
    end = curve.time_s[-1] or 1.0

    def point(time_s: float, c: float) -> tuple[float, float]:
        return 34 + time_s / end * (CURVE_W - 44), CURVE_H - 22 - c / top * (CURVE_H - 32)

    def line(values: Iterable[tuple[float, float]], style: str) -> str:
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in (point(*value) for value in values))
        return f'<polyline points="{points}" fill="none" {style}/>'

    def threshold(c: float, label: str) -> str:
        _, y = point(0, c)
        return line([(0, c), (end, c)], 'stroke="#555" stroke-dasharray="4 3"') + (
            f'<text x="{CURVE_W - 10:.0f}" y="{y - 2:.1f}" font-size="8" text-anchor="end">'
            f"{label} {c:.0f} C</text>"
        )

    return (
        f'<svg viewBox="0 0 {CURVE_W:g} {CURVE_H:g}" width="{CURVE_W:g}" role="img" '
        f'aria-label="{escape(curve.label)}">'
        + threshold(curve.needed_c, "wets above")
        + threshold(curve.harm_c, "harm above")
        + line(zip(curve.time_s, curve.joint_c, strict=True), 'stroke="#1f4e8c" stroke-width="2"')
        + f'<text x="34" y="{CURVE_H - 6:.0f}" font-size="8">0 s</text>'
        f'<text x="{CURVE_W - 10:.0f}" y="{CURVE_H - 6:.0f}" font-size="8" text-anchor="end">'
        f"{end:.1f} s</text>"
        f'<text x="2" y="{CURVE_H - 22:.0f}" font-size="8">0 C</text></svg>'
    )
