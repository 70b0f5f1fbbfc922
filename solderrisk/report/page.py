"""The report as one self-contained page that prints on A4 or Letter."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from solderrisk.model.kit import Side
from solderrisk.plan.practice import PracticeStep
from solderrisk.plan.results import Assessment, Gain, StatementCell
from solderrisk.report.findings import finding_remedy, finding_text
from solderrisk.report.groups import faults_line, safety_notes
from solderrisk.report.order import title
from solderrisk.report.people import practice_sheet
from solderrisk.report.pictures import Drawings, Html, chance_bar, el, joined
from solderrisk.report.sheet import cards, costs_table, rescue_sheet, work_sheet
from solderrisk.report.statement import statement_table
from solderrisk.report.to_scale import board_map, common_scale, legend
from solderrisk.report.words import (
    assumption_lines,
    bad_case,
    band_of,
    chance_told,
    expected_loss,
    grouped,
    headline,
    in_hundred,
    item_name,
    key_name,
    look_text,
    reasons,
    skill_words,
    to_buy,
)
from solderrisk.words import (
    VERSION,
    chance,
    counted,
    money,
    named,
    one_line,
    percent,
    sentence,
    span,
)

STYLE = Path(__file__).with_name("page.css")
LOOKS_SHOWN = 6
GAINS_SHOWN = 6
WORTH_TELLING = 0.005
NO_DRAWINGS = Drawings()
SIDES: tuple[Side, ...] = ("top", "bottom")


@dataclass(frozen=True)
class Parts:
    """What stands on the page besides the assessment: cells of the difficulty statement, single
    purchases and practices, rungs of the ladder, pictures on the cards, sentences on what was
    built and seen, and the day that it is printed on."""

    statement: Sequence[StatementCell] = ()
    gains: Sequence[Gain] = ()
    steps: Sequence[PracticeStep] = ()
    drawings: Drawings = NO_DRAWINGS
    built: Sequence[str] = ()
    day: str = ""


NO_PARTS = Parts()
# Names of the sections, as ``only`` takes them; the last ones come only when they are named.
SECTIONS = (
    "verdict", "statement", "findings", "risk", "checks", "costs", "safety", "sheet", "cards",
    "rescue", "practice", "built", "assumed",
)  # fmt: skip
ON_DEMAND = ("checks", "costs", "assumed")
DEFAULT = tuple(name for name in SECTIONS if name not in ON_DEMAND)


def page(a: Assessment, parts: Parts = NO_PARTS, only: Collection[str] = ()) -> str:
    """The report as HTML: no script, nothing loaded from elsewhere. ``only``: names of
    sections; without, all but those on demand."""
    title = a.kit.title or a.kit.name
    wanted = only or DEFAULT
    made = {
        "verdict": ("Verdict", lambda: _verdict(a, parts)),
        "statement": ("Difficulty statement", lambda: statement_table(parts.statement, a)),
        "findings": ("What to know first", lambda: _findings(a)),
        "risk": ("Where the risk is", lambda: _risk(a)),
        "checks": ("Checks that pay", lambda: _checks(a)),
        "costs": ("Costs", lambda: costs_table(a)),
        "safety": ("Safety notes", lambda: _safety(a)),
        "sheet": ("Work sheet", lambda: work_sheet(a)),
        "cards": (
            "Technique cards",
            lambda: cards(a, parts.drawings, settings="sheet" not in wanted),
        ),
        "rescue": ("When it goes wrong", lambda: rescue_sheet(a)),
        "practice": ("Practice", lambda: practice_sheet(parts.steps, a.kit.currency)),
        "built": ("What was built and seen", lambda: _list(parts.built)),
        "assumed": ("What is assumed", lambda: _assumed(a)),
    }
    found = [_section(name, *_made(made[name])) for name in SECTIONS if name in wanted]
    sections = [section for section in found if section is not None]
    names = ("builder", a.builder.title or a.builder.name), ("bench", a.bench.title or a.bench.name)
    about = " · ".join(f"{what}: {name}" for what, name in names)
    if any(part.invented for part in (a.kit, a.bench, a.builder)):
        about += " · invented data"
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", name="generator", content=f"solderrisk {VERSION}"),
        el("title", title),
        el("style", Html(STYLE.read_text(encoding="utf-8") + _foot(a, parts.day))),
    )
    body = el(
        "body",
        el("header", el("h1", title), el("p", about, class_="quiet")),
        _contents(sections),
        el("main", *(body for _, _, body in sections)),
        el(
            "footer",
            el("p", f"Made by solderrisk {VERSION}. Chances are estimates with the 5 % and "
               "95 % ends of their doubt in brackets; no figure here is a clearance to work."),
        ),
    )  # fmt: skip
    return f"<!doctype html>\n{el('html', head, body, lang='en')}\n"


Section = tuple[str, str, Html]
Maker = tuple[str, Callable[[], Html | None]]


def _made(of: Maker) -> tuple[str, Html | None]:
    return of[0], of[1]()


def _foot(a: Assessment, day: str) -> str:
    """The running foot: loose sheets can be sorted."""
    names = [one_line(name, 40) for name in (a.kit.name, a.builder.name, a.bench.name)]
    told = " · ".join([*names, *([day] if day else [])])
    quoted = "".join(c if c.isalnum() or c in " -_.·" else f"\\{ord(c):x} " for c in told)
    return f'@page {{ @bottom-left {{ content: "{quoted}"; font: 8pt sans-serif; }} }}\n'


def _section(name: str, title: str, body: Html | None) -> Section | None:
    if not body:
        return None
    heading = el("h2", title, id=f"{name}-title")
    made = el("section", heading, body, id=name, aria_labelledby=f"{name}-title")
    return name, title, Html(f"\n{made}\n")


def _contents(sections: Sequence[Section]) -> Html:
    links = [el("li", el("a", title, href=f"#{name}")) for name, title, _ in sections]
    return el("nav", el("ul", *links), aria_label="Contents")


def _and_now(a: Assessment, gains: Sequence[Gain]) -> Html | None:
    """What to do next: what would change it, what to read, what waits."""
    telling = [gain for gain in gains if gain.enables or gain.alone >= WORTH_TELLING]
    table = None
    if telling and a.verdict.judgement.answer != "yes":
        best = sorted(telling, key=lambda g: (-g.enables, -round(g.alone, 3), g.cost))
        titles = ("what would change it", "price", "hours", "points", "helps")
        head = el("tr", *(el("th", title, scope="col") for title in titles))
        rows = [_gain(gain, a.kit.currency) for gain in best[:GAINS_SHOWN]]
        caption = el("caption", "One purchase or practice at a time", class_="unseen")
        table = el("table", caption, el("thead", head), el("tbody", *rows))
    read = [note.title for note in a.safety if note.acknowledge]
    waits = [stage for stage in a.order.stages if stage.wait_hours]
    lines = [f"read first: {', '.join(read)}"] if read else []
    lines += [f"{stage.wait_hours:g} h of waiting: {title(stage)}" for stage in waits]
    return joined([table, _list(lines)])


def _gain(gain: Gain, currency: str) -> Html:
    points = f"{100 * gain.alone:+.1f}"
    if gain.enables:
        points = f"opens {counted(gain.enables, 'job')}"
    hours = f"{gain.hours:.1f}" if gain.hours else ""
    return el(
        "tr",
        el("th", item_name(gain.item), scope="row"),
        el("td", money(gain.price, currency), class_="number"),
        el("td", hours, class_="number"),
        el("td", points, class_="number"),
        el("td", grouped(gain.helps)),
    )


def _verdict(a: Assessment, parts: Parts) -> Html:
    v, c = a.verdict, a.costs
    used = f"{c.solder_g:.1f} g of solder, {c.flux_g:.1f} g of flux"
    if c.removal_alloy_g > 0:
        used += f", {c.removal_alloy_g:.1f} g of removal alloy"
    facts = (
        ("Chance of a working result", f"{chance_told(v)}, wanted {percent(v.target)}"),
        ("No fault at the first try", chance(v.first_time)),
        ("Works when power first comes on", chance(a.risk.first_power)),
        ("If only the hands were in doubt", chance(a.risk.by_hands)),
        ("If only what nobody has measured were", chance(a.risk.by_numbers)),
        ("Faults to expect", f"{faults_line(a.risk)}, most of them mendable"),
        ("Time at the bench", span(a.risk.hours, "h")),
        ("To buy", to_buy(c)),
        ("Lost if it fails", bad_case(c)),
        ("Expected loss", expected_loss(c)),
        ("Used up", used),
    )  # fmt: skip
    rows = [el("tr", el("th", name, scope="row"), el("td", value)) for name, value in facts]
    return joined(
        [
            el("p", headline(v.judgement), class_="lead"),
            el("p", f"{sentence(in_hundred(v))}."),
            chance_bar(v.chance, v.target) if v.judgement.has_figure else None,
            _and_now(a, parts.gains),
            el("table", el("caption", "The verdict in figures", class_="unseen"),
               el("tbody", *rows), class_="facts"),
            _list(reasons(a)),
        ]
    )  # fmt: skip


def _findings(a: Assessment) -> Html | None:
    items = [
        el(
            "li",
            el("b", f"{f.level}: "),
            f"{finding_text(f)}. {sentence(finding_remedy(f))}.",
        )
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


def _safety(a: Assessment) -> Html | None:
    if not a.safety:
        return None
    shared, own = safety_notes(a)
    lead = (
        "Local rules, the product's data sheet and trained people go before anything printed "
        "here; no figure in this report is a clearance to work.",
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
