"""Thermal shock, weight, surfaces and mask, against makers' and workmanship figures."""

from __future__ import annotations

import math
from typing import Any, get_args

import pytest

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import Footprint
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Board, Coating, Finish, Kit, Placement
from solderrisk.physics.part_limits import (
    ShockLimit,
    fastening,
    mask_between,
    shock_limit,
    surfaces,
)
from tests.heat_joints import DIP_16, QFP_100, SOIC_8

DATA = physics_data()
LIB = load_library()


def found(name: str) -> Footprint:
    footprint = LIB.get(name)
    assert footprint is not None
    return footprint


def limit(name: str) -> ShockLimit:
    shock = shock_limit(found(name), DATA)
    assert shock is not None
    return shock


def test_a_capacitor_is_no_resistor() -> None:
    assert found("C-1210").ceramic_capacitor
    assert not found("R-1210").ceramic_capacitor
    assert not found("CHIP-1210").ceramic_capacitor
    assert shock_limit(found("R-1812"), DATA) is None
    assert found("C-1210").pads == found("R-1210").pads


def test_a_bare_size_is_a_capacitor_under_its_letter() -> None:
    """Reference designations, IEEE 315: C for capacitors, R for resistors."""
    kit = Kit(
        name="k",
        boards=(Board(name="b"),),
        placements=(
            Placement(refs="C1", footprint="2220", board="b"),
            Placement(refs="R1", footprint="2220", board="b"),
            Placement(refs="C2", footprint="QFP-100", board="b"),
        ),
    )
    ours = {
        job.ref: job.footprint.ceramic_capacitor
        for job in jobs_of(kit, LIB.with_front([QFP_100.model_copy(update={"name": "QFP-100"})]))
        if job.footprint is not None
    }
    assert ours == {"C1": True, "R1": False, "C2": False}


def test_the_library_counts_a_chip_once() -> None:
    names = [footprint.name for footprint in LIB]
    assert len(names) == len(set(names)) == len(LIB)
    assert not any(footprint.ceramic_capacitor for footprint in LIB)


# Makers' sheets: 150 K up to 1206, 130 K at 1210, tip at most 300 C; no iron above 1210.
@pytest.mark.parametrize(
    ("name", "step_k", "by_iron", "told"),
    [
        ("C-1206", 150.0, True, False),
        ("C-1210", 130.0, True, True),
        ("C-1812", 130.0, False, True),
        ("C-2220", 130.0, False, True),
    ],
)
def test_makers_limits_by_size(name: str, step_k: float, by_iron: bool, told: bool) -> None:
    shock = limit(name)
    assert (shock.step_k, shock.by_iron, shock.told) == (step_k, by_iron, told)


def test_a_hot_tip_asks_for_preheat() -> None:
    """By the sheets a tip of 350 C asks for a board of 200 C at 1206 and 220 C at 1210."""
    assert limit("C-1206").preheat_c(350.0) == 200.0
    assert limit("C-1210").preheat_c(350.0) == 220.0
    assert limit("C-1210").over_k(400.0, 22.0) == 400.0 - 22.0 - 130.0
    assert limit("C-1206").over_k(300.0, 150.0) == 0.0
    overs = [limit("C-1210").over_k(300.0, start) for start in (22.0, 80.0, 150.0, 170.0)]
    assert overs == sorted(overs, reverse=True)
    assert limit("C-0603").over_k(300.0, 60.0) == 0.0


def part(mass: float | None, joints: int = 8) -> Footprint:
    body = SOIC_8.body.model_copy(update={"mass_g": mass})
    pads = (SOIC_8.pads[0].model_copy(update={"count": joints}),)
    return SOIC_8.model_copy(update={"body": body, "pads": pads})


def test_heavy_parts_are_fastened() -> None:
    """NASA workmanship standards 6.01: above 7 g, or 3.5 g a lead."""
    assert not fastening(part(6.9), DATA).needed
    assert fastening(part(7.1), DATA).needed
    assert fastening(part(4.0, joints=1), DATA).needed
    assert not fastening(part(3.4, joints=1), DATA).needed
    assert fastening(part(220.0), DATA).known
    judged = fastening(DIP_16, DATA)
    assert not judged.known
    assert 0.5 < judged.mass_g < 3.0  # a DIP of 16 weighs about 1 g


def test_every_finish_and_coating_has_its_figures() -> None:
    assert set(DATA.materials.finishes) == set(get_args(Finish))
    assert set(DATA.materials.coatings) == set(get_args(Coating))


def with_lead(material: str) -> Footprint:
    lead = DIP_16.pads[0].lead
    assert lead is not None
    pins = DIP_16.pads[0].model_copy(
        update={"lead": lead.model_copy(update={"material": material})}
    )
    return DIP_16.model_copy(update={"pads": (pins,)})


def test_surfaces_change_what_solder_takes() -> None:
    def of(part: Footprint = DIP_16, glued: bool = False, **board: Any) -> Any:
        return surfaces(part, Board.model_validate({"name": "b", **board}), glued, DATA)

    plain = of()
    assert (plain.wetting, plain.lands, plain.sticking, plain.coated) == (1.0, 1.0, 1.0, None)
    assert of(finish="bare_copper").wetting > of(finish="osp").wetting > 1.0
    assert of(coating="epoxy").lands > of(coating="acrylic").lands > 1.0
    assert of(coating="epoxy").coated == "epoxy"
    assert of(glued=True).lands > 1.0
    assert of(with_lead("nickel_steel")).wetting > 1.0
    assert of(with_lead("nickel_steel")).slow == ("nickel_steel",)
    assert plain.slow == ()


def test_a_strip_of_mask_needs_room() -> None:
    """Board makers: a dam of 0.10 mm in green, 0.12 red or blue, 0.15 black or white; with
    0.05 mm of room on both sides that is a gap of 0.20 to 0.25 mm."""
    green = Board(name="b")
    black = Board(name="b", mask_dam_mm=0.15)
    assert mask_between(0.2, green, None, DATA)
    assert not mask_between(0.19, green, None, DATA)
    assert not mask_between(0.24, black, None, DATA)
    assert not mask_between(0.5, Board(name="b", solder_mask=False), None, DATA)
    assert mask_between(0.1, green, True, DATA)
    assert not mask_between(1.0, green, False, DATA)


def test_limits_are_finite() -> None:
    for footprint in LIB:
        shock = shock_limit(footprint.as_capacitor, DATA)
        assert shock is not None
        assert math.isfinite(shock.step_k)
