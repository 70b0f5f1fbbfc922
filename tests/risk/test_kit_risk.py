"""A kit's risk as a whole: sizes that make sense, pins, blocked jobs, explanations."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from solderrisk.model.bench import Builder, Record
from solderrisk.model.kit import Kit, Placement
from solderrisk.model.question import Run, Stopped
from solderrisk.report.findings import sentences
from solderrisk.report.words import mode_why, why_chosen
from solderrisk.risk.engine import RiskEngine
from solderrisk.session import Session
from tests.risk.risk_scene import (
    BARE,
    DECENT,
    FEW,
    FULL,
    PLAIN_BOARD,
    PLANE_BOARD,
    REFERENCE,
    asked,
    assessed,
    engine,
    job_of,
    jobs,
    kit_of,
    lift_kit,
    without,
)

FIRST_KIT = kit_of(
    [
        Placement(refs="R1-R10", footprint="RESISTOR-AXIAL-0.25W", board="b", price_each=0.05),
        Placement(refs="C1-C6", footprint="CAP-DISC-5", board="b", price_each=0.1),
        Placement(refs="D1-D4", footprint="LED-5MM", board="b", price_each=0.2),
        Placement(refs="Q1,Q2", footprint="TO-92", board="b", price_each=0.2),
        Placement(refs="U1", footprint="DIP-8", board="b", price_each=1.0),
        Placement(refs="J1,J2", footprint="HEADER-1X3-2.54", board="b", price_each=0.3),
    ]
)
HARD_KIT = Kit.model_validate(
    {
        "name": "hard",
        "boards": (PLANE_BOARD,),
        "donors": ({"name": "d", "board": PLANE_BOARD},),
        "placements": (
            {"refs": "U1", "footprint": "LQFP-100", "board": "b", "donor": "d",
             "irreplaceable": True},
            {"refs": "U2", "footprint": "TSOP-I-48", "board": "b", "donor": "d",
             "irreplaceable": True},
            {"refs": "U3", "footprint": "QFN-32", "board": "b", "price_each": 4.0},
            {"refs": "U4", "footprint": "TSSOP-16", "board": "b", "price_each": 2.0},
            {"refs": "R1-R40", "footprint": "R-0603", "board": "b", "price_each": 0.02},
            {"refs": "C1-C30", "footprint": "C-0603", "board": "b", "price_each": 0.02},
            {"refs": "J1", "footprint": "SHIELDED-12", "board": "b", "price_each": 3.0},
            {"refs": "J2", "footprint": "DC-JACK-2.1", "board": "b", "price_each": 1.0},
        ),
        "wires": ({"ref": "W1", "board": "b", "connections": 6},),
        "gates": ({"ref": "works", "title": "works", "after": ("all",)},),
    }
)  # fmt: skip


def level(name: str) -> Builder:
    return Builder.model_validate({"name": name, "level": name})


# Sizes a club would expect (judgement, as the rates are): a beginner manages a first kit,
# a hard one with irreplaceable lifts asks for practised hands and a good bench.
def test_beginner_manages_a_first_kit_on_a_bare_bench() -> None:
    risk = assessed(FIRST_KIT, BARE, FEW)
    assert risk.by_hands.mid > 0.8
    assert 0.5 < risk.working.mid < risk.by_hands.mid
    assert risk.first_time.mid < risk.working.mid


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("never", 0, 0.1), ("few", 0.05, 0.5), ("regular", 0.35, 0.75), ("trained", 0.5, 0.9)],
)
def test_hard_kit_on_a_full_bench(name: str, low: float, high: float) -> None:
    assert low <= assessed(HARD_KIT, FULL, level(name)).working.mid <= high


def test_bare_bench_is_told_what_it_lacks() -> None:
    risk = assessed(HARD_KIT, BARE)
    assert risk.working.mid == risk.working.high == 0
    assert risk.by_key["lift:U1"].blocked
    assert risk.by_key["lift:U1"].tooling_needed
    assert not risk.by_key["lift:U1"].chosen.feasible
    assert risk.fail_share["lift:U1"] > 0
    assert not risk.by_key["fit:R1"].blocked
    assert sum(risk.fail_share.values()) == pytest.approx(1)


def test_lifted_ics_carry_the_hard_kit() -> None:
    risk = assessed(HARD_KIT, FULL)
    worst = sorted(risk.fail_share, key=lambda key: -risk.fail_share[key])[:4]
    assert {"fit:U1", "lift:U1"} & set(worst[:2])
    assert sum(risk.fail_share.values()) == pytest.approx(1)


def test_jobs_keep_the_order_of_the_kit() -> None:
    found = [job.job.key for job in assessed(HARD_KIT, FULL).jobs]
    assert found == [job.key for job in jobs(HARD_KIT) if job.soldered]


def test_every_mode_explains_itself_with_figures() -> None:
    records = (Record(skill="iron_fine_pitch", joints=120, faults=3),)
    builder = Builder(name="x", level="several", records=records)
    chosen = job_of(HARD_KIT, FULL, "fit:U4", builder).chosen
    bridge = next(mode for mode in chosen.modes if mode.mode == "bridge")

    assert bridge.opportunities == 14
    told = mode_why(bridge)
    assert told.startswith(f"bridge {100 * bridge.each.mid:.1f} % per gap: gap 0.")
    assert told.endswith("align, tack, sweep, your record 3 in 120")
    assert all(mode.each.low <= mode.each.mid <= mode.each.high for mode in chosen.modes)
    assert all(mode.total.mid >= mode.each.mid for mode in chosen.modes)


def test_pinned_technique_is_kept_and_said() -> None:
    free = job_of(HARD_KIT, FULL, "fit:U1")
    pinned = assessed(HARD_KIT, FULL, pins=(("fit:U1", "drag_iron"),)).by_key["fit:U1"]
    assert free.chosen.technique != "drag_iron"
    assert pinned.chosen.technique == "drag_iron"
    assert why_chosen(pinned).startswith("pinned by you")


def test_pin_in_the_kit_is_kept() -> None:
    kit = kit_of([Placement(refs="U1", footprint="SOIC-8", board="b", technique="drag_iron")])
    assert job_of(kit, FULL, "fit:U1").chosen.technique == "drag_iron"


@pytest.mark.parametrize("pin", ["hot_air_lift", "no_such_technique"])
def test_pin_that_does_not_suit_is_told(pin: str) -> None:
    found = assessed(HARD_KIT, FULL, pins=(("fit:U1", pin),)).by_key["fit:U1"]
    assert found.chosen.feasible
    assert any(pin in finding for finding in found.findings)


def test_pin_that_is_not_possible_is_told() -> None:
    found = assessed(HARD_KIT, DECENT, pins=(("fit:U4", "paste_and_air"),)).by_key["fit:U4"]
    assert found.chosen.technique != "paste_and_air"
    assert any("not possible" in finding for finding in found.findings)


def test_same_arguments_same_answer() -> None:
    one = RiskEngine(REFERENCE).assess(asked(HARD_KIT, FULL))
    two = RiskEngine(REFERENCE).assess(asked(HARD_KIT, FULL))
    warm = assessed(HARD_KIT, FULL)
    assert one == two
    assert one.working == warm.working
    np.testing.assert_array_equal(one.working_samples, two.working_samples)


def test_seed_moves_the_answer_a_little_only() -> None:
    found = [assessed(HARD_KIT, FULL, seed=seed).working.mid for seed in (1, 2, 3)]
    # A hundred weighed worlds leave two or three points of noise in ranges 80 points wide.
    assert max(found) - min(found) < 0.08


def test_short_answer_agrees() -> None:
    whole = assessed(HARD_KIT, FULL)
    short = engine().chances(asked(HARD_KIT, FULL))
    assert short.working == whole.working
    assert short.decisive[0][0] == max(whole.fail_share, key=lambda k: whole.fail_share[k])


def test_second_look_and_continuity_help() -> None:
    base = assessed(HARD_KIT, DECENT.model_copy(update={"name": "x"}), FEW)
    looks = tuple((key, ("second_person", "continuity")) for key in base.by_key)
    assert (
        base.by_key["fit:U4"].chosen.after_mending.mid
        < assessed(HARD_KIT, DECENT, FEW, looks=looks).by_key["fit:U4"].chosen.after_mending.mid
    )


def test_gate_helps() -> None:
    bare = Kit.model_validate({**dict(HARD_KIT), "gates": ()})
    assert assessed(bare, FULL).working.mid < assessed(HARD_KIT, FULL).working.mid


def test_spares_help_only_where_nothing_can_be_bought() -> None:
    once = lift_kit("LQFP-100", irreplaceable=True)
    spare = lift_kit("LQFP-100", irreplaceable=True, spares=1)
    assert assessed(spare, FULL).working.mid > assessed(once, FULL).working.mid


def test_replaceable_part_costs_money_not_the_board() -> None:
    once = assessed(lift_kit("LQFP-100", irreplaceable=True), FULL)
    bought = assessed(lift_kit("LQFP-100", price_each=30.0), FULL)
    assert bought.working.mid > once.working.mid
    cheap = assessed(lift_kit("LQFP-100", price_each=1.0), FULL)
    assert bought.ruined.mid > cheap.ruined.mid


def test_fit_fed_by_an_irreplaceable_lift_is_irreplaceable() -> None:
    written = Kit.model_validate(
        {
            "name": "k",
            "boards": (PLAIN_BOARD,),
            "donors": ({"name": "d", "board": PLANE_BOARD},),
            "placements": ({"refs": "U1", "footprint": "LQFP-100", "board": "b"},),
            "lifts": ({"ref": "U9", "donor": "d", "footprint": "LQFP-100", "becomes": "U1",
                       "irreplaceable": True},),
        }
    )  # fmt: skip
    option = assessed(written, FULL).by_key["fit:U1"].chosen
    assert option.after_mending.mid <= 1 - option.lost.mid + 1e-9


def test_tasks_that_spoil_lower_the_chance() -> None:
    task = {"ref": "notch", "title": "cut", "spoils": 0.2}
    spoiled = Kit.model_validate({**dict(FIRST_KIT), "tasks": (task,)})
    plain = assessed(FIRST_KIT, DECENT).working.mid
    assert assessed(spoiled, DECENT).working.mid == pytest.approx(0.8 * plain)


def test_undecided_heat_is_told_and_costs() -> None:
    """A doubtful joint keeps its flag and a cold-joint hazard from the heat's own doubt."""
    weak = without(
        DECENT,
        irons=(DECENT.irons[0].model_copy(update={"highest_c": 320.0}),),
    )
    heavy = kit_of(
        [Placement(refs="J1", footprint="SHIELDED-12", board="b")],
        PLANE_BOARD.model_copy(update={"spokes": 0}),
    )
    risk = job_of(heavy, weak, "fit:J1")
    sure = job_of(heavy, FULL, "fit:J1")
    assert not risk.chosen.decided
    cold = {mode.mode: mode.each.mid for mode in risk.chosen.modes}["cold"]
    assert cold > 10 * {m.mode: m.each.mid for m in sure.chosen.modes}.get("cold", 1e-6)
    found = Session().assess(asked(heavy, weak))
    (doubt,) = (each for each in found.findings if each.kind == "heat_in_doubt")
    assert sentences(doubt)[1].startswith("try one on scrap first; what would heat it: ")
    (how,) = (line for line in found.cards["fit:J1"].cautions if "on scrap" in line)
    assert "where it does not wet in time stop" in how


