"""Time marched in steps: one ladder of lumps for the iron, one network for hot air."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GAMMA = 1.0 - 0.5**0.5
AHEAD = (1.0 - GAMMA) / GAMMA  # how far the second stage starts beyond the first

# A slab heated from one face is a sum of stores, each reached through 2 k / depth and
# holding 8 / (pi (2m - 1))^2 of its heat (Carslaw and Jaeger, Conduction of Heat in Solids,
# 3.4). The first is taken as it is, the others as one that keeps heat and mean lag exact.
_FIRST = 8.0 / np.pi**2
SLAB_SHARES = np.array([_FIRST, 1.0 - _FIRST])
SLAB_LINKS = np.array([2.0, (1.0 - _FIRST) ** 2 / (1.0 / 3.0 - _FIRST**2 / 2.0)])


@dataclass(frozen=True)
class Rings:
    """The board round a hub. ``link[0]`` joins the hub to ring 0, ``link[k]`` the rings
    k-1 and k, W/K. Each ``store`` is reached through its ``store_link`` only."""

    capacity: Array  # J/K
    link: Array  # W/K
    loss: Array  # W/K
    store: Array  # J/K
    store_link: Array  # W/K
    edge_m: Array  # (rings + 1, cases)


def rings_round(
    inner_m: Array,
    outer_m: Array,
    sheet_w_k: Array,
    copper_j_m2k: Array,
    laminate_j_m2k: Array,
    laminate_w_m2k: Array,
    loss_w_m2k: Array,
    hub_w_k: Array,
    count: int,
) -> Rings:
    """Rings of growing width between two radii, (cases,) each.

    ``sheet_w_k`` is conductivity times thickness; ``hub_w_k`` what stands between hub and
    inner radius (spokes), ``inf`` for solid copper; ``laminate_w_m2k`` is conductivity over
    depth of the laminate that hangs on the planes, per board area.
    """
    steps = np.linspace(0.0, 1.0, count + 1)[:, None]
    edge = inner_m * (outer_m / inner_m) ** steps
    area = np.pi * (edge[1:] ** 2 - edge[:-1] ** 2)
    ratio = np.log(outer_m / inner_m) / count
    link = np.empty((count, inner_m.size))
    link[1:] = 2.0 * np.pi * sheet_w_k / ratio
    link[0] = 1.0 / (0.5 * ratio / (2.0 * np.pi * sheet_w_k) + 1.0 / hub_w_k)
    return Rings(
        capacity=copper_j_m2k * area,
        link=link,
        loss=loss_w_m2k * area,
        store=SLAB_SHARES[:, None, None] * (laminate_j_m2k * area),
        store_link=SLAB_LINKS[:, None, None] * (laminate_w_m2k * area),
        edge_m=edge,
    )


def segments_along(
    length_m: Array, first_m: Array, k_area: Array, j_mk: Array, loss_w_mk: Array, count: int
) -> Rings:
    """A rod in segments of growing length as one more set of rings, (cases,) each; a rod of
    no length takes no heat. ``k_area`` is conductivity times section, the rest per length."""
    there = length_m > 0
    whole = np.where(there, np.maximum(length_m / first_m, 1.001 * count), 2.0 * count)
    growth = np.full_like(length_m, 1.5)
    for _ in range(60):  # the growth at which count segments make up the length
        growth = (1.0 + whole * (growth - 1.0)) ** (1.0 / count)
    share = growth ** np.arange(count)[:, None]
    step = np.where(there, length_m, 1.0) * share / share.sum(axis=0)
    link = np.zeros_like(step)
    link[0] = np.where(there, 2.0 * k_area / step[0], 0.0)
    link[1:] = np.where(there, 2.0 * k_area / (step[1:] + step[:-1]), 0.0)
    edge = np.vstack((np.zeros_like(length_m), np.cumsum(step, axis=0)))
    return Rings(
        capacity=np.where(there, j_mk, 1.0) * step,
        link=link,
        loss=loss_w_mk * step,
        store=np.zeros((0, *step.shape)),
        store_link=np.zeros((0, *step.shape)),
        edge_m=edge,
    )


class RingStep:
    """The rings over one implicit step of ``step_s``: eliminated from the rim inwards, so
    that the hub sees one conductance and one source."""

    def __init__(self, rings: Rings, step_s: float) -> None:
        self._capacity = rings.capacity / step_s
        store = rings.store / step_s
        whole = store + rings.store_link
        self._store_old = np.divide(store, whole, out=np.zeros_like(store), where=whole > 0)
        self._store_new = np.divide(
            rings.store_link, whole, out=np.zeros_like(store), where=whole > 0
        )
        self._store_back = rings.store_link * self._store_old
        diagonal = self._capacity + rings.loss + rings.link
        diagonal += (rings.store_link * (1.0 - self._store_new)).sum(axis=0)
        diagonal[:-1] += rings.link[1:]
        for ring in range(len(diagonal) - 1, 0, -1):
            diagonal[ring - 1] -= rings.link[ring] ** 2 / diagonal[ring]
        self._inverse = 1.0 / diagonal
        self._ratio = rings.link * self._inverse
        self.hub_w_k: Array = rings.link[0] * (1.0 - self._ratio[0])
        self._right = right = np.empty_like(diagonal)
        self._term = np.empty_like(diagonal[0])
        # Rows are views taken once: indexing costs as much as the sums on them.
        self._inwards = list(zip(right[:0:-1], right[-2::-1], self._ratio[:0:-1], strict=True))
        self._outwards = list(self._ratio)

    def gather(self, ring: Array, store: Array, heat_w: Array | None = None) -> Array:
        """The source that the hub sees, W, from the step's old temperatures."""
        right, term = self._right, self._term
        np.multiply(self._capacity, ring, out=right)
        for back, held in zip(self._store_back, store, strict=True):
            right += back * held
        if heat_w is not None:
            right += heat_w
        for outer, inner, ratio in self._inwards:
            np.multiply(ratio, outer, out=term)
            np.add(inner, term, out=inner)
        source: Array = self._ratio[0] * right[0]
        return source

    def spread(self, hub: Array, store: Array) -> tuple[Array, Array]:
        """New ring and store temperatures, once the hub's is known."""
        new = self._right * self._inverse
        term, inner = self._term, hub
        for row, ratio in zip(new, self._outwards, strict=True):
            np.multiply(ratio, inner, out=term)
            np.add(row, term, out=row)
            inner = row
        return new, self._store_old * store + self._store_new * new


