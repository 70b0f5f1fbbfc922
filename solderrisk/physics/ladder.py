"""A ladder of rings: how heat spreads through a board round a joint, with time.

Temperatures are differences to the board's start. Every array is (rings, cases): one
integration serves all cases. A ring holds the copper of the planes; laminate that warms
with a lag hangs on it as stores, (stores, rings, cases). Both faces lose heat.

Time runs in blocks of equal steps, each block twice as long as the one before, by the
two-stage L-stable implicit Runge-Kutta method of Alexander (1977), whose stages share one
tridiagonal factor.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

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

    @property
    def middle_m(self) -> Array:
        middle: Array = np.sqrt(self.edge_m[:-1] * self.edge_m[1:])
        return middle


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
