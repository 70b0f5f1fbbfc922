"""The chance and its range against two plain simulations of the documented process.

One builds kits fault by fault: an own person (Beta joints, a lognormal day), every opportunity
a die, looking, power, hunting, mending try by try, spares used up one by one. It takes from the
program what it does not check here: which technique, and the chance of a fault per opportunity.
The other draws every number anew within its stated range and asks the program with all of them
known.
"""

from __future__ import annotations

import math
import zlib

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from solderrisk.model.base import Parameter
from solderrisk.model.bench import Builder, Magnifier
from solderrisk.model.kit import Kit
from solderrisk.risk.conditions import Conditions
from solderrisk.risk.detection import found_by_eye
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.outcomes import Hurt
from solderrisk.risk.skill import GRID
from solderrisk.risk.work import Case
from tests.risk.risk_scene import DECENT, PLAIN_BOARD, REFERENCE, asked

Floats = NDArray[np.float64]

BUILDS = 12_000
BENCH = DECENT.model_copy(
    update={"magnifiers": (Magnifier(name="microscope", power_x=10, distance_mm=100),)}
)
WHO = Builder(name="x", level="several")
KIT = Kit.model_validate(
    {
        "name": "k",
        "boards": (PLAIN_BOARD,),
        "donors": ({"name": "d", "board": PLAIN_BOARD.model_copy(update={"name": "old"})},),
        "placements": (
            {"refs": "R1-R6", "footprint": "R-0805", "board": "b"},
            {"refs": "U1", "footprint": "TSSOP-16", "board": "b"},
            {"refs": "U2", "footprint": "DIP-8", "board": "b", "donor": "d", "value": "old",
             "irreplaceable": True, "spares": 1},
        ),
        "gates": (
            {"ref": "looks", "title": "looks", "kind": "visual", "after": ("all",)},
            {"ref": "works", "title": "works", "after": ("all",)},
        ),
    }
)  # fmt: skip
ASKED = asked(KIT, BENCH, WHO)


class Dice:
    """Builds of the kit, one world and one person each."""

    def __init__(self) -> None:
        self.rng = np.random.default_rng(3)
        self.engine = RiskEngine(REFERENCE)
        self.worlds, self.by_skill = self.engine.tables.worlds(20)
        weights = self.worlds.weights / self.worlds.weights.sum()
        self.world = 1 + self.rng.choice(self.worlds.count, BUILDS, p=weights)
        self.day = self.rng.standard_normal(BUILDS)
        self.common = self.rng.standard_normal(BUILDS)
        self.skills: dict[str, Floats] = {}

    def here(self, value: ArrayLike) -> Floats:
        """A figure in the world of each build."""
        rows = np.broadcast_to(np.asarray(value), (self.worlds.count + 1, 1))
        return np.asarray(rows[self.world, 0])

    def psi(self, skill: str) -> Floats:
        """The hand of each build: faults per ordinary joint from a Beta, and the day."""
        if skill not in self.skills:
            data = REFERENCE.risk
            together = data.parameters["skills_together"]
            score = math.sqrt(together) * self.common
            score += math.sqrt(1 - together) * self.rng.standard_normal(BUILDS)
            level = data.levels.prior(WHO.level)
            faults = stats.beta.ppf(stats.norm.cdf(score), level.faults_a, level.faults_b)
            spread = self.here(self.worlds["day_spread"])
            day = np.exp(spread * self.day - spread**2 / 2)
            per_joint = -np.log1p(-data.parameters["reference_fault_chance"])
            self.skills[skill] = -np.log1p(-faults) / per_joint * day
        return self.skills[skill]

    def at(self, table: Floats, skill: str) -> Floats:
        """A table over worlds and psi at each build, by straight lines in psi."""
        psi = np.clip(self.psi(skill), GRID[0], GRID[-1])
        node = np.clip(np.searchsorted(GRID, psi) - 1, 0, len(GRID) - 2)
        part = (psi - GRID[node]) / (GRID[node + 1] - GRID[node])
        low, high = table[self.world, node], table[self.world, node + 1]
        return np.asarray(low * (1 - part) + high * part)

    def die(self, chance: ArrayLike) -> NDArray[np.bool_]:
        return self.rng.random(BUILDS) < chance


