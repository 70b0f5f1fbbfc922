"""Columns of lists, and the references that stand in them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from typing import Literal, get_args

from solderrisk.packages.names import read_package
from solderrisk.packages.tables import list_words
from solderrisk.readers.reading import Row, Table

MAX_REFS = 5000

_ONE = re.compile(
    r"(?:[A-Z]{1,8}[_-]){0,2}[A-Z]{1,8}_?[0-9]{1,5}(?:[A-Z]{1,2})?(?:[._-][A-Z0-9]{1,8}){0,3}",
    re.IGNORECASE,
)
_USUAL = re.compile(
    r"(?:R|C|L|D|U|Q|J|P|IC|K|T|F|Y|X|FB|SW|LED|TP|JP|CN|CON|RN|RV|VR|BT|ZD|H|M|A|S|B|E|G|V|Z|TR"
    r"|OK|RLY|SG|SP|FL|CR|LS|BZ|MK|ANT|XTAL|MH|FID|PCB)[0-9]{1,5}[A-Z]?",
    re.IGNORECASE,
)
_LETTERED = re.compile(
    r"(?:LED|ANT|USB|BT|BAT|SW|OSC|XTAL|GND|VCC|CN|CON|JP|LOGO|PCB|MK|SP|LS|BZ)[-_A-Z0-9]{0,8}",
    re.IGNORECASE,
)
_RANGE = re.compile(
    r"([A-Z_]{1,8})([0-9]{1,5})\s*(?:-{1,2}|\.{2,3}|~|\bTO\b|:)\s*([A-Z_]{0,8})([0-9]{1,5})",
    re.IGNORECASE,
)
_UNNAMED = re.compile(r"[A-Z]{0,6}[*?]+|REF\*\*|-+|~|N/?A|NONE", re.IGNORECASE)
_MARKS = " .\"'>#\u2022\u00b7="  # marks that lists set before a reference
_MANY = re.compile(r"[,;\n\r\t|&]+|\+(?=\s*[A-Za-z]{1,4}\d)")
_DASHES = str.maketrans(
    {"–": "-", "—": "-", "−": "-", "‐": "-", "…": "...", "，": ",", "；": ";", "、": ","}
)


@dataclass(frozen=True, slots=True)
class RefCell:
    """References of one cell; ``free`` holds for a name that is no usual reference."""

    refs: tuple[str, ...]
    free: bool = False
    unnamed: int = 0
    ranged: bool = False


def looks_like_ref(text: str) -> bool:
    return bool(_ONE.fullmatch(text)) or bool(_RANGE.fullmatch(text))


def _is_ref(text: str, pattern: re.Pattern[str] | None) -> bool:
    if pattern is None:
        return looks_like_ref(text)
    return all(pattern.fullmatch(end) for end in re.split(r"-{1,2}", text))


def ref_share(cells: list[str], *, usual: bool = False) -> float:
    """Share of the non-empty cells that read as references throughout; with ``usual`` only
    the letters in common use count."""
    pattern = _USUAL if usual else None
    filled = [cell for cell in cells if cell.strip()]
    if not filled:
        return 0.0
    good = 0
    for cell in filled[:400]:
        text = re.sub(r"(?<=\d)\s+(-{1,2})\s+(?=[A-Za-z])", r"\1", cell.translate(_DASHES))
        items = [i for i in re.split(r"[,;\s/|&+]+", text) if i]
        good += bool(items) and sum(_is_ref(i, pattern) for i in items) >= 0.8 * len(items)
    return good / len(filled[:400])


def read_refs(cell: str, quantity: int | None = None) -> RefCell:
    """Split a cell. A range is expanded unless the quantity says that it is one name."""
    text = unicodedata.normalize("NFKC", cell).translate(_DASHES)
    text = re.sub(r"\((?:[^()]*)\)", " ", text).replace("\u00a0", " ")
    text = re.sub(r"\b(?:and|und|et|y)\b", ",", text)
    items = [i.lstrip(_MARKS).rstrip(" .\"'") for i in _MANY.split(text)]
    found: list[str] = []
    free, unnamed, ranged = False, 0, False
    for item in (i for i in items if i):
        if _UNNAMED.fullmatch(item):
            unnamed += 1
            continue
        span = _expand(item)
        if span and (quantity != 1 or len(items) > 1):
            found.extend(span)
            ranged = True
            continue
        parts = _split_spaces(item)
        if parts is None:
            free = True
            found.append(clean_ref(item))
        else:
            for part in parts:
                inner = _expand(part) if quantity != 1 else None
                ranged = ranged or bool(inner)
                found.extend(inner or [clean_ref(part)])
        if len(found) > MAX_REFS:
            break
    unique = tuple(dict.fromkeys(ref for ref in found if ref))[:MAX_REFS]
    return RefCell(unique, free and len(unique) == 1, unnamed, ranged)


def _expand(item: str) -> list[str] | None:
    match = _RANGE.fullmatch(item)
    if match is None:
        return None
    head, first, tail, last = match.groups()
    start, stop = int(first), int(last)
    if (tail and tail.upper() != head.upper()) or stop < start or stop - start >= MAX_REFS:
        return None
    return [f"{head}{number}" for number in range(start, stop + 1)]


def _split_spaces(item: str) -> list[str] | None:
    """Parts of an item at spaces and slashes; None for one free name such as 'Cell Holder'."""
    item = re.sub(r"^([A-Za-z]{1,4})\s+(\d{1,4})$", r"\1\2", item)  # 'C  2' is C2
    parts = [p for p in re.split(r"[\s/]+", item) if p]
    if len(parts) == 1:
        return parts
    usual = sum(looks_like_ref(p) or bool(_LETTERED.fullmatch(p)) for p in parts)
    if usual == len(parts):
        return parts
    if usual >= 0.7 * len(parts) and len(parts) > 3:
        return parts
    return None


def clean_ref(name: str) -> str:
    """A name that a kit can bear: no spaces, no list marks."""
    cleaned = re.sub(r"[\s,;:]+", "_", name.strip())
    # A name that would read as a range is one name here.
    cleaned = re.sub(r"^([A-Za-z_]*\d{1,9})-([A-Za-z_]*\d{1,9})$", r"\1_\2", cleaned)
    cleaned = "".join(c for c in cleaned if c.isprintable())
    return cleaned[:60].strip("_.") or ""


Role = Literal[
    "refs", "package", "device", "quantity", "value", "description", "number", "unfitted", "side"
]

_NEVER = re.compile(
    r"price|cost|link|url|datasheet|stock|total|order|extended|supplier(?!part)|distributor|vendor"
    r"|lcsc|height|weight|tolerance|voltage|power|temp|rohs|^item$"
    r"|^items$|line|index|^no$|^nr$|^#$|minimum|moq|buy"
)


_BOUGHT = re.compile(r"lcsc|order|supplier|distributor|vendor|stock|price|cost")


@lru_cache(maxsize=1)
def _words() -> dict[Role, tuple[str, ...]]:
    found = list_words().headers
    return {role: found[role] for role in get_args(Role)}


@dataclass(frozen=True)
class Layout:
    """Columns by role, the row where the list starts, and how sure that is."""

    columns: dict[Role, int]
    header: int  # index into the table's rows; -1 without a header
    score: float
    refs_word: str = ""  # what the column of references is called
    unfitted_word: str = ""  # what the column about fitting is called
    more: tuple[int, ...] = ()  # further columns that describe
    barred: tuple[int, ...] = ()  # heads of what is never a reference: order numbers, prices
    quantities: tuple[str, ...] = ()  # heads that may mean a quantity, the one taken first

    def cell(self, row: Row, role: Role) -> str:
        column = self.columns.get(role)
        text = row[column] if column is not None else ""
        if role == "description" and self.more:
            text = "; ".join(filter(None, (text, *(row[c] for c in self.more))))
        return text


def word_key(text: str) -> str:
    """A header cell's letters alone, without accents."""
    text = unicodedata.normalize("NFKD", text.casefold())
    text = re.sub(r"\([^)]*\)", "", text)
    return "".join(c for c in text if c.isalnum())


