"""Solder volumes against quadrature, wire against plain arithmetic."""

from __future__ import annotations

import math

import mpmath
import pytest
from scipy.integrate import dblquad

from solderrisk.files.reference import physics_data
from solderrisk.model.kit import Board
from solderrisk.physics.solder_volume import (
    edge_fillet_mm3,
    flux_volume_share,
    joint_volume_mm3,
    ring_fillet_mm3,
    solder_need,
    wire_length_mm,
)
from tests.shapes import barrel, chip, gull

DATA = physics_data()
BOARD = Board(name="b", thickness_mm=1.6)
SN63_G_CM3 = 8.4  # Sn63Pb37, handbook density


@pytest.mark.parametrize(("r", "big_r"), [(0.25, 0.3), (0.46, 0.17), (0.5, 1.0), (1.3, 0.8)])
def test_ring_fillet_is_the_solid_of_revolution(r: float, big_r: float) -> None:
    # Shell method on a concave quarter circle with its centre at (r + R, R), by mpmath.
    volume = mpmath.quad(
        lambda u: 2 * mpmath.pi * (r + u) * (big_r - mpmath.sqrt(big_r**2 - (big_r - u) ** 2)),
        [0, big_r],
    )
    assert ring_fillet_mm3(2 * math.pi * r, big_r) == pytest.approx(float(volume), rel=1e-12)


def test_ring_fillet_of_a_square_post() -> None:
    # Four straight fillets and four quarter turns at the corners, each by scipy quadrature.
    side, big_r = 0.64, 0.4

    def height(u: float) -> float:
        return big_r - math.sqrt(big_r**2 - (big_r - u) ** 2)

    straight, _ = dblquad(lambda _y, u: height(u), 0, big_r, 0, side)
    corner, _ = dblquad(lambda _a, u: u * height(u), 0, big_r, 0, math.pi / 2)
    found = ring_fillet_mm3(4 * side, big_r)
    assert found == pytest.approx(4 * straight + 4 * corner, rel=1e-7)


@pytest.mark.parametrize(("w", "h", "length"), [(0.8, 0.3, 0.35), (3.2, 1.0, 0.6)])
def test_edge_fillet_is_an_ellipse_cut_out(w: float, h: float, length: float) -> None:
    volume = mpmath.quad(
        lambda u: w * h * (1 - mpmath.sqrt(1 - ((length - u) / length) ** 2)), [0, length]
    )
    assert edge_fillet_mm3(w, h, length) == pytest.approx(float(volume), rel=1e-12)


def test_barrel_is_hole_less_lead() -> None:
    # A lead that fills its land leaves no room for fillets: only the annulus counts.
    part = barrel(lead_w=0.5, lead_t=0.5, hole=0.9, land=1.0, round_lead=True)
    pins = part.pads[0].model_copy(update={"land_w_mm": 0.5, "land_l_mm": 0.5})
    found = joint_volume_mm3(part, pins, BOARD, DATA)
    # cylinder formula, any handbook
    assert found == pytest.approx(math.pi / 4 * (0.9**2 - 0.5**2) * 1.6, rel=1e-12)


def test_flux_core_by_mass_and_by_volume() -> None:
    # 100 g of wire with 2.2 % rosin at 1.07 g/cm3 in Sn63Pb37: 2.056 of 13.70 cm3.
    rosin_cm3, metal_cm3 = 2.2 / 1.07, 97.8 / SN63_G_CM3
    expected = rosin_cm3 / (rosin_cm3 + metal_cm3)
    assert expected == pytest.approx(0.150, abs=5e-4)
    assert flux_volume_share(SN63_G_CM3, 2.2, DATA) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("volume", "wire", "length"), [(0.70, 0.5, 4.2), (12.7, 0.8, 29.7), (1.0, 1.0, 1.5)]
)
def test_wire_length_of_cored_wire(volume: float, wire: float, length: float) -> None:
    # volume / (pi/4 d2 x 0.85), done by hand to two figures
    assert wire_length_mm(volume, wire, SN63_G_CM3, 2.2, DATA) == pytest.approx(length, rel=0.01)


