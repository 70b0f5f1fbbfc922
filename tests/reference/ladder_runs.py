"""Runs of the ladder of rings with a hub of its own, for comparison with closed forms."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from solderrisk.physics.march import AHEAD, GAMMA, Rings, RingStep, doubling_steps, rings_round

Array = NDArray[np.float64]
ONE = np.ones(1)


def rings_of(
    inner_m: float,
    outer_m: float,
    sheet_w_k: float,
    j_m2k: float,
    loss_w_m2k: float = 0.0,
    laminate: tuple[float, float] = (0.0, 0.0),
    count: int = 40,
) -> Rings:
    """One case; ``laminate`` is heat per area and conductivity over depth."""
    return rings_round(
        inner_m * ONE,
        outer_m * ONE,
        sheet_w_k * ONE,
        j_m2k * ONE,
        laminate[0] * ONE,
        laminate[1] * ONE,
        loss_w_m2k * ONE,
        np.inf * ONE,
        count,
    )


def held_hub(rings: Rings, end_s: float, per_block: int = 16) -> tuple[Array, Array, Array]:
    """Times, flow out of a hub held 1 K above the board, W, and its integral, J."""
    ring, store = np.zeros_like(rings.capacity), np.zeros_like(rings.store)
    times, flows, heats = [0.0], [np.inf], [0.0]
    for step_s, count in doubling_steps(end_s, per_block, 10):
        step = RingStep(rings, GAMMA * step_s)
        for _ in range(count):
            first = step.hub_w_k - step.gather(ring, store)
            half, half_store = step.spread(ONE, store)
            ring, store = ring + AHEAD * (half - ring), store + AHEAD * (half_store - store)
            flow = step.hub_w_k - step.gather(ring, store)
            ring, store = step.spread(ONE, store)
            times.append(times[-1] + step_s)
            flows.append(float(flow[0]))
            heats.append(heats[-1] + step_s * float(((1.0 - GAMMA) * first + GAMMA * flow)[0]))
    return np.array(times), np.array(flows), np.array(heats)


def fed_hub(rings: Rings, power_w: float, end_s: float) -> tuple[Array, Array, Array]:
    """Times, temperature of a hub without capacity that gets a power, and of all rings."""
    ring, store = np.zeros_like(rings.capacity), np.zeros_like(rings.store)
    times, hubs, all_rings = [0.0], [0.0], [ring[:, 0]]
    for step_s, count in doubling_steps(end_s, 16, 10):
        step = RingStep(rings, GAMMA * step_s)
        for _ in range(count):
            hub = (power_w + step.gather(ring, store)) / step.hub_w_k
            half, half_store = step.spread(hub, store)
            ring, store = ring + AHEAD * (half - ring), store + AHEAD * (half_store - store)
            hub = (power_w + step.gather(ring, store)) / step.hub_w_k
            ring, store = step.spread(hub, store)
            times.append(times[-1] + step_s)
            hubs.append(float(hub[0]))
            all_rings.append(ring[:, 0])
    return np.array(times), np.array(hubs), np.array(all_rings)
