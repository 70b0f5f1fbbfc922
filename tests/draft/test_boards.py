"""What a board file says about a part: gaps between lands, nets, holes that fit one way."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from solderrisk.draft.drafting import draft
from solderrisk.files.loading import load_library
from solderrisk.model.kit import Kit
from solderrisk.model.lands import land_gaps, smallest_gap_mm

LIBRARY = load_library()


def hole(
    number: str, x: float, y: float = 0.0, *, shape: str = "circle", drill: float = 1.0
) -> str:
    size = f"{drill + 0.6:g} {drill + 0.6:g}"
    return (
        f'(pad "{number}" thru_hole {shape} (at {x} {y}) (size {size}) (drill {drill}) '
        f'(layers "*.Cu"))'
    )


def land(number: str, x: float, net: str = "", y: float = 0.0) -> str:
    tied = f'(net 1 "{net}")' if net else ""
    return f'(pad "{number}" smd rect (at {x} {y}) (size 0.3 1.2) (layers "F.Cu") {tied})'


def kit_of(tmp_path: Path, name: str, ref: str, pads: str) -> Kit:
    path = tmp_path / "b.kicad_pcb"
    part = f'(footprint "{name}" (layer "F.Cu") (at 50 50) (fp_text reference "{ref}") {pads})'
    path.write_text(f"(kicad_pcb {part})")
    return draft([path], LIBRARY).kit()


def test_the_gap_of_a_to_92_is_that_of_its_lands_whatever_their_shapes(tmp_path: Path) -> None:
    """The usual drawing: lands 1.05 mm wide, 1.27 mm apart, a square first one."""
    lands = "".join(
        f'(pad "{n}" thru_hole {shape} (at {x} 0) (size 1.05 1.5) (drill 0.75) (layers "*.Cu"))'
        for n, shape, x in ((1, "rect", 0), (2, "oval", 1.27), (3, "oval", 2.54))
    )
    kit = kit_of(tmp_path, "TO-92_Inline", "Q1", lands)
    assert smallest_gap_mm(kit.footprints[0]) == pytest.approx(0.22)
    assert len(land_gaps(kit.footprints[0])) == 2


def test_a_square_first_land_is_nearer_than_a_round_one(tmp_path: Path) -> None:
    """Lands 1.3 mm wide in a triangle: a corner 0.62 mm beside and below the round one's centre."""
    places = ((1, "rect", 0, 0), (2, "circle", 1.27, -1.27), (3, "circle", 2.54, 0))
    lands = "".join(hole(str(n), x, y, shape=s, drill=0.7) for n, s, x, y in places)
    drawn = kit_of(tmp_path, "TO-92", "Q1", lands).footprints[0]
    gaps = sorted(gap.gap_mm for gap in land_gaps(drawn))
    assert gaps == pytest.approx(
        [math.hypot(0.62, 0.62) - 0.65, math.hypot(1.27, 1.27) - 1.3], abs=1e-5
    )
    listed = LIBRARY.get("TO-92-STAGGERED")
    assert listed is not None
    assert smallest_gap_mm(listed) == pytest.approx(gaps[0], abs=0.005)


def test_lands_of_one_net_are_no_hazard_to_each_other(tmp_path: Path) -> None:
    row = [land(str(n + 1), 0.5 * n, "GND" if n in (1, 2, 5) else f"N{n}") for n in range(6)]
    kit = kit_of(tmp_path, "FFC_1x06_P0.5mm", "J1", "".join(row))
    (placement,) = kit.placements
    footprint = kit.footprints[0]
    assert placement.joined == ((2, 3, 6),)
    assert len(land_gaps(footprint)) == 5
    assert len(land_gaps(footprint, placement.joined)) == 4  # 2 and 3 alone are neighbours


def test_two_lands_of_one_pin_are_one(tmp_path: Path) -> None:
    pads = land("1", 0) + land("1", 0.4) + land("2", 0.9) + land("3", 1.4)
    (placement,) = kit_of(tmp_path, "odd", "U1", pads).placements
    assert placement.joined == ((1, 2),)


def peg(x: float, y: float, drill: float) -> str:
    size = f"(size {drill} {drill}) (drill {drill})"
    return f'(pad "" np_thru_hole circle (at {x} {y}) {size})'


KEYED = {
    "jack": hole("1", 0, drill=1.2) + hole("2", 6) + hole("3", 3, 4.7),
    "relay": "".join(
        hole(str(n), *at) for n, at in enumerate(((0, 0), (12, -6), (12, 6), (2, 6), (2, -6)))
    ),
    "plug with a peg": hole("1", 0) + hole("2", 2) + hole("3", 4) + peg(3.5, 1, 1.2),
    "peg and clip": hole("1", 0) + hole("2", 2) + hole("3", 4) + peg(-2, 0, 2) + peg(6, 0, 1.2),
}
OPEN = {
    "a row": hole("1", 0, shape="rect") + hole("2", 2.54) + hole("3", 5.08),
    "two rows": "".join(hole(str(n), 2.54 * (n % 4), 7.62 * (n // 4)) for n in range(8)),
    "two pegs alike": hole("1", 0) + hole("2", 2) + hole("3", 4) + peg(-2, 0, 2) + peg(6, 0, 2),
}


@pytest.mark.parametrize("name", KEYED)
def test_holes_that_fit_one_way_alone_leave_no_reversal(tmp_path: Path, name: str) -> None:
    assert kit_of(tmp_path, "part", "J1", KEYED[name]).footprints[0].orientation == "none"


@pytest.mark.parametrize("name", OPEN)
def test_holes_that_repeat_leave_the_reversal(tmp_path: Path, name: str) -> None:
    """The square land of the first pin keys nothing."""
    assert kit_of(tmp_path, "part", "U1", OPEN[name]).footprints[0].orientation == "pin_one"


def test_what_joins_nets_is_a_part(tmp_path: Path) -> None:
    """Whatever its reference or the board file's flags call it."""
    pads = "".join(
        hole(str(n), 5.0 * n, drill=1).replace("))", f') (net {n} "N{n}"))') for n in (1, 2, 3)
    )
    path = tmp_path / "b.kicad_pcb"
    for ref, attribute in (("MH1", ""), ("J1", "(attr board_only)"), ("PCB1", "(attr virtual)")):
        part = f'(footprint "thing" (at 5 5) {attribute} (fp_text reference "{ref}") {pads})'
        path.write_text(f"(kicad_pcb {part})")
        assert [line.state for line in draft([path], LIBRARY).lines] == ["recognised"]
    one_net = hole("1", 0, drill=3).replace("))", ') (net 1 "GND"))')
    path.write_text(f'(kicad_pcb (footprint "M3" (at 5 5) (fp_text reference "MH1") {one_net}))')
    assert [line.state for line in draft([path], LIBRARY).lines] == ["ignored"]


def test_leads_that_bend_keep_their_reversal(tmp_path: Path) -> None:
    bent = hole("1", 0) + hole("2", 2.54, 1.9) + hole("3", 5.08)
    for name, ref in (("TO-92", "Q1"), ("TO-220-3_Vertical", "Q1")):
        assert kit_of(tmp_path, name, ref, bent).footprints[0].orientation != "none"
    led = hole("1", 0) + hole("2", 2.54, drill=1.4)
    made = kit_of(tmp_path, "LED_D5.0mm", "D1", led)
    assert made.footprints[0].orientation == "polarity" or made.placements[0].polarised
