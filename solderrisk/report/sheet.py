"""The part of the page that lies on the bench: work sheet and technique cards."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from solderrisk.model.jobs import Job
from solderrisk.plan.results import Assessment, CostLine, SafetyNote, Stage
from solderrisk.report import order as order_words
from solderrisk.report.groups import (
    PartCard,
    TechniqueCards,
    Trouble,
    hindrances,
    stop_text,
    technique_cards,
    troubles,
)
from solderrisk.report.pictures import Drawings, Html, bullets, el, heating, joined, leads
from solderrisk.report.words import bad_case, band_of, cost_note, expected_loss, grouped, key_name
from solderrisk.risk.results import Lines
from solderrisk.words import chance, kind_and_ref, plain, worked

SHORT = 160  # letters that read well in one line of a card


def work_sheet(a: Assessment) -> Html:
    """The order in blocks, a box to tick for every placement and test."""
    jobs = {job.key: job for job in a.jobs}
    return joined(
        [
            el("p", f"The order is {order_words.note(a.order)}.", class_="quiet"),
            *(el("p", order_words.waived_text(each), class_="quiet") for each in a.order.waived),
            *(_stage(stage, jobs, a) for stage in a.order.stages),
        ]
    )


def _stage(stage: Stage, jobs: dict[str, Job], a: Assessment) -> Html:
    gate = jobs.get(stage.gate) if stage.gate else None
    rows = [_ticks(row, a) for row in order_words.tick_rows(stage, jobs)]
    about = worked(stage.minutes, stage.wait_hours)
    return el(
        "section",
        el(
            "h3",
            f"{stage.number}. {order_words.title(stage)} ",
            el("span", f"about {about}", class_="quiet"),
        ),
        _line("prepare", order_words.prepare(stage)),
        _table(rows, stage) if rows else None,
        _line("check", order_words.checks(stage)),
        _gate(gate) if gate is not None else None,
        el("p", order_words.why_here(stage), class_="quiet reasons"),
        class_="stage",
    )


def _table(rows: Iterable[Html], stage: Stage) -> Html:
    names = (el("span", name, class_="unseen") for name in ("part", "tick off"))
    head = el("tr", *(el("th", name, scope="col") for name in names))
    caption = el("caption", f"Block {stage.number}", class_="unseen")
    return el("table", caption, el("thead", head), el("tbody", *rows), class_="ticks")


def _ticks(row: order_words.TickRow, a: Assessment) -> Html:
    boxes = joined(
        [
            el("label", el("input", type="checkbox"), f" {_tick_name(key)}", class_="tick")
            for key in row.keys
        ],
        " ",
    )
    count = f"{len(row.keys)} × " if len(row.keys) > 1 else ""
    return el(
        "tr",
        el(
            "th",
            f"{count}{row.what}",
            el("span", f" {row.footprint}", class_="quiet") if row.footprint else None,
            *(el("span", note, class_="must") for note in row.notes),
            scope="row",
        ),
        el("td", boxes, _beside(row, a)),
    )


def _beside(row: order_words.TickRow, a: Assessment) -> Html | None:
    """The settings of the card, beside the boxes: nobody has to turn pages at the bench."""
    card = a.cards.get(row.keys[0])
    if card is None or not card.settings:
        return None
    told = "; ".join(f"{label} {value}" for label, value in card.settings)
    return el("span", told, class_="beside quiet")


def _tick_name(key: str) -> str:
    kind, ref = kind_and_ref(key)
    return ref if kind == "task" else key_name(key)


def _gate(job: Job) -> Html:
    passed = el("label", el("input", type="checkbox"), el("b", " Test passed: "), job.title,
                class_="tick")  # fmt: skip
    measured = el("p", "Stop here if it fails. Measured: ", el("span", class_="blank"))
    return el("div", passed, measured, class_="gate")


def cards(a: Assessment, drawings: Drawings, *, settings: bool = True) -> Html:
    """Cards by technique; alike parts share one. Without ``settings`` these stand elsewhere,
    beside the boxes of the work sheet."""
    notes = {note.id: note for note in a.safety}
    groups = technique_cards(a)
    if not settings:
        groups = tuple(
            replace(group, parts=tuple(_without_settings(part) for part in group.parts))
            for group in groups
        )
    return joined(_technique(group, drawings, notes) for group in groups)


def _without_settings(part: PartCard) -> PartCard:
    return replace(part, card=replace(part.card, settings=()))


def rescue_sheet(a: Assessment) -> Html | None:
    """What to do about faults, each way once."""
    found = [_trouble(trouble) for trouble in troubles(a)]
    return joined(found) if found else None


def _trouble(trouble: Trouble) -> Html:
    card = trouble.card
    lacks = [el("p", el("b", "Lacks: "), ", ".join(card.lacks))] if card.lacks else []
    end = f"{stop_text(card)}; then lost: {card.lost}."
    return el(
        "section",
        el("h3", f"{_sentence(', '.join(trouble.faults))}: {card.way}"),
        el("p", grouped(trouble.keys), class_="quiet"),
        *lacks,
        el("ol", *(el("li", step) for step in card.steps)),
        el("p", el("b", "Risks: "), f"{card.risks}. ", el("b", "Stop: "), end),
        class_="rescue",
    )


def _technique(group: TechniqueCards, drawings: Drawings, notes: dict[str, SafetyNote]) -> Html:
    steps = [el("li", step) for step in group.steps]
    cautions = [el("p", el("b", "Mind: "), text) for text in group.cautions]
    return el(
        "section",
        el(
            "div",
            el("h3", _sentence(group.title)),
            el("ol", *steps) if steps else None,
            labelled("look for", group.look_for),
            *cautions,
            _read_first(group.safety, notes),
            class_="how",
        ),
        *(_card(part, drawings, notes) for part in group.parts),
        class_="technique",
    )


def _card(part: PartCard, drawings: Drawings, notes: dict[str, SafetyNote]) -> Html:
    card, risk = part.card, part.risk
    band, key = band_of(risk), part.keys[0]
    name = grouped(part.keys) if len(part.keys) > 1 else card.work
    if risk.blocked:
        body = _blocked(part)
    else:
        body = joined(
            [
                _settings(card.settings) if card.settings else None,
                labelled("orientation", [card.orientation] if card.orientation else []),
                labelled("look for", card.look_for),
                labelled("mind", card.cautions),
                labelled("would help", drawings.remedies.get(key, ())),
                _read_first(card.safety, notes),
            ]
        )
    each = f"{band.word} risk; works {chance(risk.chosen.after_mending)} each"
    told = "not possible on this bench" if risk.blocked else each
    return el(
        "article",
        el(
            "div",
            el("h4", f"{_sentence(name)}: {card.what}"),
            el("p", f"{_part_name(risk.job)}; {band.mark} {told}", class_="quiet"),
            body,
        ),
        _figures(part, key, drawings),
        class_="card",
    )


def _part_name(job: Job) -> str:
    return "" if job.footprint is None else job.footprint.title or job.footprint.name


def _settings(lines: Lines) -> Html:
    """'iron: ...' and so on in one paragraph, each name bold."""
    items = [el("span", el("b", f"{name}:"), f" {value}", class_="setting")
             for name, value in lines]  # fmt: skip
    return el("p", joined(items, " "))


def _read_first(ids: Iterable[str], notes: dict[str, SafetyNote]) -> Html | None:
    found = [notes[note].title for note in ids if note in notes and notes[note].acknowledge]
    return _line("read first", found)


def _blocked(part: PartCard) -> Html:
    return joined(
        [bullets(hindrances(part.risk)), labelled("needs", [part.tools] if part.tools else [])]
    )


def _figures(part: PartCard, key: str, drawings: Drawings) -> Html | None:
    figures = []
    option, footprint = part.risk.chosen, part.risk.job.footprint
    curve, allowed = drawings.curves.get(key), drawings.alignments.get(key)
    if curve is not None:
        heat = option.air_heat or option.iron_heat
        caption = f"{curve.label}. Solid: joint; dashed: {_source(option.air_heat is not None)}."
        figures.append(el("figure", heating(curve, heat), el("figcaption", caption)))
    if allowed is not None and footprint is not None:
        caption = (
            f"Leads (dark) over lands. Dashed: the edge of what passes for product class "
            f"{allowed.acceptance_class}: {allowed.lateral_mm:.2f} mm to the side or turned by "
            f"{allowed.rotation_deg:.1f}°."
        )
        figures.append(el("figure", leads(footprint, allowed), el("figcaption", caption)))
    return el("div", *figures, class_="figures") if figures else None


def _source(air: bool) -> str:
    return "the part's top" if air else "the tip"


def _line(label: str, items: Iterable[str]) -> Html | None:
    text = "; ".join(items)
    return el("p", el("b", f"{label[:1].upper()}{label[1:]}: "), text) if text else None


def labelled(label: str, items: Iterable[str]) -> Html | None:
    """'Label: a; b', or a list where the items are long; None without items."""
    items = tuple(items)
    if not items:
        return None
    if sum(map(len, items)) < SHORT or len(items) == 1:
        return _line(label, items)
    head = el("p", el("b", f"{label[:1].upper()}{label[1:]}: "), class_="label")
    return joined([head, bullets(items)])


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


KIND_WORDS = {
    "part": "part",
    "donor": "donor",
    "tool": "tool, stays yours",
    "consumable": "used up",
    "extra": "besides parts",
}


def costs_table(a: Assessment) -> Html:
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
    told = f"Lost if it fails: {bad_case(c)}. Expected loss {expected_loss(c)}."
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
