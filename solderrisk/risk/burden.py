"""What a technique does to a piece of work, tabulated over psi: no person in it yet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc

from solderrisk.model.fault_data import FaultMode
from solderrisk.model.reference import Parameters
from solderrisk.model.risk_data import RiskData
from solderrisk.physics.results import Sight
from solderrisk.risk.detection import (
    Looks,
    Mending,
    found_by_eye,
    found_in_the_end,
    mending_by_skill,
)
from solderrisk.risk.faults import Hazard, Scene, hazards
from solderrisk.risk.human import psi_of
from solderrisk.risk.psi import GRID
from solderrisk.risk.setups import Setup
from solderrisk.risk.yields import chance_of

Floats = NDArray[np.float64]

_TINY = 1e-12


@dataclass(frozen=True)
class Burden:
    """Tables over the grid of psi. ``log_first``: no fault but cosmetic ones; ``log_board``:
    the board survives; ``log_part``: the part survives; ``faults`` and ``squares``: sums of
    fault chances and of their squares; ``minutes``: work and mending; ``redo_minutes``: work
    alone; ``damage``: money lost on things nearby. ``modes`` holds two rows per hazard: the
    chance per opportunity, and of at least one."""

    setup: Setup
    sight: Sight
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
class Fate:
    """A burden for a part with a price and spares. ``log_work``: it works in the end;
    ``lost_parts``: parts used up beyond the first; ``rows``: first time, works, part or
    board lost, parts lost, minutes, damage, faults."""

    burden: Burden
    log_work: Floats
    rows: Floats


FIRST, WORK, LOST, PARTS, MINUTES, DAMAGE, FAULTS = range(7)


def burden(scene: Scene) -> Burden:
    """Tabulate every mode of a set-up that is feasible."""
    data, risk, work = scene.data, scene.reference.risk, scene.work
    found = hazards(scene)
    looks = looks_of(scene)
    mend = mending_by_skill(np.maximum(GRID, _TINY), work.lifted, data)
    log_first, log_board, log_part = (np.zeros_like(GRID) for _ in range(3))
    faults, squares, mend_minutes = (np.zeros_like(GRID) for _ in range(3))
    damage, modes = np.zeros_like(GRID), []
    for hazard in found:
        n, p = hazard.count, chance_of(hazard.each)
        killed, fails = _outcome(hazard.mode, looks, mend, data)
        if work.kind == "lift":
            # An unusable part is a lost part; the donor itself has no value left.
            killed, fails = killed + (1 - killed) * fails, np.zeros_like(GRID)
        log_board += n * np.log1p(-np.minimum(p * (1 - killed) * fails, 1 - _TINY))
        log_part += n * np.log1p(-np.minimum(p * killed, 1 - _TINY))
        if hazard.mode.severity != "cosmetic":
            log_first -= n * hazard.each
        faults += n * p
        squares += n * p**2
        known = found_in_the_end(hazard.mode, looks, data)
        mend_minutes += n * p * known * mend.tries * hazard.mode.mend_minutes
        if hazard.mode.id == "scorched":
            damage += data["scorched_worth"] * n * p
        modes += [p, chance_of(n * hazard.each)]
    plain = _work_minutes(scene, risk)
    return Burden(
        scene.setup,
        scene.sight,
        found,
        log_first,
        log_board,
        log_part,
        faults,
        squares,
        plain + mend_minutes,
        plain,
        damage,
        np.array(modes).reshape(-1, len(GRID)),
    )


def looks_of(scene: Scene) -> Looks:
    """How faults of this work are looked for on this bench."""
    data, bench = scene.data, scene.bench
    return Looks(
        eye=scene.eye,
        second_person=scene.work.second_person or bench.has("second_person"),
        continuity=scene.work.continuity and bench.has("multimeter"),
        gates=scene.work.gates,
        hunt=_hunt(scene),
    )


def _hunt(scene: Scene) -> float:
    """Share of faults found once the finished board does not work: the more joints, the
    less, and the less the eye sees."""
    data = scene.data
    missed = 1 - data["hunt_meter" if scene.bench.has("multimeter") else "hunt_bare"]
    crowd = max(scene.work.suspects / data["hunt_joints"], 1.0) ** data["hunt_power"]
    return max(0.0, 1 - missed * crowd) / scene.strain


def _outcome(
    mode: FaultMode, looks: Looks, mend: Mending, data: Parameters
) -> tuple[Floats, Floats]:
    """Of one fault: chance that it kills the part; chance, if not, that it is never put
    right and keeps the board from working."""
    if mode.severity == "cosmetic":
        return np.zeros_like(GRID), np.zeros_like(GRID)
    unseen = 1 - found_by_eye(mode, looks, data)
    killed = mode.part_share + (1 - mode.part_share) * unseen * mode.powered_share
    found = found_in_the_end(mode, looks, data)
    rest = 1 - mend.fixed - mend.destroyed
    fails = found * (mend.destroyed + rest * mode.harm) + (1 - found) * mode.harm
    return np.full_like(GRID, killed), fails


def _work_minutes(scene: Scene, risk: RiskData) -> Floats:
    technique, work = scene.setup.technique, scene.work
    joints = sum(work.copies(group.count) for group in work.footprint.pads)
    means = [prior.faults_mean for prior in risk.levels.levels]
    slow = np.clip(GRID, psi_of(min(means), risk), psi_of(max(means), risk))
    plain = technique.set_up_minutes + joints * technique.joint_minutes
    return np.asarray(plain * slow ** risk.parameters["slower_power"])


def fate(burden: Burden, irreplaceable: bool, spares: int, alike: int, data: Parameters) -> Fate:
    """What becomes of one of ``alike`` equal parts that share ``spares``.

    An irreplaceable part lost beyond the spares ends the kit; others are bought again and
    fitted anew, at the price of the part and a small risk for the board.
    """
    keep = np.exp(burden.log_part)
    parts = np.minimum((1 - keep) / np.maximum(keep, 0.05), 1.0 / 0.05)
    if not irreplaceable:
        log_part = -data["redo_fatal"] * parts
    elif spares == 0:
        log_part = burden.log_part
    else:
        # All of n succeed before spares + 1 losses: negative binomial, an incomplete beta.
        log_part = np.log(np.maximum(betainc(alike, spares + 1, keep), _TINY)) / alike
    log_work = burden.log_board + log_part
    works = np.exp(log_work)
    lost = 1 - np.exp(burden.log_board) * keep
    rows = np.stack(
        [
            np.exp(burden.log_first),
            works,
            lost,
            parts,
            burden.minutes + parts * burden.redo_minutes,
            burden.damage,
            burden.faults,
        ]
    )
    return Fate(burden, log_work, rows)
