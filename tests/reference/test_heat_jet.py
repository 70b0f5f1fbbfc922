"""Air and jets against tables, a library and a sum done by hand."""

from __future__ import annotations

import math

import fluids
import ht
import numpy as np
import pytest
from scipy.integrate import quad

from solderrisk.files.reference import physics_data
from solderrisk.physics.air_net import (
    Jets,
    air_conductivity,
    air_viscosity,
    arriving_share,
    jet_of,
    martin_nusselt,
    mean_h,
    ring_h,
)

P = physics_data().parameters
KELVIN = 273.15

# Incropera, Fundamentals of Heat and Mass Transfer, table A.4, air at 1 atm.
AIR_TABLE = [
    (300.0, 184.6e-7, 26.3e-3),
    (400.0, 230.1e-7, 33.8e-3),
    (500.0, 270.1e-7, 40.7e-3),
    (600.0, 305.8e-7, 46.9e-3),
]


@pytest.mark.parametrize(("kelvin", "viscosity", "conductivity"), AIR_TABLE)
def test_air_follows_the_table(kelvin: float, viscosity: float, conductivity: float) -> None:
    assert air_viscosity(kelvin - KELVIN, P) == pytest.approx(viscosity, rel=0.02)
    assert air_conductivity(kelvin - KELVIN, P) == pytest.approx(conductivity, rel=0.02)


@pytest.mark.parametrize("kelvin", [300.0, 450.0, 600.0])
def test_air_follows_the_standard_atmosphere(kelvin: float) -> None:
    """Viscosity and conductivity of the U.S. Standard Atmosphere 1976, from ``fluids``."""
    air = fluids.ATMOSPHERE_1976
    assert air_viscosity(kelvin - KELVIN, P) == pytest.approx(air.viscosity(kelvin), rel=0.01)
    k = air.thermal_conductivity(kelvin)
    assert air_conductivity(kelvin - KELVIN, P) == pytest.approx(k, rel=0.02)


def test_the_library_s_documented_values() -> None:
    """So that the comparison above is with what the library's documentation states."""
    assert fluids.ATMOSPHERE_1976.viscosity(600.0) == pytest.approx(3.01635e-5, rel=1e-4)
    assert fluids.ATMOSPHERE_1976.thermal_conductivity(600.0) == pytest.approx(0.0466153, rel=1e-4)


def test_martin_by_hand() -> None:
    """Martin (1977): Re 20000, Pr 0.7, r/D 4, H/D 6. A = 1/8, G = 2 A (1 - 2.2 A) = 0.18125,
    F = 2 sqrt(Re (1 + 0.005 Re^0.55)) = 415.7, Pr^0.42 = 0.8609: Nu = 64.87."""
    nusselt = martin_nusselt(2e4, 0.7, np.array([4.0]), 6.0)
    assert nusselt[0] == pytest.approx(64.87, abs=0.05)


def test_reynolds_number_by_hand() -> None:
    """60 L/min of cold air, 1.2 kg/m3, from 10 mm; air of 600 K has 305.8e-7 Pa s
    (Incropera, table A.4): Re = 4 x 1.2e-3 / (pi x 0.01 x 305.8e-7) = 4996."""
    jet = jet_of(60.0, 10.0, 60.0, 600.0 - KELVIN, P)
    assert jet.reynolds == pytest.approx(4996, rel=0.02)
    assert jet.height_d == pytest.approx(6.0)
    assert jet.doubts(P) == ()


@pytest.mark.parametrize("reach_d", [1.0, 4.0, 7.0, 12.0])
def test_rings_add_up_to_the_mean(reach_d: float) -> None:
    jet = Jets.of([jet_of(60.0, 8.0, 40.0, 300.0, P)])
    edge = np.linspace(0.0, reach_d, 9)[:, None] * 8e-3
    area = np.diff(edge**2, axis=0)
    summed = float(np.sum(ring_h(jet, edge, P) * area) / np.sum(area))
    assert summed == pytest.approx(float(mean_h(jet, edge[-1], P)[0]), rel=1e-9)


def test_the_tail_goes_on_from_the_correlation() -> None:
    """Beyond the correlation the local value falls as a power: quadrature agrees."""
    jet = Jets.of([jet_of(40.0, 5.0, 30.0, 300.0, P)])
    start_d, tail = P["jet_reach_d"], P["jet_tail"]
    edge = np.array([start_d * 0.995, start_d, start_d * 1.005])[:, None] * 5e-3
    inside, outside = ring_h(jet, edge, P)[:, 0]
    assert outside == pytest.approx(inside, rel=0.02)
    local = inside
    radius = np.array([start_d, 3 * start_d]) * 5e-3
    sums = mean_h(jet, radius[:, None], P)[:, 0] * radius**2
    total = quad(lambda r: 2 * r * local * (radius[0] / r) ** tail, radius[0], radius[1])[0]
    assert sums[1] - sums[0] == pytest.approx(total, rel=0.02)


def test_arriving_share_has_no_step() -> None:
    r = np.array([0.0, 2.4999, 2.5001, 5.0])
    share = arriving_share(r, 0.13, 2.5)
    assert share[0] == 1.0
    assert share[1] == pytest.approx(share[2], rel=1e-3)
    assert share[3] == pytest.approx(share[2] / 2, rel=1e-3)


def test_a_hot_face_loses_what_natural_convection_and_radiation_take() -> None:
    """A vertical face of 80 mm at 105 C in air of 25 C: Churchill and Chu from ``ht`` (whose
    documentation gives Nu 147.16 for Pr 0.69, Gr 2.63e9), and grey radiation, 0.9."""
    assert ht.Nu_vertical_plate_Churchill(0.69, 2.63e9) == pytest.approx(147.16, rel=1e-3)
    film, length = (105.0 + 25.0) / 2, 0.08
    nu = air_viscosity(film, P) / (101325.0 / (287.05 * (film + KELVIN)))
    grashof = 9.81 * 80.0 / (film + KELVIN) * length**3 / nu**2
    convection = ht.Nu_vertical_plate_Churchill(0.7, grashof) * air_conductivity(film, P) / length
    hot, cold = 105.0 + KELVIN, 25.0 + KELVIN
    radiation = 0.9 * 5.670374e-8 * (hot**2 + cold**2) * (hot + cold)
    face = P.at("face_w_m2k")
    assert face.low is not None
    assert face.high is not None
    assert face.low <= convection + radiation <= face.high
    assert face.value == pytest.approx(convection + radiation, rel=0.15)


def test_the_air_carries_the_heat_that_is_asked_of_it() -> None:
    """60 L/min heated to 350 C carry 410 W (cp 1.03 kJ/kgK, Incropera, table A.4): the jet
    never gives a part more than that."""
    jet = Jets.of([jet_of(60.0, 10.0, 15.0, 300.0, P)])
    carried_w = 1e-3 * 1.2 * 1030.0 * 330.0
    reach_m = np.array([0.07])
    most_w = float(mean_h(jet, reach_m, P)[0]) * math.pi * 0.07**2
    share = float(np.mean(arriving_share(np.linspace(0.0, 7.0, 50), 0.13, 2.5)))
    assert most_w * share * 100.0 < carried_w
