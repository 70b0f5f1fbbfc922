"""What the physics layer reads: parameters, alloys, materials."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.acceptance import Acceptance
from solderrisk.model.alloys import Alloys
from solderrisk.model.heat_tables import HeatTables
from solderrisk.model.materials import Materials
from solderrisk.model.reference import Parameters
from solderrisk.model.remedy_data import RemedyData


@dataclass(frozen=True)
class PhysicsData:
    """``physics.yaml`` (heat), ``handwork.yaml`` (sight, volume, alignment, fumes),
    ``alloys.yaml``, ``materials.yaml``, ``heat_tables.yaml``, ``acceptance.yaml`` and
    ``remedies.yaml``."""

    parameters: Parameters
    handwork: Parameters
    alloys: Alloys
    materials: Materials
    heat_tables: HeatTables
    acceptance: Acceptance
    remedies: RemedyData
