"""Base rates from many people's shares: a hierarchical gamma-Poisson model.

Faults of a cell are Poisson about: what the packaged numbers foretell there (level,
geometry and heat included) x the share found and written down x the rate's factor x the
level's factor against regular hands x the technique's factor x the builder's own, a gamma.
The rate's factor is what is published; levels and techniques are contrasts with priors.
Nobody carries more than a share of a rate, and builders far off count as if they were less
far off, so that a few invented files move little.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from solderrisk.journal.learning import Z90, Known, known_share
from solderrisk.journal.sharing import Summary, mark_of
from solderrisk.model.base import Parameter
from solderrisk.model.question import Reference

Floats = NDArray[np.float64]

REGULAR = "regular"
STEPS = 60
LEAST_LEFT = 0.05  # of the information about a rate, where all but one are left out
# Candidates for how much builders differ: shapes of their gamma; 1/shape is the variance.
SHAPES = (0.5, 1.0, 1.7, 2.8, 5.0, 10.0)
TELLS = 0.001  # a share that moves a rate by less is not worth telling
NOT_SEPARABLE = 0.9  # of the prior's doubt is left


class Contrast(NamedTuple):
    """What a column of the design is about: a level or a technique."""

    of: Literal["level", "technique"]
    name: str

    def __str__(self) -> str:
        return f"{self.of} {self.name}"


@dataclass(frozen=True)
class Cells:
    """One mode's cells as arrays; ``who`` and ``columns`` index builders and contrasts, and
    ``shares`` tells which of the summaries each builder is."""

    who: NDArray[np.intp]
    faults: Floats
    expected: Floats
    opportunities: Floats
    design: Floats  # cells x (1 + contrasts)
    names: tuple[Contrast, ...]
    builders: int
    shares: tuple[int, ...] = ()


@dataclass(frozen=True)
class Rate:
    """A pooled rate, or why there is none. ``influence``: how far the builder who moves it
    most does, in half-ranges; ``unclear``: contrasts that could not be told apart;
    ``without``: by summary, the factor by which the rate differs where it is left out."""

    mode: str
    name: str
    parameter: Parameter | None
    why: str
    joints: int
    builders: int
    influence: float
    unclear: tuple[str, ...]
    without: Mapping[int, float] = field(default_factory=dict)


def pooled(summaries: Sequence[Summary], reference: Reference) -> tuple[Rate, ...]:
    """A rate for each mode that has one, from shares with practice left out."""
    return tuple(
        _rate(mode, name, summaries, reference)
        for mode, name in reference.plan.journal.rates.items()
        if any(kind.id == mode for kind in reference.risk.faults.modes)
    )


def _rate(mode: str, name: str, summaries: Sequence[Summary], reference: Reference) -> Rate:
    data = reference.plan.journal
    cells = gathered(mode, summaries)
    joints = int(cells.opportunities.sum())
    least, most = int(data["least_people"]), data["most_share"]

    def none(why: str) -> Rate:
        return Rate(mode, name, None, why, joints, cells.builders, 0.0, ())

    if cells.builders < least:
        return none(f"{cells.builders} builders, {least} are needed")
    weights = capped(_by_builder(cells, cells.expected), most)
    if weights is None:
        return none(f"one builder holds more than {most:.0%} of it")
    known = known_share(mode, reference)
    found = fitted(cells, weights, reference, known.mid)
    spread = math.hypot(found.spread, common_spread(known, reference))
    packaged = reference.risk.parameters.at(name)
    value = packaged.value * math.exp(found.factor)
    half = math.exp(Z90 * spread)
    parameter = Parameter(
        value=_round(value),
        low=_round(value / half),
        high=_round(value * half),
        unit=packaged.unit,
        source=f"{joints} opportunities of {cells.builders} builders, pooled",
    )
    influence = found.influence / (Z90 * spread)
    without = dict(zip(cells.shares, np.exp(found.without).tolist(), strict=True))
    return Rate(
        mode, name, parameter, "", joints, cells.builders, influence, found.unclear, without
    )


def rates_text(rates: Sequence[Rate], summaries: Sequence[Summary]) -> str:
    """A rates file for ``--rates``: numbers of ``risk.yaml`` with their ranges, and what each
    share makes of them, so that nobody's own counts twice."""
    lines = ["# Base rates pooled from shared records; use with --rates", "rates:"]
    for rate in rates:
        found = rate.parameter
        if found is not None:
            lines.append(
                f"  {rate.name}: {{value: {found.value!r}, low: {found.low!r}, "
                f"high: {found.high!r}, unit: {json.dumps(found.unit)}, "
                f"source: {json.dumps(found.source)}}}"
            )
    lines.append("shares:")
    lines += sorted(_share_line(n, summary, rates) for n, summary in enumerate(summaries))
    return "\n".join(lines) + "\n"


