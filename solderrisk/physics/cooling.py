"""A hub on a ladder of rings, held hot and then left alone: exact in time.

With nothing but conductances and capacities the ladder is linear, so its temperatures are
sums of exponentials (eigenvectors of the symmetric, capacity-scaled conduction matrix).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from solderrisk.physics.ladder import Array

TIMES = 80
SHORTEST = 1e-3  # first time looked at, as a share of the last


@dataclass(frozen=True)
class Cooling:
    """Hub, body and rings of one case; W/K and J/K. ``link[0]`` joins hub and ring 0."""

    hub_j_k: float
    body_j_k: float
    lead_w_k: float
    body_loss_w_k: float
    ring_j_k: Array
    link_w_k: Array
    loss_w_k: Array

    def matrix(self) -> tuple[Array, Array]:
        """Conduction matrix (hub, body, rings), W/K, and capacities, J/K."""
        n = self.ring_j_k.size + 2
        conduction = np.zeros((n, n))
        pairs = [(0, 1, self.lead_w_k), (0, 2, self.link_w_k[0])]
        pairs += [(k + 1, k + 2, self.link_w_k[k]) for k in range(1, n - 2)]
        for a, b, w_k in pairs:
            conduction[a, a] += w_k
            conduction[b, b] += w_k
            conduction[a, b] -= w_k
            conduction[b, a] -= w_k
        conduction[1, 1] += self.body_loss_w_k
        conduction[range(2, n), range(2, n)] += self.loss_w_k
        return conduction, np.concatenate(([self.hub_j_k, self.body_j_k], self.ring_j_k))


def held_profile(case: Cooling, hot_k: float, held_s: float) -> Array:
    """Temperatures of all nodes after the hub has been held at ``hot_k``."""
    conduction, capacity = case.matrix()
    inner, root = conduction[1:, 1:], np.sqrt(capacity[1:])
    final = np.linalg.solve(inner, -conduction[1:, 0] * hot_k)
    rate, modes = np.linalg.eigh(inner / np.outer(root, root))
    left = modes @ (np.exp(-rate * held_s) * (modes.T @ (root * final))) / root
    return np.concatenate(([hot_k], final - left))


def time_above(case: Cooling, hot_k: float, held_s: float, level_k: float, end_s: float) -> float:
    """How long the hub stays above a level once it is let go, s; at most ``end_s``."""
    conduction, capacity = case.matrix()
    root = np.sqrt(capacity)
    rate, modes = np.linalg.eigh(conduction / np.outer(root, root))
    amplitude = modes[0] * (modes.T @ (root * held_profile(case, hot_k, held_s))) / root[0]
    time_s = np.concatenate(([0.0], np.geomspace(SHORTEST * end_s, end_s, TIMES)))
    hub = np.exp(-np.outer(time_s, rate)) @ amplitude
    if hub[-1] >= level_k:
        return end_s
    return float(np.interp(-level_k, -hub, time_s))
