"""Boards as sheets: materials, films over a core, holes without a barrel."""

from __future__ import annotations

import math
import warnings
from typing import Any, get_args

import pytest

from solderrisk.files.reference import physics_data
from solderrisk.model.bench import HotPlate
from solderrisk.model.kit import Board, BoardMaterial
from solderrisk.physics.board import sheet_round, through_film_w_k, whole_sheet
from solderrisk.physics.hot_air import air_heat
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.joint import joint_lumps
from solderrisk.physics.plate import plate_heat
from solderrisk.physics.results import IronHeat, JointCase, PlateCase
from solderrisk.physics.solder_volume import joint_volume_mm3
from tests.heat_joints import (
    CARTRIDGE_120,
    CHIP_0402,
    DIP_16,
    SNPB,
    SOIC_8,
    STATION_60,
    TAB,
    air_on,
    joint,
    tip_on,
)

DATA = physics_data()
THICK = {"aluminium_core": 1.6, "polyimide_film": 0.1, "ceramic": 0.635}


def made_of(material: BoardMaterial, **more: Any) -> Board:
    given = {"name": "b", "material": material, "thickness_mm": THICK.get(material, 1.6)}
    return Board.model_validate({**given, **more})


def on(part: Any, material: BoardMaterial, width: float = 1.0, start_c: float = 22.0) -> IronHeat:
    board = made_of(material)
    case = JointCase(part, part.pads[0], board, SNPB)
    return iron_heat([tip_on(case, STATION_60, width, start_c, 330.0)], DATA)[0]


def test_every_material_has_its_figures() -> None:
    assert set(DATA.materials.boards) == set(get_args(BoardMaterial))


def test_a_land_wets_on_every_material_but_late_on_a_core() -> None:
    """Common practice: paper and film wet as soon as FR-4 or sooner; an iron on an aluminium
    core is slow or fails, with preheat it goes."""
    wet = {m: on(SOIC_8, m).wet_s for m in DATA.materials.boards}
    fr4 = wet["fr4"]
    assert fr4 is not None
    for material in ("phenolic_paper", "cem1", "cem3", "polyimide_film"):
        found = wet[material]
        assert found is not None
        assert found <= 1.1 * fr4
    for material in ("aluminium_core", "ceramic"):
        found = wet[material]
        assert found is None or found > 2.0 * fr4


def test_a_tab_on_a_core_asks_for_preheat() -> None:
    cold, warm = (
        iron_heat([tip_on(_tab("aluminium_core"), CARTRIDGE_120, 3.0, c, 330.0)], DATA)[0]
        for c in (22.0, 120.0)
    )
    assert on(TAB, "aluminium_core", 3.0).decision == "fails"
    assert warm.margin_k > cold.margin_k + 30.0


def _tab(material: BoardMaterial) -> JointCase:
    return JointCase(TAB, TAB.pads[0], made_of(material), SNPB)


def test_weak_lands_bear_less() -> None:
    """Common practice: 350 C for 3 s a land on FR-4, 300 to 320 C for 2 s on phenolic paper,
    315 C for 2 s on film."""
    stay = {m: on(CHIP_0402, m).safe_s for m in DATA.materials.boards}
    assert stay["phenolic_paper"] < stay["polyimide_film"] < stay["cem1"] < stay["fr4"]
    bond = DATA.materials.boards
    halves = DATA.parameters["land_halves_k"]
    for material, tip_c, s in (("fr4", 350.0, 3.0), ("phenolic_paper", 310.0, 2.0),
                               ("cem1", 330.0, 3.0), ("polyimide_film", 315.0, 2.0)):  # fmt: skip
        stuff = bond[material]
        assert stuff.land_s * 2 ** ((stuff.land_c - tip_c) / halves) == pytest.approx(s, rel=0.2)


@pytest.mark.parametrize(
    ("board", "barrels"),
    [
        (Board(name="b"), True),
        (Board(name="b", copper_layers=1), False),
        (Board(name="b", plated_holes=False), False),
        (made_of("phenolic_paper"), False),
        (made_of("cem1", copper_layers=2), False),
        (made_of("cem3"), True),
        (made_of("aluminium_core"), False),
        (made_of("polyimide_film"), True),
    ],
)
def test_where_there_is_a_barrel(board: Board, barrels: bool) -> None:
    assert board.barrels == barrels


def test_without_a_barrel_solder_stays_on_one_face() -> None:
    pin, bare = DIP_16.pads[0], made_of("phenolic_paper")
    plated, plain = (joint_volume_mm3(DIP_16, pin, b, DATA) for b in (Board(name="b"), bare))
    assert plain < plated / 2
    lumps = joint_lumps(JointCase(DIP_16, pin, bare, SNPB), DATA)
    assert not lumps.barrel
    assert lumps.capacity_j_k < joint_lumps(joint(DIP_16, alloy=SNPB), DATA).capacity_j_k


def test_copper_poured_round_a_land_feeds_the_film() -> None:
    bare = through_film_w_k(1e-3, 75e-6, 1.0, 390 * 35e-6, 0.0)
    poured = through_film_w_k(1e-3, 75e-6, 1.0, 390 * 35e-6, 1.0)
    assert poured == pytest.approx(bare + 2 * math.pi * 1e-3 * math.sqrt(390 * 35e-6 / 75e-6))


def test_a_core_is_one_thick_sheet() -> None:
    spread, stored = whole_sheet(made_of("aluminium_core", copper_um=5), DATA)
    assert spread == pytest.approx(140 * 1.6e-3, rel=0.01)
    assert stored == pytest.approx(2.43e6 * 1.6e-3, rel=0.01)
    sheet = sheet_round(TAB.pads[0], made_of("aluminium_core"), None, 2e-3, DATA)
    assert sheet.sheet_w_k == pytest.approx(140 * 1.6e-3)
    assert sheet.hub_w_k < 1.0


def test_one_sided_boards_have_their_usual_layers() -> None:
    board = made_of("phenolic_paper")
    assert (board.copper_layers, board.plane_layers) == (1, 0)
    with pytest.raises(ValueError, match="plane_layers: 0"):
        made_of("phenolic_paper", plane_layers=1)
    with pytest.raises(ValueError, match="two copper_layers"):
        made_of("phenolic_paper", plated_holes=True)


@pytest.mark.parametrize("material", get_args(BoardMaterial))
def test_no_material_breaks_iron_air_or_plate(material: BoardMaterial) -> None:
    parts = (CHIP_0402, SOIC_8, DIP_16, TAB)
    board = made_of(material)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        irons = [
            tip_on(JointCase(part, part.pads[0], board, SNPB), tool, 1.0, start_c, 330.0)
            for part in parts
            for tool in (STATION_60, CARTRIDGE_120)
            for start_c in (22.0, 120.0)
        ]
        found = [
            *iron_heat(irons, DATA),
            *air_heat([air_on(part, 8.0, 40.0, on=board) for part in parts], DATA),
            *plate_heat([PlateCase(part, board, SNPB, HotPlate(name="p")) for part in parts], DATA),
        ]
    for heat in found:
        assert math.isfinite(heat.margin_k)
        assert math.isfinite(heat.band_k)
        assert heat.band_k > 0
