"""What the risk layer reads: techniques, fault modes, skill levels."""

from __future__ import annotations

from dataclasses import dataclass

from solderrisk.model.fault_data import FaultData
from solderrisk.model.level_data import LevelData
from solderrisk.model.reference import Parameters
from solderrisk.model.technique import Technique, TechniqueData


@dataclass(frozen=True)
class RiskData:
    """``risk.yaml``, ``techniques.yaml``, ``faults.yaml`` and ``levels.yaml`` as values."""

    parameters: Parameters
    technique_data: TechniqueData
    faults: FaultData
    levels: LevelData

    @property
    def techniques(self) -> tuple[Technique, ...]:
        return self.technique_data.techniques

    def technique(self, technique_id: str) -> Technique:
        """The technique of an id.

        Raises:
            KeyError: no such technique.
        """
        for technique in self.techniques:
            if technique.id == technique_id:
                return technique
        raise KeyError(f"no technique {technique_id!r}")
