"""The report as one self-contained page that prints on A4 or Letter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from solderrisk import __version__
from solderrisk.model.kit import Side
from solderrisk.plan.results import Assessment, CostLine, StatementCell
from solderrisk.report.board_picture import board_map, common_scale, legend
from solderrisk.report.drawings import Drawings
from solderrisk.report.groups import safety_notes
from solderrisk.report.html import Html, el, joined
from solderrisk.report.pictures import chance_bar, small_bar
from solderrisk.report.rates import faults_line
from solderrisk.report.sheet import cards, rescue_sheet, work_sheet
from solderrisk.report.words import (
    LEVEL_WORDS,
    MARK_WORDS,
    WORKS,
    assumption_lines,
    bad_case,
    band_of,
    chance_told,
    cost_note,
    grouped,
    headline,
    key_name,
    look_text,
    mark,
    reasons,
    skill_words,
    to_buy,
)
from solderrisk.words import chance, likely, named, percent, plain, span

STYLE = Path(__file__).with_name("page.css")
LOOKS_SHOWN = 6
NO_DRAWINGS = Drawings()
SIDES: tuple[Side, ...] = ("top", "bottom")
KIND_WORDS = {
    "part": "part",
    "donor": "donor",
    "tool": "tool, stays yours",
    "consumable": "used up",
    "extra": "besides parts",
}


def page(
    a: Assessment,
    statement: Sequence[StatementCell] = (),
    drawings: Drawings = NO_DRAWINGS,
    built: Sequence[str] = (),
) -> str:
    """The whole report as HTML: no script, nothing loaded from elsewhere. ``statement`` adds
    the difficulty statement, ``drawings`` the pictures on the cards, ``built`` sentences on
    what was built and seen."""
    title = a.kit.title or a.kit.name
    sections = [
        section
        for section in (
            _section("verdict", "Verdict", _verdict(a)),
            _section("difficulty", "Difficulty statement", _statement(statement, a)),
            _section("findings", "What to know first", _findings(a)),
            _section("risk", "Where the risk is", _risk(a)),
            _section("checks", "Checks that pay", _checks(a)),
            _section("costs", "Costs", _costs(a)),
            _section("safety", "Safety notes", _safety(a)),
            _section("work", "Work sheet", work_sheet(a)),
            _section("cards", "Technique cards", cards(a, drawings)),
            _section("rescue", "When it goes wrong", rescue_sheet(a)),
            _section("built", "What was built and seen", _list(built)),
            _section("assumed", "What is assumed", _assumed(a)),
        )
        if section is not None
    ]
    names = ("builder", a.builder.title or a.builder.name), ("bench", a.bench.title or a.bench.name)
    about = " · ".join(f"{what}: {name}" for what, name in names)
    if any(part.invented for part in (a.kit, a.bench, a.builder)):
        about += " · invented data"
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", name="generator", content=f"solderrisk {__version__}"),
        el("title", title),
        el("style", Html(STYLE.read_text(encoding="utf-8"))),
    )
    body = el(
        "body",
        el("header", el("h1", title), el("p", about, class_="quiet")),
        _contents(sections),
        el("main", *(body for _, _, body in sections)),
        el(
            "footer",
            el("p", f"Made by solderrisk {__version__}. Chances are estimates with the 5 % and "
               "95 % ends of their doubt in brackets; no figure here is a permission."),
        ),
    )  # fmt: skip
    return f"<!doctype html>\n{el('html', head, body, lang='en')}\n"


Section = tuple[str, str, Html]


def _section(name: str, title: str, body: Html | None) -> Section | None:
    if not body:
        return None
    heading = el("h2", title, id=f"{name}-title")
    made = el("section", heading, body, id=name, aria_labelledby=f"{name}-title")
    return name, title, Html(f"\n{made}\n")


def _contents(sections: Sequence[Section]) -> Html:
    links = [el("li", el("a", title, href=f"#{name}")) for name, title, _ in sections]
    return el("nav", el("ul", *links), aria_label="Contents")


def _verdict(a: Assessment) -> Html:
    v, c = a.verdict, a.costs
    used = f"{c.solder_g:.1f} g of solder, {c.flux_g:.1f} g of flux"
    if c.removal_alloy_g > 0:
        used += f", {c.removal_alloy_g:.1f} g of removal alloy"
    facts = (
        ("Chance of a working result", f"{chance_told(v)}, wanted {percent(v.target)}"),
        ("No fault at the first try", chance(v.first_time)),
        ("Faults to expect", f"{faults_line(a.risk)}, most of them mendable"),
        ("Time at the bench", span(a.risk.hours, "h")),
        ("To buy", to_buy(c)),
        ("Lost if it fails", bad_case(c)),
        ("Expected loss", span(c.expected_loss, c.currency)),
        ("Used up", used),
    )  # fmt: skip
    rows = [el("tr", el("th", name, scope="row"), el("td", value)) for name, value in facts]
    return joined(
        [
            el("p", headline(v.judgement), class_="lead"),
            chance_bar(v.chance, v.target),
            el("table", el("caption", "The verdict in figures", class_="unseen"),
               el("tbody", *rows), class_="facts"),
            _list(reasons(a)),
        ]
    )  # fmt: skip


def _statement(cells: Sequence[StatementCell], a: Assessment) -> Html | None:
    if not cells:
        return None
    benches = tuple(dict.fromkeys(cell.bench for cell in cells))
    target = a.verdict.target
    head = [el("th", "what the builder has done", scope="col")]
    head += [el("th", f"bench: {bench}", scope="col") for bench in benches]
    rows = []
    for level in dict.fromkeys(cell.level for cell in cells):
        row = {cell.bench: cell for cell in cells if cell.level == level}
        words = el("th", LEVEL_WORDS[level], scope="row")
        rows.append(el("tr", words, *(_cell(row.get(bench), target) for bench in benches)))
    return joined(
        [
            el("p", "Chance of a working result, with the work that decides it. "
               f"{percent(target)} is wanted: {MARK_WORDS}. {WORKS}",
               class_="intro"),
            el("table",
               el("caption", "Builder's level by bench", class_="unseen"),
               el("thead", el("tr", *head)), el("tbody", *rows), class_="statement"),
        ]
    )  # fmt: skip


def _cell(cell: StatementCell | None, target: float) -> Html:
    if cell is None:
        return el("td", "not computed")
    found = cell.judgement
    if not found.possible:
        told: list[Html | str] = [el("b", mark(found)), " not with these tools"]
    elif not found.has_figure:
        told = [el("b", mark(found)), " not decided"]
    else:
        told = [
            el("b", f"{mark(found)} {likely(cell.chance.mid)}"),
            f" ({likely(cell.chance.low)} to {likely(cell.chance.high)})",
            small_bar(cell.chance, target),
        ]
    return el(
        "td",
        *told,
        el("span", grouped(cell.decisive) or "nothing stands out", class_="quiet"),
    )


def _findings(a: Assessment) -> Html | None:
    items = [
        el("li", el("b", f"{f.level}: "), f"{f.text}. {f.remedy[:1].upper()}{f.remedy[1:]}.")
        for f in a.findings
    ]
    return el("ul", *items, class_="findings") if items else None


def _risk(a: Assessment) -> Html | None:
    parts: list[Html | None] = [_worst(a)]
    maps = []
    boards = [(board, board.name) for board in a.kit.boards]
    boards += [(donor.board, f"donor:{donor.name}") for donor in a.kit.donors]
    scale = common_scale(board for board, _ in boards)
    for board, place in boards:
        risks = [risk for risk in a.risk.jobs if risk.job.place == place]
        for side in SIDES:
            drawn = board_map(board, side, risks, scale)
            if drawn is not None:
                below = ", seen from below" if side == "bottom" else ""
                caption = f"{board.name}, {side} side{below}, {board.length_mm:g} mm x " + (
                    f"{board.width_mm:g} mm"
                )
                maps.append(el("figure", drawn, el("figcaption", caption), class_="board"))
    if maps:
        reaches = "Small dot: pin 1."
        if any(risk.chosen.air_heat is not None and not risk.blocked for risk in a.risk.jobs):
            reaches += (
                " Dashed circle: solder melts inside under hot air on the part in its middle. "
                "Dotted circle: plastics suffer inside."
            )
        parts += [legend(), el("p", reaches, class_="quiet"), *maps]
    return joined(parts)


def _worst(a: Assessment) -> Html | None:
    if not a.verdict.top:
        return None
    titles = ("work", "share of the failure", "works", "most likely faults", "needs")
    rows = []
    for key in a.verdict.top:
        job = a.risk.by_key[key]
        modes = sorted(job.chosen.modes, key=lambda mode: -mode.total.mid)[:2]
        faults = "; ".join(f"{mode.title} {percent(mode.total.mid)}" for mode in modes)
        level = skill_words(job)
        tools = named(job.tooling_needed, a.tool_names)
        name = job.job.footprint.name if job.job.footprint is not None else ""
        how = "not possible on this bench" if job.blocked else job.chosen.title
        rows.append(
            el("tr",
               el("th", f"{band_of(job).mark} {key_name(key)} {name}",
                  el("span", f" {how}", class_="quiet"), scope="row"),
               el("td", percent(a.risk.fail_share[key]), class_="number"),
               el("td", "" if job.blocked else chance(job.chosen.after_mending)),
               el("td", faults),
               el("td", "; ".join(item for item in (level, tools) if item)))
        )  # fmt: skip
    head = el("tr", *(el("th", title, scope="col") for title in titles))
    caption = el("caption", "The work that carries most of the risk", class_="unseen")
    return el("table", caption, el("thead", head), el("tbody", *rows))


def _checks(a: Assessment) -> Html | None:
    return _list(look_text(look) for look in a.second_looks[:LOOKS_SHOWN])


def _costs(a: Assessment) -> Html:
    c = a.costs
    lines = sorted(
        c.lines, key=lambda line: (list(KIND_WORDS).index(line.kind), -(line.amount or 0.0))
    )
    head = el("tr", el("th", "what", scope="col"), el("th", "kind", scope="col"),
              el("th", c.currency, scope="col", class_="number"))  # fmt: skip
    total = el("tr", el("th", "To buy", scope="row"), el("td"),
               el("td", f"{c.to_buy:.2f}", class_="number"))  # fmt: skip
    table = el(
        "table",
        el("caption", "What trying costs", class_="unseen"),
        el("thead", head),
        el("tbody", *(_cost(line) for line in lines)),
        el("tfoot", total),
        class_="costs",
    )
    told = f"Lost if it fails: {bad_case(c)}. Expected loss {span(c.expected_loss, c.currency)}."
    return joined([table, el("p", told)])


def _cost(line: CostLine) -> Html:
    note = "" if line.amount is None else cost_note(line)
    return el(
        "tr",
        el("th", plain(line.what), el("span", f" {note}", class_="quiet") if note else None,
           scope="row"),
        el("td", KIND_WORDS[line.kind]),
        el("td", "not known" if line.amount is None else f"{line.amount:.2f}", class_="number"),
    )  # fmt: skip


def _safety(a: Assessment) -> Html | None:
    if not a.safety:
        return None
    shared, own = safety_notes(a)
    lead = (
        "Local rules, the product's data sheet and trained people go before anything printed "
        "here; no figure in this report is a permission.",
        *shared,
    )
    notes = [
        el(
            "article",
            el("h3", note.title,
               el("span", " read before the work", class_="quiet") if note.acknowledge else None),
            _list(note.text),
            el("p", f"source: {note.source}", class_="quiet"),
            class_="note",
        )
        for note in own
    ]  # fmt: skip
    return joined([*(el("p", line, class_="must") for line in lead), *notes])


def _assumed(a: Assessment) -> Html | None:
    return _list(assumption_lines(a))


def _list(items: Iterable[str]) -> Html | None:
    rows = [el("li", item) for item in items]
    return el("ul", *rows) if rows else None