def role_of(text: str) -> tuple[Role, int] | None:
    """The role a header cell names and its rank (0 is the plainest word)."""
    key = word_key(text)
    if re.search(r"(?i)\bpart\s*(?:#|n[o°r]\b|num)", text):
        return "number", 0
    if not key or len(key) > 40 or key in list_words().headers["other"]:
        return None
    for role, words in _words().items():
        if key in words:
            return role, words.index(key)
    if _NEVER.search(key):
        return None
    for role, words in _words().items():
        trimmed = key.rstrip("s")
        near = [
            w
            for w in words
            if len(w) > 4
            and (trimmed.startswith(w) or (w.startswith(trimmed) and len(trimmed) > 4))
        ]
        if near:
            return role, len(words) + 1
    if re.search(r"mpn|partnumber|partno(?!t)|pn$", key):
        return "number", len(_words()["number"]) + 3
    if len(key) >= 6:
        all_words = [w for words in _words().values() for w in words if len(w) > 5]
        close = get_close_matches(key, all_words, n=1, cutoff=0.84)
        if close:
            return next(
                (role, len(words) + 2) for role, words in _words().items() if close[0] in words
            )
    return None


def is_header_word(text: str) -> bool:
    """Whether a cell is one of the plain words for a column, without near misses."""
    key = word_key(text) if len(text) <= 40 else ""
    return any(key in words[:12] for words in _words().values()) if key else False


