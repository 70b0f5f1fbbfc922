"""Iron, joint, body and board integrated together, all cases at once.

Heater -> tip -> contact -> joint -> {rings of the board, trace, body}. Temperatures are
differences to the board's start. A regulated heater gives what holds its set point, up to
its power; a plain one gives its power always.
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

# Within 2 % of the time and 0.2 K of a grid four times as fine, in tests/physics.
RINGS = 14
STEPS_PER_BLOCK = 5
BLOCKS = 10


@dataclass(frozen=True)
class IronNet:
    """The lumps, (cases,) each; W/K, J/K, K."""

    joint_j_k: Array
    lead_w_k: Array
    body_j_k: Array
    body_loss_w_k: Array
    trace_w_k: Array
    path_w_k: Array  # reservoir to joint: inner, tip, contact in series
    tip_j_k: Array
    tip_loss_w_k: Array
    power_w: Array
    set_k: Array  # set point; inf for a plain iron
    first_tip_k: Array
    room_k: Array


@dataclass(frozen=True)
class IronMarch:
    """(times,) and (times, cases); K above the board's start."""

    time_s: Array
    joint_k: Array
    tip_k: Array
    body_k: Array
    heat_j: Array  # given by the heater until the end, (cases,)
    ring_k: Array  # at the end, (rings, cases)
    store_k: Array
    heater_w: Array  # at the end, (cases,)


class _Stage:
    """One implicit stage of a fixed step."""

    def __init__(self, net: IronNet, rings: Rings, step_s: float) -> None:
        self.rings = RingStep(rings, step_s)
        self.net = net
        self.joint_rate = net.joint_j_k / step_s
        self.body_rate = net.body_j_k / step_s
        self.tip_rate = net.tip_j_k / step_s
        self.body_sum = self.body_rate + net.lead_w_k + net.body_loss_w_k
        self.to_body = net.lead_w_k / self.body_sum
        self.joint_sum = (
            self.joint_rate
            + net.trace_w_k
            + net.path_w_k
            + self.rings.hub_w_k
            + net.lead_w_k * (1.0 - self.to_body)
        )
        self.to_joint = net.path_w_k / self.joint_sum
        self.tip_sum = self.tip_rate + net.tip_loss_w_k + net.path_w_k * (1.0 - self.to_joint)
        self.tip_room = net.tip_loss_w_k * net.room_k
        self.body_room = net.body_loss_w_k * net.room_k

    def solve(
        self, tip: Array, joint: Array, body: Array, ring: Array, store: Array
    ) -> tuple[Array, Array, Array, Array, Array, Array]:
        net = self.net
        body_in = self.body_rate * body + self.body_room
        joint_in = self.joint_rate * joint + self.rings.gather(ring, store)
        joint_in += self.to_body * body_in
        tip_in = self.tip_rate * tip + self.tip_room + self.to_joint * joint_in
        heater = np.minimum(np.maximum(net.set_k * self.tip_sum - tip_in, 0.0), net.power_w)
        new_tip = (tip_in + heater) / self.tip_sum
        new_joint = joint_in / self.joint_sum + self.to_joint * new_tip
        new_body = body_in / self.body_sum + self.to_body * new_joint
        new_ring, new_store = self.rings.spread(new_joint, store)
        return new_tip, new_joint, new_body, new_ring, new_store, heater


def march(
    net: IronNet,
    rings: Rings,
    end_s: float,
    per_block: int = STEPS_PER_BLOCK,
    blocks: int = BLOCKS,
) -> IronMarch:
    """Integrate from the tip's touch until ``end_s``."""
    cases = net.joint_j_k.size
    time = step_times(end_s, per_block, blocks)
    tips, joints, bodies = (np.zeros((time.size, cases)) for _ in range(3))
    tips[0] = net.first_tip_k
    ring, store = np.zeros_like(rings.capacity), np.zeros_like(rings.store)
    heat, heater = np.zeros(cases), np.zeros(cases)
    at = 0
    for step_s, count in doubling_steps(end_s, per_block, blocks):
        stage = _Stage(net, rings, GAMMA * step_s)
        for _ in range(count):
            old = (tips[at], joints[at], bodies[at], ring, store)
            *half, first = stage.solve(*old)
            ahead = [o + AHEAD * (h - o) for o, h in zip(old, half, strict=True)]
            at += 1
            tips[at], joints[at], bodies[at], ring, store, heater = stage.solve(*ahead)
            heat += step_s * ((1.0 - GAMMA) * first + GAMMA * heater)
    return IronMarch(time, joints, tips, bodies, heat, ring, store, heater)


def first_crossing(time_s: Array, value: Array, level: Array) -> Array:
    """When each column of ``value`` first reaches ``level``; inf where it never does."""
    over = value >= level
    reached = over.any(axis=0)
    after = np.where(reached, over.argmax(axis=0), 1)
    before = np.maximum(after - 1, 0)
    column = np.arange(value.shape[1])
    low, high = value[before, column], value[after, column]
    rise = np.where(high > low, high - low, 1.0)
    share = np.clip((level - low) / rise, 0.0, 1.0)
    at = time_s[before] + share * (time_s[after] - time_s[before])
    return np.where(reached, at, np.inf)
