"""What a practice record shows: zero-fault plans, exact bounds, a sequential test.

Sources: the binomial zero-failure plan and Clopper-Pearson bound as in any acceptance
sampling handbook (Clopper and Pearson 1934); the sequential test of Wald (1945).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

MAX_JOINTS = 100_000


def joints_for_claim(fault_rate: float, confidence: float, allowed: int = 0) -> int:
    """Fewest joints that, with at most ``allowed`` faults among them, show a fault rate of
    at most ``fault_rate`` with ``confidence``.

    Raises:
        ValueError: rate or confidence outside 0..1, or more than ``MAX_JOINTS`` needed.
    """
    if not (0 < fault_rate < 1 and 0 < confidence < 1 and allowed >= 0):
        raise ValueError(f"no claim for rate {fault_rate}, confidence {confidence}")
    if allowed == 0:
        return math.ceil(math.log1p(-confidence) / math.log1p(-fault_rate) - 1e-9)
    low, high = allowed + 1, MAX_JOINTS
    if upper_bound(allowed, high, confidence) > fault_rate:
        raise ValueError(f"more than {MAX_JOINTS} joints for a rate of {fault_rate}")
    while low < high:
        middle = (low + high) // 2
        if upper_bound(allowed, middle, confidence) <= fault_rate:
            high = middle
        else:
            low = middle + 1
    return low


def upper_bound(faults: int, joints: int, confidence: float) -> float:
    """One-sided Clopper-Pearson upper bound of the fault rate."""
    from scipy.special import betaincinv

    if faults >= joints:
        return 1.0
    return float(betaincinv(faults + 1, joints - faults, confidence))


@dataclass(frozen=True)
class SequentialTest:
    """Wald's test of a fault rate: stop as soon as the record speaks.

    ``good`` is a rate that should pass, ``bad`` one that should not; ``miss`` is the chance
    to pass the bad one, ``harsh`` the chance to refuse the good one.
    """

    good: float
    bad: float
    miss: float = 0.1
    harsh: float = 0.1

    @property
    def slope(self) -> float:
        """Faults per joint along the decision lines."""
        return math.log((1 - self.good) / (1 - self.bad)) / self._scale

    @property
    def pass_intercept(self) -> float:
        return math.log((1 - self.harsh) / self.miss) / self._scale

    @property
    def fail_intercept(self) -> float:
        return math.log((1 - self.miss) / self.harsh) / self._scale

    @property
    def _scale(self) -> float:
        return math.log(self.bad * (1 - self.good) / (self.good * (1 - self.bad)))

    def decide(self, faults: int, joints: int) -> str:
        """'pass', 'fail' or 'go on' after ``joints`` joints with ``faults`` faults."""
        line = self.slope * joints
        if faults <= line - self.pass_intercept:
            return "pass"
        if faults >= line + self.fail_intercept:
            return "fail"
        return "go on"

    def passes_at(self, faults: int) -> int:
        """Joints after which the test passes with this many faults among them."""
        return math.ceil((self.pass_intercept + faults) / self.slope - 1e-9)
