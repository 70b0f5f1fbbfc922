"""Alloys, materials and heat tables refuse what cannot be."""

from __future__ import annotations

from typing import Any, get_args

import pytest
from pydantic import ValidationError

from solderrisk.files.reference import physics_data
from solderrisk.model.footprint import LeadMaterial, Material
from solderrisk.model.physics_data import Alloy, Alloys, HeatTables

DATA = physics_data()


def alloy(**more: Any) -> dict[str, Any]:
    fields = {
        "name": "Sn63Pb37", "parts": {"Sn": 63, "Pb": 37}, "solidus_c": 183, "liquidus_c": 183,
        "density_g_cm3": 8.4, "latent_j_g": 45, "heat_j_gk": 0.17, "conductivity_w_mk": 50,
        "source": "assumed", "thermal_source": "assumed",
    }  # fmt: skip
    return {**fields, **more}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"parts": {"Sn": 63, "Pb": 30}}, "add up to 93 %"),
        ({"solidus_c": 190}, "solidus above liquidus"),
        ({"parts": {"Sn": 120}}, "less than or equal to 100"),
        ({"melting": 183}, "Extra inputs"),
    ],
)
def test_impossible_alloys_are_refused(change: dict[str, Any], message: str) -> None:
    with pytest.raises(ValidationError, match=message):
        Alloy.model_validate(alloy(**change))


def test_every_metal_of_an_alloy_must_be_known() -> None:
    elements = {"Sn": DATA.alloys.elements["Sn"]}
    with pytest.raises(ValidationError, match="no element 'Pb'"):
        Alloys.model_validate({"alloys": [alloy()], "elements": elements})


def test_lead_is_what_makes_an_alloy_leaded() -> None:
    assert DATA.alloys["SnPb"].leaded
    assert DATA.alloys["Bi58Pb42"].leaded
    assert not DATA.alloys["SAC305"].leaded


def test_poisonous_alloys_say_so() -> None:
    for found in DATA.alloys.alloys:
        if "Cd" in found.parts:
            assert "cadmium" in found.caution
        elif found.leaded and found.removal:
            assert "lead" in found.caution


def test_names_and_aliases_are_unique() -> None:
    names = [
        name.casefold().replace(" ", "").replace("-", "")
        for found in DATA.alloys.alloys
        for name in (found.name, *found.aliases)
    ]
    assert len(names) == len(set(names))


def test_every_material_that_footprints_may_name_is_there() -> None:
    assert set(DATA.materials.bodies) == set(get_args(Material))
    assert set(DATA.materials.leads) == set(get_args(LeadMaterial))


def test_tables_end_without_an_upper_thickness() -> None:
    tables: HeatTables = DATA.heat_tables
    for rows in (tables.lead_free, tables.leaded):
        assert rows[-1].thickness_below_mm is None
        assert all(row.thickness_below_mm for row in rows[:-1])