class Attempt:
    """One try at one job in all builds: what became of board and part, and of first power."""

    def __init__(self, dice: Dice, found: Conditions, hurt: Hurt) -> None:
        none = np.zeros(BUILDS, dtype=bool)
        self.board, self.part, self.clean, self.power = ~none, ~none, ~none, ~none
        self.dice, self.found = dice, found
        self.skill = found.setup.technique.skill
        rescues = dict(found.means.rescues)
        for hazard, chances in zip(hurt.hazards, hurt.chances, strict=True):
            if hazard.mode.severity == "cosmetic":
                continue
            p = dice.at(chances, self.skill)
            for _ in range(hazard.count):
                share = rescues.get(hazard.mode.id, float(hazard.mode.mendable))
                odds = share * dice.here(found.data["rescue_odds"])
                mendable = dice.die(odds / (odds + 1 - share))
                self._fault(hazard.mode.id, mendable, dice.die(p))

    def _fault(self, mode: str, mendable: NDArray[np.bool_], happens: NDArray[np.bool_]) -> None:
        dice, data, looks = self.dice, self.found.data, self.found.looks
        harm, at_once, powered = (
            dice.here(data.share(mode, name)) for name in ("harm", "part_share", "powered_share")
        )
        killed = happens & dice.die(at_once)
        eye = dice.here(found_by_eye(mode, looks, data))
        early = dice.die(eye) | dice.die(dice.here(looks.before_power))
        by_power = happens & ~killed & ~early & dice.die(powered)
        open_ = happens & ~killed & ~by_power
        # Looking early and finding in the end are taken as independent of one another.
        hunt = dice.here(looks.hunt)
        seen = dice.die(eye) | dice.die(hunt) | dice.die(hunt * dice.here(looks.gates))
        bad = self._mended(open_, seen & mendable, harm)
        self.clean &= ~happens
        self.power &= ~((killed & ~early) | self._mended(happens & ~killed, early & mendable, harm))
        lift = self.found.work.kind == "lift"
        self.part &= ~(killed | by_power | (bad if lift else False))
        if not lift:
            self.board &= ~bad

    def _mended(
        self, open_: NDArray[np.bool_], seen: NDArray[np.bool_], harm: Floats
    ) -> NDArray[np.bool_]:
        """Which of these faults keep the board from working in the end."""
        dice, data = self.dice, self.found.data
        psi = np.clip(dice.psi(self.skill), GRID[0], GRID[-1])
        fails = (1 - dice.here(data["mend_success"])) * psi ** dice.here(data["mend_skill_power"])
        fails = np.minimum(fails, dice.here(data["mend_worst"]))
        damage = data["pad_damage_lifted" if self.found.work.lifted else "pad_damage"]
        fatal = dice.here(damage) * dice.here(data["pad_damage_fatal"])
        left, torn = open_.copy(), np.zeros(BUILDS, dtype=bool)
        most = np.rint(dice.here(data["mend_tries"]))
        for one in range(int(most.max())):
            die = dice.rng.random(BUILDS)
            tried = left & seen & ~torn & (one < most)
            torn |= tried & (die < fatal)
            left &= ~(tried & (die >= fatal) & (die < 1 - fails))
        return torn | (left & ~torn & dice.die(harm))


def test_chances_against_building_fault_by_fault() -> None:
    dice = Dice()
    engine = dice.engine
    told = engine.assess(ASKED)
    works, clean, power = (np.ones(BUILDS, dtype=bool) for _ in range(3))
    spares = {}
    for case in engine._cases(ASKED):  # the pieces of work, for the hazards behind them
        technique = told.by_key[case.jobs[0].key].chosen.technique
        found = _conditions(dice, case, technique)
        hurt = Hurt.of(found)
        redo = dice.here(found.data["redo_fatal"])
        for _ in case.jobs:
            tried = Attempt(dice, found, hurt)
            works &= tried.board
            clean &= tried.clean
            power &= tried.power
            left = spares.setdefault(case.stock, np.full(BUILDS, case.spares))
            broken = ~tried.part
            while broken.any():
                if case.irreplaceable:
                    works &= ~(broken & (left <= 0))
                    left -= broken
                if found.work.kind != "lift":
                    works &= ~(broken & dice.die(redo))
                broken = broken & ~Attempt(dice, found, hurt).part & works
    for chance, seen in (
        (told.working.mid, works),
        (told.first_time.mid, clean),
        (told.first_power.mid, power),
    ):
        error = math.sqrt(chance * (1 - chance) / BUILDS)
        assert seen.mean() == pytest.approx(chance, abs=4 * error + 0.004)


