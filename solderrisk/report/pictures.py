"""Pictures of the printed page, and the HTML that holds them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from html import escape
from typing import TYPE_CHECKING

from solderrisk.model.footprint import Footprint
from solderrisk.model.outline import PadRect, lead_rects, pad_rects
from solderrisk.physics.results import AirHeat, Alignment, Curve, IronHeat
from solderrisk.plan.heating import remedy_words
from solderrisk.plan.results import Assessment
from solderrisk.report.groups import part_cards
from solderrisk.risk.results import Range
from solderrisk.words import chance as chance_text
from solderrisk.words import percent, seconds

if TYPE_CHECKING:
    from solderrisk.model.question import Question
    from solderrisk.session import Session


ALONE = frozenset({"br", "hr", "input", "meta"})
SHAPES = frozenset({"circle", "line", "path", "polygon", "polyline", "rect", "use"})

Attribute = str | float | bool | None


class Html(str):
    """Markup. Made by ``el`` and ``joined`` only; plain text is never one."""

    __slots__ = ()


def el(tag: str, *children: str | None, **attributes: Attribute) -> Html:
    """One element. Children that are no ``Html`` are text. ``class_`` is written class,
    ``aria_label`` aria-label; True is an attribute without a value, None and False none."""
    written = "".join(_attribute(name, value) for name, value in attributes.items())
    if tag in ALONE:
        return Html(f"<{tag}{written}>")
    if tag in SHAPES and not children:
        return Html(f"<{tag}{written}/>")
    return Html(f"<{tag}{written}>{joined(children)}</{tag}>")


def joined(children: Iterable[str | None], between: str = "") -> Html:
    """Children one after another; None is left out."""
    return Html(between.join(_child(child) for child in children if child is not None))


def _child(child: str) -> str:
    return child if isinstance(child, Html) else escape(visible(child), quote=False)


def _attribute(name: str, value: Attribute) -> str:
    if value is None or value is False:
        return ""
    name = name.rstrip("_").replace("_", "-")
    if value is True:
        return f" {name}"
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f' {name}="{escape(visible(text))}"'


def visible(text: str) -> str:
    """Text without characters that a page must not hold: controls and lone surrogates."""
    if text.isprintable():
        return text
    return "".join(" " if c.isspace() else c if c.isprintable() else "\ufffd" for c in text)


def bullets(items: Iterable[str]) -> Html | None:
    rows = [el("li", item) for item in items]
    return el("ul", *rows) if rows else None


Spot = tuple[float, float]

BAR_W, BAR_H = 460.0, 56.0
CURVE_W, CURVE_H = 280.0, 142.0
LEADS_W, LEADS_H = 280.0, 104.0
MOST_LEADS = 9


def picture(
    width: float, height: float, said: str, *shapes: Html, class_: str | None = None
) -> Html:
    """A picture with what it shows in words for those who do not see it."""
    return el(
        "svg",
        el("title", said),
        *shapes,
        viewBox=f"0 0 {width:.0f} {height:.0f}",
        width=f"{width:.0f}",
        height=f"{height:.0f}",
        role="img",
        class_=class_,
    )


def words_at(x: float, y: float, text: str, anchor: str = "start", **more: str | float) -> Html:
    return el("text", text, x=f"{x:.1f}", y=f"{y:.1f}", text_anchor=anchor, **more)


def line(first: Spot, then: Spot, class_: str) -> Html:
    (x1, y1), (x2, y2) = first, then
    return el("line", x1=f"{x1:.1f}", y1=f"{y1:.1f}", x2=f"{x2:.1f}", y2=f"{y2:.1f}", class_=class_)


def shape(points: Sequence[Spot], class_: str, tag: str = "polygon") -> Html:
    text = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return el(tag, points=text, class_=class_)


def box(x: float, y: float, w: float, h: float, class_: str) -> Html:
    return el("rect", x=f"{x:.1f}", y=f"{y:.1f}", width=f"{max(w, 0.5):.1f}",
              height=f"{h:.1f}", class_=class_)  # fmt: skip


def chance_bar(chance: Range, target: float) -> Html:
    """The chance with its range on a scale from 0 to 100 %, the target as a mark."""

    def x(share: float) -> float:
        return 16 + share * (BAR_W - 32)

    ticks = [
        part
        for share in (0.0, 0.25, 0.5, 0.75, 1.0)
        for part in (
            line((x(share), 38), (x(share), 42), "axis"),
            words_at(x(share), 53, f"{100 * share:.0f} %", "middle"),
        )
    ]
    near_end = "end" if target > 0.9 else "start" if target < 0.1 else "middle"
    return picture(
        BAR_W,
        BAR_H,
        f"chance {chance_text(chance)}, wanted {percent(target)}",
        box(x(0), 20, x(1) - x(0), 18, "scale"),
        box(x(chance.low), 24, x(chance.high) - x(chance.low), 10, "range"),
        box(x(chance.mid) - 2, 20, 4, 18, "mid"),
        shape([(x(target), 20), (x(target) - 5, 12.5), (x(target) + 5, 12.5)], "target"),
        line((x(target), 20), (x(target), 38), "target"),
        words_at(x(target), 9.5, f"wanted {percent(target)}", near_end),
        *ticks,
        class_="bar",
    )


def small_bar(chance: Range, target: float) -> Html:
    """A chance for a cell of a table; the figure stands beside it."""
    width, height = 120.0, 9.0
    return el(
        "svg",
        box(0.5, 1.5, width - 1, 6, "scale"),
        box(chance.low * width, 3, (chance.high - chance.low) * width, 3, "range"),
        box(chance.mid * width - 1.25, 1.5, 2.5, 6, "mid"),
        line((target * width, 0), (target * width, height), "target"),
        viewBox=f"0 0 {width:.0f} {height:.0f}",
        width=f"{width:.0f}",
        height=f"{height:.0f}",
        aria_hidden="true",
    )


def heating(curve: Curve, heat: IronHeat | AirHeat | None) -> Html:
    """Temperatures against time with the levels that wet and that do harm, the time to hold
    and the time after which harm is done."""
    marks = _marks(heat)
    end = _end_s(curve, [at for at, _ in marks])
    top = max(curve.harm_c, curve.needed_c, *_until(curve, curve.joint_c, end)) + 45
    left, bottom = 32.0, CURVE_H - 20

    def at(time_s: float, temp_c: float) -> Spot:
        y = max(bottom - temp_c / top * (bottom - 6), 6.0)
        return left + time_s / end * (CURVE_W - left - 6), y

    joint = [at(t, c) for t, c in _points(curve, curve.joint_c, end)]
    source = [at(t, c) for t, c in _points(curve, curve.source_c, end) if c <= top]
    harm_y, needed_y = at(0, curve.harm_c)[1], at(0, curve.needed_c)[1]
    shapes = _axes(top, left, bottom, at)
    texts = [
        words_at(left, CURVE_H - 6, "0 s", "middle"),
        words_at(CURVE_W - 6, CURVE_H - 6, f"{end:.1f} s" if end < 10 else f"{end:.0f} s", "end"),
        words_at((left + CURVE_W) / 2, CURVE_H - 6, "°C against time", "middle"),
        # Where the joint's curve is not: early it is still below, late already above.
        words_at(left + 14, harm_y + (10 if needed_y - harm_y > 15 else -3.5),
                 f"harm in time above {curve.harm_c:.0f} °C"),
        words_at(CURVE_W - 7, needed_y + 10, f"wets above {curve.needed_c:.0f} °C", "end"),
    ]  # fmt: skip
    for temp_c, class_ in ((curve.harm_c, "harm"), (curve.needed_c, "needed")):
        shapes.append(line(at(0, temp_c), at(end, temp_c), class_))
    for n, (time_s, words) in enumerate(marks):
        if time_s <= end:
            shapes.append(line(at(time_s, 0), at(time_s, curve.needed_c), "moment"))
            after = time_s < 0.6 * end
            x = at(time_s, 0)[0] + (3 if after else -3)
            texts.append(words_at(x, bottom - 4 - 12 * n, words, "start" if after else "end"))
    shapes += [shape(source, "source", "polyline"), shape(joint, "joint", "polyline"), *texts]
    said = (
        f"heating: the joint reaches {max(_until(curve, curve.joint_c, end)):.0f} °C in "
        f"{end:.0f} s, wets above {curve.needed_c:.0f} °C, harm above {curve.harm_c:.0f} °C"
    )
    return picture(CURVE_W, CURVE_H, said, *shapes, class_="curve")


def _axes(
    top_c: float, left: float, bottom: float, at: Callable[[float, float], Spot]
) -> list[Html]:
    """Both axes with a tick every 100 C."""
    shapes = [
        line((left, 6), (left, bottom), "axis"),
        line((left, bottom), (CURVE_W - 6, bottom), "axis"),
    ]
    for tick_c in range(0, int(top_c) + 1, 100):
        y = at(0, tick_c)[1]
        shapes += [
            line((left - 3, y), (left, y), "axis"),
            words_at(left - 5, y + 3, f"{tick_c}", "end"),
        ]
    return shapes


def _marks(heat: IronHeat | AirHeat | None) -> list[tuple[float, str]]:
    match heat:
        case IronHeat(dwell_s=dwell, safe_s=bears):
            hold = [] if dwell is None else [(dwell, f"hold {seconds(dwell)}")]
            return [*hold, (bears, f"hurt {seconds(bears)}")]
        case AirHeat(molten_s=molten) if molten is not None:
            return [(molten, f"liquid {molten:.0f} s")]
        case _:
            return []


def _end_s(curve: Curve, marks: Sequence[float]) -> float:
    """Where to cut the time: behind the marks, and not far behind them."""
    last = curve.time_s[-1] or 1.0
    first = min(marks, default=last / 3)
    shown = max([mark for mark in marks if mark < 12 * first], default=first)
    return min(last, max(1.2 * shown, 2 * first))


def _points(curve: Curve, values: Sequence[float], end: float) -> list[Spot]:
    """The curve up to ``end``, interpolated there."""
    points: list[Spot] = []
    for time_s, value in zip(curve.time_s, values, strict=True):
        if time_s > end and points:
            before, was = points[-1]
            share = (end - before) / (time_s - before) if time_s > before else 0.0
            return [*points, (end, was + share * (value - was))]
        points.append((time_s, value))
    return points


def _until(curve: Curve, values: Sequence[float], end: float) -> list[float]:
    return [value for _, value in _points(curve, values, end)]


def leads(footprint: Footprint, allowed: Alignment) -> Html:
    """Some neighbours of the finest row: lands, leads, and one lead at the edge of what
    still passes."""
    pads, feet = _row(footprint)
    low, high = _span([*pads, *feet], upright=True)
    scale = (LEADS_H - 24) / (high - low)
    pitch = abs(pads[1].x_mm - pads[0].x_mm)
    fits = int((LEADS_W - 8) / scale / pitch - pads[0].w_mm / pitch) + 1
    count = max(min(fits, MOST_LEADS, len(pads)), 2)
    pads = pads[:count]
    numbers = {pad.number for pad in pads}
    feet = [foot for foot in feet if foot.number in numbers]
    left, right = _span([*pads, *feet])
    scale = min(scale, (LEADS_W - 8) / (right - left))

    def drawn(rect: PadRect, class_: str) -> Html:
        x = LEADS_W / 2 + (rect.x_mm - rect.w_mm / 2 - (left + right) / 2) * scale
        y = 2 + (high - rect.y_mm - rect.h_mm / 2) * scale
        return box(x, y, rect.w_mm * scale, rect.h_mm * scale, class_)

    moved = (feet or pads)[count // 2]
    moved = replace(moved, x_mm=moved.x_mm + allowed.lateral_mm)
    base = LEADS_H - 6
    said = (
        f"leads over lands: pitch {pitch:.2f} mm, may sit {allowed.lateral_mm:.2f} mm to the side"
    )
    return picture(
        LEADS_W,
        LEADS_H,
        said,
        *(drawn(pad, "land") for pad in pads),
        *(drawn(foot, "lead") for foot in feet),
        drawn(moved, "limit"),
        line((4, base), (4 + scale * pitch, base), "axis"),
        line((4, base - 3), (4, base + 3), "axis"),
        line((4 + scale * pitch, base - 3), (4 + scale * pitch, base + 3), "axis"),
        words_at(9 + scale * pitch, base + 3, f"{pitch:.2f} mm pitch"),
        class_="leads",
    )


def _row(footprint: Footprint) -> tuple[list[PadRect], list[PadRect]]:
    """The finest row, running along x from its first pad, and its leads."""
    finest = min(
        (g for g in footprint.pads if g.pitch_mm and g.count > 1), key=lambda g: g.pitch_mm or 0.0
    )
    pads = [p for p in pad_rects(footprint) if p.group == finest.name]
    feet = [f for f in lead_rects(footprint) if f.group == finest.name]
    first = pads[0]
    across = [p for p in pads if abs(p.y_mm - first.y_mm) < first.h_mm / 4]
    upright = [p for p in pads if abs(p.x_mm - first.x_mm) < first.w_mm / 4]
    row = max(across, upright, key=len)
    if row is upright:
        row = [_turned(p) for p in row]
        feet = [_turned(f) for f in feet]
    row.sort(key=lambda p: p.x_mm)
    numbers = {p.number for p in row}
    return row, [f for f in feet if f.number in numbers]


def _turned(rect: PadRect) -> PadRect:
    return replace(rect, x_mm=-rect.y_mm, y_mm=rect.x_mm, w_mm=rect.h_mm, h_mm=rect.w_mm)


def _span(rects: Sequence[PadRect], *, upright: bool = False) -> Spot:
    n = 1 if upright else 0
    return min(r.bounds[n] for r in rects), max(r.bounds[n + 2] for r in rects)


LEADS_IN_A_ROW = 3  # with fewer, the part's ends show how it sits


@dataclass(frozen=True)
class Drawings:
    """By the key of the first job of a card."""

    curves: Mapping[str, Curve] = field(default_factory=dict)
    alignments: Mapping[str, Alignment] = field(default_factory=dict)
    remedies: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def drawings_of(a: Assessment, question: Question, session: Session) -> Drawings:
    """Heating of every card's technique, what would help where its heat is in doubt, and
    tolerances of parts with rows of leads."""
    remedies: dict[str, tuple[str, ...]] = {}
    curves: dict[str, Curve] = {}
    alignments: dict[str, Alignment] = {}
    for part in part_cards(a):
        job, option = part.risk.job, part.risk.chosen
        if part.risk.blocked or job.footprint is None:
            continue
        # An iron is at its end within a second: its curve would tell nothing.
        curve = session.curve(question, option) if option.air_heat is not None else None
        if curve is not None:
            curves[job.key] = curve
        if not option.decided:
            found = session.remedies(question, option)
            remedies[job.key] = tuple(remedy_words(remedy) for remedy in found)
        rows = any(g.pitch_mm and g.count >= LEADS_IN_A_ROW for g in job.footprint.pads)
        allowed = session.alignment(question, job) if rows else None
        if allowed is not None:
            alignments[job.key] = allowed
    return Drawings(curves, alignments, remedies)
