"""Rescue cards: what to do about a fault with this bench, and when to stop."""

from __future__ import annotations

from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Footprint
from solderrisk.model.reference import Reference
from solderrisk.model.risk_data import FaultMode
from solderrisk.plan.results import RescueCard
from solderrisk.risk.rescue import lacks, open_ways, ways
from solderrisk.risk.results import KitRisk


def rescues(risk: KitRisk, bench: Bench, reference: Reference) -> dict[str, tuple[RescueCard, ...]]:
    """A card for every fault that may befall a soldered job, by its key: what this bench can
    do, or what it would take."""
    kept: dict[Footprint, tuple[RescueCard, ...]] = {}
    found = {}
    for item in risk.jobs:
        footprint = item.job.footprint
        if footprint is None:
            continue
        if footprint not in kept:
            cards = (
                _card(mode, footprint, bench, reference) for mode in reference.risk.faults.modes
            )
            kept[footprint] = tuple(card for card in cards if card is not None)
        found[item.job.key] = kept[footprint]
    return found


def _card(
    mode: FaultMode, footprint: Footprint, bench: Bench, reference: Reference
) -> RescueCard | None:
    """The way that mends most here; where none is open, the best one with what it lacks."""
    known = ways(mode.id, footprint, reference)
    if not known:
        return None
    open_ = open_ways(mode.id, footprint, bench, reference)
    way = open_[0] if open_ else known[0]
    return RescueCard(
        mode.id,
        mode.title,
        way.title,
        way.steps,
        way.risks,
        reference.risk.rescue.tries,
        way.stop,
        way.lost,
        way.source,
        () if open_ else tuple(lacks(way, bench, reference)),
    )
