"""The report as one self-contained page that prints on A4 or Letter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from pathlib import Path

from solderrisk.physics.results import Curve
from solderrisk.plan.results import Assessment, Card, Stage, StatementCell
from solderrisk.report.pictures import board_map, chance_bar, heating, legend
from solderrisk.report.text import compact, percent

STYLE = Path(__file__).with_name("page.css")


def page(
    a: Assessment,
    statement: Sequence[StatementCell] = (),
    curves: Mapping[str, Curve] | None = None,
) -> str:
    """The whole report as HTML. ``statement`` adds the difficulty statement, ``curves``
    (job key to heating curve) the pictures on the cards."""
    title = escape(a.kit.title or a.kit.name)
    parts = [
        _verdict(a),
        _statement(statement),
        _maps(a),
        _findings(a),
        _work_sheet(a),
        _cards(a, curves or {}),
        _safety(a),
        _assumed(a),
    ]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{STYLE.read_text(encoding='utf-8')}</style></head>\n<body>\n"
        f"<h1>{title}</h1>\n"
        f'<p class="quiet">builder: {escape(a.builder.name)} · bench: {escape(a.bench.name)}'
        + (" · invented data" if a.kit.invented else "")
        + "</p>\n"
        + "\n".join(part for part in parts if part)
        + "\n</body></html>\n"
    )


def _verdict(a: Assessment) -> str:
    v, c = a.verdict, a.costs
    rows = [
        ("chance of a working result", percent(v.chance)),
        ("chance asked for", f"{100 * v.target:.0f} %"),
        ("no fault at the first try", percent(v.first_time)),
        ("hours at the bench", f"{a.risk.hours:.1f}"),
        ("to buy", f"{c.to_buy:.2f} {escape(c.currency)}"),
        ("gone in the bad case", f"{c.bad_case:.2f} {escape(c.currency)}"),
        ("expected loss", f"{c.expected_loss:.2f} {escape(c.currency)}"),
        ("solder, flux, removal alloy",
         f"{c.solder_g:.1f} g, {c.flux_g:.1f} g, {c.removal_alloy_g:.1f} g"),
    ]  # fmt: skip
    table = "".join(f"<tr><th>{name}</th><td>{value}</td></tr>" for name, value in rows)
    return (
        f'<h2>Verdict</h2><p class="lead">{escape(v.headline)}</p>{chance_bar(v.chance, v.target)}'
        f"<table>{table}</table>{_list(v.reasons)}"
    )


def _statement(cells: Sequence[StatementCell]) -> str:
    if not cells:
        return ""
    benches = list(dict.fromkeys(cell.bench for cell in cells))
    head = "".join(f"<th>{escape(bench)}</th>" for bench in benches)
    rows = ""
    for level in dict.fromkeys(cell.level for cell in cells):
        row = {cell.bench: cell for cell in cells if cell.level == level}
        rows += f"<tr><th>{level}</th>" + "".join(_cell(row[bench]) for bench in benches) + "</tr>"
    return (
        "<h2>Difficulty statement</h2><p>Chance of a working result by what the builder has done "
        "and the bench, with the work that decides it.</p>"
        f"<table><tr><th></th>{head}</tr>{rows}</table>"
    )


def _cell(cell: StatementCell) -> str:
    decisive = escape(compact(cell.decisive))
    return f'<td>{percent(cell.chance)}<br><span class="quiet">{decisive}</span></td>'


def _maps(a: Assessment) -> str:
    maps = [
        f"<h3>{escape(board.name)}, {side}</h3>{picture}"
        for board in a.kit.boards
        for side in ("top", "bottom")
        if (picture := board_map(a, board, side))
    ]
    if not maps:
        return ""
    return f'<h2>Where the risk is</h2>{"".join(maps)}<p class="quiet">{legend()}</p>'


def _findings(a: Assessment) -> str:
    if not a.findings:
        return ""
    items = "".join(
        f"<li><b>{f.level}</b>: {escape(f.text)}. <i>{escape(f.remedy)}</i>.</li>"
        for f in a.findings
    )
    return f"<h2>What to know first</h2><ul>{items}</ul>"


def _work_sheet(a: Assessment) -> str:
    stages = "".join(_stage(stage, a) for stage in a.order.stages)
    return f'<h2>Work sheet</h2><p class="quiet">{escape(a.order.note)}</p>{stages}'


def _stage(stage: Stage, a: Assessment) -> str:
    jobs = {job.key: job for job in a.jobs}
    ticks = "".join(
        f'<span class="tick">{escape(_tick(jobs[key].kind, jobs[key].ref))}</span>'
        for key in stage.keys
    )
    gate = ""
    if stage.gate and stage.gate in jobs:
        gate = f'<p><span class="tick">gate</span><b>{escape(jobs[stage.gate].title)}</b></p>'
    return (
        f'<div class="stage"><h3>{stage.number}. {escape(stage.title)} '
        f'<span class="quiet">about {stage.minutes:.0f} min</span></h3>'
        f"{_line('prepare', stage.prepare)}<p>{ticks}</p>{_line('check', stage.inspect)}{gate}"
        f'<p class="quiet">{escape(stage.why_here)}</p></div>'
    )


def _tick(kind: str, ref: str) -> str:
    return ref if kind == "fit" else f"{kind} {ref}"


def _cards(a: Assessment, curves: Mapping[str, Curve]) -> str:
    shown: dict[object, Card] = {}
    also: dict[object, list[str]] = {}
    for job in a.risk.jobs:
        shown.setdefault(job.job.alike, a.cards[job.job.key])
        also.setdefault(job.job.alike, []).append(job.job.key)
    cards = "".join(
        _card(card, also[alike][1:], curves.get(card.key)) for alike, card in shown.items()
    )
    return f"<h2>Technique cards</h2>{cards}"


def _card(card: Card, also: Sequence[str], curve: Curve | None) -> str:
    twins = f' <span class="quiet">also {escape(compact(also))}</span>' if also else ""
    orientation = (
        f"<p><b>Orientation:</b> {escape(card.orientation)}</p>" if card.orientation else ""
    )
    steps = "".join(f"<li>{escape(step)}</li>" for step in card.steps)
    return (
        f'<div class="card"><h3>{escape(card.title)}{twins}</h3><p>{escape(card.technique)}</p>'
        f"{_list(card.settings_lines)}{f'<ol>{steps}</ol>' if steps else ''}"
        f"{_line('look for', card.look_for)}{orientation}{_line('mind', card.cautions)}"
        f"{heating(curve) if curve else ''}</div>"
    )


def _safety(a: Assessment) -> str:
    if not a.safety:
        return ""
    notes = "".join(
        f'<div class="note"><h3>{escape(note.title)}'
        + (' <span class="quiet">read before the work</span>' if note.acknowledge else "")
        + f'</h3>{_list(note.text)}<p class="quiet">source: {escape(note.source)}</p></div>'
        for note in a.safety
    )
    return (
        "<h2>Safety notes</h2><p>Local rules, the product's data sheet and trained people go "
        f"before anything printed here; no figure in this report is a permission.</p>{notes}"
    )


def _assumed(a: Assessment) -> str:
    return f"<h2>Assumed</h2>{_list(a.assumptions)}" if a.assumptions else ""


def _line(label: str, items: Iterable[str]) -> str:
    text = "; ".join(escape(item) for item in items)
    return f"<p><b>{label}:</b> {text}</p>" if text else ""


def _list(items: Iterable[str]) -> str:
    text = "".join(f"<li>{escape(item)}</li>" for item in items)
    return f"<ul>{text}</ul>" if text else ""
