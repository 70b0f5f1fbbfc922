"""Reading speed on large input; the limits leave room for a slow machine."""

from __future__ import annotations

from typing import Any

from solderrisk.files import loading as library
from solderrisk.files import yaml_values
from solderrisk.files.loading import load_library
from solderrisk.files.yaml_source import parse_model
from solderrisk.model.kit import Kit
from solderrisk.model.kit_check import kit_problems

KIT = "name: k\nboards: [{name: main}]\nplacements:\n" + "".join(
    f"- refs: R{n}\n  footprint: 0603\n  board: main\n  value: 4.7k\n  price_each: 0.02\n"
    f"  spares: 3\n  positions: [{{ref: R{n}, x_mm: 1.5, y_mm: {n}}}]\n"
    for n in range(2000)
)


def read() -> Kit:
    return parse_model(KIT, Kit, name="kit.yaml").value


def test_a_kit_of_2000_placements(benchmark: Any) -> None:
    assert len(benchmark(read).placements) == 2000
    if yaml_values.PARSERS[0].__name__.startswith("C"):
        assert benchmark.stats is None or benchmark.stats.stats.min < 0.3


def test_checks_of_2000_placements(benchmark: Any) -> None:
    kit, shelf = read(), load_library()
    assert benchmark(kit_problems, kit, shelf) == []
    assert benchmark.stats is None or benchmark.stats.stats.min < 0.2


def test_the_packaged_library(benchmark: Any) -> None:
    def load() -> int:
        library._folder.cache_clear()
        library._joined.cache_clear()
        return len(load_library())

    assert benchmark(load) >= 120
    if yaml_values.PARSERS[0].__name__.startswith("C"):
        assert benchmark.stats is None or benchmark.stats.stats.min < 0.3
