"""How faults are found and mended."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solderrisk.model.bench import Bench
from solderrisk.model.footprint import Footprint
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import FaultData, Rescue, RescueData
from solderrisk.risk.heat.bench import has
from solderrisk.risk.worlds import Worlds

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Looks:
    """How faults of a job are looked for.

    ``eye``: share that sight leaves of a good look (1 with enough magnification);
    ``second_person``, ``continuity``: further checks of this job; ``before_power`` and
    ``gates``: share that the kit's gates find of what is still there, those before power
    comes on and all of them; ``hunt``: share that is found when the finished board does not
    work. Shares may run over worlds.
    """

    eye: ArrayLike = 1.0
    second_person: bool = False
    continuity: bool = False
    before_power: ArrayLike = 0.0
    gates: ArrayLike = 0.0
    hunt: ArrayLike = 0.0


def either(*shares: ArrayLike) -> Floats:
    """Share found by at least one of several independent checks."""
    missed = np.ones(())
    for share in shares:
        missed = missed * (1.0 - np.asarray(share))
    return np.asarray(1.0 - missed)


def found_by_eye(mode: str, looks: Looks, data: Worlds) -> Floats:
    """Share found before power comes on. ``look_finds`` is the everyday look, ``seen`` how
    much of this kind shows at all."""
    seen = data.share(mode, "seen")
    own = seen * data["look_finds"] * np.asarray(looks.eye)
    other = seen * data["second_person_finds"] if looks.second_person else 0.0
    meter = data.share(mode, "measured") if looks.continuity else 0.0
    return either(own, other, meter)


@dataclass(frozen=True)
class Mending:
    """What becomes of a found fault: ``fixed`` + ``destroyed`` + rest = 1."""

    fixed: Floats
    destroyed: Floats
    tries: Floats  # expected number


def mending(success: ArrayLike, damage: ArrayLike, tries: ArrayLike) -> Mending:
    """At most ``tries`` tries, each of which succeeds, destroys or changes nothing.

    Raises:
        ValueError: success and damage exceed 1 together.
    """
    s, d = np.asarray(success, dtype=np.float64), np.asarray(damage, dtype=np.float64)
    if np.any(s + d > 1 + 1e-12):
        raise ValueError("success and damage of a try exceed 1 together")
    again = 1 - s - d
    with np.errstate(divide="ignore", invalid="ignore"):
        expected = np.where(s + d > 0, (1 - again ** np.asarray(tries)) / (s + d), tries)
    return Mending(s * expected, d * expected, expected)


def mending_by_skill(psi: Floats, lifted: bool, data: Worlds) -> Mending:
    """Mending by hands of any psi; ``lifted``: part or lands used before."""
    fails = np.minimum(
        (1 - data["mend_success"]) * psi ** data["mend_skill_power"], data["mend_worst"]
    )
    damage = data["pad_damage_lifted" if lifted else "pad_damage"]
    fatal = damage * data["pad_damage_fatal"]
    # A damaged pad that a wire can replace is slower, not lost.
    return mending(np.maximum(1 - fails - fatal, 0.0), fatal, np.rint(data["mend_tries"]))


def lacks(way: Rescue, bench: Bench, reference: Reference) -> list[str]:
    """Titles of what the bench has not."""
    data, parameters = reference.risk.technique_data, reference.risk.parameters
    return [
        " or ".join(data.need(need).title for need in group)
        for group in way.needs
        if not any(has(data.need(need), bench, parameters) for need in group)
    ]


Ways = tuple[tuple[str, tuple[Rescue, ...]], ...]


def known_ways(footprint: Footprint, reference: Reference) -> Ways:
    """By kind of fault, what is known to be done about it at such a part, best first; kinds
    for which nothing is known are left out."""
    risk = reference.risk
    return _known(footprint, risk.rescue, risk.faults)


@lru_cache(maxsize=4096)
def _known(footprint: Footprint, data: RescueData, faults: FaultData) -> Ways:
    suiting = [rescue for rescue in data.rescues if rescue.suits(footprint)]
    every = (
        (mode.id, tuple(rescue for rescue in suiting if mode.id in rescue.modes))
        for mode in faults.modes
    )
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
