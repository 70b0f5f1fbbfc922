"""The difficulty statement to publish, and the short answers, as data."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from solderrisk.model.bench import Bench
from solderrisk.model.kit import Kit
from solderrisk.model.question import Named
from solderrisk.plan.practice import PracticeStep
from solderrisk.plan.results import Advice, Assessment, Gain, StatementCell, Training
from solderrisk.plan.sensitivity import Ranking
from solderrisk.report.people import mark_words, record_words
from solderrisk.report.pictures import Html, el, joined, small_bar
from solderrisk.report.words import LEVEL_WORDS, MARK_WORDS, WORKS, grouped, mark
from solderrisk.risk.results import Range
from solderrisk.words import UTF8_MARK, VERSION, as_text, chance, likely, one_line, percent

FORMAT = 1


@dataclass(frozen=True)
class Statement:
    """What is published: the cells, what is wanted, and the benches that are meant."""

    kit: Kit
    cells: tuple[StatementCell, ...]
    wanted: float
    benches: tuple[Bench, ...]

    @property
    def title(self) -> str:
        return one_line(self.kit.title or self.kit.name, 120)

    @property
    def sentence(self) -> str:
        """What the marks mean."""
        return f"{percent(self.wanted)} is wanted: {MARK_WORDS}."

    def rows(self) -> list[tuple[str, list[StatementCell]]]:
        """The cells by level, benches in their order."""
        found: dict[str, list[StatementCell]] = {}
        for cell in self.cells:
            found.setdefault(LEVEL_WORDS[cell.level], []).append(cell)
        return list(found.items())

    @property
    def bench_names(self) -> list[str]:
        return list(dict.fromkeys(cell.bench for cell in self.cells))


@dataclass(frozen=True)
class Form:
    name: str
    about: str
    made: Callable[[Statement], str]
    file_head: str = ""


def told(cell: StatementCell) -> str:
    """A cell in a few words."""
    found = cell.judgement
    if not found.possible:
        return f"{mark(found)} not with these tools"
    return f"{mark(found)} {chance(cell.chance)}" if found.has_figure else "not decided"


def as_markdown(s: Statement) -> str:
    """A table for a shop page or a project's own page."""
    names = [_plain_md(name) for name in s.bench_names]
    lines = [
        f"**{_plain_md(s.title)}: chance that it works, by builder and bench**",
        "",
        f"| has built | {' | '.join(names)} |",
        f"| --- |{' --- |' * len(names)}",
    ]
    lines += [f"| {level} | {' | '.join(map(told, cells))} |" for level, cells in s.rows()]
    lines += ["", s.sentence, WORKS]
    lines += [f"- {_plain_md(b.name)}: {_plain_md(b.title)}" for b in s.benches if b.title]
    return "\n".join(lines) + "\n"


def _plain_md(text: str) -> str:
    flat = one_line(text)
    return "".join(f"\\{letter}" if letter in "\\`*_{}[]<>|#" else letter for letter in flat)


def as_csv(s: Statement) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ("has built", "bench", "answer", "works", "works_low", "works_high", "decided by")
    )
    for level, cells in s.rows():
        for cell in cells:
            ends = (cell.chance.mid, cell.chance.low, cell.chance.high)
            figures = [f"{end:.4f}" for end in ends] if cell.judgement.has_figure else [""] * 3
            answer = cell.judgement.answer if cell.judgement.possible else "not with these tools"
            why = as_text(grouped(cell.decisive))
            writer.writerow((level, as_text(cell.bench), answer, *figures, why))
    return out.getvalue()


def as_html(s: Statement) -> str:
    """One page without anything from elsewhere."""
    head = [el("th", "has built", scope="col")]
    head += [el("th", f"bench: {name}", scope="col") for name in s.bench_names]
    rows = [
        el("tr", el("th", level, scope="row"), *(el("td", told(cell)) for cell in cells))
        for level, cells in s.rows()
    ]
    benches = [el("li", f"{b.name}: {b.title}") for b in s.benches if b.title]
    body = el(
        "body",
        el("h1", s.title),
        el("p", "Chance that it works, by what the builder has done and the bench."),
        el("table", el("caption", "Builder by bench"), el("thead", el("tr", *head)),
           el("tbody", *rows)),
        el("p", f"{s.sentence} {WORKS}"),
        el("ul", *benches) if benches else None,
        el("footer", el("p", f"Made by solderrisk {VERSION}.")),
    )  # fmt: skip
    top = el("head", el("meta", charset="utf-8"), el("title", s.title), el("style", Html(STYLE)))
    return f"<!doctype html>\n{el('html', top, body, lang='en')}\n"


STYLE = (
    "body{font:12pt sans-serif;max-width:48em;margin:2em auto;padding:0 1em}"
    "table{border-collapse:collapse}th,td{border:1px solid #888;padding:.3em .6em;text-align:left}"
    "caption{text-align:left;padding:.3em 0}footer{color:#555;font-size:10pt}"
)
LINE_PX, LETTER_PX = 20, 7.2


