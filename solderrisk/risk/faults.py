"""Hazards of every fault mode of a piece of work, for hands of any psi, with the reason.

All arrays run over the grid of psi. Formulas: one line each, parameters in ``risk.yaml``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
from scipy.special import ndtr

from solderrisk.model.footprint import PadGroup
from solderrisk.model.outline import land_gaps
from solderrisk.risk.conditions import ANY_HAND, Conditions, Hazard, Raw
from solderrisk.risk.hands import GRID
from solderrisk.risk.heat.choice import crowding
from solderrisk.risk.heat.setup import Setup
from solderrisk.risk.heat.sources import SOURCES
from solderrisk.risk.lift_faults import lift_modes, scorched
from solderrisk.risk.part_faults import part_modes
from solderrisk.risk.why import window_text
from solderrisk.risk.yields import hazard_of

LEADED = ("gull_wing", "j_lead")


def hazards(conditions: Conditions) -> tuple[Hazard, ...]:
    """All modes with a chance above nothing, each with its opportunities and its reason."""
    too_hot = SOURCES[conditions.setup.technique.heat].overheats
    own = (lift_modes,) if conditions.work.kind == "lift" else (_joint_modes, part_modes)
    parts = [raw for modes in (*own, too_hot, scorched) for raw in modes(conditions)]
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
        worst = max(raws, key=lambda raw: float(raw.each[-1]) * raw.count)
        count = sum(raw.count for raw in raws)
        each = sum((raw.count * raw.each for raw in raws), np.zeros_like(GRID)) / count
    return Hazard(
        conditions.tables.modes[mode],
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


def _joint_modes(conditions: Conditions) -> Iterable[Raw]:
    data, work, setup = conditions.data, conditions.work, conditions.setup
    held = setup.technique.holds or conditions.means.board_holder
    moved = data["disturbed_rate"] * (1.0 if held else data["disturbed_unheld"]) * GRID
    flat = data["coplanarity_lifted_mm" if work.lifted else "coplanarity_new_mm"]
    over = math.exp(min(setup.over_s / data["lifted_pad_over_s"], data["most_excess"]))
    spread = conditions.tables.dwell_spread
    for index, group in enumerate(work.footprint.pads):
        count = work.copies(group.count)
        yield from _bridge(conditions, index, group)
        uneven = 1 + flat / data["open_coplanarity_mm"] if group.kind in LEADED else 1.0
        thin = data["open_rate"] * uneven * conditions.means.strain * GRID
        yield Raw("open", count, thin, _see(conditions))
        yield Raw("disturbed", count, moved, "held still" if held else "held by hand")
        pads = data["lifted_pad_rate"] * over * GRID
        yield Raw("lifted_pad", count, pads, _over(setup))
        window = setup.windows[index] if setup.windows else None
        if window is None:
            continue
        missed = ndtr(-math.log(window) / 2 / spread)
        yield Raw("cold", count, hazard_of(missed), window_text(window, setup))
        if group.through_board:
            short = (data["short_fill_window"] / window) ** data["short_fill_power"]
            fill = data["short_fill_rate"] * short * GRID
            yield Raw("short_fill", count, fill, window_text(window, setup))
    yield from _not_molten(conditions)


def _bridge(conditions: Conditions, index: int, group: PadGroup) -> Iterable[Raw]:
    """Bridges at the gaps of one pad group; where a body lies over the gap there is none."""
    if group.layout == "ends" and not group.through_board:
        return
    data, footprint = conditions.data, conditions.work.footprint
    reach = data["bridge_reach_mm"]
    gaps = Counter(
        round(gap.gap_mm, 2)
        for gap in land_gaps(footprint, conditions.work.joined)
        if gap.group == index and gap.gap_mm <= reach
    )
    if not gaps:
        return
    bare = not conditions.work.board.solder_mask
    strain = conditions.means.strain * (data["bridge_no_mask"] if bare else 1.0)
    crowded = _crowded(conditions, group)
    strain *= crowded ** data["bridge_crowded_power"]
    wide = f", tip {crowded:.1f} times too wide for one land" if crowded > 1 else ""
    rest = f"{', no mask' if bare else ''}{wide}{conditions.means.short_sighted}"
    for gap_mm, count in gaps.items():
        size = max(gap_mm, data["smallest_gap_mm"])
        rate = data["bridge_rate"] * (data["bridge_gap_mm"] / size) ** data["bridge_power"]
        yield Raw("bridge", count, rate * strain * GRID, f"gap {gap_mm:.2f} mm{rest}")


def _crowded(conditions: Conditions, group: PadGroup) -> float:
    """How much too wide the tip at these joints is to touch one land alone."""
    joints = conditions.setup.joints
    tips = (each.case.tip.width_mm for each in joints if each.group == group.name and each.alone)
    return max((crowding(width_mm, group) for width_mm in tips), default=1.0)


def _not_molten(conditions: Conditions) -> Iterable[Raw]:
    """Air or plate that may not melt everything: one chance for the whole part."""
    heat = conditions.setup.air_heat
    if heat is None or heat.decision != "undecided":
        return
    # The doubt's half-width is taken as the 5 % to 95 % of a normal.
    missed = float(ndtr(-heat.margin_k * 1.645 / max(heat.band_k, 1.0)))
    why = f"{heat.margin_k:+.0f} K margin within a doubt of {heat.band_k:.0f} K"
    yield Raw("cold", 1, hazard_of(missed) * ANY_HAND, why)


def _see(conditions: Conditions) -> str:
    return f"{conditions.detail_mm:.2f} mm to see{conditions.means.short_sighted}"


def _over(setup: Setup) -> str:
    return f"{setup.over_s:.1f} s too long" if setup.over_s > 0 else "dwell within the limit"