def _share_line(n: int, summary: Summary, rates: Sequence[Rate]) -> str:
    factors = {
        rate.name: factor
        for rate in rates
        if rate.parameter is not None
        and abs((factor := round(rate.without.get(n, 1.0), 4)) - 1) >= TELLS
    }
    without = ", ".join(f"{name}: {factor!r}" for name, factor in factors.items())
    return f'  - {{mark: "{mark_of(summary.id)}", without: {{{without}}}}}'


def common_spread(known: Known, reference: Reference) -> float:
    """Doubt that more shares do not lessen, on the logarithm: what was found and written
    down, and what people call regular."""
    unwritten = math.log(known.high / max(known.low, 1e-6)) / (2 * Z90)
    return math.hypot(unwritten, reference.plan.journal["anchor_spread"])


def _round(value: float) -> float:
    return float(f"{value:.3g}")


def gathered(mode: str, summaries: Sequence[Summary]) -> Cells:
    """The cells of one mode, with a column for each level and technique but 'regular'."""
    rows = [
        (n, cell)
        for n, summary in enumerate(summaries)
        for cell in summary.cells
        if cell.mode == mode and not cell.practice and cell.expected > 0
    ]
    builders = {n: place for place, n in enumerate(dict.fromkeys(n for n, _ in rows))}
    levels = sorted({cell.level for _, cell in rows if cell.level != REGULAR})
    techniques = sorted({cell.technique for _, cell in rows})
    names = [
        *(Contrast("level", level) for level in levels),
        *(Contrast("technique", technique) for technique in techniques),
    ]
    column = {name: place for place, name in enumerate(names, 1)}
    design = np.zeros((len(rows), 1 + len(names)))
    design[:, 0] = 1.0
    for row, (_, cell) in enumerate(rows):
        for name in (Contrast("level", cell.level), Contrast("technique", cell.technique)):
            if name in column:
                design[row, column[name]] = 1.0
    return Cells(
        np.array([builders[n] for n, _ in rows], dtype=np.intp),
        np.array([cell.faults for _, cell in rows], dtype=np.float64),
        np.array([cell.expected for _, cell in rows]),
        np.array([cell.opportunities for _, cell in rows], dtype=np.float64),
        design,
        tuple(names),
        len(builders),
        tuple(builders),
    )


def capped(exposure: Floats, most: float) -> Floats | None:
    """Weights that leave nobody more than the share ``most`` of the exposure; None where
    that cannot be, with too few people."""
    if len(exposure) * most < 1 - 1e-9:
        return None
    weights = np.ones_like(exposure)
    for _ in range(200):
        held = exposure * weights
        limit = most * held.sum()
        over = held > limit * (1 + 1e-9)
        if not over.any():
            return weights
        weights[over] *= limit / held[over]
    return (
        weights if np.all(exposure * weights <= 1.01 * most * (exposure * weights).sum()) else None
    )


@dataclass(frozen=True)
class Fit:
    """``factor``: logarithm of the rate's factor, with its ``spread``; ``influence``: the
    largest pull of one builder on it; ``without``: how it changes, by builder, where that one
    is left out."""

    factor: float
    spread: float
    influence: float
    unclear: tuple[str, ...]
    without: Floats


def fitted(cells: Cells, weights: Floats, reference: Reference, known: float) -> Fit:
    """The posterior's mode and spread, with the builders' spread that fits best."""
    data = reference.plan.journal
    spreads = {"level": data["level_spread"], "technique": data["condition_spread"]}
    prior = np.array([data["base_spread"], *(spreads[name.of] for name in cells.names)])
    expected = cells.expected * known
    own = 1 / data["builder_spread"] ** 2
    best: tuple[float, float, Floats] | None = None
    for shape in SHAPES:
        beta, limit = _newton(cells, expected, weights, shape, prior, data["odd_builder"])
        value = _log_posterior(cells, expected, weights, shape, prior, beta, limit)
        # A gamma prior on the shape about the usual spread keeps it from running off.
        value += math.log(shape / own) - shape / own
        if best is None or value > best[0]:
            best = (value, shape, beta)
    assert best is not None
    _, shape, beta = best
    inverse, steps, without = _curvature(
        cells, expected, weights, shape, prior, beta, data["odd_builder"]
    )
    spread = np.sqrt(np.diag(inverse))
    unclear = tuple(
        str(name)
        for name, left, before in zip(cells.names, spread[1:], prior[1:], strict=True)
        if left > NOT_SEPARABLE * before
    )
    influence = float(np.abs(steps @ inverse[0]).max(initial=0.0))
    return Fit(float(beta[0]), float(spread[0]), influence, unclear, without)