def test_no_technique_at_all() -> None:
    kit = kit_of([Placement(refs="U1", footprint="BGA-64-0.8", board="b")])
    found = job_of(kit, BARE, "fit:U1")
    assert found.blocked
    assert why_chosen(found).startswith("not possible on this bench")


def test_caller_may_stop() -> None:
    with pytest.raises(Stopped):
        engine().assess(asked(HARD_KIT, FULL), Run(cancelled=lambda: True))


def test_progress_runs_forward() -> None:
    seen: list[float] = []
    engine().assess(asked(HARD_KIT, FULL), Run(lambda share, text: seen.append(share)))
    assert seen == sorted(seen)
    assert seen[0] == 0
    assert len(seen) > 3


def test_skill_needed_is_lower_for_easier_parts() -> None:
    order = ("never", "few", "several", "regular", "trained", None)
    easy = job_of(HARD_KIT, FULL, "fit:R1").skill_needed
    hard = job_of(HARD_KIT, FULL, "fit:U1").skill_needed
    assert order.index(easy) < order.index(hard)


def test_unknown_skill_is_refused() -> None:
    builder = Builder(name="x", records=(Record(skill="juggling", joints=1, faults=0),))
    with pytest.raises(KeyError, match="juggling"):
        assessed(FIRST_KIT, BARE, builder)


