"""Materials of bodies and leads: heat stored and conducted, where plastics soften."""

from __future__ import annotations

from pydantic import Field

from solderrisk.model.base import Frozen, Share, Source


class BodyMaterial(Frozen):
    """``fill`` is the solid share of the body's outline (a relay is mostly air)."""

    heat_j_mm3_k: float = Field(gt=0, le=0.01)
    conductivity_w_mk: float = Field(gt=0, le=500)
    fill: Share = 1.0
    softens_c: float | None = Field(None, ge=60, le=1500)
    source: Source


class LeadMetal(Frozen):
    heat_j_mm3_k: float = Field(gt=0, le=0.01)
    conductivity_w_mk: float = Field(gt=0, le=500)
    source: Source


class Materials(Frozen):
    """``materials.yaml``: by the names that footprints use."""

    bodies: dict[str, BodyMaterial]
    leads: dict[str, LeadMetal]
