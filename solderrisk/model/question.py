"""What is asked, and all reference data that it is judged by."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cached_property
from typing import Any, Self

from pydantic import ValidationError

from solderrisk.model.base import SET_BY_USER, Parameter, Parameters
from solderrisk.model.bench import Bench, Builder
from solderrisk.model.jobs import Job, jobs_of
from solderrisk.model.kit import Kit
from solderrisk.model.library import Library
from solderrisk.model.physics_data import PhysicsData
from solderrisk.model.plan_data import PlanData
from solderrisk.model.problems import UserProblem
from solderrisk.model.risk_data import FaultMode, LevelPrior, RiskData

Row = FaultMode | LevelPrior

SHARE = "1"
UNITS: dict[str, dict[str, str]] = {
    "faults": {
        "seen": SHARE,
        "measured": SHARE,
        "harm": SHARE,
        "part_share": SHARE,
        "powered_share": SHARE,
        "mend_minutes": "min",
    },
    "levels": {
        "faults_a": "faults",
        "faults_b": "joints",
        "dwell_spread": "log s",
        "inexperience": SHARE,
        "joints_done": "joints",
    },
}


def row_name(row: Row) -> str:
    return row.id if isinstance(row, FaultMode) else row.level


def row_parameters(prefix: str, row: Row, doubt: float) -> dict[str, Parameter]:
    """The figures of a row by their dotted names; ``doubt`` divides and multiplies them, or
    the odds of shares, to give their range."""
    return {
        f"{prefix}.{row_name(row)}.{field}": _parameter(row, field, unit, doubt)
        for field, unit in UNITS[prefix].items()
    }


def _parameter(row: Row, field: str, unit: str, doubt: float) -> Parameter:
    value = float(getattr(row, field))
    if field in row.own:
        return Parameter(value=value, unit=unit, source=SET_BY_USER)
    low, high = _range(value, unit, doubt)
    return Parameter(value=value, low=low, high=high, unit=unit, source=row.source)


def _range(value: float, unit: str, doubt: float) -> tuple[float, float]:
    if unit != SHARE:
        return value / doubt, value * doubt
    return value / (value + (1 - value) * doubt), value * doubt / (value * doubt + 1 - value)


def moved_row(prefix: str, row: Row, changes: Mapping[str, float]) -> Row:
    """The row with the user's figures, checked; the row itself where none is meant for it.

    Raises:
        pydantic.ValidationError: a figure that cannot be.
    """
    names = {f"{prefix}.{row_name(row)}.{field}": field for field in UNITS[prefix]}
    own = {names[name]: float(value) for name, value in changes.items() if name in names}
    if not own:
        return row
    kept = dict.fromkeys((*row.own, *own))
    return type(row).model_validate({**row.model_dump(), **own, "own": tuple(kept)})


@dataclass(frozen=True)
class Named:
    """A number that a user may move, by its name: ``bridge_rate``, ``faults.bridge.seen``."""

    name: str
    parameter: Parameter

    @property
    def own(self) -> bool:
        return self.parameter.source == SET_BY_USER


@dataclass(frozen=True)
class Reference:
    physics: PhysicsData
    risk: RiskData
    plan: PlanData

    def named(self) -> dict[str, Parameter]:
        """Every number that can be set. Rows of tables have dotted names and, as no range is
        given for them, ``unstated_doubt``'s."""
        found: dict[str, Parameter] = {}
        for table in self._tables().values():
            found |= table.parameters
        return found | self.rows()

    def rows(self) -> dict[str, Parameter]:
        """Figures of fault modes and levels by their dotted names."""
        doubt = self.risk.parameters["unstated_doubt"]
        return {
            name: parameter
            for prefix, rows in self._rows().items()
            for row in rows
            for name, parameter in row_parameters(prefix, row, doubt).items()
        }

    def assumed(self) -> tuple[Named, ...]:
        """What a user may move within a range: whatever has one, from the risk's rates to
        the levels."""
        return tuple(
            Named(name, parameter)
            for name, parameter in self.named().items()
            if parameter.low is not None and parameter.high is not None
        )

    def set_by_user(self) -> tuple[Named, ...]:
        """What ``assuming`` has changed."""
        every = (Named(name, parameter) for name, parameter in self.named().items())
        return tuple(named for named in every if named.own)

    def assuming(self, changes: Mapping[str, float]) -> Self:
        """A copy in which some named numbers have the user's values. What no change touches
        stays the very same object, so that caches know it.

        Raises:
            UserProblem: no such name, close ones are told; or a value that cannot be.
        """
        known = self.named()
        for name in changes:
            if name not in known:
                raise UserProblem(_no_such(name, known))
            _check(name, changes[name], known[name])
        try:
            return self._with(changes)
        except ValidationError as problem:
            told = problem.errors()[0]["msg"].removeprefix("Value error, ")
            raise UserProblem(f"cannot set {', '.join(changes)}: {told}") from None

    def _with(self, changes: Mapping[str, float]) -> Self:
        tables = {key: _set(table, changes) for key, table in self._tables().items()}
        rows = {
            prefix: tuple(moved_row(prefix, row, changes) for row in old)
            for prefix, old in self._rows().items()
        }
        faults, levels = self.risk.faults, self.risk.levels
        if rows["faults"] != faults.modes:
            faults = faults.model_copy(update={"modes": rows["faults"]})
        if rows["levels"] != levels.levels:
            levels = levels.model_copy(update={"levels": rows["levels"]})
        physics = self.physics
        if tables["heat"] is not physics.parameters or tables["hand"] is not physics.handwork:
            physics = replace(physics, parameters=tables["heat"], handwork=tables["hand"])
        return replace(
            self,
            physics=physics,
            risk=replace(self.risk, parameters=tables["risk"], faults=faults, levels=levels),
            plan=replace(self.plan, parameters=tables["plan"], costs=tables["costs"]),
        )

    def _tables(self) -> dict[str, Parameters]:
        return {
            "risk": self.risk.parameters,
            "heat": self.physics.parameters,
            "hand": self.physics.handwork,
            "costs": self.plan.costs,
            "plan": self.plan.parameters,
        }

    def _rows(self) -> dict[str, tuple[Row, ...]]:
        return {"faults": self.risk.faults.modes, "levels": self.risk.levels.levels}


