"""Every correlation of the physics shows one worked number from its source, and it is so."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from types import ModuleType

import pytest

import solderrisk.physics

MODULES = [
    importlib.import_module(f"solderrisk.physics.{found.name}")
    for found in pkgutil.iter_modules(solderrisk.physics.__path__)
]
# Modules without a correlation of their own: values, caches, networks made of the others.
PLAIN = ("handling", "hot_air", "remedies", "results")


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_worked_numbers(module: ModuleType) -> None:
    found = doctest.testmod(module)
    assert found.failed == 0
    plain = module.__name__.removeprefix("solderrisk.physics.") in PLAIN
    assert plain == (found.attempted == 0)
