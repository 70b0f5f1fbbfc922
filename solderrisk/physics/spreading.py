"""What a sheet takes from a round hub, in closed form: to explain the ladder and check it."""

from __future__ import annotations

import math

LATE = 500.0  # from here on the logarithm is closer than the fit
EULER_TERM = math.log(4.0) - 0.5772156649015329


def pressure_function(t_d: float) -> float:
    """Dimensionless rise of a hub that feeds a constant flow into an infinite sheet.

    van Everdingen and Hurst, Trans. AIME 186 (1949), by the fit of Edwardson and others,
    J. Petroleum Technology 14 (1962), within 1 % from 0.01 to 500; its logarithm beyond.

    Raises:
        ValueError: ``t_d`` is not positive.
    """
    if t_d <= 0:
        raise ValueError(f"dimensionless time must be positive, not {t_d:g}")
    if t_d > LATE:
        return 0.5 * (math.log(t_d) + EULER_TERM)
    if t_d < 0.01:
        return 2.0 * math.sqrt(t_d / math.pi)
    x = math.sqrt(t_d)
    top = 370.529 * x + 137.582 * t_d + 5.69549 * t_d * x
    return top / (328.834 + 265.488 * x + 45.2157 * t_d + t_d * x)


def from_hub_w_k(spread_w_k: float, j_m2k: float, radius_m: float, at_s: float) -> float:
    """Conductance from a hub into a sheet some time after the start, W/K.

    ``spread_w_k`` is conductivity times thickness, ``j_m2k`` heat capacity per area.
    """
    t_d = spread_w_k * at_s / (j_m2k * radius_m**2)
    return 2.0 * math.pi * spread_w_k / pressure_function(t_d)
