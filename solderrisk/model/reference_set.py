"""All reference data in one value, handed down to the pure layers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Self

from solderrisk.model.physics_data import PhysicsData
from solderrisk.model.plan_data import PlanData
from solderrisk.model.problems import UserProblem
from solderrisk.model.reference import Parameters
from solderrisk.model.risk_data import RiskData


@dataclass(frozen=True)
class Reference:
    physics: PhysicsData
    risk: RiskData
    plan: PlanData

    def assuming(self, changes: Mapping[str, float]) -> Self:
        """A copy in which some named parameters have the user's values.

        Raises:
            UserProblem: no such parameter; close names are told.
        """
        known = [
            *self.risk.parameters.parameters,
            *self.physics.parameters.parameters,
            *self.plan.costs.parameters,
        ]
        for name in changes:
            if name not in known:
                near = ", ".join(get_close_matches(name, known, n=3, cutoff=0.4)) or "none close"
                raise UserProblem(f"no parameter {name!r} to set; close names: {near}")
        return replace(
            self,
            risk=replace(self.risk, parameters=_set(self.risk.parameters, changes)),
            physics=replace(self.physics, parameters=_set(self.physics.parameters, changes)),
            plan=replace(self.plan, costs=_set(self.plan.costs, changes)),
        )


def _set(table: Parameters, changes: Mapping[str, float]) -> Parameters:
    return table.replaced({k: v for k, v in changes.items() if k in table.parameters})
