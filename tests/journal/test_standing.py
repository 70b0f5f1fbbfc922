"""The chance from here on: what was seen moves it, in the right way and never to certainty."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from solderrisk.journal.recording import Recorder
from solderrisk.journal.standing import Standing, fates_of, standing
from tests.journal.bench import REFERENCE, assessed, begun


@pytest.fixture
def bench(tmp_path: Path) -> Recorder:
    return begun(tmp_path / "j.sqlite")


def now(bench: Recorder) -> Standing:
    return standing(assessed(), REFERENCE, bench.state)


def test_an_untouched_build_stands_at_its_forecast(bench: Recorder) -> None:
    found, told = now(bench), assessed()
    assert found.chance.mid == pytest.approx(told.risk.working.mid, abs=2e-3)
    assert found.hours.mid == pytest.approx(told.risk.hours.mid, rel=0.05)
    assert found.loss.mid == pytest.approx(told.costs.expected_loss.mid, rel=0.02)
    assert set(found.hazard.values()) == {1.0}


def test_done_alone_changes_the_hours_and_not_the_chance(bench: Recorder) -> None:
    before = now(bench)
    bench.done("U2")
    after = now(bench)
    assert after.chance.mid == pytest.approx(before.chance.mid)
    assert after.hours.mid < before.hours.mid


def test_looking_and_finding_nothing_helps_but_promises_nothing(bench: Recorder) -> None:
    bench.done("U2")
    before = now(bench)
    bench.looked("U2")
    after = now(bench)
    assert after.chance.mid > before.chance.mid
    assert 0 < after.hazard["fit:U2"] < 1


def test_a_passed_gate_conditions_by_what_it_covers_and_never_to_zero(bench: Recorder) -> None:
    bench.done("R1-R12")
    before = now(bench)
    bench.gate("shorts", True)
    after = now(bench)
    assert after.chance.mid > before.chance.mid
    assert 0 < after.hazard["fit:R1"] < 1
    assert after.hazard["fit:U2"] == 1
    bench.done("lift:U1,fit:U1,U2,U3")
    bench.gate("rail", True)
    bench.done("W1")
    bench.gate("runs", True)
    bench.looked("R1-R12,U2,U3,fit:U1,W1")
    last = now(bench)
    assert after.chance.mid < last.chance.mid < 1
    assert last.hours.mid == 0
    assert all(share > 0 for share in last.hazard.values())


def test_a_failed_gate_raises_its_suspects_until_a_fault_explains_it(bench: Recorder) -> None:
    bench.done("R1-R12")
    before = now(bench)
    bench.gate("shorts", False)
    failed = now(bench)
    assert failed.chance.mid < before.chance.mid
    assert {key for key, _ in failed.suspects} == {f"fit:R{n}" for n in range(1, 13)}
    # It failed because at least one of them holds a fault.
    assert sum(chance for _, chance in failed.suspects) >= 1 - 1e-9
    bench.fault("R3", "bridge", "gate")
    assert now(bench).suspects == ()
    bench.mended("R3", "bridge")
    mended = now(bench)
    assert mended.chance.mid > failed.chance.mid


def test_suspects_by_bayes_against_a_simulation(bench: Recorder) -> None:
    bench.done("R1-R12,lift:U1,fit:U1,U2,U3")
    quiet = now(bench)
    assert quiet.suspects == ()
    bench.gate("rail", False)
    told = dict(now(bench).suspects)
    kit, data = assessed(), REFERENCE.risk
    rng = np.random.default_rng(1)
    chances = {}
    for key in told:
        modes = kit.risk.by_key[key].chosen.modes
        shows = sum(
            m.opportunities
            * m.each.mid
            * max(data.faults[m.mode].harm, data.faults[m.mode].part_share)
            for m in modes
            if m.severity != "cosmetic"
        )
        chances[key] = -math.expm1(-shows)
    drawn = rng.random((400_000, len(told))) < np.array(list(chances.values()))
    finds = rng.random(drawn.shape) < data.parameters["gate_rail"]
    failed = (drawn & finds).any(axis=1)
    for place, key in enumerate(told):
        share = drawn[failed, place].mean()
        error = 4 * math.sqrt(share * (1 - share) / failed.sum())
        assert told[key] == pytest.approx(share, abs=error), key


def test_an_open_fault_weighs_more_than_a_mended_one(bench: Recorder) -> None:
    bench.done("U2")
    clean = now(bench)
    bench.fault("U2", "bridge")
    faulty = now(bench)
    bench.mended("U2", "bridge")
    mended = now(bench)
    assert faulty.chance.mid < clean.chance.mid
    assert faulty.hours.mid > clean.hours.mid
    assert mended.chance.mid > faulty.chance.mid


def test_a_lost_part_asks_and_an_irreplaceable_one_ends_the_chance(bench: Recorder) -> None:
    bench.done("U2")
    bench.lost("U2")
    asked = now(bench)
    assert asked.ask == ("fit:U2",)
    assert asked.chance.mid > 0
    bench.lost("U2", then="buy")
    assert now(bench).ask == ()
    bench.done("lift:U1")
    bench.lost("lift:U1")
    assert now(bench).chance.mid == 0
    bench.undo()
    assert now(bench).chance.mid > 0
    bench.lost("U2", then="end")
    assert now(bench).chance.mid == 0


def test_what_a_clean_look_leaves_against_a_simulation(bench: Recorder) -> None:
    """Faults are drawn, looked for, and let run: the hazard left where nothing was found."""
    bench.done("U2")
    bench.looked("U2")
    told = now(bench).hazard["fit:U2"]
    risk = assessed().risk.by_key["fit:U2"]
    fates = fates_of(assessed(), REFERENCE)["fit:U2"]
    rng = np.random.default_rng(7)
    draws = 1_000_000
    found = np.zeros(draws, dtype=bool)
    ends_before = np.zeros(draws, dtype=bool)
    ends_after = np.zeros(draws, dtype=bool)
    for mode in risk.chosen.modes:
        if mode.severity == "cosmetic":
            continue
        fate = fates[mode.mode]
        faults = rng.binomial(mode.opportunities, mode.each.mid, draws)
        seen = rng.binomial(faults, fate.eye)
        found |= seen > 0
        missed = faults - seen
        ends_before |= rng.random(draws) > (1 - fate.seen) ** seen * (1 - fate.unseen) ** missed
        ends_after |= rng.random(draws) > (1 - fate.unseen) ** missed
    before, after = ends_before.mean(), ends_after[~found].mean()
    assert told == pytest.approx(math.log1p(-after) / math.log1p(-before), rel=0.06)


def _bridges(bench: Recorder, ref: str, count: int) -> None:
    """Found by a look, and mended."""
    bench.done(ref)
    bench.looked(ref)
    for _ in range(count):
        bench.fault(ref, "bridge")
        bench.mended(ref, "bridge")


def test_what_was_found_tells_of_what_is_still_to_do(tmp_path: Path) -> None:
    one, other = begun(tmp_path / "clean.sqlite"), begun(tmp_path / "faulty.sqlite")
    _bridges(one, "U2", 0)
    _bridges(other, "U2", 4)
    clean, faulty = now(one), now(other)
    # All four are mended: of U2 itself less is left to go wrong than was to begin with.
    assert faulty.hazard["fit:U2"] < 1
    assert faulty.chance.mid < assessed().risk.working.mid < clean.chance.mid
    assert faulty.chance.low < clean.chance.low


def test_samples_count_by_what_was_seen_against_an_enumeration(bench: Recorder) -> None:
    """Own binomials over every sample: how likely two bridges and nothing else is, found by
    one look, and what the missed ones then do."""
    _bridges(bench, "U2", 2)
    told, risk = now(bench).chance, assessed().risk
    assert risk.drawn is not None
    assert risk.working_samples is not None
    drawn = risk.drawn("fit:U2")
    assert drawn is not None
    fates = fates_of(assessed(), REFERENCE)["fit:U2"]
    weights = np.ones(len(risk.working_samples))
    before, after = np.zeros((2, len(weights)))
    for mode in risk.by_key["fit:U2"].chosen.modes:
        fate, n, p = fates[mode.mode], mode.opportunities, drawn.chances[mode.mode]
        found = 2 if mode.mode == "bridge" else 0
        shown = p * fate.eye
        weights *= math.comb(n, found) * shown**found * (1 - shown) ** (n - found)
        if mode.severity != "cosmetic":
            before += n * p * (fate.eye * fate.seen + (1 - fate.eye) * fate.unseen)
            after += (n - found) * (p - shown) / (1 - shown) * fate.unseen
    works = risk.working_samples * np.exp(drawn.fails * (1 - after / before))
    assert told.mid == pytest.approx(float(np.average(works, weights=weights)), rel=1e-6)
    order = np.argsort(works)
    reached = np.cumsum(weights[order]) / weights.sum()
    assert told.low == pytest.approx(float(works[order][np.searchsorted(reached, 0.05)]), abs=5e-3)


def test_what_is_left_against_faults_drawn_one_by_one(bench: Recorder) -> None:
    """For each sample faults are drawn and looked for many times over; what counts is how
    often it showed what was recorded, and what then was missed."""
    _bridges(bench, "U2", 3)
    told, risk = now(bench).chance, assessed().risk
    assert risk.drawn is not None
    drawn = risk.drawn("fit:U2")
    assert drawn is not None
    fates = fates_of(assessed(), REFERENCE)["fit:U2"]
    rng, shape = np.random.default_rng(3), (300, len(drawn.fails))
    agrees, ends, whole = np.ones(shape, dtype=bool), np.ones(shape), np.ones(shape)
    for mode in risk.by_key["fit:U2"].chosen.modes:
        fate, found = fates[mode.mode], 3 if mode.mode == "bridge" else 0
        faults = rng.binomial(mode.opportunities, drawn.chances[mode.mode], shape)
        seen = rng.binomial(faults, fate.eye)
        agrees &= seen == found
        if mode.severity != "cosmetic":
            ends *= (1 - fate.unseen) ** (faults - seen)
            whole *= (1 - fate.unseen) ** (faults - seen) * (1 - fate.seen) ** seen
    often = agrees.sum(axis=0)
    left = -np.log((ends * agrees).sum(axis=0) / np.maximum(often, 1) + (often == 0))
    scale = left / np.maximum(-np.log(whole.mean(axis=0)), 1e-12)
    works = np.asarray(risk.working_samples) * np.exp(drawn.fails * (1 - scale))
    assert told.mid == pytest.approx(float(np.average(works, weights=often)), abs=0.012)
    assert told.mid < risk.working.mid - 0.05
