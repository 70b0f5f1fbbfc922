"""What must hold whatever the numbers: better tools and practice never hurt, more work
never helps, order does not matter."""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from solderrisk.model.bench import LEVELS, Bench, Builder, Record
from solderrisk.model.kit import Kit, Placement
from solderrisk.model.plan_data import with_tools
from solderrisk.risk.engine import RiskEngine
from solderrisk.risk.person import per_joint
from solderrisk.risk.skill import Belief, Reading, hand_of, updated
from tests.risk.risk_scene import (
    BARE,
    DECENT,
    FULL,
    PLANE_BOARD,
    REFERENCE,
    REGULAR,
    asked,
    assessed,
    engine,
    kit_of,
    lift_kit,
)

TOOLS = {tool.id: tool for tool in REFERENCE.plan.tools}
IDS = sorted(TOOLS)
LITTLE = 5e-4  # what choosing cheaper equals may cost the kit

PARTS = ["R-0603", "SOIC-8", "TSSOP-16", "LQFP-48", "QFN-32", "DIP-14", "SHIELDED-12", "TO-92"]
KITS = [
    kit_of([Placement(refs="U1", footprint=name, board="b")], PLANE_BOARD) for name in PARTS
] + [lift_kit(name, irreplaceable=True) for name in ("LQFP-100", "DIP-14", "DC-JACK-2.1")]


def chance(kit: Kit, bench: Bench, builder: Builder = REGULAR, **more: Any) -> float:
    found = engine().chances(asked(kit, bench, builder, **more))
    return found.working.mid


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.sampled_from(KITS),
    st.sampled_from([BARE, DECENT]),
    st.lists(st.sampled_from(IDS), max_size=3, unique=True),
    st.sampled_from(IDS),
    st.sampled_from(LEVELS),
)
def test_one_more_tool_never_lowers_the_best_technique(
    kit: Kit, base: Bench, have: list[str], more: str, level: str
) -> None:
    builder = Builder.model_validate({"name": "x", "level": level})
    before = with_tools(base, [TOOLS[i] for i in have])
    after = with_tools(before, [TOOLS[more]])
    assert chance(kit, after, builder) >= chance(kit, before, builder) - LITTLE


@pytest.mark.parametrize("bench", [BARE, DECENT, FULL], ids=lambda bench: bench.name)
def test_more_joints_never_raise_the_chance(bench: Bench) -> None:
    found = [
        chance(kit_of([Placement(refs="J1", footprint=f"HEADER-1X{n}-2.54", board="b")]), bench)
        for n in (1, 2, 3, 5, 8, 12, 20, 40)
    ]
    assert found == sorted(found, reverse=True)
    assert found[-1] < found[0]


@settings(max_examples=15, deadline=None)
@given(st.lists(st.sampled_from(PARTS[:4] + PARTS[5:]), min_size=1, max_size=5), st.data())
def test_one_more_part_never_raises_the_chance(names: list[str], data: st.DataObject) -> None:
    extra = data.draw(st.sampled_from(PARTS))
    placements = [
        Placement(refs=f"X{n}", footprint=name, board="b") for n, name in enumerate(names)
    ]
    more = [*placements, Placement(refs="Y1", footprint=extra, board="b")]
    before, after = kit_of(placements, PLANE_BOARD), kit_of(more, PLANE_BOARD)
    assert chance(after, FULL) <= chance(before, FULL) + LITTLE


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.integers(1, 400).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n))),
        max_size=4,
    ),
    st.integers(1, 500),
)
def test_clean_joints_never_worsen_the_belief(records: list[tuple[int, int]], clean: int) -> None:
    made = tuple(Reading(n, k) for n, k in records)
    before = updated(Belief(1.5, 35), made, REFERENCE.risk)
    after = updated(Belief(1.5, 35), (*made, Reading(clean, 0)), REFERENCE.risk)
    # A Beta with smaller a and larger b lies below everywhere, not only in its mean.
    assert after.a <= before.a + LITTLE
    assert after.b >= before.b - LITTLE


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 40), st.integers(1, 300), st.sampled_from(KITS[:8]))
def test_clean_practice_never_lowers_the_chance(faults: int, clean: int, kit: Kit) -> None:
    skills = [skill.id for skill in REFERENCE.risk.levels.skills]
    old = tuple(Record(skill=s, joints=50, faults=faults, date="2026-01-01") for s in skills)
    new = tuple(Record(skill=s, joints=clean, faults=0, date="2026-02-01") for s in skills)
    before = Builder(name="x", level="several", records=old)
    after = Builder(name="x", level="several", records=(*old, *new))
    day = {"as_of": "2026-03-01"}
    assert chance(kit, FULL, after, **day) >= chance(kit, FULL, before, **day) - LITTLE


