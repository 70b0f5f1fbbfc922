"""What the physics layer reads: parameters, alloys, materials."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.reference import Parameters


@dataclass(frozen=True)
class PhysicsData:
    """``physics.yaml`` (heat), ``handwork.yaml`` (sight, volume, alignment, fumes)."""

    parameters: Parameters
    handwork: Parameters
