"""How skilled a hand a job asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from solderrisk.model.builder import Level
from solderrisk.model.parameters import Parameters


@dataclass(frozen=True)
class Skilled:
    """The level that a job asks for, and what was asked of it; no level where blocked."""

    level: Level | None = None
    why: str = ""


NOBODY = Skilled()


def skill_needed(chances: Mapping[Level, float], data: Parameters) -> Skilled:
    """The lowest level at which a job works in the end often enough.

    ``chances``: of the best technique on the bench, by level from least to most done; all 0
    where the job is blocked. Enough is ``placement_chance``, or less where the job has risks
    that no skill removes (a lifted part that was dead, corrosion): then within
    ``skill_slack`` of what the highest level reaches.
    """
    wanted, slack = data["placement_chance"], data["skill_slack"]
    top, best = list(chances.items())[-1]
    if best <= 0.0:
        return NOBODY
    enough = min(wanted, best - slack)
    level = next(level for level, chance in chances.items() if chance >= enough)
    if enough == wanted:
        return Skilled(level, f"{100 * wanted:.3g} % asked")
    return Skilled(
        level, f"within {100 * slack:g} % of the {100 * best:.1f} % that {top} hands reach"
    )
