"""The ladder of rings against closed forms, tables and a two-dimensional solution."""

from __future__ import annotations

import math

import ht
import mpmath
import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import i0, i1, k0, k1

from solderrisk.files.reference import physics_data
from solderrisk.model.kit import Board
from solderrisk.physics.board import (
    from_hub_w_k,
    laminate_w_m2k,
    pressure_function,
    sheet_round,
    through_film_w_k,
)
from tests.heat_joints import TAB
from tests.reference.ladder_runs import fed_hub, held_hub, rings_of
from tests.reference.sheet_fd import held_hub_heat_j

DATA = physics_data()
SHEET_W_K, J_M2K, INNER_M = 0.0232, 3360.0, 1.0e-3  # two planes on 1.6 mm, hub of a pin
FAR_M = 1.5


def exact_pressure(t_d: float) -> float:
    """pD for a constant rate into an infinite sheet, by inverting its Laplace transform
    (van Everdingen and Hurst, Trans. AIME 186 (1949), equation VI-20)."""

    def transform(s: object) -> object:
        root = mpmath.sqrt(s)
        return mpmath.besselk(0, root) / (s * root * mpmath.besselk(1, root))

    return float(mpmath.invertlaplace(transform, t_d, method="talbot"))


def leaky_well(u: float, ratio: float) -> float:
    """W(u, r/B) by quadrature of its definition (Hantush and Jacob, Trans. AGU 36 (1955))."""
    return float(quad(lambda y: math.exp(-y - ratio**2 / (4.0 * y)) / y, u, np.inf)[0])


# van Everdingen and Hurst (1949), table I, constant terminal rate, infinite sheet.
PRESSURE_TABLE = {0.1: 0.315, 1.0: 0.802, 5.0: 1.362, 10.0: 1.651, 50.0: 2.388, 100.0: 2.723}


@pytest.mark.parametrize(("t_d", "table"), PRESSURE_TABLE.items())
def test_constant_rate_follows_the_pressure_table(t_d: float, table: float) -> None:
    assert exact_pressure(t_d) == pytest.approx(table, abs=0.0015)
    assert pressure_function(t_d) == pytest.approx(table, rel=0.01)
    rings = rings_of(INNER_M, 0.3, SHEET_W_K, J_M2K, count=80)
    end_s = t_d * J_M2K * INNER_M**2 / SHEET_W_K
    _, hub, _ = fed_hub(rings, 1.0, end_s)
    assert 2.0 * math.pi * SHEET_W_K * hub[-1] == pytest.approx(table, rel=0.02)


def test_the_product_s_own_ring_count_is_fine_enough() -> None:
    for t_d in (1.0, 10.0, 100.0):
        end_s = t_d * J_M2K * INNER_M**2 / SHEET_W_K
        rings = rings_of(INNER_M, 0.05, SHEET_W_K, J_M2K, count=18)
        _, hub, _ = fed_hub(rings, 1.0, end_s)
        got = 2.0 * math.pi * SHEET_W_K * hub[-1]
        assert got == pytest.approx(exact_pressure(t_d), rel=0.03)


@pytest.mark.parametrize("t_d", [0.5, 3.0, 30.0, 400.0, 600.0, 1e5])
def test_the_closed_form_is_the_exact_one_within_a_hundredth(t_d: float) -> None:
    assert pressure_function(t_d) == pytest.approx(exact_pressure(t_d), rel=0.012)


def test_the_earliest_closed_form_is_that_of_a_flat_wall() -> None:
    """2 sqrt(tD / pi) (Carslaw and Jaeger, 2.9), and it joins the fit within 6 %."""
    assert pressure_function(1e-4) == pytest.approx(2.0 * math.sqrt(1e-4 / math.pi))
    assert pressure_function(0.00999) == pytest.approx(pressure_function(0.0101), rel=0.06)


def test_the_closed_form_explains_the_ladder() -> None:
    """Flow over temperature of a fed hub, and the closed form, within 3 %."""
    rings = rings_of(INNER_M, 0.3, SHEET_W_K, J_M2K, count=60)
    times, hub, _ = fed_hub(rings, 1.0, 10.0)
    for at in (0.5, 2.0, 9.0):
        ladder = 1.0 / float(np.interp(at, times, hub))
        assert ladder == pytest.approx(from_hub_w_k(SHEET_W_K, J_M2K, INNER_M, at), rel=0.03)
    with pytest.raises(ValueError, match="positive"):
        pressure_function(0.0)


