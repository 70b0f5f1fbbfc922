"""The page in a real browser: loads nothing, complains of nothing, prints whole."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.plan.results import Assessment
from solderrisk.report.page import SECTIONS, Parts, page
from solderrisk.report.pictures import drawings_of
from solderrisk.report.words import headline
from solderrisk.session import Session
from tests.report.browser import Page, browser, chromium
from tests.report.samples import statement_sample

pytestmark = pytest.mark.skipif(chromium() is None, reason="no Chromium here: page not checked")

MM = 96 / 25.4  # CSS pixels
# Sheets less the page's margins (ISO 216, ANSI Y14.1).
SHEETS = {"A4": (210 - 18, 297 - 18), "Letter": (215.9 - 18, 279.4 - 18)}
MOST_SHEETS = 16


@pytest.fixture(scope="module")
def shown(hard: Assessment, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    folder = tmp_path_factory.mktemp("browser")
    file = folder / "report.html"
    drawings = drawings_of(
        hard, open_inputs("river-recorder", "well-equipped", "hobbyist"), Session()
    )
    file.write_text(
        page(hard, Parts(statement=statement_sample(), drawings=drawings), SECTIONS),
        encoding="utf-8",
    )
    with browser(folder / "profile") as opened:
        opened.open(file)
        yield opened


def test_nothing_is_loaded_and_nothing_complained_of(shown: Page) -> None:
    asked = [
        event["params"]["request"]["url"]
        for event in shown.events
        if event["method"] == "Network.requestWillBeSent"
    ]
    assert len(asked) == 1, asked
    assert asked[0].startswith("file://")
    assert complaints(shown) == []


def complaints(shown: Page) -> list[str]:
    kinds = ("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded",
             "Network.loadingFailed")  # fmt: skip
    return [event["method"] for event in shown.events if event["method"] in kinds]


def test_faults_of_a_page_would_be_seen(tmp_path: Path) -> None:
    file = tmp_path / "bad.html"
    file.write_text("<img src='gone.png'><script>console.error('x'); nowhere()</script>")
    with browser(tmp_path / "profile") as opened:
        opened.open(file)
        assert {"Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Network.loadingFailed"} <= (
            set(complaints(opened))
        )


def test_text_and_pictures_are_there(shown: Page, hard: Assessment) -> None:
    text = shown.value("document.body.innerText")
    for heading in ("Verdict", "Difficulty statement", "Work sheet", "Technique cards"):
        assert heading in text
    assert headline(hard.verdict.judgement) in text
    assert "lift U1" in text
    sizes = shown.value(
        "[...document.querySelectorAll('svg')].map(s => s.getBoundingClientRect().width)"
    )
    assert len(sizes) > 30
    assert min(sizes) > 50


def test_a_narrow_screen_needs_no_sideways_scrolling(shown: Page) -> None:
    shown.send("Emulation.setDeviceMetricsOverride", width=390, height=800, deviceScaleFactor=1,
               mobile=False)  # fmt: skip
    try:
        assert shown.value("document.documentElement.scrollWidth") <= 390
    finally:
        shown.send("Emulation.clearDeviceMetricsOverride")


@pytest.mark.parametrize("sheet", SHEETS)
def test_prints_without_cutting_cards(shown: Page, sheet: str) -> None:
    width, height = (round(side * MM) for side in SHEETS[sheet])
    shown.send("Emulation.setEmulatedMedia", media="print")
    shown.send("Emulation.setDeviceMetricsOverride", width=width, height=height,
               deviceScaleFactor=1, mobile=False)  # fmt: skip
    try:
        assert shown.value("document.documentElement.scrollWidth") <= width
        # What must not be broken is no taller than a sheet, so the browser keeps it whole.
        tall = shown.value(
            "[...document.querySelectorAll('.card, .note li, .how, figure, tr')]"
            ".map(e => e.getBoundingClientRect().height)"
        )
        assert len(tall) > 100
        assert max(tall) < height
        # A stage or a note may go on overleaf between its rows; each row, each card whole.
        kept = shown.value(
            "[...document.querySelectorAll('.card, .note li, .how, figure, tr')]"
            ".every(e => getComputedStyle(e).breakInside === 'avoid')"
        )
        assert kept
    finally:
        shown.send("Emulation.clearDeviceMetricsOverride")
        shown.send("Emulation.setEmulatedMedia", media="")


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_big_kit_prints_on_few_sheets(tmp_path: Path, sheet: str) -> None:
    question = open_inputs("river-recorder", "decent", "hobbyist")
    session = Session()
    found = session.assess(question)
    parts = Parts(statement=statement_sample(), drawings=drawings_of(found, question, session))
    file = tmp_path / "report.html"
    text = page(found, parts, SECTIONS).replace("@page {", f"@page {{ size: {sheet};", 1)
    file.write_text(text, encoding="utf-8")
    with browser(tmp_path / "profile") as opened:
        opened.open(file)
        made = opened.send("Page.printToPDF", preferCSSPageSize=True)
    pdf = base64.b64decode(made["data"])
    assert pdf.startswith(b"%PDF")
    assert 5 < len(re.findall(rb"/Type\s*/Page\b", pdf)) <= MOST_SHEETS


def test_what_a_screen_reader_meets(shown: Page) -> None:
    nodes = shown.send("Accessibility.getFullAXTree")["nodes"]

    def named(role: str) -> list[str]:
        return [
            node.get("name", {}).get("value", "").strip()
            for node in nodes
            if node.get("role", {}).get("value") == role and not node.get("ignored")
        ]

    for role in ("image", "checkbox", "table", "link", "heading"):
        names = named(role)
        assert names, role
        assert all(names), role
    assert "R1" in named("checkbox")
    assert len(named("columnheader")) > 5
    assert len(named("rowheader")) > 20


def test_a_box_can_be_ticked_by_keyboard(shown: Page) -> None:
    shown.value("document.querySelector('input[type=checkbox]').focus()")
    for kind in ("keyDown", "keyUp"):
        shown.send("Input.dispatchKeyEvent", type=kind, key=" ", code="Space", text=" ",
                   windowsVirtualKeyCode=32)  # fmt: skip
    assert shown.value("document.querySelector('input[type=checkbox]').checked") is True
    shown.value("document.activeElement.blur()")


def test_legible_in_grey(shown: Page) -> None:
    """Marks of risk differ in lightness by enough to be told apart without colour."""
    colours = shown.value(
        "[0,1,2,3,4].map(n => getComputedStyle(document.querySelector('.swatch.band-' + n))"
        ".backgroundColor)"
    )
    light = [_lightness(colour) for colour in colours]
    assert light == sorted(light, reverse=True)
    assert all(first - then > 0.08 for first, then in pairwise(light))


def _lightness(colour: str) -> float:
    """Relative luminance as WCAG 2 defines it, of 'rgb(r, g, b)', to the power 1/2.2."""
    channels = [int(c) / 255 for c in re.findall(r"\d+", colour)[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    luminance = sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    return float(luminance ** (1 / 2.2))


def test_text_has_contrast(shown: Page) -> None:
    """At least 4.5 : 1 against white for body and quiet text (WCAG 2, level AA)."""
    for selector in ("body", ".quiet", "a", "figcaption"):
        colour = shown.value(f"getComputedStyle(document.querySelector('{selector}')).color")
        luminance = _lightness(colour) ** 2.2
        assert 1.05 / (luminance + 0.05) >= 4.5, selector
