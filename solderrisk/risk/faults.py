"""Hazards of every fault mode of a piece of work, for hands of any psi, with the reason.

All arrays run over worlds and the grid of psi. Formulas: one line each, parameters in
``risk.yaml``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from solderrisk.model.footprint import PadGroup
from solderrisk.model.lands import land_gaps
from solderrisk.model.outline import extent
from solderrisk.model.physics_data import AcceptanceClass
from solderrisk.physics.acceptance import (
    alignment,
    chance_inside,
    chance_two_ends,
    chance_with_tries,
    half_length_mm,
)
from solderrisk.physics.part_limits import Surfaces, mask_between, shock_limit, surfaces
from solderrisk.risk.conditions import RESIDUE_WORDS, Conditions, Hazard, Raw
from solderrisk.risk.heat.choice import crowding
from solderrisk.risk.heat.source import (
    Cause,
    dwell_s,
    margin_text,
    mixed,
    short_of_heat,
    tied_number,
    tied_of,
    tied_share,
    window_of,
    window_text,
)
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.results import JointHeat
from solderrisk.risk.skill import hazard_of, slip_chance
from solderrisk.words import tied_words

Floats = NDArray[np.float64]

LEADED = ("gull_wing", "j_lead")


def hazards(conditions: Conditions) -> tuple[Hazard, ...]:
    """All modes with a chance above nothing, each with its opportunities and its reason."""
    too_hot = SOURCES[conditions.setup.technique.heat].overheats
    own = (lift_modes,) if conditions.work.kind == "lift" else (joint_modes, part_modes)
    parts = [raw for modes in (*own, unmelted, too_hot, scorched) for raw in modes(conditions)]
    by_mode: dict[str, list[Raw]] = {}
    for part in parts:
        by_mode.setdefault(part.mode, []).append(part)
    return tuple(_merged(conditions, mode, raws) for mode, raws in by_mode.items())


def _merged(conditions: Conditions, mode: str, raws: Sequence[Raw]) -> Hazard:
    technique, worst = conditions.setup.technique, raws[0]
    by_hand = _hand_paste(conditions, mode)
    factor = technique.factor(mode) * by_hand
    count, each = worst.count, worst.each
    if len(raws) > 1:
        worst = max(raws, key=lambda raw: float(raw.each[0, -1]) * raw.count)
        count = sum(raw.count for raw in raws)
        each = np.asarray(sum(raw.count * raw.each for raw in raws)) / count
    return Hazard(
        conditions.modes[mode],
        count,
        each * factor if factor != 1.0 else each,
        f"{worst.why}, {technique.short}" + (", no stencil" if by_hand != 1.0 else ""),
    )


def _hand_paste(conditions: Conditions, mode: str) -> float:
    """What laying paste by hand does to a fine part."""
    rule = conditions.setup.technique.hand_paste
    if rule is None or conditions.means.stencil or not rule.fine(conditions.work.footprint):
        return 1.0
    return rule.factors.get(mode, 1.0)


# Joints


def joint_modes(conditions: Conditions) -> Iterable[Raw]:
    data, work, setup = conditions.data, conditions.work, conditions.setup
    held = setup.technique.holds or conditions.means.board_holder
    moved = data["disturbed_rate"] * (1.0 if held else data["disturbed_unheld"]) * data.grid
    flat = data["coplanarity_lifted_mm" if work.lifted else "coplanarity_new_mm"]
    sight = f"{conditions.detail_mm:.2f} mm to see{conditions.short_sighted}"
    tips = {joint.group: joint for joint in setup.joints}
    taken = _surfaces(conditions)
    for index, group in enumerate(work.footprint.pads):
        count = work.copies(group.count)
        yield from _bridge(conditions, index, group)
        uneven = 1 + flat / data["open_coplanarity_mm"] if group.kind in LEADED else 1.0
        thin = data["open_rate"] * taken.wetting * uneven * conditions.strain * data.grid
        yield Raw("open", count, thin, sight + _taken(taken))
        yield Raw("disturbed", count, moved, "held still" if held else "held by hand")
        if group.name in tips:
            yield from _timed(conditions, group, count, tips[group.name], taken)
        else:
            pads = data["lifted_pad_rate"] * taken.lands * data.grid
            yield Raw("lifted_pad", count, pads, "land heated once")
    yield from _left_open(conditions)


def _left_open(conditions: Conditions) -> Iterable[Raw]:
    """Joints that the technique does not make, and that some parts need."""
    technique = conditions.setup.technique
    if technique.leaves_open is None:
        return
    if any(not technique.makes(group) for group in conditions.work.footprint.pads):
        missed = hazard_of(technique.leaves_open.needed_share)
        yield Raw("pad_open", 1, missed, "some parts need it for ground or heat")


def _surfaces(conditions: Conditions) -> Surfaces:
    work = conditions.work
    return surfaces(work.footprint, work.board, work.glued, conditions.reference.physics)


def _taken(found: Surfaces) -> str:
    """What makes solder take badly, for the reason of a hazard."""
    return f", {found.coated} coating" if found.coated else ""


def _timed(
    conditions: Conditions, group: PadGroup, count: int, joint: JointHeat, taken: Surfaces
) -> Iterable[Raw]:
    """What comes of a tip that stays too short or too long."""
    data, spread = conditions.data, conditions.tables.dwell_spread

    def over_s(joint: JointHeat) -> Floats:
        return np.maximum(0.0, dwell_s(joint, data) - joint.heat.safe_s)

    def lifted(joint: JointHeat) -> Floats:
        hurt = np.exp(np.minimum(over_s(joint) / data["lifted_pad_over_s"], data["most_excess"]))
        return data["lifted_pad_rate"] * taken.lands * hurt * data.grid

    def cold(joint: JointHeat) -> Floats:
        return hazard_of(ndtr(-np.log(window_of(joint, data)) / 2 / spread)) * taken.wetting

    def short(joint: JointHeat) -> Floats:
        less = (data["short_fill_window"] / window_of(joint, data)) ** data["short_fill_power"]
        return data["short_fill_rate"] * less * data.grid

    over, told = over_s(joint), window_text(window_of(joint, data), joint.heat)
    why = f"{over[0, 0]:.1f} s too long" if over[0, 0] > 0 else "dwell within the limit"
    tied = _tied_text(conditions, joint)
    yield Raw("lifted_pad", count, mixed(conditions, joint, lifted), why + tied)
    yield Raw("cold", count, mixed(conditions, joint, cold), told + tied + _taken(taken))
    if group.through_board and conditions.work.board.barrels:
        yield Raw("short_fill", count, mixed(conditions, joint, short), told + tied)


def _tied_text(conditions: Conditions, joint: JointHeat) -> str:
    """How many of its pins are taken as tied, where nobody knows."""
    if tied_of(conditions, joint) is None:
        return ""
    share = conditions.reference.risk.parameters.at(tied_number(conditions))
    told = tied_words(joint.joints, *(end * joint.joints for end in share.ends))
    return f", taken as on copper planes: {told}"


def _bridge(conditions: Conditions, index: int, group: PadGroup) -> Iterable[Raw]:
    """Bridges at the gaps of one pad group; where a body lies over the gap there is none."""
    if group.layout == "ends" and not group.through_board:
        return
    data, footprint = conditions.data, conditions.work.footprint
    reach = conditions.reference.risk.parameters["bridge_reach_mm"]
    gaps = Counter(
        round(gap.gap_mm, 2)
        for gap in land_gaps(footprint, conditions.work.joined)
        if gap.group == index and gap.gap_mm <= reach
    )
    if not gaps:
        return
    work, physics = conditions.work, conditions.reference.physics
    crowded = _crowded(conditions, group)
    strain = conditions.strain * crowded ** data["bridge_crowded_power"]
    wide = f", tip {crowded:.1f} times too wide for one land" if crowded > 1 else ""
    for gap_mm, count in gaps.items():
        bare = not mask_between(gap_mm, work.board, work.mask_between, physics)
        rest = f"{', no mask' if bare else ''}{wide}{conditions.short_sighted}"
        size = np.maximum(gap_mm, data["smallest_gap_mm"])
        rate = data["bridge_rate"] * (data["bridge_gap_mm"] / size) ** data["bridge_power"]
        rate = rate * (data["bridge_no_mask"] if bare else 1.0)
        yield Raw("bridge", count, rate * strain * data.grid, f"gap {gap_mm:.2f} mm{rest}")


def _crowded(conditions: Conditions, group: PadGroup) -> float:
    """How much too wide the tip at these joints is to touch one land alone."""
    joints = conditions.setup.joints
    tips = (each.case.tip.width_mm for each in joints if each.group == group.name and each.alone)
    return max((crowding(width_mm, group) for width_mm in tips), default=1.0)


def unmelted(conditions: Conditions) -> Iterable[Raw]:
    """Heat that may not be enough: joints of one kind melt or do not, all of them alike."""
    setup, data = conditions.setup, conditions.data
    for joint in setup.joints:
        heat, tied = joint.heat, tied_of(conditions, joint)
        told = margin_text(heat.margin_k, heat.band_k)
        missed = short_of_heat(heat.margin_k, heat.band_k, "heat.iron", data)
        if tied is not None:
            # One pin on planes is enough; all that are there melt or do not.
            some = 1 - (1 - tied_share(conditions)) ** joint.joints
            cold = short_of_heat(tied.heat.margin_k, tied.heat.band_k, "heat.iron", data)
            missed = missed + some * np.maximum(cold - missed, 0.0)
            told = margin_text(tied.heat.margin_k, tied.heat.band_k) + _tied_text(conditions, joint)
        if min(each.margin_k - each.band_k for each in (heat, (tied or joint).heat)) < 0:
            yield Raw("unmelted", 1, hazard_of(missed), told)
    whole = setup.air_heat or setup.plate_heat
    if whole is not None and whole.margin_k < whole.band_k:
        cause: Cause = "heat.air" if setup.air_heat else "heat.plate"
        missed = short_of_heat(whole.margin_k, whole.band_k, cause, data)
        why = margin_text(whole.margin_k, whole.band_k)
        yield Raw("unmelted", 1, hazard_of(missed), why)


# The part as a whole: its place, its direction, what air and neighbours do


def part_modes(conditions: Conditions) -> Iterable[Raw]:
    work, technique = conditions.work, conditions.setup.technique
    if work.kind == "fit":
        yield from _misaligned(conditions)
    if work.polarised:
        marked = bool(work.footprint.mark)
        why = f"mark: {work.footprint.mark}" if marked else "no mark on the part"
        slip = _slip("orientation_marked" if marked else "orientation_unmarked", conditions)
        yield Raw("orientation", 1, slip, why)
    if work.kind == "fit":
        rate = _slip("wrong_part_rate", conditions)
        yield Raw("wrong_part", 1, rate, "look-alikes, places that look alike")
    warms = SOURCES[technique.heat].warms
    if warms != "joint":
        yield from _reflow_modes(conditions)
    else:
        joints = sum(work.copies(group.count) for group in work.footprint.pads)
        rate = _slip("forgotten_rate", conditions)
        yield Raw("forgotten", joints, rate, f"{joints} joints one by one")
    if warms != "board" and work.kind == "fit":
        yield _neighbour(conditions)
    if work.lifted:
        yield from handling(conditions)
    yield from _cracks(conditions)
    rate = conditions.data["residue_rate"] * conditions.residue
    yield Raw("residue", 1, rate, RESIDUE_WORDS[conditions.means.flux])


def _cracks(conditions: Conditions) -> Iterable[Raw]:
    """A ceramic capacitor under a tip that is much hotter than it is."""
    limit = shock_limit(conditions.work.footprint, conditions.reference.physics)
    cases = [joint.case for joint in conditions.setup.joints]
    if limit is None or not cases:
        return
    data, body = conditions.data, conditions.work.footprint.body
    over = max(limit.over_k(case.tip_c, case.start_c) for case in cases)
    large = body.length_mm * body.width_mm / data["crack_area_mm2"]
    barred = 1.0 if limit.by_iron else data["crack_barred"]
    excess = np.minimum(over / data["crack_k"], data["most_excess"])
    step = max(case.tip_c - case.start_c for case in cases)
    why = f"tip {step:.0f} K above the part, {limit.step_k:.0f} K borne"
    yield Raw("cracked", 1, data["crack_rate"] * large * barred * np.exp(excess), why)


def _slip(task: str, conditions: Conditions) -> Floats:
    data = conditions.data
    novice = (data["inexperience_effect"], conditions.tables.inexperience)
    return hazard_of(slip_chance(data[task], [novice]))


def _reflow_modes(conditions: Conditions) -> Iterable[Raw]:
    data, footprint = conditions.data, conditions.work.footprint
    for group in footprint.pads:
        if group.kind == "chip_end" and group.layout == "ends":
            longest = max(footprint.body.length_mm, footprint.body.width_mm)
            short = (data["tombstone_length_mm"] / longest) ** data["tombstone_power"]
            uneven = 1 + data["tombstone_air_k"] / data["tombstone_end_k"]
            rate = data["tombstone_rate"] * short * uneven
            yield Raw("tombstone", 1, rate * data.grid, f"{longest:.1f} mm long")
        if group.kind == "exposed":
            area = group.land_w_mm * group.land_l_mm * group.count
            rate = data["void_rate"] * np.sqrt(area / data["void_area_mm2"])
            yield Raw("void", 1, rate, f"{area:.0f} mm2 under the body")


def _misaligned(conditions: Conditions) -> Iterable[Raw]:
    data, reference = conditions.data, conditions.reference
    technique, footprint = conditions.setup.technique, conditions.work.footprint
    wanted = cast(AcceptanceClass, int(reference.risk.parameters["acceptance_class"]))
    found = alignment(footprint, wanted, reference.physics)
    if found is None:
        return
    sigma = conditions.sigma_mm
    widens = data["self_align_widens"] if technique.self_aligns else np.ones((1, 1))
    tolerance = found.lateral_mm * widens
    layouts = {group.layout for group in footprint.pads}
    if "ends" in layouts:
        once = chance_two_ends(tolerance, sigma)
    else:
        once = _once(tolerance, sigma, half_length_mm(found), "quad" in layouts)
    right = chance_with_tries(once, data["tries_seen"] * conditions.eye, technique.tries)
    why = f"play {found.lateral_mm:.2f} mm, hand {sigma[0, 0]:.2f} mm, {technique.tries} tries"
    yield Raw("misaligned", 1, hazard_of(1 - right), why)


def _once(tolerance_mm: Floats, sigma_mm: Floats, lever_mm: float, four_sided: bool) -> Floats:
    """Chance of a part lying right at one try. Two ends are set one by one: their mean
    shifts it, their difference turns it."""
    shift = sigma_mm / math.sqrt(2)
    turn = shift / np.maximum(lever_mm, sigma_mm)
    return chance_inside(tolerance_mm, shift, turn, lever_mm, both_axes=four_sided)


def _neighbour(conditions: Conditions) -> Raw:
    data, work, heat = conditions.data, conditions.work, conditions.setup.air_heat
    known = work.neighbour_mm is not None
    room = np.full((1, 1), work.neighbour_mm) if known else data["neighbour_unknown_mm"]
    near = np.exp(-(room - data["neighbour_from_mm"]) / data["neighbour_fall_mm"])
    if heat is None:
        hot = data["neighbour_iron_ratio"] ** data["neighbour_power"]
    else:
        reach = room + max(extent(work.footprint)) / 2
        ratio = np.minimum(1.0, heat.reflow_radius_mm / reach)
        hot = ratio ** data["neighbour_power"] * data["neighbour_air"]
    told = f"next part {room[0, 0]:.1f} mm away{'' if known else ' (assumed)'}"
    return Raw("neighbour", 1, data["neighbour_rate"] * near * hot * data.grid, told)


# Lifting, handling used parts, plastics nearby


def lift_modes(conditions: Conditions) -> Iterable[Raw]:
    data, work, setup = conditions.data, conditions.work, conditions.setup
    dirt = data["corroded_factor"] if work.dirty else 1.0
    joints = work.footprint.joint_count
    old = ", corroded donor" if work.dirty else ""
    yield Raw("dead", 1, data["dead_rate"] * dirt, f"used before{old}")
    stuck = data["stuck_rate"] * dirt * _surfaces(conditions).sticking * data.grid
    glue = ", glued" if work.glued else ""
    yield Raw("stuck_joint", joints, stuck, f"{joints} joints{old}{glue}")
    yield from handling(conditions)
    if setup.low_melt is not None:
        limit = conditions.reference.physics.parameters["residue_limit_percent"]
        left = setup.low_melt.residue_percent
        rest = data["alloy_residue_rate"] * (left / limit) * data.grid
        why = f"{setup.low_melt.cleanings} cleanings leave {left:.2f} %"
        yield Raw("alloy_residue", joints, rest, why)


def handling(conditions: Conditions) -> Iterable[Raw]:
    data, work = conditions.data, conditions.work
    dirt = data["corroded_factor"] if work.dirty else 1.0
    if work.bends:
        rate = data["bent_rate"] * dirt
        yield Raw("bent_lead", work.bends, rate * data.grid, f"{work.bends} bends")
    fine_mm = conditions.reference.risk.parameters["fine_lead_mm"]
    thin = [g for g in work.footprint.pads if g.lead and g.lead.thickness_mm <= fine_mm]
    factor = conditions.setup.technique.factor("fine_lead")
    if thin and factor:
        count = sum(group.count for group in thin)
        size = min(group.lead.thickness_mm for group in thin if group.lead)
        rate = data["fine_lead_rate"] * dirt * factor * conditions.strain
        yield Raw("bent_lead", count, rate * data.grid, f"{count} leads {size:.2f} mm thin")


def scorched(conditions: Conditions) -> Iterable[Raw]:
    data, heat = conditions.data, conditions.setup.air_heat
    near = conditions.work.plastic_mm
    if heat is None or near is None or near >= heat.plastic_radius_mm:
        return
    taped = conditions.means.taped
    rate = data["scorched_rate"] * (1 - near / heat.plastic_radius_mm)
    rate = rate * (data["scorched_taped"] if taped else 1.0)
    why = f"plastic {near:.0f} mm away, reach {heat.plastic_radius_mm:.0f} mm"
    yield Raw("scorched", 1, rate, why + (", taped" if taped else ", no tape"))