def _sums(
    cells: Cells, expected: Floats, shape: float, beta: Floats, odd: float
) -> tuple[Floats, Floats, Floats]:
    """Means of cells, means of builders, and builders' faults brought within the limit."""
    mean = expected * np.exp(np.clip(cells.design @ beta, -20, 20))
    total, faults = _by_builder(cells, mean), _by_builder(cells, cells.faults)
    # Spread of a builder's count under the model: chance and the builder's own factor.
    spread = np.sqrt(total + total**2 / shape)
    return mean, total, np.asarray(np.clip(faults, total - odd * spread, total + odd * spread))


def _by_builder(cells: Cells, values: Floats) -> Floats:
    return np.asarray(np.bincount(cells.who, values, cells.builders), dtype=np.float64)


def _gradient(
    cells: Cells, mean: Floats, total: Floats, faults: Floats, weights: Floats, shape: float
) -> Floats:
    """By builder: the score of the negative binomial, faults spread as the means are."""
    pull = weights * (faults - total) * shape / (shape + total) / np.maximum(total, 1e-300)
    rows = cells.design * (mean * pull[cells.who])[:, None]
    found = np.zeros((cells.builders, cells.design.shape[1]))
    np.add.at(found, cells.who, rows)
    return found


def _newton(
    cells: Cells, expected: Floats, weights: Floats, shape: float, prior: Floats, odd: float
) -> tuple[Floats, Floats]:
    beta = np.zeros(cells.design.shape[1])
    for _ in range(STEPS):
        mean, total, faults = _sums(cells, expected, shape, beta, odd)
        slope = _gradient(cells, mean, total, faults, weights, shape).sum(axis=0) - beta / prior**2
        step = np.linalg.solve(_information(cells, mean, total, weights, shape, prior), slope)
        beta = beta + np.clip(step, -1.0, 1.0)
        if np.abs(step).max() < 1e-6:
            break
    return beta, _sums(cells, expected, shape, beta, odd)[2]


def _information(
    cells: Cells, mean: Floats, total: Floats, weights: Floats, shape: float, prior: Floats
) -> Floats:
    """Expected information: each builder tells of the weighted mean of their design rows no
    more than their own factor lets them."""
    centre, tells = _rank_one(cells, mean, total, weights, shape)
    between = (centre * tells[:, None]).T @ centre
    return np.asarray(between + np.diag(1 / prior**2))


def _rank_one(
    cells: Cells, mean: Floats, total: Floats, weights: Floats, shape: float
) -> tuple[Floats, Floats]:
    """Each builder's summed design rows, and how much the builder tells of them."""
    centre = np.zeros((cells.builders, cells.design.shape[1]))
    np.add.at(centre, cells.who, cells.design * mean[:, None])
    return centre, weights * shape / (shape + total) / np.maximum(total, 1e-300)


def _curvature(
    cells: Cells,
    expected: Floats,
    weights: Floats,
    shape: float,
    prior: Floats,
    beta: Floats,
    odd: float,
) -> tuple[Floats, Floats, Floats]:
    """The posterior's covariance, sandwiched between what each builder really pulls; the pulls
    themselves; and how the rate's factor changes without each builder: one Newton step from
    where all together are, that builder's own information (of rank one) taken away."""
    mean, total, faults = _sums(cells, expected, shape, beta, odd)
    pulls = _gradient(cells, mean, total, faults, weights, shape)
    inverse = np.linalg.inv(_information(cells, mean, total, weights, shape, prior))
    meat = pulls.T @ pulls + np.diag(1 / prior**2)
    sandwich = inverse @ meat @ inverse
    # Whichever is wider: the model's own doubt or what the builders' differences show.
    wider = np.maximum(np.diag(sandwich), np.diag(inverse))
    scale = np.sqrt(wider / np.diag(inverse))
    centre, tells = _rank_one(cells, mean, total, weights, shape)
    leverage = tells * np.einsum("ij,jk,ik->i", centre, inverse, centre)
    without = -(pulls @ inverse[0]) / np.maximum(1 - leverage, LEAST_LEFT)
    return np.asarray(inverse * np.outer(scale, scale)), pulls, without


def _log_posterior(
    cells: Cells,
    expected: Floats,
    weights: Floats,
    shape: float,
    prior: Floats,
    beta: Floats,
    faults: Floats,
) -> float:
    _, total, _ = _sums(cells, expected, shape, beta, math.inf)
    total = np.maximum(total, 1e-300)
    counts = np.maximum(faults, 0.0)
    log = (
        gammaln(shape + counts) - gammaln(shape) - gammaln(counts + 1)
        + shape * np.log(shape / (shape + total)) + counts * np.log(total / (shape + total))
    )  # fmt: skip
    return float((weights * log).sum() - 0.5 * ((beta / prior) ** 2).sum())