# Abramowitz and Stegun, Handbook of Mathematical Functions, table 5.1: E1(0.01) = 4.0379.
# Hantush (1956), table of W(u, r/B): W(0.01, 0.1) = 3.815.
@pytest.mark.parametrize(("u", "ratio", "table"), [(0.01, 0.0, 4.0379), (0.01, 0.1, 3.815)])
def test_far_rings_follow_the_well_function(u: float, ratio: float, table: float) -> None:
    assert leaky_well(u, ratio) == pytest.approx(table, abs=1.5e-3)
    inner_m = 1e-4  # a line source, as the well function has it
    rings = rings_of(inner_m, FAR_M, SHEET_W_K, J_M2K, count=160)
    middles_m = np.sqrt(rings.edge_m[:-1, 0] * rings.edge_m[1:, 0])
    ring = int(np.searchsorted(middles_m, 4e-3))
    radius_m = float(middles_m[ring])
    loss = SHEET_W_K * (ratio / radius_m) ** 2
    rings = rings_of(inner_m, FAR_M, SHEET_W_K, J_M2K, loss, count=160)
    end_s = J_M2K * radius_m**2 / (4.0 * SHEET_W_K * u)
    _, _, temps = fed_hub(rings, 1.0, end_s)
    assert 4.0 * math.pi * SHEET_W_K * temps[-1, ring] == pytest.approx(table, rel=0.01)


def test_leaky_steady_state_is_twice_k0() -> None:
    """W(0, x) = 2 K0(x) (Hantush and Jacob 1955): 2 K0(0.1) = 4.8541, Abramowitz and
    Stegun table 9.8."""
    assert leaky_well(1e-12, 0.1) == pytest.approx(4.8541, abs=1e-3)
    assert 2.0 * float(k0(0.1)) == pytest.approx(4.8541, abs=1e-4)


@pytest.mark.parametrize("loss_w_m2k", [20.0, 32.0, 200.0])
def test_long_times_reach_the_infinite_annular_fin(loss_w_m2k: float) -> None:
    """G = 2 pi kt m r0 K1(m r0) / K0(m r0) (Incropera, section 3.6.4)."""
    m = math.sqrt(loss_w_m2k / SHEET_W_K) * INNER_M
    expected = 2.0 * math.pi * SHEET_W_K * m * k1(m) / k0(m)
    rings = rings_of(INNER_M, FAR_M, SHEET_W_K, J_M2K, loss_w_m2k, count=80)
    flow = held_hub(rings, 40.0 * J_M2K / loss_w_m2k)[1][-1]
    assert flow == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize("outer_m", [5e-3, 20e-3, 60e-3])
def test_long_times_reach_the_finite_annular_fin(outer_m: float) -> None:
    """Annular fin with an adiabatic rim (Incropera, equation 3.96)."""
    loss = 32.0
    m = math.sqrt(loss / SHEET_W_K)
    a, b = m * INNER_M, m * outer_m
    share = (k1(a) * i1(b) - i1(a) * k1(b)) / (i0(a) * k1(b) + k0(a) * i1(b))
    expected = 2.0 * math.pi * SHEET_W_K * a * share
    rings = rings_of(INNER_M, outer_m, SHEET_W_K, J_M2K, loss, count=80)
    flow = held_hub(rings, 40.0 * J_M2K / loss)[1][-1]
    assert flow == pytest.approx(expected, rel=0.005)


def fin_efficiency(inner_m: float, outer_m: float, thick_m: float, k: float, h: float) -> float:
    rings = rings_of(inner_m, outer_m, k * thick_m, 1.0e3, 2.0 * h, count=80)
    flow = held_hub(rings, 40.0 * 1.0e3 / (2.0 * h))[1][-1]
    return flow / (2.0 * h * math.pi * (outer_m**2 - inner_m**2))


def test_the_ladder_is_the_fin_of_a_heat_transfer_library() -> None:
    """Circular fin, Kern and Kraus; 0.841258862 stands in the documentation of ``ht``."""
    library = ht.fin_efficiency_Kern_Kraus(0.0254, 0.05715, 3.8e-4, 200, 58)
    assert library == pytest.approx(0.841258862, abs=1e-8)
    ours = fin_efficiency(0.0254 / 2, 0.05715 / 2, 3.8e-4, 200, 58)
    assert ours == pytest.approx(library, rel=2e-3)


