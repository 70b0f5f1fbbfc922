"""Fault rates as the trade states them."""

from __future__ import annotations

from solderrisk.risk.results import KitRisk, Range
from solderrisk.risk.yields import dpmo_of


def faults_per_million(risk: KitRisk) -> Range:
    """Expected faults per million opportunities (DPMO) of the chosen techniques."""
    chances = sum(mode.opportunities for job in risk.jobs for mode in job.chosen.modes)
    if not chances:
        return Range(0.0, 0.0, 0.0)
    faults = risk.faults
    return Range(*(dpmo_of(each, chances) for each in (faults.low, faults.mid, faults.high)))


def faults_line(risk: KitRisk) -> str:
    """'7 (1..17), about 2 900 per million opportunities'."""
    faults = risk.faults
    rate = f"{float(f'{faults_per_million(risk).mid:.2g}'):,.0f}".replace(",", " ")
    return (
        f"{faults.mid:.0f} ({faults.low:.0f}..{faults.high:.0f}), about {rate} per million "
        "opportunities"
    )
