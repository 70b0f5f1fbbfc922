"""Figures of table rows, fault modes and levels, as single numbers that a user may set."""

from __future__ import annotations

from collections.abc import Mapping

from solderrisk.model.fault_data import FaultMode
from solderrisk.model.level_data import LevelPrior
from solderrisk.model.reference import SET_BY_USER, Parameter

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
