"""Published package outlines against the library.

Figures are those of the named JEDEC, JEITA, IEC or EIA outline, in mm. Body sizes are the
nominal ones, spans lead tip to lead tip, b the width and L the foot of a lead.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import pytest

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import Footprint, PadGroup
from solderrisk.model.outline import body_size, pad_rects
from solderrisk.physics.joint import body_j_k

LIBRARY = load_library()

Range = tuple[float, float]


class Published(NamedTuple):
    name: str
    pins: int
    pitch: float
    body: tuple[float, float]
    span: Range
    b: Range
    foot: Range
    highest: float
    source: str


# name, pins, pitch, body, span, b, L, greatest height, outline. JEDEC gives the span of a quad
# pack as a basic size; IPC-7351 takes it +- 0.20 mm. In three-lead parts the pitch is that of
# the longer row: two grid steps.
TABLE = """
SOIC-8        8 1.27 4.9x3.9     5.8-6.2     0.31-0.51 0.4-1.27  1.75 MS-012-AA
SOIC-14      14 1.27 8.65x3.9    5.8-6.2     0.31-0.51 0.4-1.27  1.75 MS-012-AB
SOIC-16      16 1.27 9.9x3.9     5.8-6.2     0.31-0.51 0.4-1.27  1.75 MS-012-AC
SOIC-16W     16 1.27 10.3x7.5    9.97-10.63  0.31-0.51 0.4-1.27  2.65 MS-013-AA
SOIC-20W     20 1.27 12.8x7.5    9.97-10.63  0.31-0.51 0.4-1.27  2.65 MS-013-AC
SOIC-28W     28 1.27 17.9x7.5    9.97-10.63  0.31-0.51 0.4-1.27  2.65 MS-013-AE
SSOP-16      16 0.65 6.2x5.3     7.4-8.2     0.22-0.38 0.55-0.95 2.0  MO-150-AC
SSOP-20      20 0.65 7.2x5.3     7.4-8.2     0.22-0.38 0.55-0.95 2.0  MO-150-AE
SSOP-28      28 0.65 10.2x5.3    7.4-8.2     0.22-0.38 0.55-0.95 2.0  MO-150-AH
TSSOP-8       8 0.65 3.0x4.4     6.2-6.6     0.19-0.30 0.45-0.75 1.2  MO-153-AA
TSSOP-16     16 0.65 5.0x4.4     6.2-6.6     0.19-0.30 0.45-0.75 1.2  MO-153-AB
TSSOP-28     28 0.65 9.7x4.4     6.2-6.6     0.19-0.30 0.45-0.75 1.2  MO-153-AE
TSSOP-48     48 0.5  12.5x6.1    7.9-8.3     0.17-0.27 0.45-0.75 1.2  MO-153-ED
MSOP-8        8 0.65 3.0x3.0     4.75-5.05   0.22-0.38 0.4-0.8   1.1  MO-187-AA
TSOP-I-48    48 0.5  18.4x12.0   19.8-20.2   0.17-0.27 0.5-0.7   1.2  MO-142-DD
TSOP-II-54   54 0.8  22.22x10.16 11.56-11.96 0.30-0.45 0.4-0.6   1.2  MS-024
TQFP-32      32 0.8  7x7         8.8-9.2     0.30-0.45 0.45-0.75 1.2  MS-026-ABA
TQFP-44      44 0.8  10x10       11.8-12.2   0.30-0.45 0.45-0.75 1.2  MS-026-ACB
TQFP-128    128 0.4  14x14       15.8-16.2   0.13-0.23 0.45-0.75 1.2  MS-026-AEE
LQFP-48      48 0.5  7x7         8.8-9.2     0.17-0.27 0.45-0.75 1.6  MS-026-BBC
LQFP-52      52 0.65 10x10       11.8-12.2   0.22-0.38 0.45-0.75 1.6  MS-026-BCC
LQFP-64      64 0.5  10x10       11.8-12.2   0.17-0.27 0.45-0.75 1.6  MS-026-BCD
LQFP-100    100 0.5  14x14       15.8-16.2   0.17-0.27 0.45-0.75 1.6  MS-026-BED
LQFP-144    144 0.5  20x20       21.8-22.2   0.17-0.27 0.45-0.75 1.6  MS-026-BFB
LQFP-176    176 0.5  24x24       25.8-26.2   0.17-0.27 0.45-0.75 1.6  MS-026-BGA
LQFP-208    208 0.5  28x28       29.8-30.2   0.17-0.27 0.45-0.75 1.6  MS-026-BJB
PQFP-208    208 0.5  28x28       30.35-30.85 0.17-0.27 0.45-0.75 4.1  MS-029-FA
SOT-23-5      5 0.95 2.9x1.6     2.6-3.0     0.30-0.50 0.3-0.6   1.45 MO-178-AA
SOT-23-6      6 0.95 2.9x1.6     2.6-3.0     0.30-0.50 0.3-0.6   1.45 MO-178-AB
SOT-363       6 0.65 2.0x1.25    2.0-2.2     0.15-0.30 0.26-0.46 1.1  MO-203-AB
SOT-23        3 1.9  2.9x1.3     2.1-2.64    0.30-0.50 0.4-0.6   1.12 TO-236-AB
SOT-323       3 1.3  2.0x1.25    2.0-2.2     0.25-0.40 0.26-0.46 1.1  SC-70
"""


def _published(line: str) -> Published:
    name, pins, pitch, body, span, b, foot, high, source = line.split()
    long, wide = map(float, body.split("x"))
    return Published(
        name, int(pins), float(pitch), (long, wide), _range(span), _range(b), _range(foot),
        float(high), source,
    )  # fmt: skip


def _range(text: str) -> Range:
    low, high = map(float, text.split("-"))
    return low, high


OUTLINES = [_published(line) for line in TABLE.strip().splitlines()]
BY_NAME = pytest.mark.parametrize("row", OUTLINES, ids=[row.name for row in OUTLINES])


def part(name: str) -> Footprint:
    footprint = LIBRARY.get(name)
    assert footprint is not None, f"no footprint {name}"
    return footprint


def leads(name: str) -> PadGroup:
    return part(name).pads[0]


@BY_NAME
def test_pins_and_pitch(row: Published) -> None:
    assert part(row.name).pin_count == row.pins
    assert leads(row.name).pitch_mm == pytest.approx(row.pitch)


@BY_NAME
def test_body(row: Published) -> None:
    body = part(row.name).body
    assert sorted((body.length_mm, body.width_mm)) == pytest.approx(sorted(row.body), abs=0.05)
    assert body.height_mm <= row.highest + 1e-9
    assert body.height_mm >= 0.75 * row.highest


@BY_NAME
def test_lead_lies_in_its_range(row: Published) -> None:
    lead = leads(row.name).lead
    assert lead is not None
    assert row.b[0] <= lead.width_mm <= row.b[1]
    assert row.foot[0] <= lead.foot_mm <= row.foot[1]


@BY_NAME
def test_every_foot_of_the_range_stands_on_its_land(row: Published) -> None:
    group = leads(row.name)
    assert group.row_span_mm is not None
    outer = group.row_span_mm + group.land_l_mm
    inner = group.row_span_mm - group.land_l_mm
    assert outer > row.span[1]
    assert inner < row.span[0] - 2 * row.foot[1]


QUAD_FLAT_NO_LEAD = [  # pins, pitch, side, b, terminal length: JEDEC MO-220
    ("QFN-32", 32, 0.5, 5.0, (0.18, 0.30), (0.30, 0.50)),
    ("QFN-24", 24, 0.5, 4.0, (0.18, 0.30), (0.30, 0.50)),
    ("QFN-48", 48, 0.5, 7.0, (0.18, 0.30), (0.30, 0.50)),
    ("QFN-64", 64, 0.5, 9.0, (0.18, 0.30), (0.30, 0.50)),
    ("QFN-16-4X4", 16, 0.65, 4.0, (0.25, 0.35), (0.30, 0.50)),
]


@pytest.mark.parametrize(("name", "pins", "pitch", "side", "b", "length"), QUAD_FLAT_NO_LEAD)
def test_no_lead_outlines(
    name: str, pins: int, pitch: float, side: float, b: Range, length: Range
) -> None:
    group = leads(name)
    assert (part(name).pin_count, group.pitch_mm, part(name).body.length_mm) == (pins, pitch, side)
    assert group.lead is not None
    assert b[0] <= group.lead.width_mm <= b[1]
    assert length[0] <= group.lead.foot_mm <= length[1]


# imperial code, metric code, length, width: EIA and IEC 60115-8 sizes
CHIPS = [
    ("01005", "0402", 0.4, 0.2), ("0201", "0603", 0.6, 0.3), ("0402", "1005", 1.0, 0.5),
    ("0603", "1608", 1.6, 0.8), ("0805", "2012", 2.0, 1.25), ("1206", "3216", 3.2, 1.6),
    ("1210", "3225", 3.2, 2.5), ("1812", "4532", 4.5, 3.2), ("2010", "5025", 5.0, 2.5),
    ("2512", "6332", 6.3, 3.2),
]  # fmt: skip


@pytest.mark.parametrize(("imperial", "metric", "length", "width"), CHIPS)
def test_chip_sizes(imperial: str, metric: str, length: float, width: float) -> None:
    for spelling in (f"CHIP-{imperial}", imperial, f"R_{imperial}", f"r-{imperial}", f"{metric}M"):
        chip = part(spelling)
        assert chip.name == f"CHIP-{imperial}"
        assert (chip.metric_code, chip.body.length_mm, chip.body.width_mm) == (
            metric, length, width,
        )  # fmt: skip


# name, pins, step between leads in a row, distance of the rows, lead width range
HOLE_PARTS = [
    ("DIP-8", 8, 2.54, 7.62, (0.36, 0.56), "MS-001-BA"),
    ("DIP-16", 16, 2.54, 7.62, (0.36, 0.56), "MS-001-BB"),
    ("DIP-28-15.24", 28, 2.54, 15.24, (0.36, 0.56), "MS-011-AB"),
    ("DIP-40", 40, 2.54, 15.24, (0.36, 0.56), "MS-011-AC"),
    ("TO-92", 3, 1.27, None, (0.407, 0.533), "TO-226-AA"),
    ("TO-220", 3, 2.54, None, (0.61, 1.02), "TO-220-AB"),
    ("TO-247", 3, 5.44, None, (1.0, 1.4), "TO-247-AC"),
    ("HC-49U", 2, None, 4.88, (0.38, 0.48), "IEC 60122-3"),
    ("DO-35", 2, None, 7.62, (0.46, 0.56), "DO-204-AH, holes at three steps of 2.54"),
    ("DO-41", 2, None, 10.16, (0.71, 0.86), "DO-204-AL, holes at four steps of 2.54"),
]


@pytest.mark.parametrize(("name", "pins", "pitch", "rows", "width", "source"), HOLE_PARTS)
def test_parts_in_holes(
    name: str, pins: int, pitch: float | None, rows: float | None, width: Range, source: str
) -> None:
    group = leads(name)
    assert (part(name).pin_count, group.pitch_mm, group.row_span_mm) == (pins, pitch, rows), source
    assert group.lead is not None
    assert width[0] <= group.lead.width_mm <= width[1]


# EIA-535BAAC cases: length, width, height at most, termination width
TANTALUM = [
    ("A", "3216", 3.2, 1.6, 1.8, 1.2), ("B", "3528", 3.5, 2.8, 2.1, 2.2),
    ("C", "6032", 6.0, 3.2, 2.8, 2.2), ("D", "7343", 7.3, 4.3, 3.1, 2.4),
    ("E", "7343", 7.3, 4.3, 4.3, 2.4),
]  # fmt: skip


@pytest.mark.parametrize(("case", "metric", "length", "width", "height", "end"), TANTALUM)
def test_tantalum_cases(
    case: str, metric: str, length: float, width: float, height: float, end: float
) -> None:
    found = part(f"TANTALUM-{case}")
    body, lead = found.body, found.pads[0].lead
    assert (body.length_mm, body.width_mm, body.height_mm) == (length, width, height)
    assert found.metric_code == metric
    assert found.orientation == "polarity"
    assert lead is not None
    assert lead.width_mm == pytest.approx(end, abs=0.1)


# gap between leads = pitch - b, for the range of b that the outline allows
LEAD_GAPS = [
    ("SOIC-8", (0.76, 0.96)),  # 1.27 - 0.51 .. 0.31
    ("TSSOP-16", (0.35, 0.46)),  # 0.65 - 0.30 .. 0.19
    ("LQFP-100", (0.23, 0.33)),  # 0.50 - 0.27 .. 0.17
    ("TQFP-128", (0.17, 0.27)),  # 0.40 - 0.23 .. 0.13
]


@pytest.mark.parametrize(("name", "gap"), LEAD_GAPS)
def test_gap_between_leads(name: str, gap: Range) -> None:
    group = leads(name)
    assert group.lead is not None
    assert group.pitch_mm is not None
    assert gap[0] <= group.pitch_mm - group.lead.width_mm <= gap[1]


def test_lead_rows_are_shorter_than_the_side_they_stand_on() -> None:
    # (leads of a side - 1) x pitch < side: 208 leads: 51 x 0.5 = 25.5 < 28
    seen = 0
    for footprint in LIBRARY:
        for group in footprint.pads:
            if group.layout != "quad" or group.pitch_mm is None:
                continue
            rects = [rect for rect in pad_rects(footprint) if rect.group == group.name]
            along_x, along_y = body_size(footprint)
            row_x = max(r.x_mm for r in rects if r.h_mm > r.w_mm)
            row_y = max(r.y_mm for r in rects if r.w_mm > r.h_mm)
            assert 2 * row_x < along_x, footprint.name
            assert 2 * row_y < along_y, footprint.name
            seen += 1
    assert seen >= 50


def test_oblong_quad_packs_share_their_leads_as_published() -> None:
    # MS-022: 14 x 20 mm, 100 leads at 0.65: 20 and 30 a side; MS-016: PLCC-32: 7 and 9 a side
    for name, short, long in (("PQFP-100", 20, 30), ("PLCC-32", 7, 9)):
        rects = pad_rects(part(name))
        upright = sum(rect.h_mm > rect.w_mm for rect in rects)
        assert (upright, len(rects) - upright) == (2 * short, 2 * long)


# Masses in g: makers' data sheets (SOIC-8, MSOP-8, SOT-223); the others from their published
# volumes (DO-204-AH, TO-226, a 5 mm LED without its rim) at 2.5, 1.9 and 1.2 g/cm3.
MASSES = [
    ("SOIC-8", 0.0742), ("MSOP-8", 0.0246), ("SOT-223", 0.112),
    ("DO-35", math.pi / 4 * 1.9**2 * 3.9 * 2.5e-3), ("TO-92", 0.8 * 4.8 * 3.7 * 5.0 * 1.9e-3),
    ("LED-5MM", math.pi / 4 * 25 * (8.6 - 5 / 6) * 1.2e-3),
]  # fmt: skip


@pytest.mark.parametrize(("name", "mass_g"), MASSES)
def test_bodies_hold_the_heat_of_their_mass(name: str, mass_g: float) -> None:
    # Plastics, glass and lead-frame together hold 0.8 to 1.4 J/gK (polymer and metal handbooks);
    # the greatest outline may be a third more than the usual body.
    held = body_j_k(part(name).body, physics_data())
    assert 0.7 * 0.8 * mass_g <= held <= 1.33 * 1.4 * mass_g
