"""Figures as a person can set, hold or count them: no finer than the bench is."""

from __future__ import annotations

import math

COARSE_S = 20.0  # above it seconds are told in fives


def dial_c(value_c: float) -> str:
    """A temperature to set, in tens: '300 C'."""
    return f"{round(value_c / 10) * 10:d} C"


def flow_l_min(value: float) -> str:
    """An air flow to set, in fives: '45 l/min'."""
    return f"{max(round(value / 5) * 5, 5):d} l/min"


def about_s(value_s: float) -> int:
    """Seconds as they can be counted: whole ones, in fives above ``COARSE_S``."""
    return round(value_s / 5) * 5 if value_s > COARSE_S else max(round(value_s), 1)


def stop_s(*limits_s: float) -> int:
    """Whole seconds to stop at, never later than any limit; 0 where one is under a second."""
    return math.floor(min(limits_s))


def minutes_text(value: float) -> str:
    """'under a minute', 'about 25 min'."""
    return "under a minute" if value < 0.75 else f"about {max(round(value), 1):d} min"


def grams(value: float) -> str:
    """'1.5 g', or 'under 0.1 g'."""
    return "under 0.1 g" if value < 0.05 else f"{value:.1f} g"
