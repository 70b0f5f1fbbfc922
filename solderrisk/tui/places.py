"""The places of the program: what is behind each number key."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any


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
