"""Markup as values: whatever is no markup already is escaped, so nothing is forgotten."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

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
