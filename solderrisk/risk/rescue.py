"""What a bench can do about a fault, and how much of it."""

from __future__ import annotations

from collections.abc import Iterable

from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Footprint
from solderrisk.model.reference import Reference
from solderrisk.model.risk_data import Rescue
from solderrisk.risk.heat.bench import has


def ways(mode: str, footprint: Footprint, reference: Reference) -> list[Rescue]:
    """Every way that is known for a fault of such a part, best first."""
    rescues = reference.risk.rescue.rescues
    return [rescue for rescue in rescues if mode in rescue.modes and rescue.suits(footprint)]


def open_ways(mode: str, footprint: Footprint, bench: Bench, reference: Reference) -> list[Rescue]:
    """Those for which the bench has what they need, what mends most first."""
    found = [way for way in ways(mode, footprint, reference) if not lacks(way, bench, reference)]
    return sorted(found, key=lambda way: -way.share)


def lacks(way: Rescue, bench: Bench, reference: Reference) -> list[str]:
    """Titles of what the bench has not."""
    data, parameters = reference.risk.technique_data, reference.risk.parameters
    return [
        " or ".join(data.need(need).title for need in group)
        for group in way.needs
        if not any(has(data.need(need), bench, parameters) for need in group)
    ]


def shares(
    footprint: Footprint, bench: Bench, reference: Reference
) -> tuple[tuple[str, float], ...]:
    """Of each kind of fault that is found, the share that this bench can deal with; kinds for
    which nothing is known of such a part are left out."""
    return tuple(_shares(footprint, bench, reference))


def _shares(
    footprint: Footprint, bench: Bench, reference: Reference
) -> Iterable[tuple[str, float]]:
    for mode in reference.risk.faults.modes:
        known = ways(mode.id, footprint, reference)
        if known:
            open_ = [way.share for way in known if not lacks(way, bench, reference)]
            yield mode.id, max(open_, default=0.0)
