"""Bills of materials: rows to lines with references, package and value."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from solderrisk.files.text import bounded, refused
from solderrisk.model.draft import UNNAMED
from solderrisk.readers.centroid import centroid_of, is_centroid
from solderrisk.readers.columns import (
    Layout,
    RefCell,
    Role,
    clean_ref,
    find_layout,
    is_header_word,
    looks_like_ref,
    read_refs,
    ref_share,
)
from solderrisk.readers.reading import (
    MAX_TEXT_BYTES,
    ListLine,
    Reading,
    Row,
    Table,
    decode,
    text_table,
)
from solderrisk.readers.workbook import MAX_BOOK_BYTES, is_workbook, read_workbook

MAX_TEXT = 300
MAX_HEADING = 60
MAX_MARKS = 7
_EMPTY = frozenset({"-", "--", "—", "–", "~", "?", "n/a", "N/A", "none", "None", "NULL", "null"})


def read_table(path: Path, data: bytes) -> Reading:
    """A table: a placement list where it has coordinates, else a parts list.

    Raises:
        FileProblems: no table, too large, damaged, or no parts list in it.
    """
    tables = tables_of(path, data)
    for table in tables:
        if is_centroid(table):
            placed, notes = centroid_of(table)
            return Reading(notes, placed=placed)
    return bom_of(tables, str(path))


def tables_of(path: Path, data: bytes) -> list[Table]:
    """Every table in a file: one for text, one per sheet for a workbook."""
    bounded(path, data, MAX_BOOK_BYTES)
    if is_workbook(data):
        return read_workbook(path, data)
    bounded(path, data, MAX_TEXT_BYTES)
    text, notes = decode(data, str(path))
    return [text_table(text, path, notes)]


def bom_of(tables: Sequence[Table], name: str) -> Reading:
    found = _laid_out(tables)
    prose = _as_prose(tables, found)
    if not found and not prose:
        prose = [parted for table in tables if (parted := _counted(table)) is not None]
    if prose:
        tables, found = prose, _laid_out(prose)
    if not found:
        raise refused(name, "no parts list in it: no header or column of references was recognised")
    layout, table = max(
        found, key=lambda item: (_usable(item[0]), len(item[1].rows) > 3, item[0].score)
    )
    layout, table = _with_refs(layout, table)
    notes = list(table.notes)
    others = [t.sheet for t in tables if t is not table and t.rows]
    if others:
        notes.append(f"sheet {table.sheet!r} was read; not read: {', '.join(others)[:120]}")
    if layout.header < 0:
        notes.append("no header row; columns told by what is in them")
    elif layout.header > 0:
        notes.append(f"{layout.header} rows above the header left out")
    if len(layout.quantities) > 1:
        first, *rest = layout.quantities
        notes.append(f"quantities are those of column {first!r}, not of {', '.join(rest)[:80]!r}")
    if "refs" not in layout.columns:
        notes.append("no column of references; lines are named by their number")
    lines = _lines(table, layout)
    if not lines:
        raise refused(name, "a header but no parts below it")
    return Reading(tuple(notes), listed=True, lines=tuple(lines))


_MARK = re.compile(r"^\s*(?:[-*+\u2022]|[(]?\d{1,3}[.):])\s+")
_BEHIND = re.compile(
    r"(.+?)\s*(?:[(\[:]|\s{2,})\s*((?:[A-Za-z]{1,4}\d{1,4}[\s,;/&-]*)+)[)\]]?\s*\.?"
)


_JOINTS = " \t,;:=\u2013-"
_RULED = ("|", "\t", ";")


def _laid_out(tables: Sequence[Table]) -> list[tuple[Layout, Table]]:
    return [(layout, table) for table in tables if (layout := find_layout(table)) is not None]


def _as_prose(tables: Sequence[Table], found: Sequence[tuple[Layout, Table]]) -> list[Table]:
    """The tables as lines of words, where that tells more references than their columns do;
    none where the columns are ruled or a head names the references."""
    if any(
        table.delimiter in _RULED or (layout.header >= 0 and "refs" in layout.columns)
        for layout, table in found
    ):
        return []
    prose = [parted for table in tables if (parted := _prose(table)) is not None]
    told = sum(_told(table, 0) for table in prose)
    listed = sum(_told(table, layout.columns.get("refs")) for layout, table in found)
    return prose if told > listed else []


def _names(word: str) -> bool:
    """Whether a word is a reference in common use, a range of them, or a mark between."""
    word = word.strip(_JOINTS)
    return not word or ref_share([word], usual=True) == 1 or read_refs(word).ranged


def _prose(table: Table) -> Table | None:
    """Lines such as '3. R1, R2 10k 0805' or '- LED 3 mm (D1)' parted into references and
    words; None where fewer than half of the lines are so."""
    rows = []
    joint = table.delimiter if table.delimiter.isspace() else f"{table.delimiter} "
    for row in table.rows:
        text = _MARK.sub("", joint.join(c for c in row.cells if c), count=1)
        words = re.split(r"(?<=[\s,;:=])(?=\S)", text)
        ahead = next((i for i, word in enumerate(words) if not _names(word)), 0)
        if 0 < ahead < len(words):
            rows.append(
                Row(row.line, ("".join(words[:ahead]).rstrip(_JOINTS), "".join(words[ahead:])))
            )
        elif (behind := _BEHIND.fullmatch(text)) and ref_share([behind[2]], usual=True) == 1:
            rows.append(Row(row.line, (behind[2], behind[1])))
    if len(rows) < max(2, 0.5 * len(table.rows)):
        return None
    return replace(table, rows=tuple(rows))


_TIMES_FIRST = re.compile(r"(?:\([a-z]+\)\s*)?(\d{1,3})\s*[x\u00d7]\s+(\S.*)", re.IGNORECASE)
_TIMES_LAST = re.compile(r"(.*?[A-Za-z\d)])[\s:,]*(?<![\w.])(\d{1,3})\s*[x\u00d7](?!\w)(.*)")


def _counted(table: Table) -> Table | None:
    """Lines such as '28 x 56 Ohm resistor' or '100R: 4x' parted into count and words; None where
    fewer than half of the lines that are no heading are so."""
    rows, counted, others = [Row(0, ("Quantity", "Description"))], 0, 0
    joint = table.delimiter if table.delimiter.isspace() else f"{table.delimiter} "
    for row in table.rows:
        text = _MARK.sub("", joint.join(c for c in row.cells if c), count=1).strip()
        first, last = _TIMES_FIRST.fullmatch(text), _TIMES_LAST.fullmatch(text)
        if first:
            rows.append(Row(row.line, (first[1], first[2].strip())))
        elif last:
            rows.append(Row(row.line, (last[2], f"{last[1]} {last[3]}".strip())))
        elif text:
            others += _heading_level(Row(row.line, (text,))) is None
            rows.append(Row(row.line, (text,)))
        counted += bool(first or last)
    if counted < max(2, others):
        return None
    return replace(table, rows=tuple(rows), delimiter="|")


def _with_refs(layout: Layout, table: Table) -> tuple[Layout, Table]:
    """A list whose references stand before the words of one column: 'R2+R14 resistor'."""
    roles: tuple[Role, ...] = ("description", "value")
    for role in roles:
        column = layout.columns.get(role)
        if column is not None and "refs" not in layout.columns:
            layout, table = _parted(layout, table, column)
    return layout, table


def _parted(layout: Layout, table: Table, column: int) -> tuple[Layout, Table]:
    width, rows, named = max(len(row.cells) for row in table.rows), [], 0
    for row in table.rows:
        head, _, rest = row[column].partition(" ")
        refs = head if rest and _names(head) and re.search(r"[A-Za-z]\d", head) else ""
        cells = [*row.cells, *[""] * (width - len(row.cells)), refs]
        if refs:
            cells[column] = rest.strip()
        named += bool(refs)
        rows.append(Row(row.line, tuple(cells)))
    body = sum(bool(row[column]) for row in table.rows[layout.header + 1 :])
    if named < max(2, 0.5 * body):
        return layout, table
    columns = {**layout.columns, "refs": width}
    return replace(layout, columns=columns), replace(table, rows=tuple(rows))


def _told(table: Table, column: int | None) -> int:
    """References in a column."""
    cells = [row[column] for row in table.rows] if column is not None else []
    return sum(len(read_refs(c).refs) for c in cells if all(map(_names, c.split())))


def _usable(layout: Layout) -> float:
    return ("refs" in layout.columns) + 0.5 * ("package" in layout.columns)


def _lines(table: Table, layout: Layout) -> list[ListLine]:
    lines: list[ListLine] = []
    section, headings = "", dict[int, str]()
    for number, row in enumerate(table.rows):
        if (level := _heading_level(row)) is not None:
            headings = {k: text for k, text in headings.items() if k < level}
            headings[level] = " ".join(row.cells).strip("#*_:. ")[:MAX_HEADING]
        if number <= layout.header or _is_header_again(row):
            continue
        row = _unshifted(table, layout, row)
        if lines and _continues(row, layout):
            lines[-1] = _joined(lines[-1], read_refs(layout.cell(row, "refs")))
            continue
        section = _section(row, layout) or section
        line = _line(table, layout, row)
        if line is not None:
            line = replace(line, heading="; ".join(headings.values()))
            lines.append(replace(line, ignored=section) if section and not line.ignored else line)
    return lines


def _heading_level(row: Row) -> int | None:
    """How deep a heading stands: marked ones by their marks, plain words below them all. The
    title of a file is none, nor is a row of references."""
    filled = [cell for cell in row.cells if cell]
    if len(filled) != 1 or ref_share(filled) == 1 or not re.search(r"[A-Za-z]{3}", filled[0]):
        return None
    marks = len(filled[0]) - len(filled[0].lstrip("#"))
    if marks == 1 or (not marks and len(filled[0]) > MAX_HEADING):
        return None
    return marks or (MAX_MARKS if filled[0].startswith("*") else MAX_MARKS + 1)


def _unshifted(table: Table, layout: Layout, row: Row) -> Row:
    """A row whose text has delimiters of its own, so that its references stand too far
    right: the text is put together again."""
    more = len(row.cells) - len(table.rows[layout.header].cells) if layout.header >= 0 else 0
    refs = layout.columns.get("refs", 0)
    text = layout.columns.get("description", layout.columns.get("value", refs))
    if more < 1 or text >= refs or ref_share([row[refs]], usual=True):
        return row
    if not read_refs(row[refs + more]).refs or re.fullmatch(r"[\d.,]*", row[refs + more]):
        return row
    joined = ", ".join(row.cells[text : text + more + 1])
    return Row(row.line, (*row.cells[:text], joined, *row.cells[text + more + 1 :]))


def _section(row: Row, layout: Layout) -> str:
    """A row of one cell such as 'Do not place' speaks for the rows below it."""
    filled = [c for c in row.cells if c]
    if len(filled) == 1 and re.search(
        r"(?i)do not (?:place|populate|fit|stuff)|not fitted|\bDNP\b", filled[0]
    ):
        return "not to be fitted"
    return ""


def _is_header_again(row: Row) -> bool:
    """A second list below the first begins with its header."""
    filled = [cell for cell in row.cells if cell]
    return len(filled) >= 3 and sum(map(is_header_word, filled)) >= 0.7 * len(filled)


def _continues(row: Row, layout: Layout) -> bool:
    """A row with references alone carries on the row above it."""
    filled = [i for i, c in enumerate(row.cells) if c]
    column = layout.columns.get("refs")
    return filled == [column] and ref_share([row[column or 0]]) == 1.0


def _joined(line: ListLine, more: RefCell) -> ListLine:
    return replace(line, refs=tuple(dict.fromkeys((*line.refs, *more.refs))))


def _line(table: Table, layout: Layout, row: Row) -> ListLine | None:
    row = Row(row.line, tuple("" if c in _EMPTY else c for c in row.cells))
    value, package = layout.cell(row, "value"), layout.cell(row, "package")
    description, number = layout.cell(row, "description"), layout.cell(row, "number")
    device = layout.cell(row, "device")
    quantity = read_quantity(layout.cell(row, "quantity"))
    cell = layout.cell(row, "refs")
    refs = read_refs(cell, quantity)
    names, unnamed = refs.refs, False
    if not any((value, package, description, number, device)) and not names:
        return None
    usual = all(map(looks_like_ref, names))
    if not usual and sum(bool(c) for c in row.cells) == 1:
        return ListLine(table.place(row), (), None, cell[:MAX_TEXT], ignored="a heading")
    if len(names) == 1 and not usual and 1 < (quantity or 1) <= 500:
        names, unnamed = _numbered(names[0], quantity or 1), True
    if not names or _TOTAL.fullmatch(cell):
        if _is_total(row):
            return ListLine(table.place(row), (), quantity, ignored="a total or a remark")
        if quantity is None and not package:
            return ListLine(
                table.place(row), (), None, value or description, ignored="names nothing to place"
            )
        what = value or number or description or package
        names, unnamed = _made_up(row, what, quantity), True
    column = layout.columns.get("package")
    return ListLine(
        place=table.place(row),
        refs=names,
        quantity=quantity,
        value=value[:MAX_TEXT],
        package=package[:MAX_TEXT],
        device=device[:MAX_TEXT],
        description=description[:MAX_TEXT],
        number=number[:MAX_TEXT],
        ignored=_unfitted(layout.cell(row, "unfitted"), value, layout, row),
        numeric_package=column is not None and (row.line, column) in table.numeric,
        side=layout.cell(row, "side"),
        unnamed=unnamed or refs.free,
    )


def _made_up(row: Row, what: str, quantity: int | None) -> tuple[str, ...]:
    """Names for parts whose row gives none."""
    word = clean_ref(re.sub(r"[^A-Za-z0-9]+", "_", what))[:20].strip("_") or "PART"
    stem = f"{UNNAMED}{row.line}_{word}"
    return _numbered(stem, min(quantity or 1, 500))


def _numbered(stem: str, count: int) -> tuple[str, ...]:
    return (stem,) if count <= 1 else tuple(f"{stem}_{i}" for i in range(1, count + 1))


def read_quantity(text: str) -> int | None:
    """A count of parts; None where the cell holds none."""
    match = re.fullmatch(
        r"\s*(\d{1,5})(?:[.,]0{1,3})?\s*(?:x|pcs?\.?|stk\.?|st\.?|ea)?\s*", text, re.IGNORECASE
    )
    if match is None:
        return None
    number = int(match[1])
    return number if 0 < number <= 5000 else None


_TOTAL = re.compile(r"(?i)\s*(?:grand |sub)?(?:totals?|sum|summe|gesamt\w*|totale)\s*:?\s*")


def _is_total(row: Row) -> bool:
    text = " ".join(row.cells).casefold()
    return bool(
        re.search(
            r"\b(?:sub)?totals?\b|\bsumme\b|\bgesamt|\btotale?\b|component count|\bsum\b", text
        )
    )


_NOT_FITTED = re.compile(
    r"(?i)(?<![a-z])(?:dnp|dnf|dni|do not (?:place|populate|fit"
    r"|stuff|install|mount)|not (?:fitted|populated|mounted"
    r"|placed)"
    r"|no ?pop|no ?stuff|nofit|unpopulated|n\.?m\.|not stuffed|nicht bestückt|unbestückt)(?![a-z])"
)


def _unfitted(cell: str, value: str, layout: Layout, row: Row) -> str:
    told = "marked as not to be fitted"
    if _NOT_FITTED.search(value) or _NOT_FITTED.search(layout.cell(row, "refs")):
        return told
    if layout.cell(row, "quantity") in ("0", "0.0"):
        return "its quantity is 0"
    if not cell:
        return ""
    if _NOT_FITTED.search(cell):
        return told
    yes = cell.casefold() in ("x", "1", "true", "yes", "y", "ja", "oui", "si", "excluded")
    no = cell.casefold() in ("0", "false", "no", "n", "nein", "non", "-")
    asks_fitted = re.match(r"populate|fitted|mounted|assemble|stuff", layout.unfitted_word)
    return told if (no if asks_fitted else yes) else ""
