"""What a round jet of hot air brings to a surface: Martin's correlation and its limits.

H. Martin, Advances in Heat Transfer 13 (1977), as given by Incropera, Fundamentals of Heat
and Mass Transfer, for a single round nozzle: 2000 < Re < 400000, 2 < H/D < 12,
0.004 < Ar < 0.04 with Ar = D^2 / (4 r^2).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solderrisk.model.reference import Parameters
from solderrisk.physics.ladder import Array

Some = Array | float  # one value, or one per jet

MM = 1e-3
KELVIN = 273.15
L_MIN = 1e-3 / 60.0  # m3/s
SUTHERLAND_K = 273.15  # reference temperature of Sutherland's law


@dataclass(frozen=True)
class Jet:
    """A jet at its nozzle."""

    reynolds: float
    nozzle_m: float
    height_d: float
    k_air: float

    def warnings(self, p: Parameters) -> tuple[str, ...]:
        """Where the correlation is used beyond what it was made from."""
        found = []
        if not p["jet_re_low"] <= self.reynolds <= p["jet_re_high"]:
            found.append(f"air flow outside the correlation's range (Re {self.reynolds:.0f})")
        low, high = p["jet_height_low_d"], p["jet_height_high_d"]
        if not low <= self.height_d <= high:
            found.append(
                f"nozzle height {self.height_d:.1f} diameters is outside the "
                f"correlation's {low:g} to {high:g}"
            )
        return tuple(found)


@dataclass(frozen=True)
class Jets:
    """Many jets as arrays, (jets,)."""

    reynolds: Array
    nozzle_m: Array
    height_d: Array
    k_air: Array

    @classmethod
    def of(cls, jets: Sequence[Jet]) -> Jets:
        rows = [(jet.reynolds, jet.nozzle_m, jet.height_d, jet.k_air) for jet in jets]
        return cls(*np.array(rows).T)


def jet_of(
    flow_l_min: float, nozzle_mm: float, height_mm: float, film_c: float, p: Parameters
) -> Jet:
    """A jet from its cold flow; air's properties at the film temperature."""
    mass_kg_s = flow_l_min * L_MIN * p["air_kg_m3"]
    nozzle_m = nozzle_mm * MM
    return Jet(
        reynolds=4.0 * mass_kg_s / (math.pi * nozzle_m * air_viscosity(film_c, p)),
        nozzle_m=nozzle_m,
        height_d=height_mm / nozzle_mm,
        k_air=air_conductivity(film_c, p),
    )


def _sutherland(at_c: float, reference: float, constant_k: float) -> float:
    kelvin = at_c + KELVIN
    steep = math.pow(kelvin / SUTHERLAND_K, 1.5)
    return reference * steep * (SUTHERLAND_K + constant_k) / (kelvin + constant_k)


def air_viscosity(at_c: float, p: Parameters) -> float:
    """Pa s, by Sutherland's law."""
    return _sutherland(at_c, p["air_mu_pa_s"], p["air_mu_sutherland_k"])


def air_conductivity(at_c: float, p: Parameters) -> float:
    """W/mK, by Sutherland's law."""
    return _sutherland(at_c, p["air_k_w_mk"], p["air_k_sutherland_k"])


def martin_nusselt(reynolds: Some, prandtl: float, radius_d: Some, height_d: Some) -> Array:
    """Nusselt number averaged from the axis to ``radius_d`` nozzle diameters."""
    a = 0.5 / np.asarray(radius_d)
    spread = 2.0 * a * (1.0 - 2.2 * a) / (1.0 + 0.2 * (height_d - 6.0) * a)
    flow = 2.0 * np.sqrt(reynolds * (1.0 + 0.005 * reynolds**0.55))
    nusselt: Array = prandtl**0.42 * spread * flow
    return nusselt


def mean_h(jets: Jets, radius_m: Array, p: Parameters) -> Array:
    """Heat transfer averaged from the axis to a radius, W/m2K; (..., jets).

    Below the correlation's smallest radius it is held, which under-states the heat right
    under the nozzle; beyond its largest the local value falls by a power law.
    """
    core_d, reach_d = 0.5 / math.sqrt(p["jet_core_ar"]), p["jet_reach_d"]
    radius_d = radius_m / jets.nozzle_m

    def mean(at_d: Some) -> Array:
        nusselt = martin_nusselt(jets.reynolds, p["air_prandtl"], at_d, jets.height_d)
        return jets.k_air / jets.nozzle_m * nusselt

    near_d = 0.99 * reach_d
    whole = mean(reach_d) * reach_d**2
    local = (whole - mean(near_d) * near_d**2) / (reach_d**2 - near_d**2)
    tail = 2.0 - p["jet_tail"]
    beyond = np.maximum(radius_d, reach_d)
    added = 2.0 * local * reach_d**2 * ((beyond / reach_d) ** tail - 1.0) / tail
    inside = mean(np.clip(radius_d, core_d, reach_d))
    answer: Array = np.where(radius_d <= reach_d, inside, (whole + added) / beyond**2)
    return answer


def ring_h(jets: Jets, edge_m: Array, p: Parameters) -> Array:
    """Heat transfer of each ring between edges (edges, jets), W/m2K; the rings add up to
    ``mean_h``."""
    area = edge_m**2
    sums = mean_h(jets, np.maximum(edge_m, 1e-9), p) * area
    ring: Array = np.diff(sums, axis=0) / np.diff(area, axis=0)
    return ring


def arriving_share(radius_d: Array, slope: Some, knee_d: float) -> Array:
    """Share of the jet's excess temperature that a wall at a radius would take on."""
    near = 1.0 - slope * np.minimum(radius_d, knee_d)
    share: Array = near * np.where(radius_d > knee_d, knee_d / np.maximum(radius_d, knee_d), 1.0)
    return share