# A hobbyist's stopwatch: 60 axial resistors bent, stuffed, soldered, cut and looked at took 17 min
# 40 s (synth-diy list, 2022): work alone, so a factor of 1.3 without mending, of 2 with it.
RESISTORS = kit_of([Placement(refs="R1-R60", footprint="RESISTOR-AXIAL-0.25W", board="b")])


@pytest.mark.parametrize("name", ["several", "regular", "trained"])
def test_sixty_resistors_take_as_long_as_by_the_watch(name: str) -> None:
    minutes = 60 * assessed(RESISTORS, DECENT, level(name)).hours.mid
    assert 17.7 / 2 < minutes < 17.7 * 2


@pytest.mark.parametrize("name", ["regular", "trained"])
def test_work_without_mending_is_near_the_watch(name: str) -> None:
    faults = REFERENCE.risk.faults
    modes = tuple(mode.model_copy(update={"mend_minutes": 0.0}) for mode in faults.modes)
    faults = faults.model_copy(update={"modes": modes})
    risk = dataclasses.replace(REFERENCE.risk, faults=faults)
    unmended = dataclasses.replace(REFERENCE, risk=risk)
    question = dataclasses.replace(asked(RESISTORS, DECENT, level(name)), reference=unmended)
    minutes = 60 * RiskEngine(unmended).assess(question).hours.mid
    assert 17.7 / 1.3 < minutes < 17.7 * 1.3


