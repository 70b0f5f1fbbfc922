"""What the plan layer reads: order and cost parameters, priced tools, exercises, notes."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.exercise import PracticeData
from solderrisk.model.priced_tool import PricedTool
from solderrisk.model.reference import Parameters
from solderrisk.model.safety_data import SafetyData


@dataclass(frozen=True)
class PlanData:
    """``plan.yaml``, ``tools.yaml``, ``practice.yaml`` and ``safety.yaml`` as values."""

    parameters: Parameters
    costs: Parameters
    tools: tuple[PricedTool, ...]
    practice: PracticeData
    safety: SafetyData
