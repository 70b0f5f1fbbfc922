"""IPC-A-610 joint limits, tried on both sides of every "whichever is less"."""

from __future__ import annotations

import pytest

from solderrisk.files.reference import physics_data
from solderrisk.physics.acceptance import (
    alignment,
    chip_fillet_mm,
    lead_width_mm,
    side_joint_mm,
    side_overhang_mm,
)
from solderrisk.physics.solder_volume import barrel_fill_rule
from tests.shapes import chip, gull

DATA = physics_data()
LIMITS = DATA.acceptance


def limit(kind: str):
    found = LIMITS.side(kind)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("kind", "lead", "land", "classes"),
    [
        # IPC-A-610F 8.3.2.1: chips, 50 / 50 / 25 % of termination or land, the lesser.
        ("chip_end", 0.80, 0.90, (0.400, 0.400, 0.200)),
        ("chip_end", 0.90, 0.80, (0.400, 0.400, 0.200)),
        ("chip_end", 0.80, 0.80, (0.400, 0.400, 0.200)),
        # IPC-A-610 table 8-5: gull wings, 50 / 50 / 25 % of the lead or 0.50 mm, the lesser.
        ("gull_wing", 0.22, 0.30, (0.110, 0.110, 0.055)),
        ("gull_wing", 0.999, 1.2, (0.4995, 0.4995, 0.24975)),
        ("gull_wing", 1.000, 1.2, (0.500, 0.500, 0.250)),
        ("gull_wing", 1.001, 1.2, (0.500, 0.500, 0.25025)),
        ("gull_wing", 1.99, 2.2, (0.500, 0.500, 0.4975)),
        ("gull_wing", 2.01, 2.2, (0.500, 0.500, 0.500)),
        # a land narrower than a flat lead does not change the share: it is the lead's width
        ("gull_wing", 0.40, 0.30, (0.200, 0.200, 0.100)),
        # IPC-A-610F 8.3.4.1: castellations.
        ("castellation", 0.60, 0.70, (0.300, 0.300, 0.150)),
        # IPC-A-610 8.3.7 J leads; 8.3.13 no-lead, from memory.
        ("j_lead", 0.40, 0.60, (0.200, 0.200, 0.100)),
        ("no_lead", 0.24, 0.26, (0.120, 0.060, 0.060)),
    ],
)
def test_side_overhang(
    kind: str, lead: float, land: float, classes: tuple[float, float, float]
) -> None:
    found = [side_overhang_mm(lead, land, limit(kind), c) for c in (1, 2, 3)]
    assert found == pytest.approx(classes, abs=1e-12)


@pytest.mark.parametrize(
    ("kind", "shares"),
    [
        ("chip_end", (0.5, 0.5, 0.75)),  # IPC-A-610F 8.3.2.3, of the lesser width
        ("gull_wing", (0.5, 0.5, 0.75)),  # IPC-A-610 table 8-5, flat, of the lead
        ("castellation", (0.5, 0.5, 0.75)),  # IPC-A-610F 8.3.4.3
    ],
)
def test_end_joint_width(kind: str, shares: tuple[float, float, float]) -> None:
    assert limit(kind).end_joint_share == pytest.approx(shares, abs=1e-12)


def test_no_end_overhang_of_chips_and_castellations() -> None:
    # IPC-A-610F 8.3.2.2 and 8.3.4.2: none, any class.
    assert not limit("chip_end").end_overhang
    assert not limit("castellation").end_overhang


@pytest.mark.parametrize(
    ("lead", "foot", "classes"),
    [
        # IPC-A-610 table 8-5. Class 1: the lead's width or 0.5 mm, the lesser.
        # Long foot (3 widths or more), classes 2 and 3: 3 widths or 75 %, the longer.
        (0.30, 0.899, (0.30, 0.899, 0.899)),  # short: all of it
        (0.30, 0.900, (0.30, 0.900, 0.900)),  # just long: 3 x 0.30
        (0.30, 1.199, (0.30, 0.900, 0.900)),
        (0.30, 1.201, (0.30, 0.90075, 0.90075)),  # from four widths on 75 % is longer
        (0.499, 2.0, (0.499, 1.5, 1.5)),
        (0.501, 2.1, (0.500, 1.575, 1.575)),
    ],
)
def test_side_joint_length(lead: float, foot: float, classes: tuple[float, float, float]) -> None:
    found = [side_joint_mm(lead, foot, c, DATA) for c in (1, 2, 3)]
    assert found == pytest.approx(classes, abs=1e-12)


