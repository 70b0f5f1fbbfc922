"""What the page shows on cards besides words: heating, tolerances, what would help."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.alignment import alignment
from solderrisk.physics.results import Alignment, Curve
from solderrisk.plan.heating import heat_remedies, heating_curve
from solderrisk.plan.results import Assessment
from solderrisk.report.groups import part_cards

ACCEPTANCE_CLASS: Literal[2] = 2
LEADS_IN_A_ROW = 3  # with fewer, the part's ends show how it sits


@dataclass(frozen=True)
class Drawings:
    """By the key of the first job of a card."""

    curves: Mapping[str, Curve] = field(default_factory=dict)
    alignments: Mapping[str, Alignment] = field(default_factory=dict)
    remedies: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def drawings_of(a: Assessment, data: PhysicsData) -> Drawings:
    """Heating of every card's technique, what would help where its heat is in doubt, and
    tolerances of parts with rows of leads."""
    remedies: dict[str, tuple[str, ...]] = {}
    curves: dict[str, Curve] = {}
    alignments: dict[str, Alignment] = {}
    for part in part_cards(a):
        job, option = part.risk.job, part.risk.chosen
        if part.risk.blocked or job.footprint is None:
            continue
        curve = heating_curve(option, data)
        if curve is not None:
            curves[job.key] = curve
        if not option.decided:
            found = heat_remedies(option, data)
            remedies[job.key] = tuple(remedy.text for remedy in found)
        rows = any(g.pitch_mm and g.count >= LEADS_IN_A_ROW for g in job.footprint.pads)
        if job.kind == "fit" and rows:
            allowed = alignment(job.footprint, ACCEPTANCE_CLASS, data)
            if allowed is not None:
                alignments[job.key] = allowed
    return Drawings(curves, alignments, remedies)
