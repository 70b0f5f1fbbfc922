"""An iron on a joint, solved again for the tests by another method.

Method of lines on a fine grid with an adaptive stiff solver of scipy, latent heat as
enthalpy at the melting point, the heater clipped to its power. Parameters are shared with
the product; grid, time stepping, melting and code are not.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from solderrisk.model.physics_data import PhysicsData
from solderrisk.physics.joint import JointLumps, joint_lumps
from solderrisk.physics.results import IronCase

Array = NDArray[np.float64]


def time_to_wet_s(case: IronCase, data: PhysicsData, end_s: float = 20.0, rings: int = 60) -> float:
    """When the joint is ``wet_over_k`` above liquidus; inf within ``end_s``."""
    p, lumps = data.parameters, joint_lumps(case.joint, data)
    net = _Net(case, lumps, data, rings)
    needed = lumps.liquidus_c + p["wet_over_k"]

    def wet(_t: float, y: Array) -> float:
        return net.joint_c(y[1]) - needed

    wet.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(net.rates, (0.0, end_s), net.start(), "BDF", events=wet, rtol=1e-5, atol=1e-5,
                    jac_sparsity=net.sparsity(), max_step=0.5)  # fmt: skip
    return float(run.t_events[0][0]) if run.t_events[0].size else math.inf


class _Net:
    """State: tip C, joint enthalpy J above start, body C, rings C, laminate C below each."""

    def __init__(self, case: IronCase, lumps: JointLumps, data: PhysicsData, rings: int) -> None:
        p = data.parameters
        self.case, self.lumps, self.n = case, lumps, rings
        drive = case.iron.drive
        self.plain = drive == "plain"
        self.set_c = p["plain_idle_c"] if self.plain else case.tip_c
        self.room_c = p["ambient_c"]
        self.tip_loss = (
            case.iron.power_w / (self.set_c - self.room_c) if self.plain else p["tip_loss_w_k"]
        )
        self.tip_j_k = p[f"{drive}_tip_j_k"]
        width = case.tip.width_mm * 1e-3
        area = min(width, lumps.land_w_m) * min(
            max(width, p["contact_floor_mm"] * 1e-3), lumps.land_l_m
        )
        contact = p["plain_contact_w_m2k" if self.plain else "contact_w_m2k"]
        cone = math.pi * p["tip_w_mk"] * width / 2 * p["tip_root_mm"] / p["tip_cone_mm"]
        self.path = 1.0 / (1.0 / p[f"{drive}_inner_w_k"] + 1.0 / cone + 1.0 / (contact * area))
        # Rings evenly spaced in the square root of the radius: another grid than the product's.
        edge = np.linspace(math.sqrt(lumps.inner_m), math.sqrt(lumps.outer_m), rings + 1) ** 2
        middle = (edge[1:] + edge[:-1]) / 2
        self.area = np.pi * (edge[1:] ** 2 - edge[:-1] ** 2)
        gap = np.log(middle[1:] / middle[:-1])
        self.link = 2 * np.pi * lumps.sheet_w_k / gap
        first = math.log(middle[0] / lumps.inner_m) / (2 * np.pi * lumps.sheet_w_k)
        self.hub = 1.0 / (first + 1.0 / lumps.hub_w_k)
        self.melt_j = lumps.capacity_j_k * (lumps.liquidus_c - case.start_c)

    def start(self) -> Array:
        y = np.full(3 + 2 * self.n, self.case.start_c)
        y[0], y[1] = self.set_c, 0.0
        return y

    def joint_c(self, enthalpy: float) -> float:
        melted = enthalpy - self.melt_j
        if melted <= 0:
            return self.case.start_c + enthalpy / self.lumps.capacity_j_k
        over = max(melted - self.lumps.latent_j, 0.0)
        return self.lumps.liquidus_c + over / self.lumps.capacity_j_k

    def rates(self, _t: float, y: Array) -> Array:
        lumps, start_c = self.lumps, self.case.start_c
        joint = self.joint_c(y[1])
        tip, body, ring, slab = y[0], y[2], y[3 : 3 + self.n], y[3 + self.n :]
        draw = self.path * (tip - joint)
        loss = self.tip_loss * (tip - self.room_c)
        if self.plain:
            heater = self.case.iron.power_w
        else:
            hold = 50.0 * (self.set_c - tip) + draw + loss
            heater = min(max(hold, 0.0), self.case.iron.power_w)
        rate = np.empty_like(y)
        rate[0] = (heater - loss - draw) / self.tip_j_k
        to_body = lumps.lead_w_k * (joint - body)
        to_board = self.hub * (joint - ring[0])
        rate[1] = draw - to_body - to_board - lumps.trace_w_k * (joint - start_c)
        rate[2] = (to_body - lumps.body_loss_w_k * (body - self.room_c)) / lumps.body_j_k
        flow = np.zeros(self.n + 1)
        flow[0] = to_board
        flow[1:-1] = self.link * (ring[:-1] - ring[1:])
        net = flow[:-1] - flow[1:] - lumps.loss_w_m2k * self.area * (ring - start_c)
        if lumps.laminate_j_m2k > 0:
            # One lump a third of the slab away: simpler than the product's stores.
            into = 3.0 * lumps.laminate_w_m2k * self.area * (ring - slab)
            rate[3 + self.n :] = into / (lumps.laminate_j_m2k * self.area)
            net = net - into
        else:
            rate[3 + self.n :] = 0.0
        rate[3 : 3 + self.n] = net / (lumps.copper_j_m2k * self.area)
        return rate

    def sparsity(self) -> Array:
        size = 3 + 2 * self.n
        pattern = np.eye(size)
        pattern[:4, :4] = 1.0
        for k in range(self.n):
            ring, slab = 3 + k, 3 + self.n + k
            pattern[ring, slab] = pattern[slab, ring] = 1.0
            if k:
                pattern[ring, ring - 1] = pattern[ring - 1, ring] = 1.0
        return pattern
