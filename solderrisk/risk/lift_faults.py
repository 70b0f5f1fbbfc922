"""Hazards of lifting, of handling used parts, and of too much heat."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from scipy.special import ndtr

from solderrisk.model.parameters import Parameters
from solderrisk.risk.conditions import ANY_HAND, Conditions, Floats, Raw
from solderrisk.risk.hands import GRID
from solderrisk.risk.why import window_text
from solderrisk.risk.yields import hazard_of


def lift_modes(scene: Conditions) -> Iterable[Raw]:
    data, work, setup = scene.data, scene.work, scene.setup
    dirt = data["corroded_factor"] if work.dirty else 1.0
    doubt = 1.0 if setup.decided else data["undecided_factor"]
    joints = work.footprint.joint_count
    old = ", corroded donor" if work.dirty else ""
    doubtful = "" if setup.decided else ", heat undecided"
    dead = data["dead_rate"] * dirt * ANY_HAND
    yield Raw("dead", 1, dead, f"used before{old}")
    stuck = data["stuck_rate"] * dirt * doubt * GRID
    yield Raw("stuck_joint", joints, stuck, f"{joints} joints{old}{doubtful}")
    yield from handling(scene)
    if setup.low_melt is not None:
        rest = data["alloy_residue_rate"] * GRID
        why = f"{setup.low_melt.cleanings} cleanings"
        yield Raw("alloy_residue", joints, rest, why)


def handling(scene: Conditions) -> Iterable[Raw]:
    data, work = scene.data, scene.work
    dirt = data["corroded_factor"] if work.dirty else 1.0
    if work.bends:
        yield Raw("bent_lead", work.bends, data["bent_rate"] * dirt * GRID,
                   f"{work.bends} bends")  # fmt: skip
    thin = [g for g in work.footprint.pads
            if g.lead is not None and g.lead.thickness_mm <= data["fine_lead_mm"]]  # fmt: skip
    factor = scene.setup.technique.factor("fine_lead")
    if thin and factor:
        count = sum(group.count for group in thin)
        size = min(group.lead.thickness_mm for group in thin if group.lead)
        rate = data["fine_lead_rate"] * dirt * factor * scene.means.strain
        yield Raw("bent_lead", count, rate * GRID, f"{count} leads {size:.2f} mm thin")


def overheated(scene: Conditions) -> Iterable[Raw]:
    data, setup, work = scene.data, scene.setup, scene.work
    if setup.air_heat is not None:
        over = setup.air_heat.top_c - setup.air_heat.limit_c
        why = f"top {setup.air_heat.top_c:.0f} of {setup.air_heat.limit_c:.0f} C"
        yield Raw("overheated", 1, _by_excess(over, data), why)
    elif setup.technique.heat == "plate":
        peak = scene.reference.physics.alloys[work.alloy].liquidus_c + data["plate_over_liquidus_k"]
        why = f"peak {peak:.0f} of {work.footprint.heat.body_c:.0f} C"
        yield Raw("overheated", 1, _by_excess(peak - work.footprint.heat.body_c, data), why)
    elif setup.low_melt is not None:
        physics = scene.reference.physics.parameters
        warm = setup.low_melt.mix_liquidus_c + physics["flood_over_k"]
        why = f"alloy near {warm:.0f} of {work.footprint.heat.body_c:.0f} C"
        yield Raw("overheated", 1, _by_excess(warm - work.footprint.heat.body_c, data), why)
    else:
        yield from _held_too_long(scene)


def _held_too_long(scene: Conditions) -> Iterable[Raw]:
    """Any joint's tip may stay too long: one hazard for the part."""
    spread, setup = scene.tables.dwell_spread, scene.setup
    total, tightest = np.zeros_like(GRID), None
    for window, group in zip(setup.windows, scene.work.footprint.pads, strict=True):
        if window is None:
            continue
        over = ndtr(-math.log(window) / 2 / spread) * scene.data["overheated_share"]
        total = total + scene.work.copies(group.count) * hazard_of(over)
        tightest = window if tightest is None else min(tightest, window)
    if tightest is not None:
        yield Raw("overheated", 1, total, window_text(tightest, setup))


def _by_excess(over_k: float, data: Parameters) -> Floats:
    excess = min(over_k / data["overheated_air_k"], data["most_excess"])
    return np.asarray(data["overheated_air_rate"] * math.exp(excess) * GRID)


def scorched(scene: Conditions) -> Iterable[Raw]:
    data, heat, near = scene.data, scene.setup.air_heat, scene.work.plastic_mm
    if heat is None or near is None or near >= heat.plastic_radius_mm:
        return
    taped = scene.means.taped
    rate = data["scorched_rate"] * (1 - near / heat.plastic_radius_mm)
    rate *= data["scorched_taped"] if taped else 1.0
    why = f"plastic {near:.0f} mm away, reach {heat.plastic_radius_mm:.0f} mm"
    yield Raw("scorched", 1, rate * ANY_HAND, why + (", taped" if taped else ", no tape"))
