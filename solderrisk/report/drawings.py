"""What the page shows on cards besides words: heating, tolerances, what would help."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from solderrisk.physics.results import Alignment, Curve
from solderrisk.plan.heating import remedy_words
from solderrisk.plan.results import Assessment
from solderrisk.report.groups import part_cards

if TYPE_CHECKING:
    from solderrisk.model.question import Question
    from solderrisk.session import Session

LEADS_IN_A_ROW = 3  # with fewer, the part's ends show how it sits


@dataclass(frozen=True)
class Drawings:
    """By the key of the first job of a card."""

    curves: Mapping[str, Curve] = field(default_factory=dict)
    alignments: Mapping[str, Alignment] = field(default_factory=dict)
    remedies: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def drawings_of(a: Assessment, question: Question, session: Session) -> Drawings:
    """Heating of every card's technique, what would help where its heat is in doubt, and
    tolerances of parts with rows of leads."""
    remedies: dict[str, tuple[str, ...]] = {}
    curves: dict[str, Curve] = {}
    alignments: dict[str, Alignment] = {}
    for part in part_cards(a):
        job, option = part.risk.job, part.risk.chosen
        if part.risk.blocked or job.footprint is None:
            continue
        # An iron is at its end within a second: its curve would tell nothing.
        curve = session.curve(question, option) if option.air_heat is not None else None
        if curve is not None:
            curves[job.key] = curve
        if not option.decided:
            found = session.remedies(question, option)
            remedies[job.key] = tuple(remedy_words(remedy) for remedy in found)
        rows = any(g.pitch_mm and g.count >= LEADS_IN_A_ROW for g in job.footprint.pads)
        allowed = session.alignment(question, job) if rows else None
        if allowed is not None:
            alignments[job.key] = allowed
    return Drawings(curves, alignments, remedies)