def as_svg(s: Statement) -> str:
    """A small badge for a shop page: for whom it is enough on which bench."""
    rows = [f"{name}: {_least(s, name)}" for name in s.bench_names]
    lines = [one_line(s.title, 44), *rows, f"works in {percent(s.wanted)} of builds or more"]
    width = int(max(len(line) for line in lines) * LETTER_PX) + 24
    height = LINE_PX * len(lines) + 16
    texts = [
        el(
            "text",
            line,
            x="12",
            y=str(LINE_PX * n + 22),
            font_weight="bold" if n == 0 else "normal",
        )
        for n, line in enumerate(lines)
    ]
    label = f"Difficulty statement: {'; '.join(lines)}"
    return str(
        el("svg", el("title", label), el("rect", width=str(width), height=str(height), rx="6",
           fill="#fff", stroke="#444"),
           el("g", *texts, font_family="sans-serif", font_size="13", fill="#111"),
           xmlns="http://www.w3.org/2000/svg", width=str(width), height=str(height), role="img",
           viewBox=f"0 0 {width} {height}")
    ) + "\n"  # fmt: skip


def _least(s: Statement, bench: str) -> str:
    """The least that a builder must have done there."""
    cells = [cell for cell in s.cells if cell.bench == bench]
    enough = [LEVEL_WORDS[cell.level] for cell in cells if cell.judgement.answer == "yes"]
    if enough:
        return f"from '{enough[0]}' on"
    if not any(cell.judgement.possible for cell in cells):
        return "not with these tools"
    close = [LEVEL_WORDS[cell.level] for cell in cells if cell.judgement.answer == "open"]
    return f"from '{close[0]}' on perhaps" if close else "for nobody"


def as_json(s: Statement) -> str:
    return _json(
        {
            "kit": s.kit.name,
            "wanted": s.wanted,
            "cells": [
                {
                    "level": cell.level,
                    "bench": cell.bench,
                    "answer": cell.judgement.answer,
                    "odds": cell.judgement.odds,
                    "possible": cell.judgement.possible,
                    "chance": _range(cell.chance) if cell.judgement.has_figure else None,
                    "decisive": list(cell.decisive),
                }
                for cell in s.cells
            ],
            "means": f"{s.sentence} {WORKS}",
        }
    )


FORMS = (
    Form("html", "one page", as_html),
    Form("json", "as data", as_json),
    Form("csv", "a row per cell", as_csv, UTF8_MARK),
    Form("markdown", "a table for a page", as_markdown),
    Form("svg", "a small badge", as_svg),
)


# On the page


def statement_table(cells: Sequence[StatementCell], a: Assessment) -> Html | None:
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
        rows.append(el("tr", words, *(_table_cell(row.get(bench), target) for bench in benches)))
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


def _table_cell(cell: StatementCell | None, target: float) -> Html:
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
        el("div", grouped(cell.decisive) or "nothing stands out", class_="quiet"),
    )


# Short answers


def advice_json(advice: Advice, table: Sequence[Gain], currency: str) -> str:
    return _json(
        {
            "reached": advice.reached,
            "wanted": advice.wanted,
            "answer": advice.judgement.answer,
            "odds": advice.judgement.odds,
            "chance": _range(advice.chance),
            "currency": currency,
            "price": advice.price,
            "hours": advice.hours,
            "items": [_item(item) for item in advice.items],
            "tried": advice.tried,
            "proved": advice.proved,
            "single": [
                {
                    **_item(gain.item),
                    "alone": gain.alone,
                    "beside": gain.together,
                    "cost": gain.cost,
                    "helps": list(gain.helps),
                    "enables": gain.enables,
                }
                for gain in table
            ],
        }
    )


def _item(item: Any) -> dict[str, Any]:
    if isinstance(item, Training):
        skill = {"skill": item.skill, "joints": item.joints, "hours": item.hours}
        return {"kind": "practice", "title": item.title, "price": item.price, **skill}
    return {"kind": "purchase", "title": item.title, "price": item.price, "id": item.id}


def ladder_json(steps: Sequence[PracticeStep]) -> str:
    return _json(
        {
            "steps": [
                {
                    "id": step.id,
                    "title": step.title,
                    "skill": step.skill,
                    "shows": step.shows,
                    "state": step.state,
                    "ready": step.ready,
                    "after": list(step.after),
                    "marks": [
                        {
                            "joints": each.joints,
                            "parts": each.parts,
                            "allowed": each.allowed,
                            "rate": each.rate,
                            "confidence": each.confidence,
                            "told": mark_words(each),
                        }
                        for each in step.marks
                    ],
                    "record": record_words(step),
                    "still_needed": step.needed,
                    "hours": step.hours,
                    "price": step.price,
                    "read_first": list(step.missing_notes),
                }
                for step in steps
            ]
        }
    )


def ranking_json(ranking: Ranking) -> str:
    rows = [
        {"name": e.name, "at_low": e.at_low, "at_high": e.at_high, "share": e.share}
        for e in ranking.effects
    ]
    told = {} if ranking.unheard is None else {"reports": asdict(ranking.unheard)}
    return _json({"hands": ranking.hands, "effects": rows, **told})


def numbers_json(numbers: Sequence[Named]) -> str:
    return _json(
        {"numbers": [{"name": n.name, **n.parameter.model_dump(mode="json")} for n in numbers]}
    )


def _range(value: Range) -> dict[str, float]:
    return {"low": value.low, "mid": value.mid, "high": value.high}


def _json(data: Mapping[str, Any]) -> str:
    return json.dumps({"format": FORMAT, **data}, indent=2, allow_nan=False)
