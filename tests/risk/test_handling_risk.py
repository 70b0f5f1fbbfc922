"""Surfaces, glue, mask, barrels and thermal shock reach the chance, in the right direction."""

from __future__ import annotations

import pytest

from solderrisk.model.kit import Board, Donor, Kit, Lift, Placement
from solderrisk.risk.results import Option
from tests.risk.risk_scene import FULL, job_of, kit_of, without

IRON_ONLY = without(FULL, hot_air=(), aids=tuple(a for a in FULL.aids if a != "hot_plate"))


DONOR = Donor(name="d", board=Board(name="old"), condition="clean")


def fitted(footprint: str, board: Board, **more: object) -> Kit:
    placement = Placement.model_validate(
        {"refs": "X1", "footprint": footprint, "board": "b", "price_each": 1.0, **more}
    )
    return kit_of([placement], board)


def mode(option: Option, name: str) -> float:
    return next((each.each.mid for each in option.modes if each.mode == name), 0.0)


def of(footprint: str, name: str, board: Board | None = None, **more: object) -> float:
    kit = fitted(footprint, board or Board(name="b"), **more)
    return mode(job_of(kit, IRON_ONLY, "fit:X1").chosen, name)


def test_a_large_capacitor_may_crack_and_a_resistor_does_not() -> None:
    """Makers bar the iron above 1210; small sizes hardly ever crack."""
    assert of("R-1812", "cracked") == 0.0
    assert of("C-1812", "cracked") > of("C-1210", "cracked") > of("C-0603", "cracked")
    assert of("C-1812", "cracked") > 1e-3


def test_a_coat_and_old_copper_take_solder_badly() -> None:
    plain = of("SOIC-8", "open")
    assert of("SOIC-8", "open", Board(name="b", finish="bare_copper")) > plain
    coated = Board(name="b", coating="epoxy")
    assert of("SOIC-8", "open", coated) > plain
    assert of("SOIC-8", "lifted_pad", coated) > of("SOIC-8", "lifted_pad")


def test_no_barrel_is_short_of_solder_on_one_face() -> None:
    phenolic = Board(name="b", material="phenolic_paper")
    assert of("DIP-16", "short_fill") > 0.0
    assert of("DIP-16", "short_fill", phenolic) == 0.0


def test_mask_between_lands_goes_by_part() -> None:
    said = [of("TSSOP-20", "bridge", None, mask_between=mask) for mask in (True, None, False)]
    assert said[0] == said[1] < said[2]
    black = Board(name="b", mask_dam_mm=0.3)
    assert of("TSSOP-20", "bridge", black) == pytest.approx(said[2])


def test_glue_makes_parts_stick() -> None:
    def stuck(glued: bool) -> float:
        lift = Lift(ref="U1", donor="d", footprint="SOIC-8", glued=glued, irreplaceable=True)
        kit = kit_of([], lifts=(lift,), donors=(DONOR,))
        return mode(job_of(kit, FULL, "lift:U1").chosen, "stuck_joint")

    assert stuck(True) > 1.5 * stuck(False)
