"""Fault rates as the trade states them, from hand-made values."""

from __future__ import annotations

import pytest

from solderrisk.report.groups import faults_line, faults_per_million
from solderrisk.risk.results import JobRisk, KitRisk, ModeChance, Option, Range
from tests.plan.kit_builder import jobs, kit, part

ANY = Range(0.0, 0.0, 0.0)


def kit_risk(opportunities: int) -> KitRisk:
    mode = ModeChance("bridge", "bridge", opportunities, ANY, ANY, "mendable", "")
    job = next(job for job in jobs(kit(placements=[part("U1", "SO")])) if job.kind == "fit")
    option = Option("point_iron", "iron", True, modes=(mode, mode))
    one = JobRisk(job, (option,), False, None, ())
    return KitRisk((one,), ANY, ANY, Range(1.0, 4.0, 12.0), ANY, ANY)


def test_dpmo_by_hand() -> None:
    """DPMO = 1e6 x faults / opportunities (IPC-9261): 4 in 2 x 500 is 4 000."""
    found = faults_per_million(kit_risk(500))
    assert (found.low, found.mid, found.high) == pytest.approx((1000, 4000, 12000))


def test_in_words() -> None:
    assert faults_line(kit_risk(500)) == "4 (1..12), about 4 000 per million opportunities"


def test_nothing_to_solder() -> None:
    assert faults_per_million(kit_risk(0)).mid == 0
