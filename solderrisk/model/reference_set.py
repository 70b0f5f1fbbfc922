"""All reference data in one value, handed down to the pure layers."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.physics_data import PhysicsData
from solderrisk.model.plan_data import PlanData
from solderrisk.model.risk_data import RiskData


@dataclass(frozen=True)
class Reference:
    physics: PhysicsData
    risk: RiskData
    plan: PlanData
