"""Parts on a heat sink while they are soldered, against an independent solution and by hand."""

from __future__ import annotations

import math

import pytest
from pydantic import ValidationError

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.jobs import jobs_of
from solderrisk.model.kit import Kit
from solderrisk.physics.iron import iron_heat
from solderrisk.physics.joint import joint_lumps
from solderrisk.physics.results import IronCase
from tests.heat_joints import IRONS, joint, tip_on
from tests.reference.network_ode import time_to_wet_s

DATA = physics_data()
LIBRARY = load_library()


def kit(**more: object) -> Kit:
    part = {"refs": "Q1", "footprint": "TO-220", "board": "b", **more}
    return Kit.model_validate({"name": "k", "boards": [{"name": "b"}], "placements": [part]})


def pin(planes: int = 2, **more: object) -> list[IronCase]:
    """The tied pin of a transistor under every iron."""
    (job,) = jobs_of(kit(**more), LIBRARY)
    assert job.footprint is not None
    return [tip_on(joint(job.footprint, planes, 4), each, 2.4, 22.0) for each in IRONS]


def test_wetting_on_a_sink_agrees_with_a_finite_difference_solution() -> None:
    """Method of lines, BDF, three times as many rings: as for joints without a sink."""
    cases = [
        case
        for mass_g in (5.0, 20.0, 400.0)
        for planes in (1, 2)
        for case in pin(planes, fixing="heat_sink", sink_g=mass_g)
    ]
    for case, heat in zip(cases, iron_heat(cases, DATA), strict=True):
        theirs = time_to_wet_s(case, DATA)
        assert (heat.wet_s is not None) == math.isfinite(theirs)
        if heat.wet_s is not None:
            assert heat.wet_s == pytest.approx(theirs, rel=0.1)


def test_heat_goes_along_the_lead_into_aluminium() -> None:
    """By hand: k A / L of the lead; 20 g at 0.9 J/gK beside the body's own 1.8 J/K (mass of
    a TO-220 about 2 g at 0.9 J/gK, from memory of data sheets)."""
    (job,) = jobs_of(kit(fixing="heat_sink", sink_g=20.0), LIBRARY)
    assert job.footprint is not None
    lead = job.footprint.pads[0].lead
    assert lead is not None
    metal = DATA.materials.leads[lead.material].conductivity_w_mk
    by_hand = metal * lead.width_mm * lead.thickness_mm * 1e-6 / (lead.length_mm * 1e-3)
    lumps = joint_lumps(pin(fixing="heat_sink", sink_g=20.0)[0].joint, DATA)
    assert lumps.lead_w_k == pytest.approx(by_hand, rel=0.02)
    assert lumps.body_j_k == pytest.approx(18.0 + 1.8, rel=0.03)


def test_a_sink_slows_the_joint_and_spares_the_part() -> None:
    """Common practice: a lead on a heat sink takes longer, and a clip or sink on the lead
    keeps the part cool."""
    bare, *sunk = (
        iron_heat(pin(**more), DATA)
        for more in (
            {},
            {"fixing": "heat_sink", "sink_g": 5.0},
            {"fixing": "heat_sink", "sink_g": 50.0},
        )
    )
    for found in sunk:
        for before, after in zip(bare, found, strict=True):
            assert after.margin_k < before.margin_k - 5.0
            assert after.wet_s is None or before.wet_s is None or after.wet_s > before.wet_s
            assert after.safe_s >= before.safe_s
    light, heavy = sunk
    assert all(a.margin_k >= b.margin_k for a, b in zip(light, heavy, strict=True))


def test_an_unweighed_sink_is_a_small_one() -> None:
    lumps = [
        joint_lumps(pin(fixing="heat_sink", **more)[0].joint, DATA)
        for more in ({}, {"sink_g": 20.0})
    ]
    assert lumps[0] == lumps[1]
    small = DATA.parameters.at("sink_g")
    assert small.value == 20.0


def test_only_leads_meet_a_sink_before_they_are_soldered() -> None:
    """A flat part's sink goes on when its joints are cold; a lift knows nothing of the new one."""
    flat = Kit.model_validate(
        {
            "name": "k",
            "boards": [{"name": "b"}],
            "donors": [{"name": "d", "board": {"name": "old"}}],
            "placements": [
                {"refs": "Q1", "footprint": "D2PAK", "board": "b", "fixing": "heat_sink"},
                {"refs": "Q2", "footprint": "TO-220", "board": "b", "fixing": "heat_sink",
                 "donor": "d"},
            ],
        }
    )  # fmt: skip
    on_sink = {
        job.key: job.footprint.body.on_sink for job in jobs_of(flat, LIBRARY) if job.footprint
    }
    assert on_sink == {"fit:Q1": False, "fit:Q2": True, "lift:Q2": False}


def test_a_mass_without_a_sink_is_refused() -> None:
    with pytest.raises(ValidationError, match="fixing: heat_sink"):
        kit(sink_g=20.0)
    with pytest.raises(ValidationError, match="greater than 0"):
        kit(fixing="heat_sink", sink_g=-1.0)
