"""What a part's hot air reaches is named: by distance, by what is there, by what softens."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from solderrisk.files.reference import physics_data, plan_data
from solderrisk.model.kit import Kit
from solderrisk.physics.results import AirCase
from solderrisk.plan.heating import masking
from tests.plan.kit_builder import AIR, air_heat, jobs, kit, option, part, risk

DATA = physics_data()
FAMILIES = plan_data().families


def told(of: Kit, order: list[str], key: str, reach: tuple[float, float] = (12.0, 30.0)) -> str:
    """Air that melts solder within 12 mm and hurts plastics within 30 mm, if not said."""
    work = jobs(of)
    job = work[0]
    assert job.footprint is not None
    assert job.board is not None
    case = AirCase(job.footprint, job.board, job.alloy, 350.0, 40.0, 8.0)
    hot = option("paste_and_air", settings=AIR, heat=air_heat(*reach))
    hot = replace(hot, case=case)
    found = masking(risk(work, {key: hot}), of, order, DATA, FAMILIES)
    return " | ".join(found.get(key, ()))


def board(**more: Any) -> Kit:
    return kit(
        placements=[
            part("U1", "QFP", at={"U1": (50, 40)}),
            part("R1", "R", at={"R1": (60, 40)}),
            part("R2", "R", at={"R2": (65, 40)}),
            part("J1", "JACK", at={"J1": (74, 40)}),
            part("J2", "JACK", at={"J2": (90, 40)}),
        ],
        **more,
    )


def test_what_is_on_the_board_is_masked_and_what_melts_is_named() -> None:
    # From U1's centre: R1 9.2 mm, R2 14.2 mm, J1 19.5 mm, J2 35.5 mm (positions less half
    # of each body). Plastics suffer within 30 mm, solder melts within 12 mm.
    found = told(board(), ["fit:R1", "fit:R2", "fit:J1", "fit:J2", "fit:U1"], "fit:U1")
    assert "mask before heating: J1 (20 mm)" in found
    assert "solder of R1 (9 mm) too" in found
    assert not any(word in found for word in ("R2", "J2", "later"))


def test_what_comes_later_is_out_of_the_heat() -> None:
    found = told(board(), ["fit:U1", "fit:R1", "fit:R2", "fit:J1", "fit:J2"], "fit:U1")
    assert found == "fitted later, out of this heat: R1 (9 mm), J1 (20 mm)"


def test_plastics_that_the_kit_names_are_masked_too() -> None:
    clip = {"board": "main", "name": "clip", "x_mm": 50.0, "y_mm": 45.0, "material": "abs"}
    far = {"board": "main", "name": "label", "x_mm": 50.0, "y_mm": 80.0}
    found = told(board(plastics=[clip, far]), ["fit:U1", "fit:R1", "fit:J1", "fit:J2"], "fit:U1")
    assert "mask before heating: clip (5 mm)" in found
    # ABS softens at 95 C: 5 mm from the middle of the air the board itself is hotter.
    assert "a mask is not enough for clip (5 mm)" in found
    assert "label" not in found


def test_the_other_side_is_out_of_the_air() -> None:
    of = kit(
        placements=[
            part("U1", "QFP", at={"U1": (50, 40)}),
            part("J1", "JACK", at={"J1": (60, 40)}, side="bottom"),
        ]
    )
    assert told(of, ["fit:J1", "fit:U1"], "fit:U1") == ""


def test_without_positions_nothing_is_named() -> None:
    of = kit(placements=[part("U1", "QFP"), part("J1", "JACK")])
    assert told(of, ["fit:J1", "fit:U1"], "fit:U1") == ""
    assert told(board(), ["fit:J1", "fit:U1"], "fit:R9") == ""


def test_on_a_donor_what_comes_off_later_is_there() -> None:
    lifts = [
        {"ref": ref, "footprint": name, "donor": "old", "x_mm": x, "y_mm": 40.0}
        for ref, name, x in (("U1", "QFP", 50.0), ("J1", "JACK", 70.0), ("J2", "JACK", 40.0))
    ]
    of = kit(lifts=lifts)
    found = told(of, ["lift:J2", "lift:U1", "lift:J1"], "lift:U1")
    assert "mask before heating: J1 (16 mm)" in found
    assert "J2" not in found


def test_solder_may_melt_further_away_than_plastics_suffer() -> None:
    """R1 at 9.2 mm and R2 at 14.2 mm from the middle, J1 at 19.5 mm."""
    order = ["fit:R1", "fit:R2", "fit:J1", "fit:J2", "fit:U1"]
    found = told(board(), order, "fit:U1", (15.0, 5.0))
    assert found.startswith("its heat melts the solder of R1 (9 mm), R2 (14 mm) too")
    assert "J1" not in found
    later = told(board(), ["fit:U1", *order[:-1]], "fit:U1", (15.0, 5.0))
    assert later == "fitted later, out of this heat: R1 (9 mm), R2 (14 mm)"
    assert "R2" not in told(board(), order, "fit:U1", (14.2, 5.0))
