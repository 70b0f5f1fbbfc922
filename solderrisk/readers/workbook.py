"""Workbooks (XLSX, ODS, XLS) to tables, bounded before they are opened."""

from __future__ import annotations

import html
import io
import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from solderrisk.files.reading import refused
from solderrisk.readers.tables import MAX_COLUMNS, MAX_ROWS, Row, Table

MAX_BOOK_BYTES = 20_000_000
MAX_UNPACKED = 120_000_000
MAX_AREA = 3_000_000
BLANK_ROWS = 200
_CHUNK = 1 << 20


def is_workbook(data: bytes) -> bool:
    return data.startswith((b"PK\x03\x04", b"PK\x05\x06", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"))


def read_workbook(path: Path, data: bytes) -> list[Table]:
    """One table per sheet that holds something.

    Raises:
        FileProblems: damaged, protected, a zip bomb, or a cell far outside any list.
    """
    padded: dict[str, dict[tuple[int, int], int]] = {}
    if data[:2] == b"PK":
        padded = _check_zip(path, data)
    from python_calamine import CalamineWorkbook

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        names = list(book.sheet_names)
        tables = [_sheet(path, book.get_sheet_by_name(name), name, padded) for name in names[:40]]
    except Exception as error:  # the reader has many error types of its own
        if type(error).__module__.startswith("solderrisk"):
            raise
        reason = str(error).splitlines()[0][:100] if str(error) else type(error).__name__
        raise refused(path, f"not a readable workbook ({reason}); save it as CSV") from None
    found = [table for table in tables if table.rows]
    if not found:
        raise refused(path, "the workbook holds no filled cells")
    return found


def _check_zip(path: Path, data: bytes) -> dict[str, dict[tuple[int, int], int]]:
    """Refuse bombs and far cells; give the cells that are shown with leading zeros."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        infos = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        raise refused(path, "a damaged workbook or archive; save it as CSV") from None
    names = {info.filename for info in infos}
    if "[Content_Types].xml" not in names and "content.xml" not in names:
        raise refused(path, "an archive that is no workbook; unpack it and name the file in it")
    total = sum(info.file_size for info in infos)
    if total > MAX_UNPACKED or len(infos) > 2000:
        raise refused(path, f"unpacks to {total / 1e6:.0f} MB; at most {MAX_UNPACKED / 1e6:g} MB")
    try:
        return _scan(path, archive, infos)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, RuntimeError, EOFError):
        raise refused(path, "a damaged or protected workbook; save it as CSV") from None
    except Exception as error:
        if type(error).__module__.startswith("solderrisk"):
            raise
        raise refused(path, "a damaged workbook; save it as CSV") from None


def _scan(
    path: Path, archive: zipfile.ZipFile, infos: list[zipfile.ZipInfo]
) -> dict[str, dict[tuple[int, int], int]]:
    budget = [MAX_UNPACKED]
    styles = _zero_styles(archive, budget, path)
    padded: dict[str, dict[tuple[int, int], int]] = {}
    for info in infos:
        if re.fullmatch(r"xl/worksheets/[^/]+\.xml", info.filename):
            padded[info.filename] = _scan_sheet(path, archive, info, styles, budget)
        elif info.filename == "content.xml":
            _scan_ods(path, archive, info, budget)
        else:
            for _ in _chunks(archive, info, budget, path):
                pass
    names = _sheet_names(archive, budget, path)
    return {names.get(member, member): cells for member, cells in padded.items()}


def _sheet_names(archive: zipfile.ZipFile, budget: list[int], path: Path) -> dict[str, str]:
    """Member of the archive to the sheet's name."""
    texts = []
    for member in ("xl/workbook.xml", "xl/_rels/workbook.xml.rels"):
        try:
            info = archive.getinfo(member)
        except KeyError:
            return {}
        if info.file_size > 2_000_000:
            return {}
        texts.append(b"".join(_chunks(archive, info, budget, path)).decode("utf-8", "replace"))
    targets = {}
    for tag in re.findall(r"<Relationship [^>]*>", texts[1]):
        key, target = re.search(r'Id="([^"]*)"', tag), re.search(r'Target="([^"]*)"', tag)
        if key and target:
            targets[key[1]] = "xl/" + target[1].removeprefix("/xl/")
    found = {}
    for tag in re.findall(r"<sheet [^>]*>", texts[0]):
        name, key = re.search(r'name="([^"]*)"', tag), re.search(r'r:id="([^"]*)"', tag)
        if name and key and key[1] in targets:
            found[targets[key[1]]] = html.unescape(name[1])
    return found


def _chunks(
    archive: zipfile.ZipFile, info: zipfile.ZipInfo, budget: list[int], path: Path
) -> Iterator[bytes]:
    """The member piece by piece, counted for real: sizes in the directory may lie."""
    with archive.open(info) as member:
        while piece := member.read(_CHUNK):
            budget[0] -= len(piece)
            if budget[0] < 0:
                raise refused(path, f"unpacks to more than {MAX_UNPACKED / 1e6:g} MB")
            yield piece


def _zero_styles(archive: zipfile.ZipFile, budget: list[int], path: Path) -> dict[int, int]:
    """Style number to digits, for number formats such as 0000."""
    try:
        info = archive.getinfo("xl/styles.xml")
    except KeyError:
        return {}
    if info.file_size > 5_000_000:
        return {}
    text = b"".join(_chunks(archive, info, budget, path)).decode("utf-8", "replace")
    formats = {
        int(number): len(code)
        for tag in re.findall(r"<numFmt [^>]*>", text)
        for number in re.findall(r'numFmtId="(\d{1,6})"', tag)
        for code in re.findall(r'formatCode="(0{2,6})"', tag)
    }
    cells = re.search(r"<cellXfs[^>]*>(.*?)</cellXfs>", text, re.DOTALL)
    numbers = re.findall(r'<xf [^>]*?numFmtId="(\d{1,6})"', cells[1]) if cells else []
    return {i: formats[int(n)] for i, n in enumerate(numbers) if int(n) in formats}


_CELL = re.compile(rb'<c r="([A-Z]{1,3})(\d{1,7})"(?: s="(\d{1,5})")?[^>]*>(?=<[vfi])')


def _scan_sheet(
    path: Path,
    archive: zipfile.ZipFile,
    info: zipfile.ZipInfo,
    styles: dict[int, int],
    budget: list[int],
) -> dict[tuple[int, int], int]:
    rows, columns, tail = 0, 0, b""
    padded: dict[tuple[int, int], int] = {}
    for piece in _chunks(archive, info, budget, path):
        text = tail + piece
        for letters, number, style in _CELL.findall(text):
            row, column = int(number), _column(letters)
            rows, columns = max(rows, row), max(columns, column)
            if style and int(style) in styles:
                padded[row - 1, column - 1] = styles[int(style)]
        tail = text[-80:]
    if rows * columns > MAX_AREA:
        raise refused(path, f"a cell in row {rows}, column {columns}, far outside; clear it")
    return padded


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _scan_ods(
    path: Path, archive: zipfile.ZipFile, info: zipfile.ZipInfo, budget: list[int]
) -> None:
    """Repeated cells with a value unfold when they are read; count them first."""
    area, tail = 0, b""
    row_repeat = 1
    pattern = re.compile(rb"<table:(table-row|table-cell)\b([^>]*)>")
    for piece in _chunks(archive, info, budget, path):
        text = tail + piece
        cut = text.rfind(b"<")
        for tag, attributes in pattern.findall(text[:cut]):
            repeat = re.search(rb'-repeated="(\d{1,9})"', attributes)
            count = int(repeat[1]) if repeat else 1
            if tag == b"table-row":
                row_repeat = count
            elif b"office:value" in attributes or b"value-type" in attributes:
                area += min(count, 10**9) * min(row_repeat, 10**9)
        tail = text[cut:][-100_000:]
        if area > MAX_AREA:
            raise refused(path, f"more than {MAX_AREA} filled cells; give the parts list alone")


def _sheet(
    path: Path, sheet: Any, name: str, padded: dict[str, dict[tuple[int, int], int]]
) -> Table:
    notes: list[str] = []
    if sheet.total_height * max(sheet.total_width, 1) > MAX_AREA:
        raise refused(path, f"sheet {name!r} spans {sheet.total_height} rows; clear far cells")
    values = [list(row) for row in sheet.to_python(skip_empty_area=False)[: MAX_ROWS * 2]]
    _fill_merged(values, sheet)
    zeros = padded.get(name, {})
    rows, numeric, blank = [], set(), 0
    for index, raw in enumerate(values):
        cells = []
        for column, value in enumerate(raw[:MAX_COLUMNS]):
            text = _text(value, zeros.get((index, column)))
            cells.append(text)
            if isinstance(value, int | float) and not isinstance(value, bool):
                if (index, column) not in zeros:
                    numeric.add((index + 1, column))
            elif isinstance(value, date | datetime | time | timedelta):
                notes.append(f"cell in row {index + 1}, column {column + 1} is a date: {text}")
        if any(cells):
            rows.append(Row(index + 1, tuple(cells)))
            blank = 0
        else:
            blank += 1
            if blank > BLANK_ROWS and rows:
                break
        if len(rows) > MAX_ROWS:
            raise refused(path, f"more than {MAX_ROWS} rows; give the parts list alone")
    return Table(
        str(path), tuple(rows), sheet=name, notes=tuple(notes[:20]), numeric=frozenset(numeric)
    )


def _fill_merged(values: list[list[Any]], sheet: Any) -> None:
    """Merged cells hold nothing below the top; a merged cell means its value for all."""
    ranges = getattr(sheet, "merged_cell_ranges", None) or []
    for (top, left), (bottom, right) in ranges[:5000]:
        if bottom <= top or left != right or top >= len(values) or left >= len(values[top]):
            continue
        for row in range(top + 1, min(bottom + 1, len(values))):
            if left < len(values[row]) and values[row][left] in ("", None):
                values[row][left] = values[top][left]


def _text(value: Any, digits: int | None) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        value = int(value)
    if isinstance(value, int) and digits:
        return str(value).zfill(digits)
    return str(value).strip()
