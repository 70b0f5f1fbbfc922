"""The page as markup: well formed, self-contained, complete, nothing unescaped."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from solderrisk.files.loading import load_builder, open_inputs
from solderrisk.files.reference import load_reference
from solderrisk.plan.results import Assessment
from solderrisk.report.findings import finding_text, note_lines
from solderrisk.report.order import title, why_here
from solderrisk.report.page import SECTIONS, STYLE, Parts, page
from solderrisk.report.pictures import ALONE, SHAPES, Drawings, drawings_of
from solderrisk.report.words import assumption_lines, headline, item_name, look_text, reasons
from solderrisk.session import Session
from tests.report.samples import HOSTILE, renamed, statement_sample


class Markup(HTMLParser):
    """Checks nesting while it reads; keeps tags with their attributes, and texts."""

    def __init__(self, made: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self.inside: list[tuple[str, tuple[str, ...]]] = []
        self.feed(made)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        self.inside.append((tag, tuple(self.open)))
        if tag not in ALONE:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in SHAPES
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.fixture(scope="module")
def drawings(hard: Assessment) -> Drawings:
    return drawings_of(hard, open_inputs("river-recorder", "well-equipped", "hobbyist"), Session())


@pytest.fixture(scope="module")
def made(hard: Assessment, drawings: Drawings) -> str:
    return page(hard, Parts(statement=statement_sample(), drawings=drawings), SECTIONS)


@pytest.fixture(scope="module")
def read(made: str) -> Markup:
    return Markup(made)


def test_is_well_formed(read: Markup) -> None:
    ids = [a["id"] for _, a in read.tags if "id" in a]
    assert len(set(ids)) == len(ids)
    links = [a["href"] for a in read.all("a")]
    assert links
    assert {link.removeprefix("#") for link in links} <= set(ids)
    for tag, outside in read.inside:
        assert not (tag in ("p", "ul", "ol", "table", "div") and "p" in outside)
        assert not (tag == "tr" and outside[-1] not in ("thead", "tbody", "tfoot"))
        assert not (tag in ("td", "th") and outside[-1] != "tr")
        assert not (tag == "li" and outside[-1] not in ("ul", "ol"))


def test_headings_go_down_a_step_at_a_time(read: Markup) -> None:
    levels = [int(tag[1]) for tag, _ in read.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(then <= first + 1 for first, then in pairwise(levels))


def test_loads_nothing_and_runs_nothing(made: str, read: Markup) -> None:
    assert not {"script", "link", "iframe", "object", "img", "base", "form"} & {
        tag for tag, _ in read.tags
    }
    assert not re.search(r"https?:|//[a-z]|@import|url\(|javascript:", made)
    assert not [name for _, a in read.tags for name in a if name.startswith("on") or name == "src"]


def test_tables_pictures_and_boxes_speak(read: Markup) -> None:
    assert all(a.get("scope") in ("row", "col") for a in read.all("th"))
    captions = len(read.all("caption"))
    assert captions == len(read.all("table")) > 10
    assert all(a.get("role") == "img" or a.get("aria-hidden") == "true" for a in read.all("svg"))
    boxes = [outside for tag, outside in read.inside if tag == "input"]
    assert boxes
    assert all(outside[-1] == "label" for outside in boxes)
    assert read.all("html") == [{"lang": "en"}]


def test_a_box_for_every_piece_of_work_and_every_test(read: Markup, hard: Assessment) -> None:
    assert len(read.all("input")) == len(hard.jobs)


def test_says_it_all(read: Markup, hard: Assessment) -> None:
    told = read.text
    assert headline(hard.verdict.judgement) in told
    for items in (
        reasons(hard),
        [finding_text(finding) for finding in hard.findings],
        [line for note in hard.safety for line in (note.title, *note_lines(note))],
        [step for card in hard.cards.values() for step in card.steps],
        [caution for card in hard.cards.values() for caution in card.cautions],
        [title(stage) for stage in hard.order.stages],
        [why_here(stage) for stage in hard.order.stages],
        [job.title for job in hard.jobs if job.gate],
        [line.what for line in hard.costs.lines],
        [look_text(look) for look in hard.second_looks[:6]],
        assumption_lines(hard),
    ):
        for item in items:
            assert " ".join(item.split()) in told, item


def test_difficulty_statement(read: Markup, hard: Assessment) -> None:
    told = read.text
    for words in ("never soldered", "a kit or two", "several kits", "every week", "trained"):
        assert words in told
    # The sample's chances are 10, 15, 20, then 15 more a level; the kit wants 70 %.
    assert hard.verdict.target == 0.7
    assert told.count("✘ ") + told.count("✔ ") == 15 + 2
    assert "✔ 80 %" in told
    assert "✔ 70 %" in told
    assert "✘ 65 %" in told


def test_pictures(made: str, hard: Assessment, drawings: Drawings) -> None:
    classes = Counter(re.findall(r'<svg [^>]*class="(\w+)"', made))
    assert classes["bar"] == 1
    assert classes["curve"] == len(drawings.curves) > 3
    assert classes["leads"] == len(drawings.alignments) > 4
    # Both boards, and the donor board whose parts have a place.
    assert classes["map"] == 3
    assert "fit:U1" in drawings.alignments
    assert "lift:U1" not in drawings.alignments


def test_without_extras_it_is_still_whole(lacking: Assessment) -> None:
    read = Markup(page(lacking, only=SECTIONS))
    assert "Not possible on this bench" in read.text
    assert "Difficulty statement" not in read.text
    assert "low-melt removal alloy" in read.text


@pytest.mark.parametrize("text", [HOSTILE, "]]>", "<!--", "</style><script>x</script>", "&#0;\x00"])
def test_whatever_people_write_stays_text(easy: Assessment, text: str) -> None:
    named = renamed(easy, text)
    plain = Markup(page(easy, only=SECTIONS))
    read = Markup(page(named, only=SECTIONS))
    assert {tag for tag, _ in read.tags} <= {tag for tag, _ in plain.tags}
    names = {name for _, a in read.tags for name in a}
    assert names == {name for _, a in plain.tags for name in a}
    assert text.replace("\x00", "\ufffd") in read.text


def test_an_empty_plan_makes_a_page(easy: Assessment) -> None:
    nothing = replace(
        easy,
        kit=easy.kit.model_copy(update={"placements": (), "wires": (), "gates": ()}),
        jobs=(),
        risk=replace(easy.risk, jobs=(), by_key={}, fail_share={}),
        verdict=replace(easy.verdict, top=()),
        order=replace(easy.order, keys=(), stages=()),
        cards={},
        safety=(),
        findings=(),
    )
    assert "Verdict" in Markup(page(nothing, only=SECTIONS)).text


def test_same_input_same_page(hard: Assessment, drawings: Drawings, made: str) -> None:
    assert page(hard, Parts(statement=statement_sample(), drawings=drawings), SECTIONS) == made


def test_page_one_answers_what_to_do(easy: Assessment) -> None:
    """On a bench that is not enough: what would change it, what to read, what waits."""
    asked, session = open_inputs("river-recorder", "decent", "hobbyist"), Session()
    found, table = session.assess(asked), session.gains(asked)
    told = Markup(page(found, Parts(gains=table), ["verdict"])).text
    best = max(table, key=lambda gain: (gain.enables, gain.alone))
    assert item_name(best.item) in told
    for note in found.safety:
        assert (note.title in told) == note.acknowledge
    assert "h of waiting" in told


def test_only_what_is_named_is_printed(hard: Assessment, drawings: Drawings) -> None:
    parts = Parts(statement=statement_sample(), drawings=drawings)
    for name in SECTIONS:
        found = set(re.findall(r'<section id="(\w+)"', page(hard, parts, [name])))
        assert found <= {name}
    default = set(re.findall(r'<section id="(\w+)"', page(hard, parts)))
    assert {"verdict", "statement", "safety", "sheet", "cards"} <= default
    assert "assumed" not in default


def test_settings_stand_once_beside_the_step_or_on_the_card(hard: Assessment) -> None:
    label, value = hard.cards["fit:U1"].settings[0]
    both = Markup(page(hard, only=["sheet", "cards"])).text
    assert f"{label} {value}" in both
    assert f"{label}: {value}" not in both
    assert f"{label}: {value}" in Markup(page(hard, only=["cards"])).text


def test_practice_comes_with_boxes_to_tick(hard: Assessment) -> None:
    steps = Session().ladder(load_builder("newcomer"), load_reference(), aim="first joints")
    made = page(hard, Parts(steps=steps), ["practice"])
    assert made.count('class="box"') == steps[0].marks[0].joints
    assert steps[0].title in Markup(made).text


def test_loose_sheets_can_be_sorted(hard: Assessment) -> None:
    made = page(hard, Parts(day="2026-03-01"))
    assert "river-recorder · hobbyist · well-equipped · 2026-03-01" in made
    odd = page(renamed(hard, 'x"}</style>'), Parts(day="2026-03-01"))
    assert odd.count("</style>") == 1


def test_letters_are_large_enough_to_read(made: str) -> None:
    """In print a pixel is three quarters of a point (CSS 2, reference pixel): names of parts
    at 7 pt or more, running text at 9 pt or more."""
    names = [float(size) for size in re.findall(r'font-size="([\d.]+)"', made)]
    assert min(names) * 0.75 >= 7.0
    printed = STYLE.read_text().split("@media print")[1]
    assert min(float(size) for size in re.findall(r"font-size: ([\d.]+)pt", printed)) >= 9.0
