"""Hazards of a part as a whole: its place, its direction, what air and neighbours do."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache
from typing import cast

from solderrisk.model.outline import extent
from solderrisk.model.physics_data import AcceptanceClass
from solderrisk.physics.alignment import (
    alignment,
    chance_inside,
    chance_two_ends,
    chance_with_tries,
    half_length_mm,
)
from solderrisk.risk.conditions import ANY_HAND, Conditions, Raw
from solderrisk.risk.hands import GRID, slip_chance
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.lift_faults import handling
from solderrisk.risk.yields import hazard_of


def part_modes(scene: Conditions) -> Iterable[Raw]:
    data, work, technique = scene.data, scene.work, scene.setup.technique
    footprint = work.footprint
    if work.kind == "fit":
        yield from _misaligned(scene)
    if work.polarised:
        marked = bool(footprint.mark)
        task = data["orientation_marked" if marked else "orientation_unmarked"]
        novice = (data["inexperience_effect"], scene.tables.inexperience)
        slip = slip_chance(task, [novice])
        why = f"mark: {footprint.mark}" if marked else "no mark on the part"
        yield Raw("orientation", 1, hazard_of(slip), why)
    warms = SOURCES[technique.heat].warms
    if warms != "joint":
        yield from _reflow_modes(scene)
    if warms != "board" and work.kind == "fit":
        yield _neighbour(scene)
    if work.lifted:
        yield from handling(scene)
    yield _residue(scene)


def _reflow_modes(scene: Conditions) -> Iterable[Raw]:
    data, footprint = scene.data, scene.work.footprint
    for group in footprint.pads:
        if group.kind == "chip_end" and group.layout == "ends":
            longest = max(footprint.body.length_mm, footprint.body.width_mm)
            short = (data["tombstone_length_mm"] / longest) ** data["tombstone_power"]
            uneven = 1 + data["tombstone_air_k"] / data["tombstone_end_k"]
            rate = data["tombstone_rate"] * short * uneven
            yield Raw("tombstone", 1, rate * GRID, f"{longest:.1f} mm long")
        if group.kind == "exposed":
            area = group.land_w_mm * group.land_l_mm * group.count
            rate = data["void_rate"] * math.sqrt(area / data["void_area_mm2"])
            yield Raw("void", 1, rate * ANY_HAND, f"{area:.0f} mm2 under the body")


def _misaligned(scene: Conditions) -> Iterable[Raw]:
    data, physics = scene.data, scene.reference.physics
    technique, footprint = scene.setup.technique, scene.work.footprint
    found = alignment(footprint, cast(AcceptanceClass, int(data["acceptance_class"])), physics)
    if found is None:
        return
    sigma = scene.means.sigma_mm
    tolerance = found.lateral_mm * (data["self_align_widens"] if technique.self_aligns else 1.0)
    layouts = {group.layout for group in footprint.pads}
    if "ends" in layouts:
        once = float(chance_two_ends(tolerance, sigma))
    else:
        once = _once(tolerance, sigma, half_length_mm(found), "quad" in layouts)
    right = float(chance_with_tries(once, data["tries_seen"] * scene.means.eye, technique.tries))
    why = f"play {found.lateral_mm:.2f} mm, hand {sigma:.2f} mm, {technique.tries} tries"
    yield Raw("misaligned", 1, hazard_of(1 - right) * ANY_HAND, why)


@lru_cache(maxsize=4096)
def _once(tolerance_mm: float, sigma_mm: float, lever_mm: float, four_sided: bool) -> float:
    """Chance of a part lying right at one try. Two ends are set one by one: their mean
    shifts it, their difference turns it."""
    shift = sigma_mm / math.sqrt(2)
    turn = shift / max(lever_mm, sigma_mm)
    return float(chance_inside(tolerance_mm, shift, turn, lever_mm, both_axes=four_sided))


def _neighbour(scene: Conditions) -> Raw:
    data, work, heat = scene.data, scene.work, scene.setup.air_heat
    room = data["neighbour_unknown_mm"] if work.neighbour_mm is None else work.neighbour_mm
    near = math.exp(-(room - data["neighbour_from_mm"]) / data["neighbour_fall_mm"])
    if heat is None:
        ratio, air = data["neighbour_iron_ratio"], 1.0
    else:
        reach = room + max(extent(work.footprint)) / 2
        ratio, air = min(1.0, heat.reflow_radius_mm / reach), data["neighbour_air"]
    rate = data["neighbour_rate"] * near * ratio ** data["neighbour_power"] * air
    known = "" if work.neighbour_mm is not None else " (assumed)"
    return Raw("neighbour", 1, rate * GRID, f"next part {room:.1f} mm away{known}")


def _residue(scene: Conditions) -> Raw:
    rate = scene.data["residue_rate"] * scene.means.residue
    return Raw("residue", 1, rate * ANY_HAND, scene.means.residue_why)
