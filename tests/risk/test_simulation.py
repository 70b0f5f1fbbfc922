"""The tables of a job against walking through every fault of many boards, die by die."""

from __future__ import annotations

import numpy as np
import pytest

from solderrisk.model.kit import Kit, Placement
from solderrisk.risk.conditions import Conditions, Eyes
from solderrisk.risk.detection import found_by_eye, found_in_the_end
from solderrisk.risk.hands import GRID
from solderrisk.risk.outcomes import fault_table, looks_of
from solderrisk.risk.work import cases_of
from tests.risk.risk_scene import DECENT, REFERENCE, engine, jobs, kit_of, lift_kit

BOARDS = 60_000


def scene_of(kit: Kit, key: str, technique: str) -> Conditions:
    tables = engine().tables
    cases = cases_of(jobs(kit), kit, REFERENCE, {}, {})
    case = next(c for c in cases if c.jobs[0].key == key)
    setup = next(s for s in tables.setups([(case.work, DECENT)])[0] if s.technique.id == technique)
    seen, means = tables.seen(case.work, DECENT, Eyes("novice", 1.0, 250.0))
    return tables.conditions(case.work, setup, means, seen)


def simulated(conditions: Conditions, node: int) -> tuple[float, float]:
    """Share of boards that survive, and share of parts that survive."""
    data, work = conditions.data, conditions.work
    rng = np.random.default_rng(7)
    looks = looks_of(conditions)
    psi = GRID[node]
    fails = min((1 - data["mend_success"]) * psi ** data["mend_skill_power"], data["mend_worst"])
    fatal = data["pad_damage_lifted" if work.lifted else "pad_damage"] * data["pad_damage_fatal"]
    board, part = np.ones(BOARDS, dtype=bool), np.ones(BOARDS, dtype=bool)
    for hazard in fault_table(conditions).hazards:
        mode = hazard.mode
        if mode.severity == "cosmetic":
            continue
        for _ in range(hazard.count):
            fault = rng.random(BOARDS) < 1 - np.exp(-hazard.each[node])
            at_once = rng.random(BOARDS) < mode.part_share
            unseen = rng.random(BOARDS) > found_by_eye(mode, looks, data)
            powered = unseen & (rng.random(BOARDS) < mode.powered_share)
            dead = fault & (at_once | powered)
            # Whether it is found in the end is drawn anew: the model takes it as independent.
            found = rng.random(BOARDS) < found_in_the_end(mode, looks, data)
            open_, torn = fault & ~dead, np.zeros(BOARDS, dtype=bool)
            for _ in range(int(data["mend_tries"])):
                die = rng.random(BOARDS)
                tried = open_ & found & ~torn
                torn |= tried & (die < fatal)
                open_ &= ~(tried & (die >= fatal) & (die < 1 - fails))
            bad = torn | (open_ & ~torn & (rng.random(BOARDS) < mode.harm))
            if work.kind == "lift":
                part &= ~(dead | bad)
            else:
                part &= ~dead
                board &= ~bad
    return float(board.mean()), float(part.mean())


@pytest.mark.parametrize("psi", [1.0, 5.0, 20.0])
@pytest.mark.parametrize(
    ("kit", "key", "technique"),
    [
        (kit_of([Placement(refs="U1", footprint="TSSOP-16", board="b")]), "fit:U1",
         "tack_align_sweep"),
        (kit_of([Placement(refs="U1", footprint="DIP-8", board="b")]), "fit:U1", "barrel_iron"),
        (lift_kit("SOIC-8", condition="corroded"), "lift:U1", "low_melt_lift"),
    ],
    ids=["fine pitch", "holes", "lift"],
)  # fmt: skip
def test_tables_against_dice(kit: Kit, key: str, technique: str, psi: float) -> None:
    conditions = scene_of(kit, key, technique)
    node = int(np.argmin(np.abs(GRID - psi)))
    table = fault_table(conditions)

    board, part = simulated(conditions, node)

    within = 4 * np.sqrt(0.25 / BOARDS)
    assert np.exp(table.log_board[node]) == pytest.approx(board, abs=within)
    assert np.exp(table.log_part[node]) == pytest.approx(part, abs=within)
