"""Tables of standards on what packages bear: peak temperature, floor life, baking."""

from __future__ import annotations

from pydantic import Field

from solderrisk.model.base import Frozen, Many, Source


class PeakRow(Frozen):
    """Peak temperatures by volume class; the last row has no upper thickness."""

    thickness_below_mm: float | None = None
    peak_c: Many[float] = Field(min_length=1, max_length=3)


class Moisture(Frozen):
    """Floor life; None without a limit, 0 where every use asks for baking."""

    floor_life_h: float | None = None
    ambient: str
    source: Source


class Bake(Frozen):
    level: str
    thickness_to_mm: float
    oven_c: float
    hours: float = Field(gt=0)
    source: Source


class HeatTables(Frozen):
    """``heat_tables.yaml``."""

    lead_free: Many[PeakRow]
    lead_free_volume_mm3: Many[float]
    lead_free_source: Source
    leaded: Many[PeakRow]
    leaded_volume_mm3: Many[float]
    leaded_source: Source
    moisture: dict[str, Moisture]
    bake: Many[Bake]

    def volume_mm3(self, leaded: bool) -> tuple[float, ...]:
        """Upper volumes of all classes but the last."""
        return self.leaded_volume_mm3 if leaded else self.lead_free_volume_mm3
