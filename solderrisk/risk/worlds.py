"""Worlds: all that nobody has measured, drawn together, once for everything that rests on it.

A world is one value for every number in doubt and one answer to what the heat model cannot
tell. Arrays over worlds have the shape (worlds + 1, 1), so that they multiply with tables over
the grid of psi; row 0 is the world in which every number has its stated value. It is drawn for
comparison only and never counts in a mean.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit, ndtr, ndtri

from solderrisk.model.base import Parameter
from solderrisk.model.question import Reference

Floats = NDArray[np.float64]

WORLDS = 100
# Of psi. Most hazards are straight lines in it, so a few nodes to each decade are enough.
GRID: Floats = np.logspace(-2, 2.5, 15)
STATED = 0  # the row of stated values
EDGE = float(ndtri(0.95))


def moved(parameter: Parameter, score: Floats) -> Floats:
    """Values of a number at standard normal scores: ``value`` at 0, ``low`` and ``high`` at
    their 5 % and 95 % points. Numbers between 0 and 1 move by their odds, others by ratio;
    a range that starts at 0 by steps, and ends there."""
    value, low, high = parameter.value, parameter.low, parameter.high
    if not parameter.doubted or low is None or high is None:
        return np.full((1, 1), value)
    there, back = _scale(low, high)
    middle, down, up = (float(there(x)) for x in (value, low, high))
    slope = np.where(score > 0, up - middle, middle - down) / EDGE
    return back(middle + score * slope)


Scale = Callable[..., Floats]


def _scale(low: float, high: float) -> tuple[Scale, Scale]:
    if low > 0 and high < 1:
        return logit, expit
    if low > 0:
        return np.log, np.exp
    return np.asarray, lambda x: np.maximum(x, 0.0)


class Worlds:
    """``count`` worlds in all, the same for the same seed whatever else is fixed: each cause has
    shuffled strata of its own."""

    def __init__(
        self,
        reference: Reference,
        seed: int,
        each: int = WORLDS,
        known: Sequence[Mapping[str, float]] = ({},),
        grid: Floats = GRID,
    ) -> None:
        """The same ``each`` worlds for every one of ``known``: scores of causes that are the
        same in all of those. ``grid``: the nodes that tables of these worlds have."""
        self.reference = reference
        self.seed, self.each, self.known, self.grid = seed, each, known, grid
        self.count = count = each * len(known)
        self.members: dict[str, list[str]] = {}  # numbers that a cause moves, as asked for
        self.weights = np.ones(count)  # how much each world counts
        self._kept: dict[str, Floats] = {}
        self._scores: dict[str, Floats] = {}

    def __getitem__(self, name: str) -> Floats:
        """A number of ``risk.yaml`` or of hand and eye.

        Raises:
            KeyError: no such parameter.
        """
        if name not in self._kept:
            hand = self.reference.physics.handwork
            table = hand if name in hand.parameters else self.reference.risk.parameters
            self._kept[name] = self._drawn(name, table.at(name))
        return self._kept[name]

    def share(self, mode: str, figure: str) -> Floats:
        """A figure of a fault mode."""
        name = f"faults.{mode}.{figure}"
        if name not in self._kept:
            self._kept[name] = self._drawn(name, self._rows[name])
        return self._kept[name]

    def by_level(self, figure: str, value: Floats) -> Floats:
        """A level's figure, of any level, moved as all levels' move together."""
        doubt = self.reference.risk.parameters["levels_doubt"]
        self.members.setdefault(f"levels.{figure}", [])
        score = self.score(f"levels.{figure}") / EDGE
        if bool(np.all((value >= 0) & (value <= 1))):
            odds = value * doubt**score
            return odds / (odds + 1 - value)
        return value * doubt**score

    def even(self, cause: str) -> Floats:
        """Even over -1 to 1: where within its doubt the truth about a kind of heat lies."""
        if cause not in self._kept:
            self.members.setdefault(cause, [])
            self._kept[cause] = 2 * ndtr(self.score(cause)) - 1
        return self._kept[cause]

    def score(self, cause: str) -> Floats:
        """Standard normal scores of a cause."""
        if cause not in self._scores:
            drawn = ndtri(self._strata(cause))
            parts = [
                drawn if fixed is None else np.full(self.each, fixed)
                for fixed in (known.get(cause) for known in self.known)
            ]
            self._scores[cause] = np.concatenate([[0.0], *parts])[:, None]
        return self._scores[cause]

    def drawn(self, strata: Floats) -> NDArray[np.intp]:
        """Rows of worlds at shares of their weight."""
        edges = np.cumsum(self.weights) / self.weights.sum()
        return np.minimum(np.searchsorted(edges, strata, side="right"), self.count - 1) + 1

    @property
    def causes(self) -> dict[str, Floats]:
        """Scores of the causes that have been asked for, by name."""
        return {name: score[1:, 0] for name, score in sorted(self._scores.items())}

    @cached_property
    def _rows(self) -> dict[str, Parameter]:
        return self.reference.rows()

    def _drawn(self, name: str, parameter: Parameter) -> Floats:
        if not parameter.doubted:
            return np.full((1, 1), parameter.value)
        against = bool(parameter.moves_against)
        cause = parameter.moves_against or parameter.moves_with or name
        self.members.setdefault(cause, []).append(name)
        return moved(parameter, -self.score(cause) if against else self.score(cause))

    def _strata(self, cause: str) -> Floats:
        rng = np.random.Generator(np.random.PCG64([self.seed, crc32(cause.encode())]))
        return (rng.permutation(self.each) + 0.5) / self.each
