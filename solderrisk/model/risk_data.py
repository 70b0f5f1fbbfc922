"""What the risk layer reads: techniques, fault modes, skill levels."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.reference import Parameters


@dataclass(frozen=True)
class RiskData:
    """``risk.yaml``, ``techniques.yaml``, ``faults.yaml`` and ``levels.yaml`` as values."""

    parameters: Parameters