@pytest.mark.parametrize(
    ("inner", "outer", "thick", "k", "h"),
    [(2e-3, 20e-3, 35e-6, 390, 10), (4e-3, 50e-3, 70e-6, 390, 16), (1e-3, 8e-3, 1e-3, 0.8, 16)],
)
def test_fins_of_boards_agree_with_the_library(
    inner: float, outer: float, thick: float, k: float, h: float
) -> None:
    library = ht.fin_efficiency_Kern_Kraus(2 * inner, 2 * outer, thick, k, h)
    assert fin_efficiency(inner, outer, thick, k, h) == pytest.approx(library, rel=5e-3)


def test_finned_cylinder_of_a_textbook() -> None:
    """Incropera, example 3.10 (5th edition): five annular fins of aluminium on a motorcycle
    cylinder, 690 W; the efficiency 0.95 is read from a chart, hence 5 %."""
    k, h, thick, excess, pitch_free = 186.0, 50.0, 6e-3, 200.0, 0.15 - 5 * 6e-3
    inner, outer = 25e-3, 45e-3 + 3e-3  # corrected radius
    efficiency = fin_efficiency(inner, outer, thick, k, h)
    assert efficiency == pytest.approx(0.95, rel=0.05)
    fins_w = 5 * efficiency * h * 2 * math.pi * (outer**2 - inner**2) * excess
    bare_w = h * pitch_free * 2 * math.pi * inner * excess
    assert fins_w + bare_w == pytest.approx(690.0, rel=0.05)


def test_ring_links_add_up_to_a_cylinder_s_resistance() -> None:
    """ln(r2/r1) / (2 pi k L) (Incropera, table 3.3); ``ht`` gives it for a layer, with
    32.6223 K/W for FR-4 of 1.6 mm between 2.0 and 2.6 mm."""
    library = ht.conduction.R_cylinder(2e-3, 2.6e-3, 0.8, 1.6e-3)
    assert library == pytest.approx(32.6223, abs=1e-3)
    rings = rings_of(2e-3, 2.6e-3, 0.8 * 1.6e-3, 1.0, count=20)
    series = float(np.sum(1.0 / rings.link))
    half_ring = math.log(2.6 / 2.0) / 20 / 2 / (2 * math.pi * 0.8 * 1.6e-3)
    assert series + half_ring == pytest.approx(library, rel=1e-9)


def test_laminate_takes_heat_up_as_a_slab_does() -> None:
    """Slab of half thickness L heated from one face, the other adiabatic: share of heat
    1 - sum 8 / ((2n+1)^2 pi^2) exp(-(2n+1)^2 pi^2 Fo / 4) (Carslaw and Jaeger, 3.4)."""
    k, j_m3k, depth = 0.3, 2.0e6, 0.8e-3
    rings = rings_of(1e-3, 1.5e-3, 50.0, 1e-9, laminate=(j_m3k * depth, k / depth), count=3)
    times, _, heats = held_hub(rings, 4.0 * depth**2 * j_m3k / k)
    whole = j_m3k * depth * math.pi * (1.5e-3**2 - 1e-3**2)
    for fourier in (0.1, 0.2, 0.5, 1.0, 2.0):
        n = np.arange(200)
        odd = (2 * n + 1) ** 2 * math.pi**2
        exact = 1.0 - float(np.sum(8.0 / odd * np.exp(-odd * fourier / 4.0)))
        at = fourier * depth**2 * j_m3k / k
        assert np.interp(at, times, heats) / whole == pytest.approx(exact, rel=0.05)


FD_TIMES = np.array([1.0, 3.0, 10.0])


