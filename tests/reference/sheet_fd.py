"""A finite-difference solution of a board in radius and depth, written for the tests.

Two-dimensional, axisymmetric, implicit Euler on a fine grid: planes are conducting sheets
at their depths, laminate conducts along and through the board. Shares nothing with the
ladder of rings but the equation of heat conduction.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import splu

Array = NDArray[np.float64]


def held_hub_heat_j(
    *,
    inner_m: float,
    outer_m: float,
    thickness_m: float,
    plane_depths_m: tuple[float, ...],
    plane_sheet_w_k: float,
    plane_j_m2k: float,
    laminate_w_mk: float,
    laminate_z_w_mk: float,
    laminate_j_m3k: float,
    face_w_m2k: float,
    times_s: Array,
    radial: int = 120,
    deep: int = 24,
    steps: int = 400,
) -> Array:
    """Heat that has left a hub held 1 K above the board, J, at each of ``times_s``.

    The hub is a cylinder of ``inner_m`` through the board.
    """
    edge = inner_m * (outer_m / inner_m) ** np.linspace(0.0, 1.0, radial + 1)
    middle = np.sqrt(edge[1:] * edge[:-1])
    area = np.pi * (edge[1:] ** 2 - edge[:-1] ** 2)
    cell_m = thickness_m / deep
    sheet = np.full(deep, laminate_w_mk * cell_m)
    capacity = np.full(deep, laminate_j_m3k * cell_m)
    for depth in plane_depths_m:
        row = min(int(depth / cell_m), deep - 1)
        sheet[row] += plane_sheet_w_k
        capacity[row] += plane_j_m2k
    index = np.arange(radial * deep).reshape(radial, deep)
    gaps = np.log(np.concatenate(([middle[0] / inner_m], middle[1:] / middle[:-1])))
    along = 2.0 * np.pi * sheet[None, :] / gaps[:, None]
    through = np.repeat((laminate_z_w_mk / cell_m * area)[:, None], deep - 1, axis=1)
    rows = np.concatenate((index[1:].ravel(), index[:, 1:].ravel()))
    cols = np.concatenate((index[:-1].ravel(), index[:, :-1].ravel()))
    value = np.concatenate((along[1:].ravel(), through.ravel()))
    links = coo_matrix((value, (rows, cols)), shape=(index.size, index.size)).tocsc()
    links = links + links.T
    loss = np.zeros((radial, deep))
    loss[:, 0] += face_w_m2k * area
    loss[:, -1] += face_w_m2k * area
    hub = np.zeros((radial, deep))
    hub[0] = along[0]
    total = np.asarray(links.sum(axis=1)).ravel() + loss.ravel() + hub.ravel()
    conduction = diags(total) - links
    mass = (capacity[None, :] * area[:, None]).ravel()
    temp = np.zeros(index.size)
    heat, now, answers = 0.0, 0.0, []
    for target in times_s:
        step = (target - now) / steps
        factor = splu((diags(mass / step) + conduction).tocsc())
        for _ in range(steps):
            temp = factor.solve(mass / step * temp + hub.ravel())
            heat += step * float(hub.ravel() @ (1.0 - temp))
        now = target
        answers.append(heat)
    return np.array(answers)
