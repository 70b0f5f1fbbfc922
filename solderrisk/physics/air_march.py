"""Hot air on a part: body and board integrated together, all cases at once.

The jet heats the body's top and the board round it; body and board exchange heat through
leads and the gap below; the board spreads it in rings. K above the board's start.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from solderrisk.physics.ladder import (
    AHEAD,
    GAMMA,
    Array,
    Rings,
    RingStep,
    doubling_steps,
    step_times,
)

STEPS_PER_BLOCK = 5
BLOCKS = 6


@dataclass(frozen=True)
class AirNet:
    """Body (cases,) and its ways to the rings (rings, cases)."""

    body_j_k: Array
    body_jet_w_k: Array  # from the jet, through the body's upper half
    body_wall_k: Array  # temperature that the jet would bring the body to
    to_ring_w_k: Array
    ring_heat_w: Array  # from the jet: conductance times wall temperature


@dataclass(frozen=True)
class AirMarch:
    time_s: Array
    body_k: Array  # (times, cases)
    ring_k: Array  # (times, rings, cases)


class _Stage:
    def __init__(self, net: AirNet, rings: Rings, step_s: float) -> None:
        self.net = net
        self.rings = RingStep(rings, step_s)
        self.rate = net.body_j_k / step_s
        still = np.zeros_like(net.body_j_k)
        nothing, empty = np.zeros_like(net.to_ring_w_k), np.zeros_like(rings.store)
        self.still = still
        self.rings.gather(nothing, empty, net.to_ring_w_k)
        self.answer, _ = self.rings.spread(still, empty)  # rings per kelvin of the body
        self.sum = self.rate + net.body_jet_w_k
        self.sum = self.sum + (net.to_ring_w_k * (1.0 - self.answer)).sum(axis=0)
        self.jet_in = net.body_jet_w_k * net.body_wall_k

    def solve(self, body: Array, ring: Array, store: Array) -> tuple[Array, Array, Array]:
        self.rings.gather(ring, store, self.net.ring_heat_w)
        alone, _ = self.rings.spread(self.still, store)
        heat = self.rate * body + self.jet_in + (self.net.to_ring_w_k * alone).sum(axis=0)
        new_body = heat / self.sum
        return new_body, alone + self.answer * new_body, store


def march_air(
    net: AirNet,
    rings: Rings,
    end_s: float,
    per_block: int = STEPS_PER_BLOCK,
    blocks: int = BLOCKS,
) -> AirMarch:
    """Integrate from the moment the air arrives until ``end_s``. ``rings.link[0]`` must be
    zero (there is no hub), ``rings.loss`` must hold every way out of a ring."""
    time = step_times(end_s, per_block, blocks)
    bodies = np.zeros((time.size, net.body_j_k.size))
    ring_k = np.zeros((time.size, *rings.capacity.shape))
    store = np.zeros_like(rings.store)
    at = 0
    for step_s, count in doubling_steps(end_s, per_block, blocks):
        stage = _Stage(net, rings, GAMMA * step_s)
        for _ in range(count):
            body, ring = bodies[at], ring_k[at]
            half_body, half_ring, _ = stage.solve(body, ring, store)
            ahead_body = body + AHEAD * (half_body - body)
            ahead_ring = ring + AHEAD * (half_ring - ring)
            at += 1
            bodies[at], ring_k[at], _ = stage.solve(ahead_body, ahead_ring, store)
    return AirMarch(time, bodies, ring_k)
