"""Centroid (placement) files: reference, position, rotation, side."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

from solderrisk.model.kit import MAX_PLACE_MM, Side
from solderrisk.packages.tables import list_words
from solderrisk.readers.columns import clean_ref, word_key
from solderrisk.readers.reading import Placed, Row, Table

_LENGTH = re.compile(
    r"([-+]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?)\s*(mm|mil|mils|in|inch|um|\")?", re.IGNORECASE
)
_SCALE = {
    "": 1.0,
    "mm": 1.0,
    "mil": 0.0254,
    "mils": 0.0254,
    "in": 25.4,
    "inch": 25.4,
    '"': 25.4,
    "um": 0.001,
}


def is_centroid(table: Table) -> bool:
    """The table has a reference and both coordinates in its header."""
    return _header(table) is not None


@lru_cache(maxsize=1)
def _words() -> dict[str, tuple[str, ...]]:
    words = list_words().placed
    # The last x of a word is the axis: 'xmm', but 'centerx'.
    return words | {"y": tuple(_as_y(word) for word in words["x"])}


def _as_y(word: str) -> str:
    return f"{word[:-1]}y" if word.endswith("x") else word.replace("x", "y", 1)


def _header(table: Table) -> tuple[int, dict[str, int]] | None:
    for index, row in enumerate(table.rows[:40]):
        keys = [word_key(cell.lstrip("#")) for cell in row.cells]
        columns: dict[str, int] = {}
        for role, words in _words().items():
            found = [(words.index(key), i) for i, key in enumerate(keys) if key in words]
            if found:
                columns[role] = min(found)[1]
        if {"ref", "x", "y"} <= columns.keys():
            return index, columns
    return None


def centroid_of(table: Table) -> tuple[tuple[Placed, ...], tuple[str, ...]]:
    """Rows in mm with y pointing up, and what had to be decided for it."""
    found = _header(table)
    if found is None:
        return (), ()
    index, columns = found
    unit = _header_unit(table, index, columns)
    raw = [_row(table, row, columns, unit) for row in table.rows[index + 1 :]]
    rows = [row for row in raw if row is not None]
    notes = []
    skipped = len(raw) - len(rows)
    if skipped:
        notes.append(f"{skipped} rows without a usable position left out")
    if unit != 1.0:
        notes.append(f"coordinates read in units of {unit:g} mm")
    if rows and all(row.y_mm <= 0 for row in rows) and any(row.y_mm < 0 for row in rows):
        rows = [replace(row, y_mm=-row.y_mm) for row in rows]
        notes.append("all y are negative, so y points down there; turned round")
    return tuple(rows), tuple(notes)


def _header_unit(table: Table, index: int, columns: dict[str, int]) -> float:
    """The unit that the header or a remark names; mm where nothing does."""
    header = table.rows[index][columns["x"]].casefold()
    preamble = " ".join(" ".join(r.cells) for r in table.rows[:index]).casefold()
    for text in (header, preamble):
        for word, scale in (("mil", 0.0254), ("inch", 25.4), ("(in)", 25.4), ("mm", 1.0)):
            if re.search(rf"(?<![a-z]){re.escape(word)}s?(?![a-z])", text):
                return scale
    return 1.0


def _row(table: Table, row: Row, columns: dict[str, int], unit: float) -> Placed | None:
    ref = clean_ref(row[columns["ref"]])
    x, y = _length(row[columns["x"]], unit), _length(row[columns["y"]], unit)
    if not ref or x is None or y is None or max(abs(x), abs(y)) > MAX_PLACE_MM:
        return None
    return Placed(
        ref=ref,
        x_mm=round(x, 4),
        y_mm=round(y, 4),
        rotation_deg=_angle(row[columns["rotation"]]) if "rotation" in columns else 0.0,
        side=_side(row[columns["side"]]) if "side" in columns else "top",
        place=table.place(row),
        package=row[columns["package"]] if "package" in columns else "",
        value=row[columns["value"]] if "value" in columns else "",
    )


def _length(text: str, unit: float) -> float | None:
    match = _LENGTH.fullmatch(text.strip())
    if match is None:
        return None
    number = float(match[1].replace(",", "."))
    return number * (_SCALE[match[2].casefold()] if match[2] else unit)


def _angle(text: str) -> float:
    match = re.match(r"\s*[A-Za-z]?([-+]?\d+(?:[.,]\d+)?)", text)
    value = float(match[1].replace(",", ".")) if match else 0.0
    return value % 360.0 if abs(value) < 1e6 else 0.0


def said_side(text: str) -> Side | None:
    """The side that a column about it names; None where it names none."""
    word = text.strip().casefold()
    if re.match(r"t(?:op)?(?![a-z])|top|front|f\.|oben|dessus|component", word):
        return "top"
    return "bottom" if re.match(r"b(?:ot)?(?![a-z])|bottom|back|unten|dessous", word) else None


def _side(text: str) -> Side:
    word = text.strip().casefold()
    return (
        "bottom"
        if word.startswith(("b", "solder", "back", "2")) or word in ("yes", "true", "m")
        else "top"
    )