def find_layout(table: Table) -> Layout | None:
    """The header row and the columns' roles; columns by content where there is no header."""
    best: Layout | None = None
    for index, row in enumerate(table.rows[:60]):
        layout = _header_layout(table.rows, index, row)
        if layout is not None and (best is None or layout.score > best.score + 0.01):
            best = layout
    if best is not None:
        return _by_content(table.rows[best.header + 1 :], best)
    return _headerless(table.rows)


def _header_layout(rows: Sequence[Row], index: int, row: Row) -> Layout | None:
    named: dict[Role, list[tuple[int, int]]] = {}
    for column, text in enumerate(row.cells):
        found = role_of(text)
        if found is not None:
            named.setdefault(found[0], []).append((found[1], column))
    filled = sum(bool(c) for c in row.cells)
    if (
        len(named) < 2
        or filled < 2
        or not (named.keys() & {"refs", "package", "quantity", "value", "number"})
    ):
        return None
    named_columns = sum(len(v) for v in named.values())
    if named_columns < 0.25 * filled:
        return None
    body = rows[index + 1 :]
    columns: dict[Role, int] = {}
    for role, candidates in named.items():
        columns[role] = _best(role, candidates, body)
    others = [c for _, c in sorted(named.get("value", [])) if c != columns["value"]]
    if others and any(row[others[0]] for row in body[:400]):
        columns.setdefault("description", others[0])
    rest = [
        c
        for _, c in named.get("refs", [])
        if c != columns["refs"] and word_key(row[c]) in ("part", "component", "name")
    ]
    if rest:  # beside 'Designator' a 'Part' is a part number, a 'Name' is what it is
        named_so = word_key(row[rest[0]]) == "name" or "number" in columns
        roles: tuple[Role, ...] = ("value", "number", "device") if named_so else ("number",)
        for free in [role for role in roles if role not in columns][:1]:
            columns[free] = rest[0]
    word = word_key(row[columns["unfitted"]]) if "unfitted" in columns else ""
    score = len(named) + 0.3 * named_columns / max(filled, 1)
    refs_word = word_key(row[columns["refs"]]) if "refs" in columns else ""
    more = tuple(
        column
        for role in ("description", "value")
        for _, column in named.get(role, [])
        if re.search("desc|remark|comment|spec", word_key(row[column]))
        and column not in columns.values()
    )
    # A column without a head, of words: what somebody noted beside the table.
    more += tuple(c for c, text in enumerate(row.cells) if not text and _noted(body, c))
    counts = sorted(named.get("quantity", []), key=lambda c: c[1] != columns["quantity"])
    heads = tuple(row[column] for _, column in counts)
    barred = tuple(c for c, text in enumerate(row.cells) if _BOUGHT.search(word_key(text)))
    items = [c for c, text in enumerate(row.cells) if word_key(text) in ("item", "items")]
    if items and not columns.keys() & {"value", "description", "refs"} and _noted(body, items[0]):
        columns["description"] = items[0]
    return Layout(columns, index, score, refs_word, word, more, barred, heads)


def _noted(body: Sequence[Row], column: int) -> bool:
    cells = [r[column] for r in body[:400] if r[column]]
    words = sum(bool(re.search("[A-Za-z]{2}", c)) and len(c) < 80 for c in cells)
    return bool(cells) and words >= 0.8 * len(cells)


