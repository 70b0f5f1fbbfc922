"""Hazards of every fault mode of a piece of work, for hands of any psi, with the reason.

All arrays run over the grid of psi. Formulas: one line each, parameters in ``risk.yaml``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from solderrisk.model.acceptance import AcceptanceClass
from solderrisk.model.bench import Bench
from solderrisk.model.fault_data import FaultMode
from solderrisk.model.footprint import PadGroup
from solderrisk.model.outline import extent
from solderrisk.model.reference import Parameters
from solderrisk.model.reference_set import Reference
from solderrisk.physics.alignment import (
    alignment,
    chance_inside,
    chance_two_ends,
    chance_with_tries,
    half_length_mm,
)
from solderrisk.physics.results import Sight
from solderrisk.physics.sight import end_sigma_mm
from solderrisk.risk.human import slip_chance
from solderrisk.risk.psi import GRID
from solderrisk.risk.setups import Setup
from solderrisk.risk.tables import Tables
from solderrisk.risk.work import Work
from solderrisk.risk.yields import hazard_of

Floats = NDArray[np.float64]
HandName = Literal["steady", "braced", "novice", "unbraced"]

LEADED = ("gull_wing", "j_lead")
ANY_HAND: Floats = np.ones_like(GRID)
MOST_OVER = 3.0  # exponent beyond which a lifted pad's hazard is not told apart


@dataclass(frozen=True)
class Hazard:
    """One mode: ``count`` opportunities, hazard of each over the grid, and why."""

    mode: FaultMode
    count: int
    each: Floats
    why: str


@dataclass(frozen=True)
class Scene:
    """Everything hazards depend on."""

    setup: Setup
    work: Work
    bench: Bench
    sight: Sight
    hand: HandName
    reference: Reference
    tables: Tables

    @property
    def data(self) -> Parameters:
        return self.reference.risk.parameters

    @cached_property
    def strain(self) -> float:
        """How much too little magnification multiplies faults; 1 with enough of it."""
        enough = self.data["near_enough_x"] / self.reference.physics.handwork["comfort_factor"]
        return max(1.0, self.sight.needed_x * enough / self.sight.have_x)

    @property
    def power(self) -> float:
        """Share of a good look that the magnification at hand leaves."""
        return float(min(1.0, self.sight.have_x / self.sight.needed_x) ** self.data["look_power"])

    @property
    def eye(self) -> float:
        """That share, less what lies under the body."""
        hidden = any(g.kind in ("no_lead", "ball") for g in self.work.footprint.pads)
        return self.power * (self.data["hidden_seen"] if hidden else 1.0)


@dataclass(frozen=True)
class _Raw:
    """A mode's hazard before the technique's factor: opportunities of one pad group."""

    mode: str
    count: int
    each: Floats
    why: str


def hazards(scene: Scene) -> tuple[Hazard, ...]:
    """All modes with a chance above nothing, each with its opportunities and its reason."""
    if scene.work.kind == "lift":
        parts = [*_lift_modes(scene), *_overheated(scene), *_scorched(scene)]
    else:
        parts = [
            *_joint_modes(scene),
            *_part_modes(scene),
            *_overheated(scene),
            *_scorched(scene),
        ]
    by_mode: dict[str, list[_Raw]] = {}
    for part in parts:
        by_mode.setdefault(part.mode, []).append(part)
    return tuple(_merged(scene, mode, raws) for mode, raws in by_mode.items())


def _merged(scene: Scene, mode: str, raws: Sequence[_Raw]) -> Hazard:
    technique = scene.setup.technique
    factor, worst = technique.factor(mode), raws[0]
    count, each = worst.count, worst.each
    if len(raws) > 1:
        worst = max(raws, key=lambda raw: float(raw.each[-1]) * raw.count)
        count = sum(raw.count for raw in raws)
        each = sum((raw.count * raw.each for raw in raws), np.zeros_like(GRID)) / count
    return Hazard(
        scene.tables.modes[mode],
        count,
        each * factor if factor != 1.0 else each,
        f"{worst.why}, {technique.title}",
    )


def _joint_modes(scene: Scene) -> Iterable[_Raw]:
    data, work, setup = scene.data, scene.work, scene.setup
    held = setup.technique.holds or scene.bench.has("board_holder")
    moved = data["disturbed_rate"] * (1.0 if held else data["disturbed_unheld"]) * GRID
    flat = data["coplanarity_lifted_mm" if work.lifted else "coplanarity_new_mm"]
    over = math.exp(min(setup.over_s / data["lifted_pad_over_s"], MOST_OVER))
    spread = scene.tables.dwell_spread
    for index, group in enumerate(work.footprint.pads):
        count = work.copies(group.count)
        yield from _bridge(scene, group)
        uneven = 1 + flat / data["open_coplanarity_mm"] if group.kind in LEADED else 1.0
        thin = data["open_rate"] * uneven * scene.strain * GRID
        yield _Raw("open", count, thin, _see(scene))
        yield _Raw("disturbed", count, moved, "held still" if held else "held by hand")
        pads = data["lifted_pad_rate"] * over * GRID
        yield _Raw("lifted_pad", count, pads, _over(setup))
        window = setup.windows[index] if setup.windows else None
        if window is None:
            continue
        missed = ndtr(-math.log(window) / 2 / spread)
        yield _Raw("cold", count, hazard_of(missed), _window(window, setup))
        if group.through_board:
            short = (data["short_fill_window"] / window) ** data["short_fill_power"]
            fill = data["short_fill_rate"] * short * GRID
            yield _Raw("short_fill", count, fill, _window(window, setup))
    yield from _not_molten(scene)


def _bridge(scene: Scene, group: PadGroup) -> Iterable[_Raw]:
    data, gap = scene.data, group.gap_mm
    count = gaps_of(group)
    if gap is None or count == 0:
        return
    size = max(gap, data["smallest_gap_mm"])
    rate = data["bridge_rate"] * (data["bridge_gap_mm"] / size) ** data["bridge_power"]
    bare = not scene.work.board.solder_mask
    rate *= scene.strain * (data["bridge_no_mask"] if bare else 1.0)
    why = f"gap {gap:.2f} mm{', no mask' if bare else ''}{_short_sighted(scene)}"
    yield _Raw("bridge", count, rate * GRID, why)


def gaps_of(group: PadGroup) -> int:
    """Gaps between neighbours in a row."""
    match group.layout:
        case "ends" | "corners" | "centre" | "explicit":
            return 0
        case "dual":
            return max(group.count - 2, 0)
        case "quad":
            return max(group.count - 4, 0)
        case "grid":
            return max(2 * group.count - 2 * math.isqrt(group.count), 0)
        case _:
            return max(group.count - group.rows, 0)


def _not_molten(scene: Scene) -> Iterable[_Raw]:
    """Air or plate that may not melt everything: one chance for the whole part."""
    heat = scene.setup.air_heat
    if heat is None or heat.decision != "undecided":
        return
    # The doubt's half-width is taken as the 5 % to 95 % of a normal.
    missed = float(ndtr(-heat.margin_k * 1.645 / max(heat.band_k, 1.0)))
    why = f"{heat.margin_k:+.0f} K margin within a doubt of {heat.band_k:.0f} K"
    yield _Raw("cold", 1, hazard_of(missed) * ANY_HAND, why)


def _part_modes(scene: Scene) -> Iterable[_Raw]:
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
        yield _Raw("orientation", 1, hazard_of(slip), why)
    if technique.heat in ("air", "plate"):
        yield from _reflow_modes(scene)
    if technique.heat != "plate" and work.kind == "fit":
        yield _neighbour(scene)
    if work.lifted:
        yield from _handling(scene)
    yield _residue(scene)


def _reflow_modes(scene: Scene) -> Iterable[_Raw]:
    data, footprint = scene.data, scene.work.footprint
    for group in footprint.pads:
        if group.kind == "chip_end" and group.layout == "ends":
            longest = max(footprint.body.length_mm, footprint.body.width_mm)
            short = (data["tombstone_length_mm"] / longest) ** data["tombstone_power"]
            uneven = 1 + data["tombstone_air_k"] / data["tombstone_end_k"]
            rate = data["tombstone_rate"] * short * uneven
            yield _Raw("tombstone", 1, rate * GRID, f"{longest:.1f} mm long")
        if group.kind == "exposed":
            area = group.land_w_mm * group.land_l_mm * group.count
            rate = data["void_rate"] * math.sqrt(area / data["void_area_mm2"])
            yield _Raw("void", 1, rate * ANY_HAND, f"{area:.0f} mm2 under the body")


def _misaligned(scene: Scene) -> Iterable[_Raw]:
    data, physics = scene.data, scene.reference.physics
    technique, footprint = scene.setup.technique, scene.work.footprint
    found = alignment(footprint, cast(AcceptanceClass, int(data["acceptance_class"])), physics)
    if found is None:
        return
    sigma = end_sigma_mm(scene.hand, scene.sight.have_x, physics)
    tolerance = found.lateral_mm * (data["self_align_widens"] if technique.self_aligns else 1.0)
    lever = half_length_mm(found)
    layouts = {group.layout for group in footprint.pads}
    if "ends" in layouts:
        once = float(chance_two_ends(tolerance, sigma))
    else:
        # Two ends set one by one: their mean shifts the part, their difference turns it.
        turn = sigma / (math.sqrt(2) * max(lever, sigma))
        once = float(
            chance_inside(tolerance, sigma / math.sqrt(2), turn, lever, both_axes="quad" in layouts)
        )
    right = float(chance_with_tries(once, data["tries_seen"] * scene.eye, technique.tries))
    why = f"play {found.lateral_mm:.2f} mm, hand {sigma:.2f} mm, {technique.tries} tries"
    yield _Raw("misaligned", 1, hazard_of(1 - right) * ANY_HAND, why)


def _neighbour(scene: Scene) -> _Raw:
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
    return _Raw("neighbour", 1, rate * GRID, f"next part {room:.1f} mm away{known}")


def _residue(scene: Scene) -> _Raw:
    data, kinds = scene.data, [flux.kind for flux in scene.bench.fluxes]
    if "no_clean" in kinds:
        factor, why = data["residue_no_clean"], "no-clean flux"
    elif scene.bench.has("cleaning_solvent"):
        factor, why = data["residue_washed"], "washed"
    elif set(kinds) & {"water_soluble", "acid"}:
        factor, why = data["residue_unwashed"], "active flux, nothing to wash it off"
    else:
        factor, why = 1.0, "rosin, not washed"
    return _Raw("residue", 1, data["residue_rate"] * factor * ANY_HAND, why)


def _lift_modes(scene: Scene) -> Iterable[_Raw]:
    data, work, setup = scene.data, scene.work, scene.setup
    dirt = data["corroded_factor"] if work.dirty else 1.0
    doubt = 1.0 if setup.decided else data["undecided_factor"]
    joints = work.footprint.joint_count
    old = ", corroded donor" if work.dirty else ""
    doubtful = "" if setup.decided else ", heat undecided"
    dead = data["dead_rate"] * dirt * ANY_HAND
    yield _Raw("dead", 1, dead, f"used before{old}")
    stuck = data["stuck_rate"] * dirt * doubt * GRID
    yield _Raw("stuck_joint", joints, stuck, f"{joints} joints{old}{doubtful}")
    yield from _handling(scene)
    if setup.low_melt is not None:
        rest = data["alloy_residue_rate"] * GRID
        why = f"{setup.low_melt.cleanings} cleanings"
        yield _Raw("alloy_residue", joints, rest, why)


def _handling(scene: Scene) -> Iterable[_Raw]:
    data, work = scene.data, scene.work
    dirt = data["corroded_factor"] if work.dirty else 1.0
    if work.bends:
        yield _Raw("bent_lead", work.bends, data["bent_rate"] * dirt * GRID,
                   f"{work.bends} bends")  # fmt: skip
    thin = [g for g in work.footprint.pads
            if g.lead is not None and g.lead.thickness_mm <= data["fine_lead_mm"]]  # fmt: skip
    factor = scene.setup.technique.factor("fine_lead")
    if thin and factor:
        count = sum(group.count for group in thin)
        size = min(group.lead.thickness_mm for group in thin if group.lead)
        rate = data["fine_lead_rate"] * dirt * factor * scene.strain
        yield _Raw("bent_lead", count, rate * GRID, f"{count} leads {size:.2f} mm thin")


def _overheated(scene: Scene) -> Iterable[_Raw]:
    data, setup, work = scene.data, scene.setup, scene.work
    if setup.air_heat is not None:
        over = setup.air_heat.top_c - setup.air_heat.limit_c
        why = f"top {setup.air_heat.top_c:.0f} of {setup.air_heat.limit_c:.0f} C"
        yield _Raw("overheated", 1, _by_excess(over, data), why)
    elif setup.technique.heat == "plate":
        peak = scene.reference.physics.alloys[work.alloy].liquidus_c + data["plate_over_liquidus_k"]
        why = f"peak {peak:.0f} of {work.footprint.heat.body_c:.0f} C"
        yield _Raw("overheated", 1, _by_excess(peak - work.footprint.heat.body_c, data), why)
    elif setup.low_melt is not None:
        physics = scene.reference.physics.parameters
        warm = setup.low_melt.mix_liquidus_c + physics["flood_over_k"]
        why = f"alloy near {warm:.0f} of {work.footprint.heat.body_c:.0f} C"
        yield _Raw("overheated", 1, _by_excess(warm - work.footprint.heat.body_c, data), why)
    else:
        spread = scene.tables.dwell_spread
        for window, group in zip(setup.windows, work.footprint.pads, strict=True):
            if window is not None:
                over_p = ndtr(-math.log(window) / 2 / spread) * data["overheated_share"]
                yield _Raw("overheated", work.copies(group.count), hazard_of(over_p),
                           _window(window, setup))  # fmt: skip


def _by_excess(over_k: float, data: Parameters) -> Floats:
    rate = data["overheated_air_rate"] * math.exp(min(over_k / data["overheated_air_k"], MOST_OVER))
    return np.asarray(rate * GRID)


def _scorched(scene: Scene) -> Iterable[_Raw]:
    data, heat, near = scene.data, scene.setup.air_heat, scene.work.plastic_mm
    if heat is None or near is None or near >= heat.plastic_radius_mm:
        return
    taped = scene.bench.has("polyimide_tape")
    rate = data["scorched_rate"] * (1 - near / heat.plastic_radius_mm)
    rate *= data["scorched_taped"] if taped else 1.0
    why = f"plastic {near:.0f} mm away, reach {heat.plastic_radius_mm:.0f} mm"
    yield _Raw("scorched", 1, rate * ANY_HAND, why + (", taped" if taped else ", no tape"))


def _see(scene: Scene) -> str:
    return f"{scene.sight.detail_mm:.2f} mm to see{_short_sighted(scene)}"


def _short_sighted(scene: Scene) -> str:
    if scene.strain <= 1.0:
        return ""
    return f", {scene.sight.needed_x:.0f}x wanted, {scene.sight.have_x:.1f}x at hand"


def _over(setup: Setup) -> str:
    return f"{setup.over_s:.1f} s too long" if setup.over_s > 0 else "dwell within the limit"


def _window(window: float, setup: Setup) -> str:
    margin = f", {setup.iron_heat.margin_k:+.0f} K margin" if setup.iron_heat else ""
    return f"longest over needed time {window:.1f}{margin}"
