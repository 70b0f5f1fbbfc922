"""The places of the program, and its colours. Bands are apart for every common colour vision."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

from textual.theme import Theme


def styles_of(module_file: str, name: str = "") -> str:
    """The text of the ``.tcss`` file beside a module. Given as a screen's default styles it
    is parsed with the rest; as its ``CSS_PATH`` all styles would be parsed again."""
    path = Path(module_file)
    path = path.with_name(f"{name}.tcss") if name else path.with_suffix(".tcss")
    return path.read_text(encoding="utf-8")


DARK = Theme(
    name="workbench-dark",
    primary="#6fb3d9",
    secondary="#8fa3b0",
    accent="#e6b450",
    foreground="#d7dde2",
    background="#14181b",
    surface="#1b2125",
    panel="#242c31",
    success="#7fb8ad",
    warning="#e69f00",
    error="#ff7a45",
    dark=True,
    variables={
        "band-0": "#8b9aa5",
        "band-1": "#56b4e9",
        "band-2": "#e69f00",
        "band-3": "#ff7a45",
        "band-4": "#ffffff",
        "copper": "#b98a5a",
        "lead": "#dfe6ea",
        "quiet": "#8b9aa5",
    },
)

LIGHT = Theme(
    name="workbench-light",
    primary="#1f6f9c",
    secondary="#55656f",
    accent="#8a5a00",
    foreground="#1c2226",
    background="#f4f5f3",
    surface="#ebedea",
    panel="#dde1de",
    success="#2f7468",
    warning="#8f5b00",
    error="#b83200",
    dark=False,
    variables={
        "band-0": "#5d6b75",
        "band-1": "#0067a0",
        "band-2": "#8f5b00",
        "band-3": "#b83200",
        "band-4": "#000000",
        "copper": "#8a5f33",
        "lead": "#2d3a42",
        "quiet": "#5d6b75",
    },
)


@dataclass(frozen=True)
class Place:
    name: str
    key: str
    label: str
    module: str
    screen: str
    purpose: str


PLACES = (
    Place("verdict", "1", "Verdict", "verdict", "VerdictScreen", "is it manageable, and why"),
    Place(
        "placements",
        "2",
        "Placements",
        "placements",
        "PlacementsScreen",
        "every joint job: technique, heat, faults",
    ),
    Place("board", "3", "Board", "board", "BoardScreen", "the board to scale, with heat reach"),
    Place("order", "4", "Order", "order", "OrderScreen", "what to do after what, with tests"),
    Place("what_if", "5", "What if", "what_if", "WhatIfScreen", "other tools, other hands"),
    Place("practice", "6", "Practice", "practice", "PracticeScreen", "what to practise first"),
    Place("safety", "7", "Safety", "safety", "SafetyScreen", "read before the work"),
)


def place_maker(place: Place) -> Callable[[], Any]:
    """Makes a place's screen when it is first gone to; nothing is imported before."""

    def make() -> Any:
        module = import_module(f"solderrisk.tui.screens.{place.module}")
        return getattr(module, place.screen)()

    return make
