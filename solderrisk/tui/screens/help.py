"""Help for the place one comes from: what it shows, and its keys."""

from __future__ import annotations

from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from solderrisk.report.words import BANDS
from solderrisk.tui.places import PLACES
from solderrisk.tui.theme import styles_of

EVERYWHERE = "1 to 7 places · o open a kit · ctrl+p find any command · ? this help · q leave"
MARKS = "Marks: " + "  ".join(f"{band.mark} {band.word}" for band in BANDS)


class HelpScreen(ModalScreen[None]):
    DEFAULT_CSS = styles_of(__file__)
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark,q", "dismiss", "Back", key_display="esc")
    ]

    def __init__(self, about: Screen[Any]) -> None:
        super().__init__()
        self._about = about

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="help-box"):
            yield Static(help_text(self._about), markup=False)


def flowing(text: str) -> str:
    """Paragraphs without their line breaks: the screen breaks lines where it ends."""
    return "\n\n".join(" ".join(part.split()) for part in text.split("\n\n"))


def help_text(screen: Screen[Any]) -> Content:
    place = next((p for p in PLACES if p.name == getattr(screen, "PLACE", "")), None)
    title = f"{place.label}: {place.purpose}" if place else "Help"
    parts: list[tuple[str, str]] = [
        (f"{title}\n\n", "bold"),
        (flowing(str(getattr(screen, "HELP", ""))) + "\n\n", ""),
    ]
    seen: set[str] = set()
    for binding in screen.active_bindings.values():
        key = binding.binding.key_display or screen.app.get_key_display(binding.binding)
        line = f"{key:>12}  {binding.binding.description}\n"
        own = binding.node is not screen.app and binding.binding.description
        if own and binding.binding.show and line not in seen:
            seen.add(line)
            parts.append((line, ""))
    parts += [
        (f"\n{MARKS}\n", "$quiet"),
        (f"{EVERYWHERE}\n", "$quiet"),
        ("escape goes back", "$quiet"),
    ]
    return Content.assemble(*parts)