@pytest.mark.parametrize(
    ("planes", "thick_mm", "inner_mm", "tolerance"),
    [
        (1, 1.6, 1.0, (0.20, 0.12, 0.04)),
        (1, 0.8, 1.0, (0.08, 0.03, 0.01)),
        (2, 1.6, 1.0, (0.10, 0.04, 0.01)),
        (2, 1.6, 2.2, (0.12, 0.05, 0.01)),
        (4, 1.6, 2.2, (0.01, 0.01, 0.01)),
    ],
)
def test_a_board_in_radius_and_depth(
    planes: int, thick_mm: float, inner_mm: float, tolerance: tuple[float, ...]
) -> None:
    """Against finite differences in radius and depth, solved here: the ladder knows depth
    through its stores only, so it is late at a second and right from three on."""
    thick, inner, outer = thick_mm * 1e-3, inner_mm * 1e-3, 50e-3
    copper_w_k, copper_j = 0.8 * 390 * 35e-6, 0.8 * 3.45e6 * 35e-6
    depths = (0.0,) if planes == 1 else tuple(np.linspace(0.0, thick, planes))
    solved = held_hub_heat_j(
        inner_m=inner,
        outer_m=outer,
        thickness_m=thick,
        plane_depths_m=depths,
        plane_sheet_w_k=copper_w_k,
        plane_j_m2k=copper_j,
        laminate_w_mk=0.8,
        laminate_z_w_mk=0.3,
        laminate_j_m3k=2.0e6,
        face_w_m2k=16.0,
        times_s=FD_TIMES,
        radial=70,
        deep=16,
        steps=60,
    )
    rings = rings_of(
        inner,
        outer,
        planes * copper_w_k + 0.8 * thick,
        planes * copper_j,
        32.0,
        (2.0e6 * thick, laminate_w_m2k(planes, thick, 0.3)),
        count=18,
    )
    times, _, heats = held_hub(rings, 20.0, per_block=8)
    for at, exact, allowed in zip(FD_TIMES, solved, tolerance, strict=True):
        assert np.interp(at, times, heats) == pytest.approx(exact, rel=allowed)


def test_a_small_land_takes_what_a_disk_on_a_half_space_takes() -> None:
    """4 k a for an isothermal disk (Carslaw and Jaeger, 8.2; Incropera, table 4.1), with
    the mean of the two conductivities, and 2 / sqrt(pi^3 Fo) more while it is not yet
    steady; the plate that stands for it comes within 30 % from three time constants on."""
    k_r, k_z, land_m, j_m3k, ratio = 0.8, 0.3, 0.4e-3, 2.0e6, 0.7
    disk = 4.0 * math.sqrt(k_r * k_z) * land_m
    depth = ratio * land_m
    rings = rings_of(land_m, 50e-3, k_r * depth, j_m3k * depth, count=40)
    constant = j_m3k * land_m**2 / k_r
    times, flows, _ = held_hub(rings, 10.0 * constant)
    for share in (3.0, 10.0):
        flow = float(np.interp(share * constant, times[1:], flows[1:]))
        assert flow == pytest.approx(disk * (1.0 + 2.0 / math.sqrt(math.pi**3 * share)), rel=0.3)


def lee_k_w(source_m: float, plate_m: float, thick_m: float, k: float, h: float) -> float:
    """Spreading resistance of a plate heated on a disk and cooled by ``h`` on the other face;
    Lee, Song, Au and Moran, Electronics Cooling (1995), closed form for the mean."""
    eps, tau = source_m / plate_m, thick_m / plate_m
    biot = h * plate_m / k
    lam = math.pi + 1.0 / (math.sqrt(math.pi) * eps)
    phi = (math.tanh(lam * tau) + lam / biot) / (1.0 + lam / biot * math.tanh(lam * tau))
    psi = eps * tau / math.sqrt(math.pi) + (1.0 - eps) * phi / math.sqrt(math.pi)
    return psi / (k * source_m * math.sqrt(math.pi))


def test_a_metal_core_spreads_as_the_closed_form_says() -> None:
    """2 x 2 mm on 50 x 50 x 1.5 mm of aluminium (140 W/mK) cooled at 10 W/m2K: Lee gives
    2.67 K/W; with 18.75 K/W of film (75 um, 1 W/mK) 230 K take 10.7 W."""
    land, plate = math.sqrt(4e-6 / math.pi), math.sqrt(2.5e-3 / math.pi)
    lee = lee_k_w(land, plate, 1.5e-3, 140.0, 10.0)
    assert lee == pytest.approx(2.67, rel=0.03)
    board = Board(name="b", material="aluminium_core", thickness_mm=1.5, length_mm=50, width_mm=50)
    stuff = DATA.materials.of(board)
    sheet = sheet_round(TAB.pads[0], board, None, land, DATA)
    copper_w_k = DATA.parameters["copper_w_mk"] * 35e-6
    film = through_film_w_k(land, stuff.film_mm * 1e-3, stuff.film_w_mk, copper_w_k, 1.0)
    ours = 1.0 / sheet.hub_w_k - 1.0 / film
    ours += math.log(plate / land) / (2.0 * math.pi * sheet.sheet_w_k)
    assert ours == pytest.approx(lee, rel=0.05)
    alone = 1.0 / through_film_w_k(land, 75e-6, 1.0, 0.0, 0.0)
    assert alone == pytest.approx(18.75, rel=0.001)
    assert 230.0 / (alone + lee) == pytest.approx(10.7, rel=0.01)
