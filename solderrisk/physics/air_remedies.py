"""What would let hot air melt a part's joints beyond doubt, found by the same model."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

from solderrisk.model.physics_data import PhysicsData
from solderrisk.model.remedy_data import RemedyData
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.results import AirCase, AirHeat, Remedy

MOST = 4  # remedies told

_Step = tuple[float | None, float | None]  # air C, preheat C


def air_remedies(case: AirCase, data: PhysicsData) -> tuple[Remedy, ...]:
    """Changes that melt every joint beyond doubt; those that keep the part's top within
    its limit first, smaller steps before bigger ones. Empty where it melts already, or
    nothing tried would do. ``wet_s`` is the time until every joint is liquid.
    """
    if air_heat([case], data)[0].decision == "wets":
        return ()
    steps = list(_steps(case, data.remedies))
    heats = air_heat([_changed(case, step) for step in steps], data)
    found: list[tuple[_Step, AirHeat]] = []
    for step, heat in zip(steps, heats, strict=True):
        if heat.decision == "wets" and not any(_covers(step, kept) for kept, _ in found):
            found.append((step, heat))
    found.sort(key=lambda pair: pair[1].top_c > pair[1].limit_c)  # stable: keeps the steps
    return tuple(_told(step, heat) for step, heat in found[:MOST])


def _steps(case: AirCase, offered: RemedyData) -> Iterator[_Step]:
    """Single changes, smaller first, then both together."""
    hotter = [
        case.air_c + k
        for k in offered.offers["hotter_air_k"].values
        if case.air_c + k <= offered["air_highest_c"]
    ]
    warmer_c = case.start_c + offered["preheat_gain_k"]
    preheats = [c for c in offered.offers["preheat_c"].values if c > warmer_c]
    yield from ((None, c) for c in preheats)
    yield from ((c, None) for c in hotter)
    yield from product(hotter, preheats)


def _covers(step: _Step, kept: _Step) -> bool:
    return all(mine is not None or his is None for mine, his in zip(step, kept, strict=True))


def _changed(case: AirCase, step: _Step) -> AirCase:
    air_c, preheat_c = step
    return replace(
        case,
        air_c=case.air_c if air_c is None else air_c,
        start_c=case.start_c if preheat_c is None else preheat_c,
    )


def _told(step: _Step, heat: AirHeat) -> Remedy:
    air_c, preheat_c = step
    said = [f"air of {air_c:g} C"] if air_c is not None else []
    if preheat_c is not None:
        said.append(f"the board preheated to {preheat_c:g} C")
    over = heat.top_c - heat.limit_c
    but = f", but its top comes {over:.0f} K over its limit" if over > 0 else ""
    return Remedy(
        text=" and ".join(said) + but,
        margin_k=heat.margin_k,
        wet_s=heat.molten_s,
        preheat_c=preheat_c,
    )
