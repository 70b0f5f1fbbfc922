"""The tables of a job against walking through every fault of many boards, die by die."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import ArrayLike

from solderrisk.model.kit import Kit, Placement
from solderrisk.risk.conditions import Conditions, Eyes
from solderrisk.risk.detection import either, found_by_eye
from solderrisk.risk.outcomes import Hurt, fault_table
from solderrisk.risk.skill import GRID
from solderrisk.risk.work import cases_of, surroundings
from tests.risk.risk_scene import DECENT, REFERENCE, engine, jobs, kit_of, lift_kit

BOARDS = 40_000


def conditions_of(kit: Kit, key: str, technique: str) -> Conditions:
    tables = engine().tables
    around = surroundings(jobs(kit), kit, REFERENCE.risk.parameters)
    cases = cases_of(jobs(kit), around, {}, {})
    case = next(c for c in cases if c.jobs[0].key == key)
    setup = next(s for s in tables.setups([(case.work, DECENT)])[0] if s.technique.id == technique)
    means = tables.means(case.work, DECENT, Eyes("novice", 1.0, 250.0))
    return Conditions(setup, case.work, means, *tables.worlds(20))


def simulated(found: Conditions, hurt: Hurt, world: int, node: int) -> tuple[float, float]:
    """Share of boards that survive, and share of parts that survive, in one world."""
    data, work, looks = found.data, found.work, found.looks
    rng = np.random.default_rng(7)

    def here(value: ArrayLike) -> float:
        return float(np.broadcast_to(value, (data.count + 1, 1))[world, 0])

    psi = GRID[node]
    fails = (1 - here(data["mend_success"])) * psi ** here(data["mend_skill_power"])
    fails = min(fails, here(data["mend_worst"]))
    damage = data["pad_damage_lifted" if work.lifted else "pad_damage"]
    fatal = here(damage) * here(data["pad_damage_fatal"])
    rescues = dict(found.means.rescues)
    board, part = np.ones(BOARDS, dtype=bool), np.ones(BOARDS, dtype=bool)
    for hazard, chances in zip(hurt.hazards, hurt.chances, strict=True):
        mode = hazard.mode
        if mode.severity == "cosmetic":
            continue
        harm, at_once, powered_share = (
            here(data.share(mode.id, name)) for name in ("harm", "part_share", "powered_share")
        )
        by_eye = here(found_by_eye(mode.id, looks, data))
        gated, hunt = here(looks.before_power), here(looks.hunt)
        for _ in range(hazard.count):
            fault = rng.random(BOARDS) < chances[world, node]
            killed = rng.random(BOARDS) < at_once
            unseen = (rng.random(BOARDS) > by_eye) & (rng.random(BOARDS) > gated)
            powered = unseen & (rng.random(BOARDS) < powered_share)
            dead = fault & (killed | powered)
            # Whether it is found in the end is drawn anew: the model takes it as independent.
            seen = rng.random(BOARDS) < float(either(by_eye, hunt, hunt * here(looks.gates)))
            share = rescues.get(mode.id, float(mode.mendable))
            odds = share * here(data["rescue_odds"])
            seen &= rng.random(BOARDS) < odds / (odds + 1 - share)
            open_, torn = fault & ~dead, np.zeros(BOARDS, dtype=bool)
            for _ in range(round(here(data["mend_tries"]))):
                die = rng.random(BOARDS)
                tried = open_ & seen & ~torn
                torn |= tried & (die < fatal)
                open_ &= ~(tried & (die >= fatal) & (die < 1 - fails))
            bad = torn | (open_ & ~torn & (rng.random(BOARDS) < harm))
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
    found = conditions_of(kit, key, technique)
    hurt = Hurt.of(found)
    table = fault_table(found, hurt)
    node = int(np.argmin(np.abs(GRID - psi)))
    for world in (0, 33):
        board, part = simulated(found, hurt, world, node)

        within = 4 * np.sqrt(0.25 / BOARDS)
        assert np.exp(-table.board[world, node]) == pytest.approx(board, abs=within)
        assert np.exp(-table.part[world, node]) == pytest.approx(part, abs=within)
