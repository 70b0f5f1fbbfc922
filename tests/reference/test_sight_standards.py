"""Eye and magnification against optics and the inspection table."""

from __future__ import annotations

import pytest

from solderrisk.files.reference import physics_data
from solderrisk.physics.handwork import end_sigma_mm, needed_power, resolved_mm, standard_power

DATA = physics_data()


def test_one_arc_minute_at_reading_distance() -> None:
    # 250 mm x tan(1/60 degree) = 0.0727 mm, physiological optics
    assert resolved_mm(1.0, 250.0) == pytest.approx(0.0727, abs=5e-5)


def test_snellen_letter() -> None:
    # A 6/6 letter subtends 5 arc minutes at 6 m: 8.73 mm high (Snellen chart, ISO 8596)
    assert resolved_mm(5.0, 6000.0) == pytest.approx(8.73, abs=0.005)


def test_a_magnifier_divides_the_smallest_detail() -> None:
    assert resolved_mm(1.0, 250.0, 10.0) == pytest.approx(0.00727, abs=5e-6)


def test_power_for_a_tenth_of_a_millimetre() -> None:
    # Human Factors 13(3) 1971: quickest at 9 to 12 arc minutes; 10 at 250 mm is 0.727 mm,
    # so 0.1 mm wants about 7.3x, between the table's 7.5x to 10x and 3x to 7.5x rows.
    assert needed_power(0.1, 1.0, 250.0, DATA) == pytest.approx(7.27, abs=0.01)
    nine, twelve = (needed_power(0.1, n / 10, 250.0, DATA) for n in (9, 12))
    assert (nine, twelve) == pytest.approx((6.55, 8.73), abs=0.01)


@pytest.mark.parametrize(
    ("land", "low", "high", "referee"),
    [
        # J-STD-001 / IPC-A-610 table 1-2, from memory
        (1.01, 1.5, 3.0, 4.0),
        (1.00, 3.0, 7.5, 10.0),
        (0.51, 3.0, 7.5, 10.0),
        (0.50, 7.5, 10.0, 20.0),
        (0.25, 7.5, 10.0, 20.0),
        (0.249, 20.0, 20.0, 40.0),
        (0.05, 20.0, 20.0, 40.0),
    ],
)
def test_inspection_table(land: float, low: float, high: float, referee: float) -> None:
    row = standard_power(land, DATA)
    assert (row.low_x, row.high_x, row.referee_x) == (low, high, referee)


def test_hand_lies_between_published_spreads() -> None:
    # Surgeons: hold-still 0.049 mm rms, repeated motion 0.133, free pointing 0.144 (largest
    # error 0.349); the steadiest hand under a microscope is near the first, none is beyond.
    best = end_sigma_mm(DATA.handwork["hand_steady_mm"], 10.0, DATA)
    worst = end_sigma_mm(DATA.handwork["hand_unbraced_mm"], 1.0, DATA)
    assert best == pytest.approx(0.049, abs=0.01)
    assert 0.144 < worst < 0.349
