"""What was predicted against what was seen, told with its doubt.

What is seen is what was made, times the share that is found, times the share that is
written down. Both shares have ranges, so that silence is no zero. Only jobs that were looked
over count, and only against a forecast kept before they were done.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from scipy.special import betainc, betaincinv, gammainc

from solderrisk.journal.forecast import kept_forecast
from solderrisk.journal.place import JournalProblem
from solderrisk.journal.recording import Recorder
from solderrisk.journal.state import BuildState, live
from solderrisk.journal.store import Journal, Stored
from solderrisk.model.question import Reference
from solderrisk.risk.results import Range

Z90 = 1.645  # half of a range from 5 % to 95 %, in standard deviations of a normal
LOW, HIGH = 0.05, 0.95
BINS = (0.0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.7, 1.0)


class Cell(NamedTuple):
    """One mode of one looked-over job. ``low``, ``mid``, ``high``: the chance told for each
    of its ``opportunities``; ``seen``: faults recorded."""

    build: str
    key: str
    who: str
    mode: str
    technique: str
    skill: str
    level: str
    pitch: str
    tools: str
    quarter: str
    opportunities: int
    low: float
    mid: float
    high: float
    seen: int
    joints: int = 0
    pitch_mm: float | None = None


class Known(NamedTuple):
    """Shares of the faults of a mode that are found and written down, each with its range."""

    low: float
    mid: float
    high: float


def cells_of(journal: Journal, who: str | None = None) -> list[Cell]:
    """Every mode of every looked-over job in the builds of this journal, abandoned ones as
    well; of one pair of hands where asked."""
    found: list[Cell] = []
    for build in journal.builds():
        if build.journal == journal.id:
            found += _cells(journal, build, who)
    return found


def _cells(journal: Journal, build: Stored, who: str | None) -> list[Cell]:
    recorder = Recorder(journal, build)
    state, bases = recorder.state, _bases(journal, recorder.all_events)
    found: list[Cell] = []
    for key, job in state.jobs.items():
        if not job.looked or not job.done or (who is not None and job.who != who):
            continue
        before = [told for number, told in bases if number < job.done]
        told = before[-1]["jobs"].get(key) if before else None
        # A forecast for another technique says nothing of this one.
        if told is None or not told["technique"] or told["technique"] != job.technique:
            continue
        quarter = _quarter(_event(state, job.done).at)
        seen: dict[str, int] = {}
        for fault in job.faults:
            seen[fault.mode] = seen.get(fault.mode, 0) + fault.times
        unforeseen = {mode: [1, 0.0, 0.0, 0.0] for mode in seen if mode not in told["modes"]}
        for mode, (count, low, mid, high) in {**told["modes"], **unforeseen}.items():
            found.append(
                Cell(
                    build.build, key, job.who, mode, told["technique"], told["skill"],
                    told["level"], told["pitch"], told["tools"], quarter,
                    int(count), low, mid, high, seen.get(mode, 0), told["joints"],
                    told["pitch_mm"],
                )
            )  # fmt: skip
    return found


def _bases(journal: Journal, events: Sequence[Stored]) -> list[tuple[int, dict[str, dict]]]:  # type: ignore[type-arg]
    return [
        (event.number, kept_forecast(journal, event))
        for event in live(events)
        if event.kind in ("started", "replanned")
    ]


def _event(state: BuildState, number: int) -> Stored:
    return next(event for event in state.events if event.number == number)


def _quarter(at: str) -> str:
    return f"{at[:4]}-Q{(int(at[5:7]) + 2) // 3}"


def known_share(mode: str, reference: Reference) -> Known:
    """Found by an everyday look, or later because the board shows it; then written down."""
    kind = reference.risk.faults[mode]
    data, journal = reference.risk.parameters, reference.plan.journal

    def share(end: Callable[[str], float], written: float) -> float:
        eye = kind.seen * end("look_finds")
        return (1 - (1 - eye) * (1 - kind.harm * end("gate_function"))) * written

    def low(name: str) -> float:
        found = data.at(name)
        return found.value if found.low is None else found.low

    def high(name: str) -> float:
        found = data.at(name)
        return found.value if found.high is None else found.high

    written = journal.at("written_share")
    return Known(
        share(low, written.low or 0.0),
        share(data.__getitem__, written.value),
        share(high, written.high or 1.0),
    )


# --- groups: expected against seen ---


@dataclass(frozen=True)
class Compared:
    """A group of opportunities: how many faults were expected to be seen (the 5 % and 95 %
    quantiles of the count, doubt and chance together) and how many were."""

    name: str
    mode: str
    jobs: int
    opportunities: int
    expected: Range
    seen: int
    tells: bool  # enough is expected to tell anything

    @property
    def inside(self) -> bool:
        return self.expected.low <= self.seen <= self.expected.high

    @property
    def ratio(self) -> float:
        return self.seen / self.expected.mid if self.expected.mid > 0 else math.inf


def compare(
    cells: Iterable[Cell], reference: Reference, by: str = "technique"
) -> tuple[Compared, ...]:
    """Expected and seen per mode and ``by`` (technique, skill, pitch ...), '' for all."""
    groups: dict[tuple[str, str], list[Cell]] = {}
    for cell in cells:
        name = getattr(cell, by) if by else ""
        groups.setdefault((name, cell.mode), []).append(cell)
    least = reference.plan.journal["least_expected"]
    found = []
    for (name, mode), group in sorted(groups.items()):
        expected = expected_seen(group, known_share(mode, reference))
        found.append(
            Compared(
                name, mode, len({(c.build, c.key) for c in group}),
                sum(c.opportunities for c in group), expected, sum(c.seen for c in group),
                expected.mid >= least,
            )
        )  # fmt: skip
    return tuple(found)


def expected_seen(cells: Sequence[Cell], known: Known) -> Range:
    """Mean, and 5 % and 95 % quantiles of the count: a Poisson number whose rate is doubted
    by a gamma with the spread of the told range and of the shares found and written."""
    mean = sum(c.opportunities * c.mid for c in cells) * known.mid
    if mean <= 0:
        return Range(0.0, 0.0, 0.0)
    low = sum(c.opportunities * c.low for c in cells) * known.low
    high = sum(c.opportunities * c.high for c in cells) * known.high
    spread = (high - low) / (2 * Z90)
    return Range(
        float(count_quantile(mean, spread, LOW)), mean, float(count_quantile(mean, spread, HIGH))
    )


def count_quantile(mean: float, spread: float, level: float) -> int:
    """The quantile of a Poisson count whose rate is gamma with this mean and spread."""
    high = 1
    while count_at_most(high, mean, spread) < level:
        high *= 2
    low = -1
    while high - low > 1:
        middle = (low + high) // 2
        if count_at_most(middle, mean, spread) >= level:
            high = middle
        else:
            low = middle
    return high


def count_at_most(count: int, mean: float, spread: float) -> float:
    """P(count or fewer); a negative binomial, a Poisson where nothing is doubted."""
    if count < 0:
        return 0.0
    if spread < 1e-6 * mean:
        return float(1.0 - gammainc(count + 1.0, mean))
    shape = (mean / spread) ** 2
    return float(betainc(shape, count + 1.0, shape / (shape + mean)))


# --- single jobs: Brier score and reliability ---


@dataclass(frozen=True)
class Reliable:
    """Jobs told to show a fault with a chance in a band, and how many did; ``seen_low`` and
    ``seen_high`` are the 5 % and 95 % ends of what such a share may come from."""

    low: float
    high: float
    jobs: int
    told: float  # mean chance told
    seen: float  # share that showed one
    seen_low: float
    seen_high: float


@dataclass(frozen=True)
class Score:
    """The Brier score of 'this job shows a fault' and its parts: score = ``reliability`` -
    ``resolution`` + ``uncertainty`` (+ what banding loses, ``within``); ``coverage`` is the
    share of groups whose count lies in the told range, of ``groups`` that tell anything."""

    jobs: int
    brier: float
    reliability: float
    resolution: float
    uncertainty: float
    within: float
    bands: tuple[Reliable, ...]
    coverage: float | None
    groups: int


def score(cells: Sequence[Cell], reference: Reference) -> Score:
    """How good the forecasts of single jobs were.

    Raises:
        JournalProblem: no job was looked over.
    """
    told = list(_job_chances(cells, reference))
    if not told:
        raise JournalProblem("nothing to learn from yet: record jobs as looked over with 'looked'")
    groups = [group for group in compare(cells, reference) if group.tells]
    inside = sum(group.inside for group in groups)
    return scored(told, inside / len(groups) if groups else None, len(groups))


def _job_chances(cells: Sequence[Cell], reference: Reference) -> Iterable[tuple[float, bool]]:
    jobs: dict[tuple[str, str], list[Cell]] = {}
    for cell in cells:
        jobs.setdefault((cell.build, cell.key), []).append(cell)
    shares = {mode: known_share(mode, reference).mid for mode in {c.mode for c in cells}}
    for group in jobs.values():
        quiet = sum(
            c.opportunities * math.log1p(-min(c.mid * shares[c.mode], 0.999)) for c in group
        )
        yield -math.expm1(quiet), any(c.seen for c in group)


def share_range(jobs: Sequence[tuple[float, bool]]) -> tuple[float, float]:
    """Jeffreys interval of a share, 90 % (Brown, Cai and DasGupta, Statistical Science 16,
    2001: it ends at 0 where none was seen, at 1 where all were)."""
    n, found = len(jobs), sum(seen for _, seen in jobs)
    low, high = betaincinv(found + 0.5, n - found + 0.5, (0.05, 0.95))
    return 0.0 if found == 0 else float(low), 1.0 if found == n else float(high)


def scored(
    told: Sequence[tuple[float, bool]], coverage: float | None = None, groups: int = 0
) -> Score:
    """Brier score with Murphy's decomposition in bands of the told chance."""
    n = len(told)
    base = sum(seen for _, seen in told) / n
    reliability = resolution = within = 0.0
    bands = []
    for low, high in pairwise(BINS):
        inside = [(p, s) for p, s in told if low <= p < high or (high == 1.0 and p >= 1.0)]
        if not inside:
            continue
        p_mean = sum(p for p, _ in inside) / len(inside)
        share = sum(s for _, s in inside) / len(inside)
        reliability += len(inside) * (p_mean - share) ** 2 / n
        resolution += len(inside) * (share - base) ** 2 / n
        within += sum((p - p_mean) ** 2 - 2 * (p - p_mean) * (s - share) for p, s in inside) / n
        bands.append(Reliable(low, high, len(inside), p_mean, share, *share_range(inside)))
    brier = sum((p - s) ** 2 for p, s in told) / n
    return Score(
        n, brier, reliability, resolution, base * (1 - base), within, tuple(bands), coverage,
        groups,
    )  # fmt: skip
