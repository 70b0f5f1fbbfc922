"""The demo kits, assessed once for all tests of the reports."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import pytest

from solderrisk.files.loading import open_inputs
from solderrisk.plan.results import Assessment
from solderrisk.session import Session

Assessed = Callable[[str, str, str], Assessment]


@pytest.fixture(scope="session")
def demo() -> Assessed:
    """``demo(kit, bench, builder)`` is an assessment of demo files."""
    session = Session()

    @lru_cache
    def assessed(kit: str, bench: str, builder: str) -> Assessment:
        return session.assess(open_inputs(kit, bench, builder))

    return assessed


@pytest.fixture(scope="session")
def hard(demo: Assessed) -> Assessment:
    """The hard kit on a bench that can do all of it."""
    return demo("river-recorder", "well-equipped", "hobbyist")


@pytest.fixture(scope="session")
def lacking(demo: Assessed) -> Assessment:
    """The hard kit on a bench that lacks much."""
    return demo("river-recorder", "bare", "hobbyist")


@pytest.fixture(scope="session")
def easy(demo: Assessed) -> Assessment:
    return demo("water-lamp", "bare", "newcomer")
