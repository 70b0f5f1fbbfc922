"""References as bills of materials write them, one or many in a cell."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

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
    r"([A-Z_]{1,8})([0-9]{1,5})\s*(?:-|\.{2,3}|~|\bTO\b|:)\s*([A-Z_]{0,8})([0-9]{1,5})",
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
    return bool(pattern.fullmatch(text)) if pattern else looks_like_ref(text)


def ref_share(cells: list[str], *, usual: bool = False) -> float:
    """Share of the non-empty cells that read as references throughout; with ``usual`` only
    the letters in common use count."""
    pattern = _USUAL if usual else None
    filled = [cell for cell in cells if cell.strip()]
    if not filled:
        return 0.0
    good = 0
    for cell in filled[:400]:
        items = [i for i in re.split(r"[,;\s/|&+]+", cell.translate(_DASHES)) if i]
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