def test_heel_fillet() -> None:
    # IPC-A-610 table 8-5: wetting evident / solder + 50 % / solder + 100 % of thickness.
    assert DATA.acceptance.foot.heel_share == (0.0, 0.5, 1.0)


@pytest.mark.parametrize(
    ("height", "class_3"), [(1.0, 0.25), (1.99, 0.4975), (2.0, 0.5), (2.01, 0.5), (4.0, 0.5)]
)
def test_chip_fillet_height(height: float, class_3: float) -> None:
    # IPC-A-610 table 8-2, from memory: class 3 solder + 25 % of height or 0.5 mm, the lesser.
    assert chip_fillet_mm(height, 1, DATA) == chip_fillet_mm(height, 2, DATA) == 0.0
    assert chip_fillet_mm(height, 3, DATA) == pytest.approx(class_3)


@pytest.mark.parametrize(
    ("leads", "thickness", "classes"),
    [
        # IPC-A-610F table 7-4: class 1 none, 75 %; from 14 leads on, class 2: 50 % or 1.2 mm,
        # the lesser (7.3.5.1).
        (2, 1.6, (None, 1.2, 1.2)),
        (13, 1.6, (None, 1.2, 1.2)),
        (14, 1.6, (None, 0.8, 1.2)),
        (14, 2.39, (None, 1.195, 1.7925)),
        (14, 2.40, (None, 1.2, 1.8)),
        (14, 2.41, (None, 1.2, 1.8075)),
        (40, 3.2, (None, 1.2, 2.4)),
    ],
)
def test_barrel_fill(
    leads: int, thickness: float, classes: tuple[float | None, float, float]
) -> None:
    found = [barrel_fill_rule(leads, c, DATA).least_mm(thickness) for c in (1, 2, 3)]
    assert found[0] is classes[0]
    assert found[1:] == pytest.approx(classes[1:])


def test_barrel_wetting() -> None:
    # IPC-A-610F 7.3.5.2 and 610E 7.3.5.4: - / 180 / 270 and 270 / 270 / 330 degrees.
    by_side = {row.side: row.degrees for row in LIMITS.wetting}
    assert by_side == {"destination": (None, 180, 270), "source": (270, 270, 330)}


def test_placement_tolerance_of_a_fine_pitch_pack() -> None:
    # IPC-A-610 table 8-5 on a 0.5 mm pack: lead 0.22, land 0.30. The lead may leave its land
    # by 0.11 (classes 1, 2) or 0.055 (class 3) after 0.04 mm of play.
    found = [alignment(gull(), c, DATA) for c in (1, 2, 3)]
    assert [a.lateral_mm for a in found if a] == pytest.approx([0.15, 0.15, 0.095])


def test_placement_tolerance_of_a_chip() -> None:
    # IPC-A-610F 8.3.2.1 on 1608 metric: 0.8 wide on a 0.9 land.
    found = [alignment(chip(), c, DATA) for c in (1, 2, 3)]
    assert [a.lateral_mm for a in found if a] == pytest.approx([0.45, 0.45, 0.25])


# EIA size codes: 0603 is 1.6 mm from end to end and 0.8 mm wide, 0306 the same with its ends on
# the long sides; IPC-A-610F 8.3.2 measures a termination across.
@pytest.mark.parametrize(
    ("length", "width", "end"), [(1.6, 0.8, 0.8), (0.8, 1.6, 1.6), (1.6, 3.2, 3.2)]
)
def test_ends_are_as_wide_as_the_chip_across(length: float, width: float, end: float) -> None:
    part = chip(length, width, land_w=1.1 * width)
    assert lead_width_mm(part, part.pads[0]) == end
    # Class 2: half the end may hang over, and the land is a tenth wider.
    assert alignment(part, 2, DATA).lateral_mm == pytest.approx(0.55 * end)
