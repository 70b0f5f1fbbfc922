"""Mixtures of solders: composition and an approximate liquidus.

The liquidus is that of a regular solution: each metal would freeze out at
T = (H + excess) / (H / Tm - R (ln x + s (1 - x))), and the highest of these temperatures
counts (Gaskell, Introduction to the Thermodynamics of Materials). It says nothing about
the solidus: traces of bismuth with lead and tin melt from 96 C on however small they are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from solderrisk.model.alloys import Alloy, Alloys

GAS_J_MOLK = 8.314462618  # CODATA 2018
KELVIN = 273.15


def mix_parts(old: Alloy, new: Alloy, new_share: float) -> dict[str, float]:
    """Composition of a mixture in percent by mass; ``new_share`` is a share by mass."""
    metals = dict.fromkeys((*old.parts, *new.parts))
    total_old, total_new = sum(old.parts.values()), sum(new.parts.values())
    return {
        metal: 100.0
        * (
            (1.0 - new_share) * old.parts.get(metal, 0.0) / total_old
            + new_share * new.parts.get(metal, 0.0) / total_new
        )
        for metal in metals
    }


def mole_shares(parts: Mapping[str, float], alloys: Alloys) -> dict[str, float]:
    moles = {
        metal: share / alloys.elements[metal].molar_g for metal, share in parts.items() if share > 0
    }
    total = sum(moles.values())
    return {metal: amount / total for metal, amount in moles.items()}


def liquidus_c(parts: Mapping[str, float], alloys: Alloys) -> float:
    """Approximate liquidus of a composition in percent by mass, C."""
    shares = mole_shares(parts, alloys)
    return max(_freezes_c(metal, shares, alloys) for metal in shares)


def _freezes_c(metal: str, shares: Mapping[str, float], alloys: Alloys) -> float:
    """Where a metal starts to freeze out of the melt, C."""
    element = alloys.elements[metal]
    melts_k, share = element.melts_c + KELVIN, shares[metal]
    excess = 0.0
    for pair in alloys.pairs:
        a, b = pair.metals
        both = shares.get(a, 0.0) * shares.get(b, 0.0)
        other = b if metal == a else a if metal == b else ""
        excess += pair.interaction_j_mol * (shares.get(other, 0.0) - both)
    dissolves = next((s.per_share for s in alloys.solids if s.metal == metal), 0.0)
    order = math.log(share) + dissolves * (1.0 - share)
    heat = element.fusion_j_mol
    return (heat + excess) / (heat / melts_k - GAS_J_MOLK * order) - KELVIN
