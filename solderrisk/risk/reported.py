"""Kits that people reported on, as evidence on all numbers together: a weight per world."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solderrisk.model.risk_data import ReportedKit, ReportedKits
from solderrisk.risk.conditions import Eyes
from solderrisk.risk.hands import Hand, SkillTables, hand_of
from solderrisk.risk.outcomes import Hurt, fault_table, outcome
from solderrisk.risk.records import stood_up
from solderrisk.risk.skill import prior_of
from solderrisk.risk.worlds import Worlds

Floats = NDArray[np.float64]

SAMPLES = 2_000
STEPS = 30
_LEAST = 1e-9


@dataclass(frozen=True)
class Compared:
    """A reported kit: how often such kits are predicted to come out well, before any report is
    heard and after all of them, against how often they did, and what that counts for."""

    kit: ReportedKit
    before: float
    after: float
    counts: float

    @property
    def seen(self) -> float:
        return self.kit.good / self.kit.of


def weigh(worlds: Worlds, by_skill: SkillTables) -> Floats:
    """Weights of the worlds, of mean 1: by how likely what was reported is in each, and no
    further than to the effect of a share of them."""
    data = worlds.reference.risk.reported
    heard = worlds.reference.risk.parameters["reported_weight"]
    logs = np.zeros(worlds.count)
    for kit in data.kits:
        chance = np.clip(by_world(kit, worlds, by_skill), _LEAST, 1 - _LEAST)
        share = data.weights[kit.quality] * heard
        logs += share * (kit.good * np.log(chance) + (kit.of - kit.good) * np.log1p(-chance))
    return _tempered(logs, data)


def _tempered(logs: Floats, data: ReportedKits) -> Floats:
    low, high = 0.0, 1.0
    for step in range(STEPS):
        power = 1.0 if step == 0 else (low + high) / 2
        weights = np.exp(power * (logs - logs.max()))
        effect = weights.sum() ** 2 / (weights**2).sum() / len(weights)
        if effect < data.least_share:
            high = power
        elif power == 1.0:
            break
        else:
            low = power
    return np.asarray(weights / weights.mean())


def by_world(kit: ReportedKit, worlds: Worlds, by_skill: SkillTables) -> Floats:
    """Chance of a reported kit in every world, of anybody at its level."""
    risk = worlds.reference.risk
    level = risk.levels.prior(kit.level)
    belief = prior_of(level, risk.parameters["guided_factor"] if kit.guided else 1.0)
    hand: Hand = hand_of(belief, 0, SAMPLES, worlds)
    joints = sum(part.joints * part.count for part in kit.parts)
    eyes = Eyes(level.hand, 1.0, 250.0, kit.guided)
    hazard = np.zeros_like(by_skill.dwell_spread)
    for part in kit.parts:
        technique = risk.technique(part.technique)
        found = stood_up(technique, part.pitch_mm, part.joints, worlds, by_skill, by=eyes,
                         polarised=part.polarised, suspects=joints)  # fmt: skip
        table = fault_table(found, Hurt.of(found))
        ends = outcome(table, False, 0, 1, worlds).fails
        hazard += part.count * (table.power if kit.asks == "first_power" else ends)
    by_psi = hand.weights.sum(axis=0)
    return np.asarray(np.exp(-hazard[1:]) @ by_psi)


def compared(worlds: Worlds, by_skill: SkillTables) -> tuple[Compared, ...]:
    data, weights = worlds.reference.risk.reported, worlds.weights
    chances = [(kit, by_world(kit, worlds, by_skill)) for kit in data.kits]
    return tuple(
        Compared(kit, float(chance.mean()), float((chance * weights).mean()),
                 kit.of * data.weights[kit.quality])
        for kit, chance in chances
    )  # fmt: skip