def _conditions(dice: Dice, case: Case, technique: str) -> Conditions:
    tables = dice.engine.tables
    (row,) = tables.setups([(case.work, BENCH)])
    setup = next(each for each in row if each.technique.id == technique)
    eyes = dice.engine.people.person(WHO, dice.worlds, dice.by_skill).eyes
    return Conditions(setup, case.work, tables.means(case.work, BENCH, eyes), dice.worlds,
                      dice.by_skill)  # fmt: skip


REDRAWS = 30


def redrawn(parameter: Parameter, score: float) -> float:
    """Own reading of the definition: value at 0, low and high at the 5 % and 95 % points; odds
    where all lies between 0 and 1, ratios else."""
    value, low, high = parameter.value, parameter.low, parameter.high
    assert low is not None
    assert high is not None
    end, steps = (high, score / 1.6449) if score > 0 else (low, -score / 1.6449)
    if low > 0 and high < 1:
        odds = math.log(value / (1 - value))
        there = math.log(end / (1 - end))
        moved = odds + steps * (there - odds)
        return 1 / (1 + math.exp(-moved))
    return value * (end / value) ** steps if low > 0 else max(value + steps * (end - value), 0.0)


def test_range_against_drawing_every_number_anew() -> None:
    """Every number that is in doubt is drawn and then known; what is left is the hand."""
    alone = REFERENCE.assuming({"reported_weight": 0.0})
    told = RiskEngine(alone, worlds=200).assess(ASKED.but(reference=alone)).working
    rng = np.random.default_rng(5)
    tables = {**REFERENCE.risk.parameters.parameters,
              **{n: p for n, p in REFERENCE.physics.handwork.parameters.items()
                 if n.startswith("hand_")}}  # fmt: skip
    modes = {n: p for n, p in REFERENCE.rows().items() if n.startswith("faults.")
             and not n.endswith("minutes") and 0 < p.value < 1}  # fmt: skip
    levels = {n: p for n, p in REFERENCE.rows().items()
              if n.endswith((".dwell_spread", ".inexperience")) and p.value > 0}  # fmt: skip
    samples = []
    strata = {}
    for turn in range(REDRAWS):

        def score(cause: str, turn: int = turn) -> float:
            if cause not in strata:
                own = np.random.default_rng(zlib.crc32(cause.encode()))
                strata[cause] = stats.norm.ppf((own.permutation(REDRAWS) + 0.5) / REDRAWS)
            return float(strata[cause][turn])

        known = {"reported_weight": 0.0, "levels_doubt": 1.0}
        for name, parameter in {**tables, **modes}.items():
            if parameter.doubted:
                against = bool(parameter.moves_against)
                cause = parameter.moves_against or parameter.moves_with or name
                known[name] = redrawn(parameter, -score(cause) if against else score(cause))
        doubt = REFERENCE.risk.parameters["levels_doubt"]
        for name, parameter in levels.items():
            factor = doubt ** (score(name.rsplit(".", 1)[1]) / 1.6449)
            odds = parameter.value * factor
            known[name] = min(odds / (odds + 1 - parameter.value), 1.0)
        moved = REFERENCE.assuming(known)
        question = ASKED.but(reference=moved, samples=400, seed=int(rng.integers(1000)))
        samples.append(RiskEngine(moved, worlds=1).chances(question).samples)
    drawn = np.concatenate(samples)
    assert told.mid == pytest.approx(drawn.mean(), abs=0.03)
    assert told.low == pytest.approx(np.quantile(drawn, 0.05), abs=0.12)
    assert told.high == pytest.approx(np.quantile(drawn, 0.95), abs=0.01)