def doubling_steps(end_s: float, per_block: int, blocks: int) -> Iterator[tuple[float, int]]:
    """(step, number of steps) of blocks that double and end at ``end_s``."""
    first = end_s / (per_block * (2**blocks - 1))
    for block in range(blocks):
        yield first * 2**block, per_block


def step_times(end_s: float, per_block: int, blocks: int) -> Array:
    """The times of all steps, from 0 on."""
    steps = [step for step, n in doubling_steps(end_s, per_block, blocks) for _ in range(n)]
    return np.concatenate(([0.0], np.cumsum(steps)))


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
    rod_k: Array | None = None  # (times, segments, cases), where there are wires


State = tuple[Array, ...]


class Stage(Protocol):
    """One implicit stage of a fixed step: the new state and the heat given, W."""

    def solve(self, old: State) -> tuple[State, Array]: ...


def steps(
    stage_of: Callable[[float], Stage], state: State, end_s: float, per_block: int, blocks: int
) -> Iterator[tuple[State, Array, Array]]:
    """States after every step of doubling blocks, by two implicit stages a step that are
    together of second order (L-stable), with the heat given in the step (J) and at its end."""
    for step_s, count in doubling_steps(end_s, per_block, blocks):
        stage = stage_of(GAMMA * step_s)
        for _ in range(count):
            half, first_w = stage.solve(state)
            ahead = tuple(o + AHEAD * (h - o) for o, h in zip(state, half, strict=True))
            state, last_w = stage.solve(ahead)
            yield state, step_s * ((1.0 - GAMMA) * first_w + GAMMA * last_w), last_w


class _IronStage:
    """State: tip, joint, body, rings, their stores, and a rod's segments where there is one."""

    def __init__(self, net: IronNet, rings: Rings, rod: Rings | None, step_s: float) -> None:
        self.rings = RingStep(rings, step_s)
        self.rod = None if rod is None else RingStep(rod, step_s)
        self.no_store = np.zeros((0, 0, 0)) if rod is None else rod.store
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
        if self.rod is not None:
            self.joint_sum = self.joint_sum + self.rod.hub_w_k
        self.to_joint = net.path_w_k / self.joint_sum
        self.tip_sum = self.tip_rate + net.tip_loss_w_k + net.path_w_k * (1.0 - self.to_joint)
        self.tip_room = net.tip_loss_w_k * net.room_k
        self.body_room = net.body_loss_w_k * net.room_k

    def solve(self, old: State) -> tuple[State, Array]:
        tip, joint, body, ring, store, *rod = old
        net = self.net
        body_in = self.body_rate * body + self.body_room
        joint_in = self.joint_rate * joint + self.rings.gather(ring, store)
        joint_in += self.to_body * body_in
        if self.rod is not None:
            joint_in += self.rod.gather(rod[0], self.no_store)
        tip_in = self.tip_rate * tip + self.tip_room + self.to_joint * joint_in
        heater = np.minimum(np.maximum(net.set_k * self.tip_sum - tip_in, 0.0), net.power_w)
        new_tip = (tip_in + heater) / self.tip_sum
        new_joint = joint_in / self.joint_sum + self.to_joint * new_tip
        new_body = body_in / self.body_sum + self.to_body * new_joint
        new_ring, new_store = self.rings.spread(new_joint, store)
        along = [] if self.rod is None else [self.rod.spread(new_joint, self.no_store)[0]]
        return (new_tip, new_joint, new_body, new_ring, new_store, *along), heater


