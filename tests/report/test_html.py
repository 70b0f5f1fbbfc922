"""Markup as values."""

from __future__ import annotations

from html.parser import HTMLParser

from hypothesis import given, settings
from hypothesis import strategies as st

from solderrisk.report.pictures import Html, el, joined, visible


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def test_text_is_escaped_and_markup_is_not() -> None:
    made = el("p", "1 < 2 & ", el("b", '"x"'), class_="quiet")
    assert made == '<p class="quiet">1 &lt; 2 &amp; <b>"x"</b></p>'
    assert isinstance(made, Html)


def test_attributes() -> None:
    assert el("input", type="checkbox", checked=True, disabled=False, name=None) == (
        '<input type="checkbox" checked>'
    )
    assert el("svg", viewBox="0 0 1 1", aria_label='a"b') == (
        '<svg viewBox="0 0 1 1" aria-label="a&quot;b"></svg>'
    )
    assert el("rect", width=1.5) == '<rect width="1.5"/>'


def test_joined_leaves_out_none() -> None:
    assert joined([None, "a", None, el("br")], " ") == "a <br>"


def test_characters_that_a_page_must_not_hold() -> None:
    # A null, a lone surrogate, and a mark that turns the reading direction.
    assert visible("a\x00b\ud800c\u202ed\n") == "a\ufffdb\ufffdc\ufffdd "


@settings(max_examples=200)
@given(st.text(), st.text())
def test_no_text_becomes_markup(content: str, attribute: str) -> None:
    reader = _Reader()
    reader.feed(el("p", content, title=attribute))
    reader.close()
    assert reader.tags == ["p"]
    assert "".join(reader.texts) == visible(content)
    assert reader.attributes == [("title", visible(attribute))]