def _check(name: str, value: float, known: Parameter) -> None:
    """Refuses what no figure of its kind can be."""
    told = f"cannot set {name} to {value:g}: "
    if value < 0 <= known.value:
        raise UserProblem(f"{told}it must not be negative; packaged is {known.value:g}")
    if value > 1 and known.unit.startswith("per "):
        raise UserProblem(f"{told}a chance {known.unit} is at most 1; packaged is {known.value:g}")


def _set(table: Parameters, changes: Mapping[str, float]) -> Parameters:
    own = {name: value for name, value in changes.items() if name in table.parameters}
    return table.replaced(own) if own else table


def _no_such(name: str, known: Mapping[str, Parameter]) -> str:
    near = ", ".join(get_close_matches(name, known, n=3, cutoff=0.4)) or "none close"
    return (
        f"no number {name!r} to set; close names: {near}. Names are those of the data files, "
        "rows by dots: faults.MODE.FIGURE, levels.LEVEL.FIGURE"
    )


SAMPLES = 2000
SEED = 20

Progress = Callable[[float, str], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True)
class Question:
    """Can this builder, with this bench, manage this kit? The same question has the same
    answer. ``target``: the chance wanted, where not the kit's own; ``pins``: job key and
    technique; ``practice``: skill and joints of practice planned; ``looks``: job key and
    further checks, 'second_person' or 'continuity'; ``as_of``: the day on which records are as
    old as they are, the newest record's where not given; ``samples`` and ``seed`` draw what is not
    known."""

    kit: Kit
    bench: Bench
    builder: Builder
    library: Library
    reference: Reference
    target: float | None = None
    pins: tuple[tuple[str, str], ...] = ()
    practice: tuple[tuple[str, float], ...] = ()
    looks: tuple[tuple[str, tuple[str, ...]], ...] = ()
    as_of: str | None = None
    samples: int = SAMPLES
    seed: int = SEED

    @cached_property
    def jobs(self) -> tuple[Job, ...]:
        """The kit's work.

        Raises:
            UnknownName: the kit names a footprint, board or donor that does not exist.
        """
        return jobs_of(self.kit, self.library)

    @property
    def wanted(self) -> float:
        """The chance that is wanted, 0..1: asked for, the kit's own, or the usual one."""
        if self.target is not None:
            return self.target
        own = self.kit.target_chance
        return self.reference.plan.costs["target_chance"] if own is None else own

    @property
    def hour_value(self) -> float:
        """What an hour at the bench counts for, in the kit's currency."""
        own = self.kit.hour_value
        return self.reference.risk.parameters["hour_value"] if own is None else own

    def but(self, **changes: Any) -> Self:
        """The same question with some fields changed."""
        other = replace(self, **changes)
        if not {"kit", "library"} & changes.keys():
            vars(other)["jobs"] = self.jobs
        return other


class Stopped(Exception):  # noqa: N818 - it is asked for
    """The caller asked to stop."""


@dataclass(frozen=True)
class Run:
    """Tells how far a long answer is, and is asked whether it is still wanted."""

    progress: Progress | None = None
    cancelled: Cancelled | None = None

    def check(self) -> None:
        """Goes on while the answer is wanted.

        Raises:
            Stopped: the caller wants no more.
        """
        if self.cancelled is not None and self.cancelled():
            raise Stopped("stopped")

    def part(self, low: float, high: float) -> Run:
        """The run of a part of the answer, which goes from share ``low`` to ``high``."""
        told = self.progress
        if told is None:
            return self
        return Run(lambda share, what: told(low + share * (high - low), what), self.cancelled)

    def tell(self, share: float, what: str) -> None:
        """How far it is, 0..1, and with what; raises as ``check``."""
        self.check()
        if self.progress is not None:
            self.progress(share, what)


ALONE = Run()  # nobody waits to be told
