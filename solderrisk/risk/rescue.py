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


def known_ways(footprint: Footprint, reference: Reference) -> tuple[tuple[str, list[Rescue]], ...]:
    """By kind of fault, what is known to be done about it at such a part; kinds for which
    nothing is known are left out."""
    every = ((mode.id, ways(mode.id, footprint, reference)) for mode in reference.risk.faults.modes)
    return tuple((mode, found) for mode, found in every if found)


def able(bench: Bench, reference: Reference) -> frozenset[str]:
    """Ids of what this bench has all it needs for."""
    rescues = reference.risk.rescue.rescues
    return frozenset(way.id for way in rescues if not lacks(way, bench, reference))


def shares(
    known: Iterable[tuple[str, Iterable[Rescue]]], able: frozenset[str]
) -> tuple[tuple[str, float], ...]:
    """Of each kind of fault that is found, the share that a bench can deal with."""
    return tuple(
        (mode, max((way.share for way in found if way.id in able), default=0.0))
        for mode, found in known
    )
