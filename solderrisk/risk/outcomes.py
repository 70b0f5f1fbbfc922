"""What a technique does to a piece of work, tabulated over psi: no person in it yet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc

from solderrisk.model.parameters import Parameters
from solderrisk.model.risk_data import FaultMode
from solderrisk.risk.conditions import Conditions, Hazard
from solderrisk.risk.detection import Looks, Mending, found_by_eye, found_in_the_end
from solderrisk.risk.faults import hazards
from solderrisk.risk.hands import GRID
from solderrisk.risk.heat.setup import Setup
from solderrisk.risk.yields import chance_of

Floats = NDArray[np.float64]

_TINY = 1e-12


@dataclass(frozen=True)
class FaultTable:
    """Tables over the grid of psi. ``log_first``: no fault but cosmetic ones; ``log_board``:
    the board survives; ``log_part``: the part survives; ``faults`` and ``squares``: sums of
    fault chances and of their squares; ``minutes``: work and mending; ``redo_minutes``: work
    alone; ``damage``: money lost on things nearby. ``modes`` holds two rows per hazard: the
    chance per opportunity, and of at least one."""

    setup: Setup
    hazards: tuple[Hazard, ...]
    log_first: Floats
    log_board: Floats
    log_part: Floats
    faults: Floats
    squares: Floats
    minutes: Floats
    redo_minutes: Floats
    damage: Floats
    modes: Floats


@dataclass(frozen=True)
class Outcome:
    """A fault table for a part with a price and spares. ``log_work``: it works in the end;
    ``lost_parts``: parts used up beyond the first; ``rows``: first time, works, part or
    board lost, parts lost, minutes, damage, faults."""

    table: FaultTable
    log_work: Floats
    rows: Floats


FIRST, WORK, LOST, PARTS, MINUTES, DAMAGE, FAULTS = range(7)


def fault_table(conditions: Conditions) -> FaultTable:
    """Tabulate every mode of a set-up that is feasible."""
    found = hazards(conditions)
    work, mode_list = conditions.work, [hazard.mode for hazard in found]
    count = np.array([hazard.count for hazard in found], dtype=np.float64)
    each = np.stack([hazard.each for hazard in found])
    p = chance_of(each)
    killed, fails, known = _kept_outcomes(conditions, tuple(mode_list))
    if work.kind == "lift":
        # An unusable part is a lost part; the donor itself has no value left.
        killed, fails = killed + (1 - killed) * fails, np.zeros_like(fails)
    matters = count * [mode.severity != "cosmetic" for mode in mode_list]
    minutes = count * known * [mode.mend_minutes for mode in mode_list]
    melted = count * [mode.id == "scorched" for mode in mode_list]
    mend = conditions.tables.mend_lifted if work.lifted else conditions.tables.mend_new
    plain, tries = _work_minutes(conditions, work.mates), mend.tries
    modes = np.empty((2 * len(found), len(GRID)))
    modes[0::2], modes[1::2] = p, chance_of(count[:, None] * each)
    return FaultTable(
        setup=conditions.setup,
        hazards=found,
        log_first=-(matters @ each),
        log_board=count @ np.log1p(-np.minimum(p * (1 - killed) * fails, 1 - _TINY)),
        log_part=count @ np.log1p(-np.minimum(p * killed, 1 - _TINY)),
        faults=count @ p,
        squares=count @ p**2,
        minutes=plain + (minutes @ p) * tries,
        redo_minutes=_work_minutes(conditions, 1),
        damage=conditions.data["scorched_worth"] * (melted @ p),
        modes=modes,
    )


def looks_of(conditions: Conditions) -> Looks:
    """How faults of this work are looked for on this bench."""
    means, work = conditions.means, conditions.work
    # Under a ball grid nobody sees a joint and no probe reaches one.
    open_to_view = all(group.kind != "ball" for group in work.footprint.pads)
    return Looks(
        eye=means.eye,
        second_person=open_to_view and (work.second_person or means.second_person),
        continuity=open_to_view and work.continuity and means.multimeter,
        gates=conditions.work.gates,
        hunt=_hunt(conditions),
    )


def _hunt(conditions: Conditions) -> float:
    """Share of faults found once the finished board does not work: the more joints, the
    less, and the less the eye sees."""
    data = conditions.data
    missed = 1 - conditions.means.hunt
    crowd = max(conditions.work.suspects / data["hunt_joints"], 1.0) ** data["hunt_power"]
    return float(max(0.0, 1 - missed * crowd) / conditions.means.strain)


def _kept_outcomes(
    conditions: Conditions, modes: tuple[FaultMode, ...]
) -> tuple[Floats, Floats, Floats]:
    kept, looks, lifted = conditions.tables.outcomes, looks_of(conditions), conditions.work.lifted
    key = (looks, lifted, tuple(mode.id for mode in modes))
    if key not in kept:
        mend = conditions.tables.mend_lifted if lifted else conditions.tables.mend_new
        kept[key] = _outcomes(modes, looks, mend, conditions.data)
    return kept[key]


def _outcomes(
    modes: tuple[FaultMode, ...], looks: Looks, mend: Mending, data: Parameters
) -> tuple[Floats, Floats, Floats]:
    """Of one fault of each mode (modes x grid): chance that it kills the part; chance, if
    not, that it is never put right and keeps the board from working; share that is found
    (modes)."""
    unseen = np.array([1 - found_by_eye(mode, looks, data) for mode in modes])
    found = np.array([found_in_the_end(mode, looks, data) for mode in modes])
    harmful = np.array([mode.severity != "cosmetic" for mode in modes])
    harm = np.array([mode.harm for mode in modes]) * harmful
    at_once = np.array([mode.part_share for mode in modes])
    powered = np.array([mode.powered_share for mode in modes])
    killed = (at_once + (1 - at_once) * unseen * powered) * harmful
    rest = 1 - mend.fixed - mend.destroyed
    tried = (found * harmful)[:, None] * mend.destroyed + (found * harm)[:, None] * rest
    fails = tried + ((1 - found) * harm)[:, None]
    return np.broadcast_to(killed[:, None], fails.shape), fails, found


def _work_minutes(conditions: Conditions, mates: int) -> Floats:
    """A set-up that does a whole board is shared among the parts that it does."""
    technique, work = conditions.setup.technique, conditions.work
    joints = sum(work.copies(group.count) for group in work.footprint.pads)
    set_up = technique.set_up_minutes / (mates if technique.shared_set_up else 1)
    plain = set_up + joints * technique.joint_minutes
    return plain * conditions.tables.slowness


def outcome(
    table: FaultTable, irreplaceable: bool, spares: int, alike: int, data: Parameters
) -> Outcome:
    """What becomes of one of ``alike`` equal parts that share ``spares``.

    An irreplaceable part lost beyond the spares ends the kit; others are bought again and
    fitted anew, at the price of the part and a small risk for the board.
    """
    keep = np.exp(table.log_part)
    parts = np.minimum((1 - keep) / np.maximum(keep, _TINY), data["most_parts"])
    if not irreplaceable:
        at_board = table.setup.technique.purpose != "lift"
        log_part = -data["redo_fatal"] * parts * at_board
    elif spares == 0:
        log_part = table.log_part
    else:
        # All of n succeed before spares + 1 losses: negative binomial, an incomplete beta.
        log_part = np.log(np.maximum(betainc(alike, spares + 1, keep), _TINY)) / alike
    log_work = table.log_board + log_part
    works = np.exp(log_work)
    lost = 1 - np.exp(table.log_board) * keep
    rows = np.stack(
        [
            np.exp(table.log_first),
            works,
            lost,
            parts,
            table.minutes + parts * table.redo_minutes,
            table.damage,
            table.faults,
        ]
    )
    return Outcome(table, log_work, rows)
