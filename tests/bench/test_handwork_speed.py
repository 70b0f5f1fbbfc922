"""Handwork figures for a large kit, and placement chances for many samples."""

from __future__ import annotations

import numpy as np

from solderrisk.files.loading import load_library
from solderrisk.files.reference import physics_data
from solderrisk.model.kit import Board
from solderrisk.model.outline import pad_rects
from solderrisk.physics import acceptance as alignment_module
from solderrisk.physics.acceptance import alignment, chance_inside
from solderrisk.physics.handwork import sight
from solderrisk.physics.solder_volume import solder_need

DATA = physics_data()
BOARD = Board(name="b")


def test_all_figures_of_a_thousand_distinct_parts(benchmark) -> None:
    library = list(load_library(()))
    parts = (library * (1000 // len(library) + 1))[:1000]

    def figures() -> None:
        pad_rects.cache_clear()
        alignment_module._alignment.cache_clear()
        for part in parts:
            alignment(part, 2, DATA)
            solder_need(part, BOARD, 8.4, 0.5, 2.2, DATA)
            sight(part, 1.0, 250.0, (), DATA)

    benchmark(figures)
    assert benchmark.stats is None or benchmark.stats.stats.median < 0.3


def test_chances_of_two_thousand_samples(benchmark) -> None:
    sigma = np.linspace(0.03, 0.3, 2000)
    benchmark(chance_inside, 0.15, sigma, sigma / 10, 8.0, both_axes=True)
    assert benchmark.stats is None or benchmark.stats.stats.median < 0.05