def test_set_up_is_for_a_block_of_equal_parts() -> None:
    one, many = (
        assessed(kit_of([Placement(refs=refs, footprint="R-0805", board="b")]), DECENT)
        for refs in ("R1", "R1-R32")
    )
    assert many.hours.mid < 32 * 0.75 * one.hours.mid


def test_two_boards_are_as_two_kits() -> None:
    """The same hands in the same worlds, hunting on each board for itself: squares."""
    other = PLAIN_BOARD.model_copy(update={"name": "c"})
    parts = [Placement(refs="U1", footprint="LQFP-48", board="b", value="x")]
    twins = [Placement(refs="U2", footprint="LQFP-48", board="c", value="x")]
    one = assessed(kit_of(parts), DECENT)
    both = Kit.model_validate(
        {"name": "k", "boards": (PLAIN_BOARD, other), "placements": (*parts, *twins)}
    )
    found = assessed(both, DECENT)
    assert one.working_samples is not None
    np.testing.assert_allclose(found.working_samples, one.working_samples**2, rtol=1e-9)


def test_splitting_an_entry_changes_nothing() -> None:
    once = assessed(kit_of([Placement(refs="R1-R8", footprint="R-0603", board="b")]), DECENT)
    entries = [Placement(refs=refs, footprint="R-0603", board="b") for refs in ("R1-R3", "R4-R8")]
    assert assessed(kit_of(entries), DECENT).working == once.working


@pytest.mark.parametrize(("coarse", "fine"), [("SOIC-16", "TSSOP-16"), ("LQFP-32", "LQFP-48")])
def test_finer_pitch_never_raises(coarse: str, fine: str) -> None:
    one, other = (
        assessed(kit_of([Placement(refs="U1", footprint=name, board="b")]), DECENT)
        for name in (coarse, fine)
    )
    assert other.working.mid <= one.working.mid + 5e-4


def test_a_kit_of_lifts_is_for_its_parts() -> None:
    """Where nothing is fitted, a part lost in lifting is what the kit was for; the way it is
    lifted stays that of a part that can be bought again."""
    entry = {"ref": "U1", "donor": "d", "footprint": "LQFP-100"}
    plain = {
        "name": "k",
        "boards": (PLAIN_BOARD,),
        "donors": ({"name": "d", "board": PLANE_BOARD},),
        "lifts": (entry,),
    }
    found = assessed(Kit.model_validate(plain), FULL)
    lifted = found.by_key["lift:U1"].chosen
    assert found.working.mid == pytest.approx(lifted.after_mending.mid, abs=0.002)
    assert found.working.mid < 0.99
    # One more of it on the donor is one more try.
    spare = assessed(Kit.model_validate({**plain, "lifts": ({**entry, "spares": 1},)}), FULL)
    assert found.working.mid < spare.working.mid < 1.0
    # Where it is fitted, another one may be bought.
    one = {"refs": "R1", "board": "b", "footprint": "R-0805"}
    fitted = {**plain, "placements": (one,)}
    assert assessed(Kit.model_validate(fitted), FULL).working.mid > found.working.mid