def _best(role: Role, candidates: list[tuple[int, int]], body: Sequence[Row]) -> int:
    cells: Callable[[int], list[str]] = lambda column: [r[column] for r in body[:400]]  # noqa: E731
    if role == "refs" and len(candidates) > 1:
        return max(candidates, key=lambda c: (round(ref_share(cells(c[1])), 1), -c[0]))[1]
    if role == "package" and len(candidates) > 1:
        return max(candidates, key=lambda c: (_package_count(cells(c[1])), -c[0]))[1]
    if role in ("value", "description", "quantity", "number"):
        filled = [c for c in candidates if any(cells(c[1]))]
        return min(filled or candidates)[1]
    return min(candidates)[1]


def _package_share(cells: list[str]) -> float:
    filled = [c for c in cells if c]
    if not filled:
        return 0.0
    return round(sum(read_package(c).state != "unknown" for c in filled[:60]) / len(filled[:60]), 2)


def _package_count(cells: list[str]) -> int:
    return sum(read_package(c).state != "unknown" for c in cells[:120] if c)


def _by_content(body: Sequence[Row], layout: Layout) -> Layout:
    """Correct the column of references where the cells say otherwise, and find a package
    column that its header does not name."""
    columns = dict(layout.columns)
    width = max((len(r.cells) for r in body), default=0)
    shares = {c: ref_share([r[c] for r in body]) for c in range(min(width, 60))}
    said = columns.get("refs")
    for column in layout.barred:  # order numbers such as C1234 read as references
        if column != said:
            shares.pop(column, None)
    if said is not None:
        shares.setdefault(said, 0.0)  # beyond the widest row
    top = max(shares, key=lambda c: shares[c], default=None)
    if top is not None and shares[top] >= 0.6 and (said is None or shares[said] < 0.3):
        if said is None or shares[top] > shares[said] + 0.3:
            if said is not None and "value" not in columns:
                columns["value"] = said
            for role in [r for r, c in columns.items() if c == top]:
                del columns[role]
            columns["refs"] = top
    elif (
        said is not None
        and shares[said] < 0.3
        and (layout.refs_word in list_words().loose or _weak_refs(body, said))
    ):
        del columns["refs"]
        if layout.refs_word in list_words().loose:
            columns.setdefault("description" if "value" in columns else "value", said)
    return replace(layout, columns=columns)


def _weak_refs(body: Sequence[Row], column: int) -> bool:
    """Nearly every cell is long text or a bare number: no column of references."""
    cells = [r[column] for r in body if r[column]]
    odd = sum(len(c) > 40 or bool(re.fullmatch(r"[\d.,]+", c)) for c in cells if ref_share([c]) < 1)
    return not cells or odd > 0.7 * len(cells)


def _headerless(rows: Sequence[Row]) -> Layout | None:
    width = min(max((len(r.cells) for r in rows), default=0), 60)
    if not rows or width < 2:
        return None
    cells = {c: [r[c] for r in rows[:400]] for c in range(width)}
    shares = {c: ref_share(cells[c], usual=True) for c in range(width)}
    refs = max(shares, key=lambda c: shares[c])
    if shares[refs] < 0.5:
        return None
    columns: dict[Role, int] = {"refs": refs}
    rest = [c for c in range(width) if c != refs and any(cells[c])]
    packages = {c: _package_share(cells[c]) for c in rest if not _numbers(cells[c])}
    if packages and max(packages.values()) >= 0.4:
        columns["package"] = max(packages, key=lambda c: packages[c])
    numbers = [c for c in rest if _numbers(cells[c])]
    counts = [len(read_refs(c).refs) for c in cells[refs]]
    for column in numbers:
        said = [int(c) if c else 0 for c in cells[column]]
        if said != list(range(1, len(said) + 1)) or said == counts:
            columns["quantity"] = column
            break
    texts = [c for c in rest if c not in columns.values() and c not in numbers]
    if texts:
        columns["value"] = texts[0]
    if len(texts) > 1:
        columns["description"] = max(texts[1:], key=lambda c: sum(map(len, cells[c])))
    return Layout(columns, -1, 0.5)


def _numbers(cells: list[str]) -> bool:
    filled = [c for c in cells if c]
    return bool(filled) and all(re.fullmatch(r"\d{1,4}", c) for c in filled)