@pytest.mark.parametrize("kit", KITS, ids=lambda kit: kit.placements[0].footprint)
def test_planned_practice_and_levels_never_lower_the_chance(kit: Kit) -> None:
    skills = REFERENCE.risk.levels.skills
    plans = [(), (("hot_air", 50.0),), tuple((s.id, 200.0) for s in skills)]
    found = [chance(kit, FULL, Builder(name="x", level="few"), practice=plan) for plan in plans]
    assert found == sorted(found)
    by_level = [
        chance(kit, FULL, Builder.model_validate({"name": "x", "level": level, "hand": "braced"}))
        for level in LEVELS
    ]
    assert by_level == sorted(by_level)


@settings(max_examples=10, deadline=None)
@given(st.randoms(use_true_random=False))
def test_order_of_placements_does_not_matter(shuffle: random.Random) -> None:
    placements = [
        Placement(refs=f"X{n}", footprint=name, board="b", price_each=n, spares=n % 2)
        for n, name in enumerate(PARTS * 2)
    ]
    mixed = list(placements)
    shuffle.shuffle(mixed)
    one = assessed(kit_of(placements, PLANE_BOARD), FULL)
    other = assessed(kit_of(mixed, PLANE_BOARD), FULL)
    np.testing.assert_allclose(one.working_samples, other.working_samples, rtol=1e-12)
    assert one.ruined.mid == pytest.approx(other.ruined.mid, rel=1e-12)
    assert one.fail_share == pytest.approx(other.fail_share, rel=1e-9)


def test_worse_donors_and_rooms_never_help() -> None:
    clean = chance(lift_kit("LQFP-100", irreplaceable=True), FULL)
    dirty = chance(lift_kit("LQFP-100", irreplaceable=True, condition="burnt"), FULL)
    assert dirty < clean


def believed(records: tuple[Record, ...], **more: str) -> Mapping[str, Belief]:
    builder = Builder(name="x", level="regular", records=records)
    return engine().people.person(builder, *engine().tables.worlds(20), **more).beliefs  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("technique", "pitch_mm"),
    [("barrel_iron", 2.54), ("tack_align_sweep", 0.8), ("tack_align_sweep", 0.4),
     ("drag_iron", 0.5), ("paste_and_air", 0.65)],
)  # fmt: skip
def test_a_record_as_predicted_keeps_the_middle_at_any_pitch(
    technique: str, pitch_mm: float
) -> None:
    skill = REFERENCE.risk.technique(technique).skill
    worlds, by_skill = engine().tables.worlds(20)
    index = [s.id for s in REFERENCE.risk.levels.skills].index(skill)
    before = believed(())[skill]
    hand = hand_of(before, index, 2000, worlds)
    predicted = float(hand.mean(per_joint(REFERENCE.risk.technique(technique), pitch_mm, worlds,
                                          by_skill)))  # fmt: skip
    faults = round(2000 * predicted)
    record = Record(skill=skill, joints=2000, faults=faults, technique=technique,
                    pitch_mm=pitch_mm)  # fmt: skip
    after = believed((record,))[skill]
    assert faults > 5
    assert after.mean == pytest.approx(before.mean, rel=0.02)
    assert after.b > before.b


def test_records_follow_their_dates_not_their_place_in_the_file() -> None:
    old = Record(skill="hot_air", joints=50, faults=20, date="2025-01-01")
    new = Record(skill="hot_air", joints=200, faults=0, date="2026-01-01")
    one, other = (believed(both)["hot_air"] for both in ((old, new), (new, old)))
    assert (one.a, one.b) == (other.a, other.b)


def test_user_may_move_a_rate() -> None:
    """Rates are data: a higher one lowers the chance, and is marked as set by the user."""
    kit = KITS[2]
    moved = REFERENCE.assuming({"bridge_rate": 0.04})
    other = RiskEngine(moved)
    worse = other.chances(asked(kit, FULL).but(reference=other.reference)).working.mid
    assert worse < chance(kit, FULL)
    assert moved.risk.parameters.at("bridge_rate").source == "assumed: set by the user"
