"""Tables of a list as they are read, whatever they came from."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from solderrisk.files.text import refused, without_controls
from solderrisk.model.kit import Board, Side
from solderrisk.packages.pads import Drawing

MAX_PADS = 100_000
Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class ListLine:
    """One row of a parts list. ``refs`` is empty for a row that names nothing to place."""

    place: str
    refs: tuple[str, ...]
    quantity: int | None
    value: str = ""
    package: str = ""
    device: str = ""
    description: str = ""
    number: str = ""
    ignored: str = ""
    numeric_package: bool = False
    side: str = ""
    unnamed: bool = False
    heading: str = ""  # what stands above its part of the list

    @property
    def count_open(self) -> bool:
        """The quantity contradicts the references."""
        return self.quantity is not None and self.quantity != len(self.refs) and not self.unnamed


@dataclass(frozen=True)
class Placed:
    """One row of a placement list; mm, y pointing up."""

    ref: str
    x_mm: float
    y_mm: float
    rotation_deg: float
    side: Side
    place: str
    package: str = ""
    value: str = ""


@dataclass(frozen=True, slots=True)
class SeenPad:
    """One pad of one part in board coordinates, mm, y up."""

    ref: str
    pin: str
    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    hole_mm: float = 0.0
    top: bool = True
    net: str = ""
    line: int = 0
    round: bool = False


@dataclass(frozen=True, slots=True)
class SeenHole:
    """One drilled hole; ``plated`` None where the file does not say."""

    x_mm: float
    y_mm: float
    d_mm: float
    plated: bool | None = None


@dataclass(frozen=True)
class Zone:
    """A copper pour; ``connect`` as for pads, 1 spokes where nothing is said."""

    net: str
    layers: frozenset[str]
    outline: Points
    connect: int
    spoke_w: float
    spoke_gap: float
    filled: tuple[tuple[str, float], ...] = ()  # layer and mm² of copper, where it is filled


@dataclass(frozen=True)
class Via:
    net: str
    x: float
    y: float


@dataclass(frozen=True)
class DrawnBoard:
    """A board file. Positions in ``drawings`` are the file's own; ``left`` and ``bottom``
    turn them into positions on the board with y pointing up."""

    board: Board
    drawings: tuple[Drawing, ...]
    zones: tuple[Zone, ...]
    vias: tuple[Via, ...]
    left: float
    bottom: float


@dataclass(frozen=True)
class Reading:
    """One source. A format fills what it knows; ``listed`` tells a parts list from a file
    that only shows parts."""

    notes: tuple[str, ...] = ()
    listed: bool = False
    lines: tuple[ListLine, ...] = ()
    placed: tuple[Placed, ...] = ()
    board: DrawnBoard | None = None
    footprint: Drawing | None = None
    pads: tuple[SeenPad, ...] = ()
    holes: tuple[SeenHole, ...] = ()


MAX_TEXT_BYTES = 8_000_000
MAX_ROWS = 20_000
MAX_COLUMNS = 400
MAX_LINE = 200_000
MAX_FIELD = 20_000
DELIMITERS = "\t;,|"


@dataclass(frozen=True)
class Row:
    """One row; ``line`` counts from 1 as editors and spreadsheets do."""

    line: int
    cells: tuple[str, ...]

    def __getitem__(self, column: int) -> str:
        return self.cells[column] if 0 <= column < len(self.cells) else ""


@dataclass(frozen=True)
class Table:
    """Rows of text cells. ``decimal_comma`` holds where the delimiter is no comma."""

    file: str
    rows: tuple[Row, ...]
    sheet: str = ""
    delimiter: str = ""
    notes: tuple[str, ...] = ()
    numeric: frozenset[tuple[int, int]] = field(default=frozenset())  # cells stored as numbers

    @property
    def decimal_comma(self) -> bool:
        return self.delimiter not in (",", "")

    def place(self, row: Row) -> str:
        sheet = f"[{self.sheet}]" if self.sheet else ""
        return f"{self.file}{sheet}:{row.line}"


def decode(data: bytes, name: str) -> tuple[str, list[str]]:
    """Bytes to text and what had to be done for it.

    Raises:
        FileProblems: binary data.
    """
    notes: list[str] = []
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", "replace")
        notes.append("read as UTF-16")
    elif _looks_utf16(data):
        little = data[1:200:2].count(0) >= data[0:200:2].count(0)
        text = data.decode("utf-16-le" if little else "utf-16-be", "replace")
        notes.append("read as UTF-16 without its mark")
    elif b"\0" in data:
        raise refused(name, "holds NUL bytes, so it is no text; give a text file or a workbook")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", "replace")
            notes.append("not UTF-8; read as Windows-1252")
    if text.count("\ufffd") > max(len(text) // 20, 8) or "\0" in text:
        raise refused(name, "is no text in a known encoding; save it as UTF-8")
    fixed = _mend_mojibake(text)
    if fixed != text:
        notes.append("letters mended that were saved in two encodings (such as Â before µ)")
    cleaned, told = without_controls(fixed)
    return cleaned, [*notes, *told]


def _looks_utf16(data: bytes) -> bool:
    head = data[:400]
    if len(head) < 8:
        return False
    even, odd = head[0::2].count(0), head[1::2].count(0)
    return max(even, odd) > 0.6 * (len(head) / 2) and min(even, odd) < 0.1 * (len(head) / 2)


_TWICE = re.compile(
    "[\u00c2\u00c3\u00ce\u00e2][\u0080-\u00bf\u0152-\u0178\u02c6\u02dc\u2013-\u2122]{1,2}"
)


def _mend_mojibake(text: str) -> str:
    def mended(match: re.Match[str]) -> str:
        for encoding in ("cp1252", "latin-1"):
            try:
                return match[0].encode(encoding).decode("utf-8")
            except (UnicodeEncodeError, UnicodeDecodeError):
                continue
        return match[0]

    return _TWICE.sub(mended, text)


def text_table(text: str, path: Path | str, notes: list[str] | None = None) -> Table:
    """Delimited or fixed-width text to rows.

    Raises:
        FileProblems: a line, a field or the number of rows is beyond the limits.
    """
    notes = list(notes or [])
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    longest = max(map(len, text.split("\n")), default=0)
    if longest > MAX_LINE:
        raise refused(path, f"a line of {longest} characters; at most {MAX_LINE} are read")
    said = re.match(r'^"?sep=(.)"?\n', text, re.IGNORECASE)
    body = text[said.end() :] if said else text
    if body.count("\t,") * 2 > body.count("\n"):
        body = re.sub(r"\t+,", ",", body)  # blanks set before the commas
    delimiter = said[1] if said else find_delimiter(body)
    offset = 1 if said else 0
    body = _squeezed(body) if delimiter == "\t" else body
    if delimiter:
        rows = _delimited(body, delimiter, path, offset)
    else:
        rows, delimiter = _fixed_width(body, offset), " "
        notes.append("no delimiter found; columns taken from their width")
    if len(rows) > MAX_ROWS:
        raise refused(path, f"more than {MAX_ROWS} rows; give the parts list alone")
    return Table(str(path), tuple(rows), delimiter=delimiter, notes=tuple(notes))


_TABS = re.compile(r"(?<=[^\t\n])\t{2,}(?=[^\t\n])")


def _squeezed(text: str) -> str:
    """Tabs set twice so that columns stand below each other, as one; as it is where that does
    not make more rows equally wide."""
    one = _TABS.sub("\t", text)
    return one if one != text and _even(one) > _even(text) else text


def _even(text: str) -> int:
    """How many rows have the width that most have."""
    widths = Counter(n for line in text.split("\n") if (n := line.count("\t")))
    return max(widths.values(), default=0)


def find_delimiter(text: str) -> str:
    """The delimiter that parts the lines most evenly; '' where none does."""
    lines = [line for line in text.split("\n")[:200] if line.strip()][:60]
    best, best_score, best_even = "", 0.0, 1.0
    for delimiter in DELIMITERS:
        counts = [len(_QUOTED.sub("", line).split(delimiter)) - 1 for line in lines]
        some = [c for c in counts if c]
        if not some:
            continue
        usual, _ = max(Counter(some).items(), key=lambda item: (item[1], item[0]))
        even = sum(c == usual for c in counts) / len(counts)
        score = (even + 0.5 * len(some) / len(counts)) * min(usual, 6) ** 0.5
        if score > best_score * 1.05:
            best, best_score, best_even = delimiter, score, even
    if best_even < 0.5 and len(_column_starts([line.expandtabs(8) for line in lines])) >= 4:
        return ""  # the columns stand under one another
    return best if best_score >= 0.6 else ""


_QUOTED = re.compile(r'"[^"]*"')


def _delimited(text: str, delimiter: str, path: Path | str, offset: int) -> list[Row]:
    csv.field_size_limit(MAX_FIELD)
    unclosed = text.count('"') % 2 == 1
    try:
        rows = _parsed(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter), offset)
        if not unclosed or not rows or "\n" not in "".join(rows[-1].cells):
            return rows
        told = "a mark of quotation is never closed"
    except csv.Error as error:
        told = str(error)
    if unclosed:  # a stray inch mark swallows the rest of the file
        bare = csv.reader(io.StringIO(text), delimiter=delimiter, quoting=csv.QUOTE_NONE)
        try:
            return _parsed(bare, offset)
        except csv.Error:
            pass
    raise refused(path, f"not a readable table ({told}); save it again as CSV") from None


def _parsed(reader: csv._reader, offset: int) -> list[Row]:  # type: ignore[name-defined]
    rows: list[Row] = []
    start = 1
    for cells in reader:
        if any(cell.strip() for cell in cells) and not _is_rule(cells):
            rows.append(Row(start + offset, tuple(c.strip() for c in cells[:MAX_COLUMNS])))
            if len(rows) > MAX_ROWS:
                break
        start = reader.line_num + 1
    return rows


def _is_rule(cells: Sequence[str]) -> bool:
    """A line drawn between head and body."""
    return all(re.fullmatch(r"\s*(?::?-+:?|={2,})?\s*", cell) for cell in cells)


def _fixed_width(text: str, offset: int) -> list[Row]:
    """Columns where every line has a gap; else two spaces or more part the cells."""
    lines = [line.expandtabs(8).rstrip() for line in text.split("\n")]
    filled = [line for line in lines if line.strip() and not re.fullmatch(r"[\s=\-_*+]+", line)]
    counts = [len(re.split(r"\s{2,}", line.strip())) for line in filled]
    split = Counter(count for count in counts if count >= 3)
    usual, times = max(split.items(), key=lambda item: item[1], default=(0, 0))
    starts = _column_starts(filled)
    if times >= 0.8 * sum(split.values()) and len(starts) < usual:
        starts = []
    rows = []
    for number, line in enumerate(lines[: MAX_ROWS + 1], start=1 + offset):
        if not line.strip() or re.fullmatch(r"[\s=\-_*+]+", line):
            continue
        if len(starts) > 1:
            cells = [line[a:b].strip() for a, b in zip(starts, [*starts[1:], None], strict=True)]
        else:
            cells = re.split(r"\s{2,}", line.strip())
        rows.append(Row(number, tuple(cells[:MAX_COLUMNS])))
    return rows


def _column_starts(lines: list[str]) -> list[int]:
    table = [line for line in lines if len(re.split(r"\s{2,}", line.strip())) >= 3][:400]
    if len(table) < 3:
        return []
    width = min(max(map(len, table)), 2000)
    blank = [all(i >= len(line) or line[i] == " " for line in table) for i in range(width)]
    starts = [0] if table and not blank[0] else []
    starts += [i for i in range(1, width) if blank[i - 1] and not blank[i]]
    # References such as 'R1, R2' may stand under one another, too: a head settles it.
    headed = [i for i in starts if table[0][i : i + 1].strip() and table[0][max(i - 1, 0)] == " "]
    headed = [0, *headed] if starts and starts[0] == 0 else headed
    return sorted(set(headed)) if len(headed) >= 3 else starts
