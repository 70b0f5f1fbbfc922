"""Workbooks (XLSX, ODS, XLS) to tables, bounded before they are opened."""

from __future__ import annotations

import contextlib
import io
import json
import re
import subprocess
import sys
import zipfile
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from xml.parsers import expat

from solderrisk.files.text import NOT_TEXT, FileProblems, refused
from solderrisk.readers.reading import MAX_COLUMNS, MAX_ROWS, Row, Table

MAX_BOOK_BYTES = 20_000_000
MAX_UNPACKED = 120_000_000
MAX_AREA = 500_000
MAX_PIECE = 200_000  # bytes from one tag to the next; programs write 32,767 letters a cell
MAX_ELEMENTS = 2_000_000
BLANK_ROWS = 200
MAX_ASIDE = 150_000_000
_CHUNK = 1 << 20

Padded = dict[str, dict[tuple[int, int], int]]  # sheet: cells shown with leading zeros


def is_workbook(data: bytes) -> bool:
    return data.startswith((b"PK\x03\x04", b"PK\x05\x06", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"))


def read_workbook(path: Path, data: bytes) -> list[Table]:
    """One table per sheet that holds something.

    Raises:
        FileProblems: damaged, protected, a zip bomb, or a cell far outside any list.
    """
    if data[:2] == b"PK":
        found = _tables(path, data, _check_zip(path, data))
    else:
        found = _read_aside(path, data)
    if not found:
        raise refused(path, "the workbook holds no filled cells")
    return found


def _tables(path: Path, data: bytes, padded: Padded) -> list[Table]:
    from python_calamine import CalamineWorkbook

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        names = list(book.sheet_names)
        tables = [_sheet(path, book.get_sheet_by_name(name), name, padded) for name in names[:40]]
    except FileProblems:
        raise
    except BaseException as error:  # the reader has error types of its own, panics among them
        if isinstance(error, KeyboardInterrupt | SystemExit):
            raise
        reason = str(error).splitlines()[0][:100] if str(error) else type(error).__name__
        raise refused(path, f"not a readable workbook ({reason}); save it as CSV") from None
    return [table for table in tables if table.rows]


def _read_aside(path: Path, data: bytes) -> list[Table]:
    """Old workbooks cannot be bounded before they are read: a process with limits reads them.

    Where the system has no such limits the process still fails alone.
    """
    try:
        done = subprocess.run(
            [sys.executable, "-m", __name__, str(path)],
            input=data, capture_output=True, timeout=30, check=False,
        )  # fmt: skip
        told = json.loads(done.stdout)
    except (OSError, ValueError, subprocess.TimeoutExpired):
        message = "a damaged workbook, or one with cells far outside; save it as CSV"
        raise refused(path, message) from None
    if "problem" in told:
        raise refused(path, told["problem"])
    return [
        Table(
            str(path),
            tuple(Row(line, tuple(cells)) for line, cells in sheet["rows"]),
            sheet=sheet["name"],
            notes=tuple(sheet["notes"]),
            numeric=frozenset((row, column) for row, column in sheet["numeric"]),
        )
        for sheet in told["sheets"]
    ]


def _answer_aside(path: Path) -> dict[str, Any]:
    """What the process with limits says, for JSON."""
    with contextlib.suppress(ImportError):
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (MAX_ASIDE, MAX_ASIDE))
        resource.setrlimit(resource.RLIMIT_CPU, (20, 20))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        tables = _tables(path, sys.stdin.buffer.read(), {})
    except FileProblems as error:
        return {"problem": error.problems[0].message}
    return {
        "sheets": [
            {
                "name": table.sheet,
                "rows": [(row.line, row.cells) for row in table.rows],
                "notes": table.notes,
                "numeric": sorted(table.numeric),
            }
            for table in tables
        ]
    }


def _check_zip(path: Path, data: bytes) -> Padded:
    """Refuse bombs and far cells; give the cells that are shown with leading zeros."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        infos = archive.infolist()
        names = {info.filename for info in infos}
        if "[Content_Types].xml" not in names and "content.xml" not in names:
            message = "an archive that is no workbook; unpack it and name the file in it"
            raise refused(path, message)
        if any(name.endswith(".bin") and "workbook" in name for name in names):
            raise refused(path, "a binary workbook; save it as XLSX or CSV")
        total = sum(info.file_size for info in infos)
        if total > MAX_UNPACKED or len(infos) > 2000:
            raise refused(path, f"unpacks to {total / 1e6:.0f} MB; {_LESS}")
        bounds = _Bounds(path)
        for info in infos:
            bounds.scan(archive, info)
        return bounds.padded()
    except FileProblems:
        raise
    except Exception:  # damaged archives fail in many ways
        raise refused(path, "a damaged or protected workbook; save it as CSV") from None


class _Bounds:
    """Reads the XML of every member, as events, before the library that holds whole sheets:
    it makes room for the rectangle round all filled cells, however they are written."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.budget = MAX_UNPACKED
        self.elements = 0
        self.cells: dict[str, list[tuple[int, int, str]]] = {}  # member: row, column, style
        self.digits: dict[str, int] = {}  # number format: digits of 0000
        self.styles: list[str] = []  # style: its number format
        self.targets: dict[str, str] = {}  # relation: member
        self.sheets: dict[str, str] = {}  # relation: name of the sheet
        self.in_styles = False

    def scan(self, archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> None:
        self.member = info.filename
        self.row, self.column, self.step, self.steps = 0, 0, 1, 1
        self.rows, self.columns, self.filled = 0, 0, 0
        self.cell: str | None = None
        self.at = 0
        self.parser = parser = expat.ParserCreate()
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.EntityDeclHandler = self._entity
        with archive.open(info) as member:
            piece = member.read(_CHUNK)
            is_xml = piece.lstrip(b"\xef\xbb\xbf\xff\xfe\0 \t\r\n")[:1] == b"<"
            fed = 0
            while piece:
                self.budget -= len(piece)  # sizes in the directory may lie
                if self.budget < 0:
                    raise refused(self.path, f"unpacks to more; {_LESS}")
                if is_xml:
                    parser.Parse(piece, False)
                    fed += len(piece)
                    self._reached(fed - _CHUNK)
                piece = member.read(_CHUNK)
            if is_xml:
                parser.Parse(b"", True)

    def _entity(self, *_: object) -> None:
        raise refused(self.path, "a workbook with entities of its own; save it as CSV")

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self._reached(self.parser.CurrentByteIndex)
        self.elements += 1
        if self.elements > MAX_ELEMENTS:
            raise refused(self.path, f"more than {MAX_ELEMENTS} pieces; give the parts list alone")
        word = _local(tag)
        said = {_local(key): value for key, value in attributes.items()}
        if self.cell is not None and word in ("v", "f", "is", "p", "t"):
            self._fill()
        elif word == "row":
            self.row, self.column = _number(said.get("r"), self.row + 1), 0
        elif word == "c":
            place = _PLACE.fullmatch(said.get("r", ""))
            self.row = int(place[2]) if place else self.row
            self.column = _column(place[1]) if place else self.column + 1
            self.cell = said.get("s", "")
        elif word in ("table", "table-row", "table-cell", "covered-table-cell"):
            self._open_document(word, said)
        elif word == "numFmt":
            self.digits[said.get("numFmtId", "")] = _zeros(said.get("formatCode", ""))
        elif word == "cellXfs":
            self.in_styles = True
        elif word == "xf" and self.in_styles:
            self.styles.append(said.get("numFmtId", ""))
        elif word == "Relationship":
            target = "xl/" + said.get("Target", "").lstrip("/").removeprefix("xl/")
            self.targets[said.get("Id", "")] = target
        elif word == "sheet":
            self.sheets[said.get("id", "")] = said.get("name", "")

    def _open_document(self, word: str, said: dict[str, str]) -> None:
        """Rows and cells that stand for many unfold when they are read."""
        if word == "table":
            self.row, self.column, self.steps = 0, 0, 1
        elif word == "table-row":
            self.row, self.column = self.row + self.steps, 0
            self.steps = _number(said.get("number-rows-repeated"), 1)
        else:
            self.step = _number(said.get("number-columns-repeated"), 1)
            self.column += self.step
            self.cell = ""
            if _VALUES & said.keys():
                self._fill()

    def _reached(self, place: int) -> None:
        if place - self.at > MAX_PIECE:
            raise refused(self.path, f"a text of more than {MAX_PIECE} letters; clear it")
        self.at = max(place, self.at)

    def _end(self, tag: str) -> None:
        self._reached(self.parser.CurrentByteIndex)
        word = _local(tag)
        if word in ("c", "table-cell", "covered-table-cell"):
            self.cell = None
        elif word == "cellXfs":
            self.in_styles = False

    def _fill(self) -> None:
        self.rows = max(self.rows, self.row + self.steps - 1)
        self.columns = max(self.columns, self.column)
        self.filled += self.step * self.steps
        if self.rows * self.columns > MAX_AREA or self.filled > MAX_AREA:
            where = f"row {self.rows}, column {self.columns}"
            raise refused(self.path, f"a filled cell in {where}, far outside; clear it")
        if self.cell:
            place = (self.row, self.column, self.cell)
            self.cells.setdefault(self.member, []).append(place)
        self.cell = None

    def padded(self) -> Padded:
        """Sheet to the cells, counted from 0, that are shown with leading zeros."""
        names = {self.targets.get(key, key): name for key, name in self.sheets.items()}
        width = {
            str(style): digits
            for style, number in enumerate(self.styles)
            if (digits := self.digits.get(number, 0))
        }
        return {
            names.get(member, member): {
                (row - 1, column - 1): width[style]
                for row, column, style in cells
                if style in width
            }
            for member, cells in self.cells.items()
        }


_LESS = f"at most {MAX_UNPACKED / 1e6:g} MB"
_PLACE = re.compile(r"\$?([A-Za-z]{1,12})\$?(\d{1,12})")
_VALUES = frozenset(
    ("value", "value-type", "date-value", "time-value", "boolean-value", "string-value", "formula")
)


def _local(name: str) -> str:
    return name.rpartition(":")[2]


def _number(text: str | None, default: int) -> int:
    return min(max(int(text), 1), 10**9) if text and text.strip().isdecimal() else default


def _column(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def _zeros(code: str) -> int:
    """Digits of a number format such as 0000."""
    return len(code) if re.fullmatch("0{2,6}", code) else 0


def _sheet(path: Path, sheet: Any, name: str, padded: Padded) -> Table:
    notes: list[str] = []
    if sheet.total_height * max(sheet.total_width, 1) > MAX_AREA:
        raise refused(path, f"sheet {name!r} spans {sheet.total_height} rows; clear far cells")
    values = [list(row) for row in sheet.to_python(skip_empty_area=False, nrows=MAX_ROWS * 2)]
    _fill_merged(values, sheet)
    zeros = padded.get(name, {})
    rows, numeric, blank = [], set(), 0
    for index, raw in enumerate(values):
        cells = []
        for column, value in enumerate(raw[:MAX_COLUMNS]):
            text = _text(value, zeros.get((index, column)))
            if NOT_TEXT.search(text):
                text = NOT_TEXT.sub("", text)
                notes.append(f"control characters left out in row {index + 1}")
            cells.append(text)
            if isinstance(value, int | float) and not isinstance(value, bool):
                if (index, column) not in zeros and len(text) <= 5:  # may have lost a zero
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


if __name__ == "__main__":
    print(json.dumps(_answer_aside(Path(sys.argv[1]))))
