"""Kits that people reported on (sources stand beside them in the data): how the prediction of
such kits agrees, and what each report changes."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from scipy import stats

from solderrisk.files.reference import load_reference
from solderrisk.model.kit import Placement
from solderrisk.model.question import Reference
from solderrisk.model.risk_data import ReportedKits
from solderrisk.plan.sensitivity import unheard
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.roll_up import by_world, compared, weigh
from solderrisk.risk.skill import skill_tables
from solderrisk.risk.worlds import Worlds
from tests.risk.risk_scene import DECENT, asked, engine, kit_of

REFERENCE = load_reference()
DATA = REFERENCE.risk.reported


def reference(reported: ReportedKits) -> Reference:
    return replace(REFERENCE, risk=replace(REFERENCE.risk, reported=reported))


@lru_cache(maxsize=8)
def weights(left_out: str | None) -> np.ndarray:
    kits = DATA if left_out is None else DATA.but(left_out)
    worlds = Worlds(reference(kits), 20, 200)
    return weigh(worlds, skill_tables(worlds))


def test_weights_are_capped() -> None:
    found = weights(None)
    assert found.mean() == pytest.approx(1)
    assert found.sum() ** 2 / (found**2).sum() / len(found) >= DATA.least_share - 1e-6


def test_no_report_no_weight() -> None:
    worlds = Worlds(reference(DATA.but()), 20, 50)
    assert np.all(weigh(worlds, skill_tables(worlds)) == 1)


# With each one left out the prediction of that very kit moves by no more than its doubt.
@pytest.mark.parametrize("kit", DATA.kits, ids=lambda kit: kit.id)
def test_each_left_out(kit: object) -> None:
    worlds = Worlds(REFERENCE, 20, 200)
    chance = by_world(kit, worlds, skill_tables(worlds))  # type: ignore[arg-type]
    whole = (chance * weights(None)).mean()
    without = (chance * weights(kit.id)).mean()  # type: ignore[attr-defined]
    assert abs(whole - without) < chance.std()


# 90 % ranges of what was reported (Jeffreys) against 5 to 95 % of the worlds: those that miss
# are named here, and stand in the help of the figures as what is known to be wrong.
MISSES = {"guided_at_once", "guided_in_the_end", "champions"}


def test_reports_that_no_world_agrees_with_are_known() -> None:
    worlds = Worlds(REFERENCE, 20, 200)
    by_skill = skill_tables(worlds)
    missed = set()
    for kit in DATA.kits:
        low, high = np.quantile(by_world(kit, worlds, by_skill), (0.05, 0.95))
        law = stats.beta(kit.good + 0.5, kit.of - kit.good + 0.5)
        if law.ppf(0.95) < low or law.ppf(0.05) > high:
            missed.add(kit.id)
    assert missed <= MISSES


def test_reports_pull_towards_what_was_seen() -> None:
    worlds = Worlds(REFERENCE, 20, 200)
    by_skill = skill_tables(worlds)
    worlds.weights = weigh(worlds, by_skill)
    nearer = [abs(c.after - c.seen) < abs(c.before - c.seen) for c in compared(worlds, by_skill)]
    assert sum(nearer) >= 3


def test_a_kit_s_chance_without_reports_against_drawing_anew() -> None:
    """Weighed anew in the same samples, against an engine that never heard of them."""
    kit = kit_of([Placement(refs="U1-U2", footprint="LQFP-48", board="b")])
    told = unheard(asked(kit, DECENT), engine())
    assert told is not None
    assert told.heard == engine().chances(asked(kit, DECENT)).working.mid
    one = max(told.without, key=lambda name: abs(told.without[name] - told.heard))
    for name, found in ((None, told.none), (one, told.without[one])):
        deaf = reference(DATA.but(name))
        anew = RiskEngine(deaf).chances(asked(kit, DECENT).but(reference=deaf)).working.mid
        assert found == pytest.approx(anew, abs=0.01)
    assert abs(told.without[one] - told.heard) > 0.02
