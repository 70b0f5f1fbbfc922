"""What is on a bench, in the words that techniques ask for it."""

from __future__ import annotations

import math
from collections.abc import Callable

from solderrisk.model.bench import Bench, Solder
from solderrisk.model.parameters import Parameters
from solderrisk.model.reference import Reference
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


def used_solder(technique: Technique, work: Work, bench: Bench, data: Parameters) -> Solder | None:
    """The solder that is put on: the board's alloy if there is any, then the wire that goes
    with the size of the joints. None for lifts and where the bench has none."""
    if technique.purpose == "lift":
        return None
    paste = technique.heat in ("air", "plate")
    wanted_mm = data["wire_heavy_mm" if _heavy(work) else "wire_small_mm"]

    def rank(solder: Solder) -> tuple[bool, float, str]:
        off = abs(math.log((solder.wire_mm or wanted_mm) / wanted_mm))
        return solder.alloy != work.alloy, off, solder.alloy

    found = (s for s in bench.solders if s.paste == paste and (paste or s.wire_mm is not None))
    return min(found, key=rank, default=None)


def _heavy(work: Work) -> bool:
    """Joints that drink wire: holes, lugs, heavy tabs, wires."""
    return any(g.through_board or g.kind in ("tab", "lug", "wire") for g in work.footprint.pads)


def used_alloy(technique: Technique, work: Work, bench: Bench, reference: Reference) -> str:
    """The alloy that has to melt: the board's, or that of the bench's solder if it melts
    at a higher temperature."""
    solder = used_solder(technique, work, bench, reference.risk.parameters)
    if solder is None or solder.alloy == work.alloy:
        return work.alloy
    alloys = reference.physics.alloys
    return max(work.alloy, solder.alloy, key=lambda name: alloys[name].liquidus_c)


def common_settings(
    technique: Technique, work: Work, bench: Bench, reference: Reference
) -> Settings:
    """Solder, flux and magnifier that the bench offers."""
    solder = used_solder(technique, work, bench, reference.risk.parameters)
    flux = min(
        (flux for flux in bench.fluxes if flux.kind in _FLUX_RANK),
        key=lambda f: (_FORM_RANK[technique.flux][f.form], _FLUX_RANK[f.kind]),
        default=None,
    )
    glass = max(bench.magnifiers, key=lambda m: m.power_x, default=None)
    return Settings(
        solder=_named(solder),
        wire_mm=None if solder is None else solder.wire_mm,
        alloy=used_alloy(technique, work, bench, reference),
        flux=f"{flux.kind.replace('_', ' ')} {flux.form}" if flux else None,
        magnifier=glass.name if glass else None,
        power_x=glass.power_x if glass else 1.0,
    )


# Acid is for plumbing. Under air, in a flood or a sweep a thin flux is gone at once.
_FLUX_RANK = {"no_clean": 0, "rosin": 1, "water_soluble": 2}
_FORM_RANK = {
    "tacky": {"gel": 0, "solid": 1, "liquid": 2, "pen": 3},
    "any": {"pen": 0, "liquid": 1, "gel": 2, "solid": 3},
}


def _named(solder: Solder | None) -> str | None:
    if solder is None:
        return None
    paste = f"{solder.alloy} paste"
    return paste if solder.paste else f"{solder.alloy} wire {solder.wire_mm:g} mm"
