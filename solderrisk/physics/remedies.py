"""What would heat a joint better: tips, irons, preheat, hotter air."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

from solderrisk.model.bench import Iron, Tip
from solderrisk.model.physics_data import PhysicsData, RemedyData
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.results import AirCase, AirHeat, IronCase, IronHeat, Remedy

MOST = 6  # remedies told


@dataclass(frozen=True)
class _Change:
    effort: float
    width_mm: float | None = None
    power_w: float | None = None
    preheat_c: float | None = None


def remedies(case: IronCase, data: PhysicsData) -> tuple[Remedy, ...]:
    """Changes that make the joint wet beyond doubt, cheapest first; empty where the joint
    wets already or nothing that the trade offers would do.

    Of each kind of change (tip, preheat, power and their combinations) the smallest that
    works is told, and no combination one part of which works alone.
    """
    if iron_heat([case], data)[0].decision == "wets":
        return ()
    changes = sorted(_changes(case, data.remedies), key=lambda change: change.effort)
    heats = iron_heat([_changed(case, change, data.remedies) for change in changes], data)
    found: list[tuple[_Change, IronHeat]] = []
    for change, heat in zip(changes, heats, strict=True):
        if heat.decision == "wets" and not any(_covers(change, kept) for kept, _ in found):
            found.append((change, heat))
    return tuple(_told(case, change, heat, data.remedies) for change, heat in found[:MOST])


def _told(case: IronCase, change: _Change, heat: IronHeat, offered: RemedyData) -> Remedy:
    stronger = change.power_w is not None
    return Remedy(
        margin_k=heat.margin_k,
        wet_s=heat.wet_s,
        tip_width_mm=change.width_mm,
        tip_owned=any(tip.width_mm == change.width_mm for tip in case.iron.tips),
        power_w=change.power_w,
        drive=_changed(case, change, offered).iron.drive if stronger else None,
        preheat_c=change.preheat_c,
    )


def _covers(change: _Change, kept: _Change) -> bool:
    """Whether ``kept`` asks for no other kinds of change than ``change`` does."""
    return all(
        getattr(change, kind) is not None or getattr(kept, kind) is None
        for kind in ("width_mm", "power_w", "preheat_c")
    )


def _changes(case: IronCase, offered: RemedyData) -> Iterator[_Change]:
    """Every combination, with its effort: bigger steps of a kind come after smaller ones."""
    owned_tip, new_tip = offered["effort_owned_tip"], offered["effort_new_tip"]
    iron, preheat_effort = offered["effort_iron"], offered["effort_preheat"]
    warmer_c = case.start_c + offered["preheat_gain_k"]
    owned = sorted(tip.width_mm for tip in case.iron.tips if tip.width_mm > case.tip.width_mm)
    bought = [
        w for w in offered.offers["tip_mm"].values if w > case.tip.width_mm and w not in owned
    ]
    widths = [(w, owned_tip + 0.1 * w) for w in owned] + [(w, new_tip + 0.1 * w) for w in bought]
    powers = [
        (w, iron + w / 100.0) for w in offered.offers["iron_w"].values if w > case.iron.power_w
    ]
    preheats = [
        (c, preheat_effort + c / 100.0) for c in offered.offers["preheat_c"].values if c > warmer_c
    ]
    for width, power, preheat in product((None, *widths), (None, *powers), (None, *preheats)):
        picked = [change for change in (width, power, preheat) if change is not None]
        if picked:
            yield _Change(
                effort=sum(effort for _, effort in picked),
                width_mm=width[0] if width else None,
                power_w=power[0] if power else None,
                preheat_c=preheat[0] if preheat else None,
            )


def _changed(case: IronCase, change: _Change, offered: RemedyData) -> IronCase:
    tip = case.tip
    if change.width_mm is not None:
        owned = next((t for t in case.iron.tips if t.width_mm == change.width_mm), None)
        tip = owned or Tip(width_mm=change.width_mm)
    iron = case.iron if change.power_w is None else _stronger(case.iron, change.power_w, offered)
    start_c = case.start_c if change.preheat_c is None else change.preheat_c
    tip_c = case.tip_c
    if iron.drive != case.iron.drive == "plain":
        # What can be set is set no hotter than the part bears.
        tip_c = min(tip_c, case.joint.footprint.heat.iron_c)
    return replace(case, iron=iron, tip=tip, start_c=start_c, tip_c=tip_c)


def _stronger(iron: Iron, power_w: float, offered: RemedyData) -> Iron:
    """An iron of that power as the trade sells it: regulated, with the heater in the tip
    from about 100 W on."""
    inside = power_w >= offered["cartridge_from_w"] or iron.drive == "cartridge"
    drive = "cartridge" if inside else "station"
    return iron.model_copy(update={"power_w": power_w, "drive": drive})


MOST_AIR = 4  # remedies told

_AirStep = tuple[float | None, float | None]  # air C, preheat C


def air_remedies(case: AirCase, data: PhysicsData) -> tuple[Remedy, ...]:
    """Changes that melt every joint beyond doubt; those that keep the part's top within
    its limit first, smaller steps before bigger ones. Empty where it melts already, or
    nothing tried would do. ``wet_s`` is the time until every joint is liquid.
    """
    if air_heat([case], data)[0].decision == "wets":
        return ()
    steps = list(_air_steps(case, data.remedies))
    heats = air_heat([_air_changed(case, step) for step in steps], data)
    found: list[tuple[_AirStep, AirHeat]] = []
    for step, heat in zip(steps, heats, strict=True):
        if heat.decision == "wets" and not any(_air_covers(step, kept) for kept, _ in found):
            found.append((step, heat))
    found.sort(key=lambda pair: pair[1].top_c > pair[1].limit_c)  # stable: keeps the steps
    return tuple(_air_told(step, heat) for step, heat in found[:MOST_AIR])


def _air_steps(case: AirCase, offered: RemedyData) -> Iterator[_AirStep]:
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


def _air_covers(step: _AirStep, kept: _AirStep) -> bool:
    return all(mine is not None or his is None for mine, his in zip(step, kept, strict=True))


def _air_changed(case: AirCase, step: _AirStep) -> AirCase:
    air_c, preheat_c = step
    return replace(
        case,
        air_c=case.air_c if air_c is None else air_c,
        start_c=case.start_c if preheat_c is None else preheat_c,
    )


def _air_told(step: _AirStep, heat: AirHeat) -> Remedy:
    air_c, preheat_c = step
    return Remedy(
        margin_k=heat.margin_k,
        wet_s=heat.molten_s,
        preheat_c=preheat_c,
        air_c=air_c,
        over_limit_k=max(heat.top_c - heat.limit_c, 0.0),
    )
