"""What the physics layer reads: parameters, alloys, materials."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.acceptance import Acceptance
from solderrisk.model.alloys import Alloys
from solderrisk.model.heat_tables import HeatTables
from solderrisk.model.materials import Materials
from solderrisk.model.reference import Parameters


@dataclass(frozen=True)
class PhysicsData:
    """``physics.yaml`` (heat), ``handwork.yaml`` (sight, volume, alignment, fumes),
    ``alloys.yaml``, ``materials.yaml`` and ``acceptance.yaml``."""

    parameters: Parameters
    handwork: Parameters
    alloys: Alloys
    materials: Materials
    heat_tables: HeatTables
    acceptance: Acceptance