def test_a_metre_of_solid_wire_weighs_what_tables_say() -> None:
    # 1.0 mm Sn63Pb37 without flux: 6.6 g/m (pi/4 x 1 mm2 x 1 m x 8.4 g/cm3)
    volume = 6.597 / SN63_G_CM3 * 1000
    assert wire_length_mm(volume, 1.0, SN63_G_CM3, 0.0, DATA) == pytest.approx(1000, rel=1e-3)


def test_wire_carries_exactly_the_metal_and_the_flux() -> None:
    need = solder_need(barrel(), Board(name="b"), SN63_G_CM3, 0.5, 2.2, DATA)
    wire_cm3 = math.pi / 4 * 0.05**2 * need.wire_mm / 10
    metal_cm3 = need.mass_g / SN63_G_CM3
    flux_cm3 = need.flux_mg / 1000 / 1.07
    assert wire_cm3 == pytest.approx(metal_cm3 + flux_cm3, rel=1e-12)
    assert need.flux_mg / 1000 / (need.flux_mg / 1000 + need.mass_g) == pytest.approx(0.022)


def test_a_barrel_has_a_fillet_on_both_faces() -> None:
    # Round lead 0.5 mm in a 0.9 mm hole, land 1.1 mm: a fillet of 0.3 mm radius above and
    # below, each by the shell method (mpmath).
    pin = barrel(lead_w=0.5, lead_t=0.5, hole=0.9, land=1.1, round_lead=True)
    r, big_r = 0.25, 0.3
    fillet = mpmath.quad(
        lambda u: 2 * mpmath.pi * (r + u) * (big_r - mpmath.sqrt(big_r**2 - (big_r - u) ** 2)),
        [0, big_r],
    )
    hole = math.pi / 4 * (0.9**2 - 0.5**2) * 1.6
    found = joint_volume_mm3(pin, pin.pads[0], BOARD, DATA)
    assert found == pytest.approx(hole + 2 * float(fillet), rel=1e-9)


def test_a_foot_is_filleted_all_round() -> None:
    # Foot 0.22 x 0.6 x 0.15 mm on a land 0.30 x 1.5 mm: solder 0.05 mm under it and on the
    # bare land; (1 - pi/4) x 0.15 high fillets of 0.04 mm beside it and 0.45 mm before and
    # behind it (area of a concave quarter ellipse).
    share = 1 - math.pi / 4
    film = 0.30 * 1.5 * 0.05
    beside = 2 * 0.6 * share * 0.15 * 0.04
    ends = 2 * 0.22 * share * 0.15 * 0.45
    part = gull()
    found = joint_volume_mm3(part, part.pads[0], BOARD, DATA)
    assert found == pytest.approx(film + beside + ends, rel=1e-9)


def test_a_chip_is_filleted_where_its_land_stands_out() -> None:
    # 1608 on lands 0.9 x 0.8 mm, 1.5 mm apart: 0.35 mm stand out, 0.45 mm lie below; fillet
    # to 0.6 of 0.45 mm (concave quarter ellipse), 0.05 mm of solder below.
    part = chip()
    expected = 0.8 * 0.45 * 0.05 + 0.8 * (1 - math.pi / 4) * 0.27 * 0.35
    assert joint_volume_mm3(part, part.pads[0], BOARD, DATA) == pytest.approx(expected, rel=1e-9)


def test_wire_for_the_paste_of_a_chip_s_land() -> None:
    """By hand: a land of 1.0 x 1.45 mm under paste of 0.12 mm, half of it metal, is 0.087 mm3;
    of wire of 0.5 mm with 2.2 % flux (solder of 7.4 g/cm3) that is 0.512 mm."""
    volume = 1.0 * 1.45 * 0.12 * 0.5
    assert wire_length_mm(volume, 0.5, 7.4, 2.2, DATA) == pytest.approx(0.512, rel=0.02)
