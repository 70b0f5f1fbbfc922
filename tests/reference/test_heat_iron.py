"""Irons on joints against an independent solution, a textbook and standards."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from solderrisk.files.reference import physics_data
from solderrisk.model.kit import PlaneLink
from solderrisk.physics.iron import aged, iron_heat, iron_inputs
from solderrisk.physics.march import Array, IronNet, Rings, first_crossing, march
from tests.heat_joints import (
    CHIP_0402,
    DIP_16,
    GROUND_PIN,
    IRONS,
    JACK,
    PLAIN_25,
    QFP_100,
    SOIC_8,
    TAB,
    iron,
    joint,
    tip_on,
)
from tests.reference.network_ode import time_to_wet_s

DATA = physics_data()
ONE = np.ones(1)

CASES = [
    tip_on(joint(part, planes, spokes), each, width, start_c)
    for part, planes, spokes, width in (
        (CHIP_0402, 1, 0, 1.0),
        (SOIC_8, 1, 0, 1.0),
        (QFP_100, 1, 0, 0.5),
        (DIP_16, 1, 0, 1.0),
        (GROUND_PIN, 1, 4, 1.6),
        (TAB, 1, 4, 2.0),
        (TAB, 2, 4, 2.0),
        (TAB, 4, 4, 3.0),
        (TAB, 2, 0, 3.0),
        (TAB, 4, 0, 3.0),
        (JACK, 2, 4, 3.0),
        (JACK, 2, 0, 3.0),
    )
    for each in IRONS
    for start_c in (25.0, 100.0)
]


def test_wetting_times_agree_with_a_finite_difference_solution() -> None:
    """72 cases by the method of lines with scipy's BDF, three times as many rings, latent
    heat as enthalpy: median within 6 %, nine in ten within 10 %, no verdict differs."""
    ours = [heat.wet_s or math.inf for heat in iron_heat(CASES, DATA)]
    theirs = [time_to_wet_s(case, DATA) for case in CASES]
    assert [math.isfinite(t) for t in ours] == [math.isfinite(t) for t in theirs]
    off = [abs(a / b - 1.0) for a, b in zip(ours, theirs, strict=True) if math.isfinite(b)]
    assert len(off) > 50
    assert float(np.median(off)) < 0.06
    assert float(np.quantile(off, 0.9)) < 0.10


def no_board() -> Rings:
    nothing = np.full((2, 1), 1e-15)
    return Rings(
        capacity=np.full((2, 1), 1e-9),
        link=nothing,
        loss=0.0 * nothing,
        store=np.zeros((0, 2, 1)),
        store_link=np.zeros((0, 2, 1)),
        edge_m=np.array([[1.0], [2.0], [3.0]]),
    )


def lump(capacity_j_k: float, path_w_k: float, source_k: float, **more: Array) -> IronNet:
    """A single lump behind one conductance to a source that is held."""
    values = {
        "joint_j_k": capacity_j_k * ONE,
        "lead_w_k": 0.0 * ONE,
        "body_j_k": ONE,
        "body_loss_w_k": 0.0 * ONE,
        "trace_w_k": 0.0 * ONE,
        "path_w_k": path_w_k * ONE,
        "tip_j_k": ONE,
        "tip_loss_w_k": 0.0 * ONE,
        "power_w": 1e9 * ONE,
        "set_k": source_k * ONE,
        "first_tip_k": source_k * ONE,
        "room_k": 0.0 * ONE,
    }
    return IronNet(**{**values, **more})


def test_thermocouple_junction_of_a_textbook() -> None:
    """Incropera, example 5.1: a junction of 0.706 mm with a time constant of 1 s goes from
    25 to 199 C in gas of 200 C in 5.2 s (h 400, k 20, c 400, rho 8500)."""
    h, c, rho = 400.0, 400.0, 8500.0
    diameter = 6.0 * h * 1.0 / (rho * c)
    assert diameter == pytest.approx(0.706e-3, rel=1e-3)
    heat = rho * c * math.pi * diameter**3 / 6
    run = march(lump(heat, h * math.pi * diameter**2, 175.0), no_board(), 20.0)
    at = first_crossing(run.time_s, run.joint_k, np.array([174.0]))[0]
    assert at == pytest.approx(5.2, rel=0.02)


def test_thermocouple_junction_with_rounded_diameter() -> None:
    """The exact answer of the same problem is tau ln(175) = 5.165 s."""
    run = march(lump(1.0, 1.0, 175.0), no_board(), 20.0, per_block=64)
    at = first_crossing(run.time_s, run.joint_k, np.array([174.0]))[0]
    assert at == pytest.approx(math.log(175.0), rel=0.002)


@pytest.mark.parametrize("time_s", [0.5, 2.0, 8.0])
def test_two_lumps_settle_as_their_exact_solution(time_s: float) -> None:
    """Two lumps exchanging heat: the difference dies as exp(-G t (1/C1 + 1/C2)) and the
    energy is shared (elementary)."""
    tip_j, joint_j, path, hot = 4.0, 1.0, 0.6, 300.0
    net = lump(joint_j, path, hot, tip_j_k=tip_j * ONE, power_w=0.0 * ONE)
    run = march(net, no_board(), 20.0, per_block=16)
    final = hot * tip_j / (tip_j + joint_j)
    exact = final * (1.0 - math.exp(-path * time_s * (1 / tip_j + 1 / joint_j)))
    assert np.interp(time_s, run.time_s, run.joint_k[:, 0]) == pytest.approx(exact, rel=2e-3)


def test_a_plain_iron_s_own_balance() -> None:
    """A plain iron idles where its loss equals its power: nothing on the tip, nothing
    changes (first law)."""
    net = lump(1.0, 1e-12, 378.0, tip_loss_w_k=25.0 / 378.0 * ONE, power_w=25.0 * ONE,
               set_k=np.inf * ONE, tip_j_k=6.0 * ONE)  # fmt: skip
    run = march(net, no_board(), 20.0)
    assert np.allclose(run.tip_k, 378.0, atol=1e-6)
    assert run.heat_j[0] == pytest.approx(25.0 * 20.0, rel=1e-9)


def test_a_land_bears_the_solder_float_exactly() -> None:
    """IPC-TM-650 method 2.6.8: 10 s afloat on solder of 288 C."""
    bond = DATA.materials.boards["fr4"]
    time_s = np.linspace(0.0, 20.0, 201)
    at_288 = np.full((201, 1), 288.0)
    life = aged(time_s, at_288, bond.land_c, bond.land_s, DATA.parameters["land_halves_k"])
    assert life[0] == pytest.approx(10.0, rel=1e-6)


def test_a_light_joint_uses_up_a_part_s_rating_exactly() -> None:
    """Data sheets: 350 C tip for 3 s on the lead (common practice; MIL-STD-202 method 210
    condition A asks for 4 to 5 s at 350 C)."""
    p = DATA.parameters
    time_s = np.linspace(0.0, 20.0, 201)
    at_350 = np.full((201, 1), 350.0)
    life = aged(time_s, at_350, 350.0, 3.0, p["part_halves_k"])
    assert life[0] == pytest.approx(3.0, rel=1e-6)


def test_solid_connection_against_spokes_of_ipc_2222() -> None:
    """IPC-2222, 9.1.3: spokes of 60 % of the land's width in all. On a 1.7 mm land, four
    of 0.255 mm: the joint wets sooner than with solid copper."""
    solid = joint(GROUND_PIN, 2, 0)
    spoke = PlaneLink(group="pins", planes=2, spokes=4, spoke_w_mm=0.255)
    spoked = replace(solid, links=(spoke,))
    a, b = iron_heat([tip_on(what, IRONS[2], 1.6) for what in (solid, spoked)], DATA)
    assert a.wet_s is not None
    assert b.wet_s is not None
    assert b.wet_s < a.wet_s
    assert b.margin_k > a.margin_k


def test_a_preheated_body_cools_towards_the_room() -> None:
    """Newton's law of cooling: -80 (1 - exp(-0.1 t)) K from the board's start."""
    net = lump(1.0, 1e-12, 0.0, body_loss_w_k=0.1 * ONE, room_k=-80.0 * ONE, power_w=0.0 * ONE)
    run = march(net, no_board(), 20.0, per_block=16)
    found = np.interp(10.0, run.time_s, run.body_k[:, 0])
    assert found == pytest.approx(-80.0 * (1.0 - math.exp(-1.0)), rel=2e-3)


def test_a_preheated_tip_loses_to_the_room_not_to_the_board() -> None:
    """First law: a tip held 200 K over a board that is 78 K over the room takes
    0.03 W/K x 278 K."""
    net = lump(1.0, 1e-12, 200.0, tip_loss_w_k=0.03 * ONE, room_k=-78.0 * ONE)
    run = march(net, no_board(), 20.0)
    assert run.heater_w[0] == pytest.approx(0.03 * 278.0, rel=1e-6)


def test_a_plain_iron_idles_by_its_own_watts() -> None:
    """25 W hold 400 C in a room of 22 C: 25 / 378 W/K (first law)."""
    net = iron_inputs([tip_on(joint(DIP_16), PLAIN_25, 1.0)], DATA, ("value",)).net
    assert net.tip_loss_w_k[0] * (400.0 - 22.0) == pytest.approx(25.0)


def test_an_iron_that_cannot_heat_itself_is_short_of_watts() -> None:
    """A tip at the 255 C that lead-free asks for loses 0.03 x 233 = 7 W to the air: 6 W do
    not do it however little the joint takes (first law)."""
    weak = iron(6.0, "station", 1.0)
    found = iron_heat([tip_on(joint(CHIP_0402), weak, 1.0, tip_c=255.0)], DATA)[0]
    assert found.decision != "wets"
    assert found.limit == "power"