def march(
    net: IronNet,
    rings: Rings,
    end_s: float,
    per_block: int = STEPS_PER_BLOCK,
    blocks: int = BLOCKS,
    rod: Rings | None = None,
) -> IronMarch:
    """Integrate from the tip's touch until ``end_s``; ``rod``: a wire behind each joint."""
    cases = net.joint_j_k.size
    time = step_times(end_s, per_block, blocks)
    tips, joints, bodies = (np.zeros((time.size, cases)) for _ in range(3))
    tips[0] = net.first_tip_k
    state: State = (tips[0], joints[0], bodies[0], np.zeros_like(rings.capacity),
                    np.zeros_like(rings.store))  # fmt: skip
    rods = None
    if rod is not None:
        rods = np.zeros((time.size, *rod.capacity.shape))
        state = (*state, rods[0])
    heat, heater = np.zeros(cases), np.zeros(cases)

    def stage_of(step_s: float) -> Stage:
        return _IronStage(net, rings, rod, step_s)

    run = steps(stage_of, state, end_s, per_block, blocks)
    for at, (new, given, now_w) in enumerate(run, start=1):
        tips[at], joints[at], bodies[at] = new[:3]
        if rods is not None:
            rods[at] = new[5]
        heat += given
        state, heater = new, now_w
    return IronMarch(time, joints, tips, bodies, heat, state[3], state[4], heater, rods)


def first_crossing(time_s: Array, value: Array, level: Array) -> Array:
    """When each column of ``value`` first reaches ``level``; inf where it never does.

    >>> time = np.array([0.0, 1.0, 2.0])
    >>> float(first_crossing(time, np.array([[0.0], [10.0], [20.0]]), np.array([15.0]))[0])
    1.5
    """
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


AIR_STEPS_PER_BLOCK = 5
AIR_BLOCKS = 6


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


class _AirStage:
    """State: body, rings."""

    def __init__(self, net: AirNet, rings: Rings, step_s: float) -> None:
        self.net = net
        self.rings = RingStep(rings, step_s)
        self.rate = net.body_j_k / step_s
        self.still = still = np.zeros_like(net.body_j_k)
        self.no_store = rings.store
        self.rings.gather(np.zeros_like(net.to_ring_w_k), rings.store, net.to_ring_w_k)
        self.answer, _ = self.rings.spread(still, rings.store)  # rings per kelvin of the body
        self.sum = self.rate + net.body_jet_w_k
        self.sum = self.sum + (net.to_ring_w_k * (1.0 - self.answer)).sum(axis=0)
        self.jet_in = net.body_jet_w_k * net.body_wall_k

    def solve(self, old: State) -> tuple[State, Array]:
        body, ring = old
        self.rings.gather(ring, self.no_store, self.net.ring_heat_w)
        alone, _ = self.rings.spread(self.still, self.no_store)
        heat = self.rate * body + self.jet_in + (self.net.to_ring_w_k * alone).sum(axis=0)
        new_body = heat / self.sum
        return (new_body, alone + self.answer * new_body), self.still


def march_air(
    net: AirNet,
    rings: Rings,
    end_s: float,
    per_block: int = AIR_STEPS_PER_BLOCK,
    blocks: int = AIR_BLOCKS,
) -> AirMarch:
    """Integrate from the moment the air arrives until ``end_s``. ``rings.link[0]`` must be
    zero (there is no hub), ``rings.loss`` must hold every way out of a ring, and there are
    no stores."""
    time = step_times(end_s, per_block, blocks)
    bodies = np.zeros((time.size, net.body_j_k.size))
    ring_k = np.zeros((time.size, *rings.capacity.shape))
    first = (bodies[0], ring_k[0])
    run = steps(lambda step_s: _AirStage(net, rings, step_s), first, end_s, per_block, blocks)
    for at, (state, _, _) in enumerate(run, start=1):
        bodies[at], ring_k[at] = state
    return AirMarch(time, bodies, ring_k)
