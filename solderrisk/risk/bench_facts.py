"""What is on a bench, in the words that techniques ask for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from solderrisk.model.bench import Bench, Solder
from solderrisk.model.reference import Parameters
from solderrisk.model.reference_set import Reference
from solderrisk.model.technique import Technique
from solderrisk.risk.results import Settings
from solderrisk.risk.work import Work


def missing_tools(
    technique: Technique, work: Work, bench: Bench, reference: Reference
) -> tuple[str, ...]:
    """Titles of needs that nothing on the bench meets."""
    data = reference.risk.technique_data
    return tuple(
        " or ".join(data.need(need).title for need in group)
        for group in technique.needs_for(work.footprint)
        if not any(has(need, bench, reference.risk.parameters) for need in group)
    )


_FACTS: dict[str, Callable[[Bench], bool]] = {
    "iron": lambda b: bool(b.irons),
    "solder_wire": lambda b: any(not s.paste and s.wire_mm is not None for s in b.solders),
    "solder_paste": lambda b: any(s.paste for s in b.solders),
    "flux": lambda b: any(f.kind != "acid" for f in b.fluxes),
    "hot_air": lambda b: bool(b.hot_air),
    "preheater": lambda b: bool(b.preheaters),
    "vacuum": lambda b: bool(b.desolderers),
    "removal_alloy": lambda b: bool(b.removal_alloys),
    "tweezers": lambda b: b.has("tweezers") or b.has("vacuum_pick"),
    "hot_plate": lambda b: b.has("hot_plate"),
    "stencil": lambda b: b.has("stencil"),
    "wick": lambda b: b.has("wick"),
    "pump": lambda b: b.has("solder_pump"),
}


def has(need: str, bench: Bench, data: Parameters) -> bool:
    """Whether a bench meets a need.

    Raises:
        KeyError: a need that the program does not know.
    """
    if need == "wide_tip":
        return any(t.width_mm >= data["wide_tip_mm"] for iron in bench.irons for t in iron.tips)
    return _FACTS[need](bench)


def common_settings(technique: Technique, work: Work, bench: Bench) -> Settings:
    """Solder, flux and magnifier that the bench offers."""
    solder = None
    if technique.purpose != "lift":
        solder = _solder(bench.solders, work.alloy, paste=technique.heat in ("air", "plate"))
    flux = min(bench.fluxes, key=lambda f: _FLUX_RANK[f.kind], default=None)
    glass = max(bench.magnifiers, key=lambda m: m.power_x, default=None)
    return Settings(
        solder=solder,
        flux=f"{flux.kind.replace('_', ' ')} {flux.form}" if flux else None,
        magnifier=glass.name if glass else None,
        power_x=glass.power_x if glass else 1.0,
    )


_FLUX_RANK = {"no_clean": 0, "rosin": 1, "water_soluble": 2, "acid": 3}


def _solder(solders: Sequence[Solder], alloy: str, *, paste: bool) -> str | None:
    fitting = [s for s in solders if s.paste == paste]
    fitting.sort(key=lambda s: (s.alloy != alloy, s.wire_mm or 0.0))
    if not fitting:
        return None
    first = fitting[0]
    return f"{first.alloy} paste" if paste else f"{first.alloy} wire {first.wire_mm:g} mm"
