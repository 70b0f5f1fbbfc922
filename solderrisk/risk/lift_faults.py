"""Hazards of lifting, of handling used parts, and of plastics near hot air."""

from __future__ import annotations

from collections.abc import Iterable

from solderrisk.risk.conditions import ANY_HAND, Conditions, Raw
from solderrisk.risk.hands import GRID


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


def scorched(scene: Conditions) -> Iterable[Raw]:
    data, heat, near = scene.data, scene.setup.air_heat, scene.work.plastic_mm
    if heat is None or near is None or near >= heat.plastic_radius_mm:
        return
    taped = scene.means.taped
    rate = data["scorched_rate"] * (1 - near / heat.plastic_radius_mm)
    rate *= data["scorched_taped"] if taped else 1.0
    why = f"plastic {near:.0f} mm away, reach {heat.plastic_radius_mm:.0f} mm"
    yield Raw("scorched", 1, rate * ANY_HAND, why + (", taped" if taped else ", no tape"))
