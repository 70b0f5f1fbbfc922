"""Hazards of every fault mode of a piece of work, for hands of any psi, with the reason.

All arrays run over the grid of psi. Formulas: one line each, parameters in ``risk.yaml``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from scipy.special import ndtr

from solderrisk.model.footprint import PadGroup
from solderrisk.risk.heat_choice import crowding
from solderrisk.risk.lift_faults import lift_modes, overheated, scorched
from solderrisk.risk.part_faults import part_modes
from solderrisk.risk.psi import GRID
from solderrisk.risk.scene import ANY_HAND, Hazard, Raw, Scene
from solderrisk.risk.setups import Setup
from solderrisk.risk.why import window_text
from solderrisk.risk.yields import hazard_of

LEADED = ("gull_wing", "j_lead")


def hazards(scene: Scene) -> tuple[Hazard, ...]:
    """All modes with a chance above nothing, each with its opportunities and its reason."""
    if scene.work.kind == "lift":
        parts = [*lift_modes(scene), *overheated(scene), *scorched(scene)]
    else:
        parts = [
            *_joint_modes(scene),
            *part_modes(scene),
            *overheated(scene),
            *scorched(scene),
        ]
    by_mode: dict[str, list[Raw]] = {}
    for part in parts:
        by_mode.setdefault(part.mode, []).append(part)
    return tuple(_merged(scene, mode, raws) for mode, raws in by_mode.items())


def _merged(scene: Scene, mode: str, raws: Sequence[Raw]) -> Hazard:
    technique, worst = scene.setup.technique, raws[0]
    by_hand = _hand_paste(scene, mode)
    factor = technique.factor(mode) * by_hand
    count, each = worst.count, worst.each
    if len(raws) > 1:
        worst = max(raws, key=lambda raw: float(raw.each[-1]) * raw.count)
        count = sum(raw.count for raw in raws)
        each = sum((raw.count * raw.each for raw in raws), np.zeros_like(GRID)) / count
    return Hazard(
        scene.tables.modes[mode],
        count,
        each * factor if factor != 1.0 else each,
        f"{worst.why}, {technique.short}" + (", no stencil" if by_hand != 1.0 else ""),
    )


def _hand_paste(scene: Scene, mode: str) -> float:
    """What laying paste by hand does to a fine part."""
    rule = scene.setup.technique.hand_paste
    if rule is None or scene.means.stencil or not rule.fine(scene.work.footprint):
        return 1.0
    return rule.factors.get(mode, 1.0)


def _joint_modes(scene: Scene) -> Iterable[Raw]:
    data, work, setup = scene.data, scene.work, scene.setup
    held = setup.technique.holds or scene.means.board_holder
    moved = data["disturbed_rate"] * (1.0 if held else data["disturbed_unheld"]) * GRID
    flat = data["coplanarity_lifted_mm" if work.lifted else "coplanarity_new_mm"]
    over = math.exp(min(setup.over_s / data["lifted_pad_over_s"], data["most_excess"]))
    spread = scene.tables.dwell_spread
    for index, group in enumerate(work.footprint.pads):
        count = work.copies(group.count)
        yield from _bridge(scene, group)
        uneven = 1 + flat / data["open_coplanarity_mm"] if group.kind in LEADED else 1.0
        thin = data["open_rate"] * uneven * scene.means.strain * GRID
        yield Raw("open", count, thin, _see(scene))
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
    yield from _not_molten(scene)


def _bridge(scene: Scene, group: PadGroup) -> Iterable[Raw]:
    data, gap = scene.data, group.gap_mm
    count = gaps_of(group)
    if gap is None or count == 0:
        return
    size = max(gap, data["smallest_gap_mm"])
    rate = data["bridge_rate"] * (data["bridge_gap_mm"] / size) ** data["bridge_power"]
    bare = not scene.work.board.solder_mask
    rate *= scene.means.strain * (data["bridge_no_mask"] if bare else 1.0)
    crowded = _crowded(scene, group)
    rate *= crowded ** data["bridge_crowded_power"]
    wide = f", tip {crowded:.1f} times too wide for one land" if crowded > 1 else ""
    why = f"gap {gap:.2f} mm{', no mask' if bare else ''}{wide}{scene.means.short_sighted}"
    yield Raw("bridge", count, rate * GRID, why)


def _crowded(scene: Scene, group: PadGroup) -> float:
    """How much too wide the tip at these joints is to touch one land alone."""
    setup = scene.setup
    settings, rule = setup.settings, setup.technique.tip
    tip_mm = settings.pin_tip_width_mm
    if tip_mm is None:
        tip_mm = settings.tip_width_mm
        if not scene.reference.risk.technique_data.tip_rule(rule).alone:
            return 1.0
    return 1.0 if tip_mm is None else crowding(tip_mm, group)


def gaps_of(group: PadGroup) -> int:
    """Gaps between neighbours in a row."""
    match group.layout:
        case "ends" | "corners" | "centre":
            return 0
        case "dual":
            return max(group.count - 2, 0)
        case "quad":
            return max(group.count - 4, 0)
        case "grid":
            return max(2 * group.count - 2 * math.isqrt(group.count), 0)
        case _:
            return max(group.count - group.rows, 0)


def _not_molten(scene: Scene) -> Iterable[Raw]:
    """Air or plate that may not melt everything: one chance for the whole part."""
    heat = scene.setup.air_heat
    if heat is None or heat.decision != "undecided":
        return
    # The doubt's half-width is taken as the 5 % to 95 % of a normal.
    missed = float(ndtr(-heat.margin_k * 1.645 / max(heat.band_k, 1.0)))
    why = f"{heat.margin_k:+.0f} K margin within a doubt of {heat.band_k:.0f} K"
    yield Raw("cold", 1, hazard_of(missed) * ANY_HAND, why)


def _see(scene: Scene) -> str:
    return f"{scene.detail_mm:.2f} mm to see{scene.means.short_sighted}"


def _over(setup: Setup) -> str:
    return f"{setup.over_s:.1f} s too long" if setup.over_s > 0 else "dwell within the limit"
