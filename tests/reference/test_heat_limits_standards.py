"""Package limits against the tables of J-STD-020 and J-STD-033."""

from __future__ import annotations

import itertools

import pytest

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.physics.part_limits import (
    BodyLimit,
    baking,
    body_limit,
    classification_c,
    floor_life_h,
)

DATA = physics_data()
TABLES = DATA.heat_tables

# J-STD-020D and later, table 4-2 (lead-free), volumes below 350, 350 to 2000, above 2000 mm3.
LEAD_FREE = [
    (1.59, 349.0, 260.0), (1.59, 1000.0, 260.0), (1.59, 2001.0, 260.0),
    (1.6, 349.0, 260.0), (1.6, 350.0, 250.0), (2.0, 2000.0, 250.0), (2.0, 2001.0, 245.0),
    (2.5, 349.0, 260.0), (2.51, 349.0, 250.0), (2.51, 350.0, 245.0), (3.0, 2500.0, 245.0),
]  # fmt: skip

# J-STD-020D and later, table 4-1 (tin-lead), from memory; revision C has 240/225 and 225/225.
TIN_LEAD = [
    (2.49, 349.0, 235.0),
    (2.49, 350.0, 220.0),
    (2.5, 349.0, 220.0),
    (2.5, 350.0, 220.0),
]


@pytest.mark.parametrize(("thick", "volume", "peak"), LEAD_FREE)
def test_lead_free_classification(thick: float, volume: float, peak: float) -> None:
    assert classification_c(thick, volume, False, TABLES) == peak


@pytest.mark.parametrize(("thick", "volume", "peak"), TIN_LEAD)
def test_tin_lead_classification(thick: float, volume: float, peak: float) -> None:
    assert classification_c(thick, volume, True, TABLES) == peak


@pytest.mark.parametrize("leaded", [False, True])
def test_bigger_and_thicker_packages_bear_no_more(leaded: bool) -> None:
    thick, volume = (0.5, 1.6, 2.4, 2.5, 2.6, 4.0), (10.0, 349.0, 350.0, 2000.0, 2001.0, 1e5)
    for v in volume:
        peaks = [classification_c(t, v, leaded, TABLES) for t in thick]
        assert peaks == sorted(peaks, reverse=True)
    for t in thick:
        peaks = [classification_c(t, v, leaded, TABLES) for v in volume]
        assert peaks == sorted(peaks, reverse=True)


# Body thickness A2 and sides: MS-013 2.35 x 17.9 x 7.5, MS-026 1.4 x 20 x 20, 1.4 x 28 x 28; a ball
# grid of 17 x 17 is about 1.35 thick without its balls (MO-192). All bear 260 C by table 4-2.
@pytest.mark.parametrize("name", ["SOIC-28W", "LQFP-144", "LQFP-208", "BGA-256-1"])
def test_the_class_goes_by_the_body_not_by_its_height_on_the_board(name: str) -> None:
    footprint = load_library().get(name)
    assert footprint is not None
    assert body_limit(footprint, leaded=False, data=DATA) == BodyLimit(260.0, 260.0)


def test_off_a_tin_lead_board_the_limit_lies_between_the_classes() -> None:
    """PLCC-44: 4.1 mm thick, 16.6 mm square: 220 C by table 4-1, 245 C by table 4-2. A rating
    that is written goes before both; new parts and those off lead-free boards go by 4-2."""
    part = load_library().get("PLCC-44")
    assert part is not None
    assert body_limit(part, leaded=True, data=DATA) == BodyLimit(220.0, 245.0)
    assert body_limit(part, leaded=False, data=DATA) == BodyLimit(245.0, 245.0)
    rated = part.model_copy(update={"heat": part.heat.model_copy(update={"rated_c": 250.0})})
    assert body_limit(rated, leaded=True, data=DATA) == BodyLimit(250.0, 250.0)


# J-STD-020, moisture sensitivity levels: floor life at 30 C / 60 % RH (level 1: 85 % RH).
FLOOR = [("1", None), ("2", 8760.0), ("2a", 672.0), ("3", 168.0), ("4", 72.0), ("5", 48.0),
         ("5a", 24.0), ("6", 0.0)]  # fmt: skip


@pytest.mark.parametrize(("level", "hours"), FLOOR)
def test_floor_life(level: str, hours: float | None) -> None:
    assert floor_life_h(level, DATA) == hours


# J-STD-033, early revision, user bake of parts saturated at 30 C / 85 % RH.
# Levels 2 and 2a, 5a at 2.0 mm, and thicker bodies: from memory of revision C, the longer.
BAKE = [("2a", 1.4, 125, 7), ("2a", 1.4, 90, 23), ("3", 1.4, 125, 9),
        ("5a", 1.4, 125, 16), ("3", 1.4, 90, 33),
        ("3", 1.4, 40, 13 * 24), ("3", 2.0, 125, 27), ("5", 2.0, 125, 40),
        ("4", 2.0, 90, 5 * 24), ("2a", 2.0, 40, 29 * 24), ("2", 1.4, 125, 5),
        ("5a", 2.0, 125, 48), ("3", 3.0, 125, 48), ("3", 4.5, 40, 79 * 24)]  # fmt: skip


@pytest.mark.parametrize(("level", "thick", "oven", "hours"), BAKE)
def test_bake_times(level: str, thick: float, oven: float, hours: float) -> None:
    assert baking(level, thick, DATA)[oven] == hours


def test_baking_is_longer_for_wetter_thicker_and_cooler() -> None:
    levels, ovens = ("2", "2a", "3", "4", "5", "5a"), (125.0, 90.0, 40.0)
    thick = (1.4, 2.0, 4.5)
    table = {
        (level, t, oven): hours
        for level, t in itertools.product(levels, thick)
        for oven, hours in baking(level, t, DATA).items()
    }
    assert len(table) == len(levels) * len(thick) * len(ovens)
    for t, o in itertools.product(thick, ovens):
        row = [table[level, t, o] for level in levels]
        assert row == sorted(row)
    for level, t in itertools.product(levels, thick):
        row = [table[level, t, oven] for oven in ovens]
        assert row == sorted(row)
    for level, o in itertools.product(levels, ovens):
        assert table[level, 1.4, o] <= table[level, 2.0, o] <= table[level, 4.5, o]


def test_no_row_is_made_up() -> None:
    assert baking("3", 4.6, DATA) == {}
    assert baking("1", 1.0, DATA) == {}
