"""What is soldered and what is not: from resolved parts to boards, footprints, placements."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from solderrisk.model.draft import UNNAMED, Found, LineState, Part
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import Board, Placement, Position
from solderrisk.model.library import Library, name_key
from solderrisk.packages.kinds import kind_of
from solderrisk.packages.names import read_package
from solderrisk.packages.reading import tidy
from solderrisk.packages.tables import list_words

MAX_REFS_TEXT = 1500


POLARISED = frozenset(["D", "LED", "ZD", "DZ", "CR", "DS", "DL"])
TWO_ENDED = frozenset(["chip", "moulded_cap", "can_cap", "radial", "axial", "melf"])
CAPACITORS = frozenset(["C", "CE", "EC", "CP", UNNAMED])


@dataclass(frozen=True)
class Result:
    """What became of one part."""

    part: Part
    state: LineState
    from_what: str
    footprint: Footprint | None = None
    own: bool = False
    question: str = ""
    remark: str = ""


def boards_of(found: Found, results: list[Result]) -> tuple[Board, ...]:
    if found.boards:
        return found.boards
    return (Board(name="main", ties_known=False),)


def own_footprints(results: list[Result], found: Found) -> tuple[Footprint, ...]:
    own: dict[str, Footprint] = {name_key(f.name): f for f in found.footprints}
    for result in results:
        if result.own and result.footprint is not None:
            own.setdefault(name_key(result.footprint.name), result.footprint)
    return tuple(own.values())


def placements_of(
    results: list[Result], boards: tuple[Board, ...], library: Library
) -> tuple[tuple[Placement, ...], dict[str, str]]:
    names = {board.name for board in boards}
    grouped: dict[tuple[object, ...], list[Result]] = {}
    for r in results:
        if r.footprint is None or r.state == "ignored":
            continue
        part = r.part
        board = part.board if part.board in names else boards[0].name
        key = (
            board,
            r.footprint.name,
            part.value,
            part.side or "top",
            part.links,
            part.joined,
            _polarised(r),
            r.remark,
        )
        grouped.setdefault(key, []).append(r)
    placements, comments = [], {}
    for same, group in grouped.items():
        for chunk in _chunks(group):
            placement = _placement(same, chunk)
            placements.append(placement)
            if chunk[0].remark:
                comments[placement.refs] = chunk[0].remark
    return tuple(placements), comments


def _chunks(group: list[Result]) -> Iterable[list[Result]]:
    chunk: list[Result] = []
    length = 0
    for r in group:
        if chunk and length + len(r.part.ref) + 2 > MAX_REFS_TEXT:
            yield chunk
            chunk, length = [], 0
        chunk.append(r)
        length += len(r.part.ref) + 2
    if chunk:
        yield chunk


def _placement(key: tuple[object, ...], group: list[Result]) -> Placement:
    first = group[0].part
    footprint = group[0].footprint
    assert footprint is not None
    positions = tuple(
        Position(
            ref=r.part.ref,
            x_mm=round(r.part.x_mm, 4),
            y_mm=round(r.part.y_mm, 4),
            rotation_deg=r.part.rotation_deg,
            side=r.part.side or "top",
        )
        for r in group
        if r.part.x_mm is not None and r.part.y_mm is not None
    )
    return Placement(
        refs=", ".join(r.part.ref for r in group),
        footprint=footprint.name,
        board=str(key[0]),
        value=first.value[:200],
        side=first.side or "top",
        positions=positions,
        links=first.links,
        joined=first.joined,
        polarised=_polarised(group[0]),
    )


def _polarised(r: Result) -> bool | None:
    """Whether the line gives a polarity that the footprint alone does not tell."""
    if r.footprint is None:
        return None
    tells = r.footprint.orientation == "none"
    if r.part.prefix in POLARISED | CAPACITORS:
        words = [r.part.description, r.part.package, r.part.device]
        if r.part.prefix == UNNAMED:
            words += [r.part.value, r.part.number]
        said = said_polarity(" ".join(words))
        if said is False and r.footprint.family in TWO_ENDED:
            return None if tells else False
        if r.part.prefix == UNNAMED and r.footprint.family not in TWO_ENDED:
            return None
        if r.part.prefix in POLARISED or said:
            return True if tells else None
    return None


def said_polarity(text: str) -> bool | None:
    """What a text says about polarity in any of the languages of the table; None: nothing."""
    text = text.casefold()
    without, with_ = _polarity_words()
    if without.search(text):
        return False
    return True if with_.search(text) else None


@lru_cache(maxsize=1)
def _polarity_words() -> tuple[re.Pattern[str], re.Pattern[str]]:
    known = list_words().polarity
    return _wordings(known.without), _wordings(known.with_)


def _wordings(by_language: Mapping[str, Sequence[str]]) -> re.Pattern[str]:
    words = {word for words in by_language.values() for word in words}
    forms = []
    for word in sorted(words, key=lambda w: (-len(w), w)):
        stem = re.escape(word.rstrip("*")).replace(r"\ ", r"[ _-]+")
        spaced = word.isascii() or not re.search("[\u3000-\u9fff]", word)
        start, stop = (r"(?<![^\W_])", "" if word.endswith("*") else r"(?![^\W_])")
        forms.append(f"{start}{stem}{stop}" if spaced else stem)
    return re.compile("|".join(forms))


_NO_PART = re.compile(
    r"(?i)(?:\w+[ _])?(?:mounting[-_ ]?hole(?!s? dist)|fiducial\b|logo\b|holes? *$)"
)
_NUMBER = re.compile(
    r"(?i)(?=\S*\d)(?!\S*(?:HOLE|SCREW|MOUNT|STAND|SPAC|NUT|M[2-6](?!\d)))[A-Z][A-Z0-9-]{6,}"
)
_PROBE = re.compile(r"(?i)test.?(?:point|pad)(?!.*(?:loop|thru|tht|socket|5\d{3}))")
_BOARD_NAME = re.compile(
    r"(?:pcb|bare pcb|board|printed circuit board|leiterplatte|platine)(?: v?\d[\w.]*)?",
    re.IGNORECASE,
)


def not_soldered(part: Part) -> str:
    """Why a part is no placement; '' where it is one, or may be."""
    why = _no_part(part)
    # What joins two nets is a part, or bare copper; no hole, mark or board.
    joins = part.nets >= 2 and not _bare_copper(part)
    return "" if joins else why


def _bare_copper(part: Part) -> bool:
    bare = (form.form for form in list_words().not_soldered.packages if form.bare)
    return any(re.search(form, tidy(part.package)) for form in bare)


def _no_part(part: Part) -> str:
    known = list_words().not_soldered
    for form in known.refs:
        if re.fullmatch(form.form, part.ref, re.IGNORECASE):
            return form.why
    packages = [tidy(name) for name in re.split(r",(?=\w+:)", part.package) if name]
    for form in known.packages:
        if packages and all(re.search(form.form, name) for name in packages):
            return form.why
    if re.fullmatch(r"H\d{1,2}", part.ref, re.IGNORECASE) and not _says_part(part):
        return "a mounting hole"
    if part.prefix == "TP" and _PROBE.search(
        " ".join((part.value, part.description, part.package))
    ):
        return "bare copper for a probe"
    what = " ".join((part.value, part.description, part.device)).replace("_", " ")
    said = (part.value, part.description, part.device)
    if re.search(r"(?i)\bsolder ?jumper\b", what) or any(map(_NO_PART.match, said)):
        return "no part to solder"
    names = (part.ref, part.value.strip(), part.description.strip())
    if any(map(_BOARD_NAME.fullmatch, names)):
        return "the bare board"
    named = kind_of(tidy(part.value), part.prefix) is not None  # a knob beside it is no matter
    texts = (part.value,) if named else (part.value, what)
    if not packages and any(map(_of_workshop, texts)):
        return "belongs to the case or the workshop, not to the board"
    return ""


def _of_workshop(text: str) -> bool:
    return bool(_workshop_word().search(text)) and not _part_word().search(text)


def _says_part(part: Part) -> bool:
    """Whether H4 is a header, or any part with a package of its own."""
    if (read_package(part.package).pins or 0) > 1:
        return True
    if _NUMBER.search(f"{part.package} {part.value} {part.number}"):
        return True  # a maker's number: asked about, rather than left out
    text = " ".join((part.package, part.value, part.description)).upper()
    header = re.search(r"HEADER|HDR|PIN|CONN|SOCKET|HEAT|(?<![\w.])\dX\d{1,2}(?![\d.])", text)
    return bool(header) and not re.search(r"HOLE|SCREW|STAND-?OFF|SPACER", text)


@lru_cache(maxsize=1)
def _workshop_word() -> re.Pattern[str]:
    words = "|".join(map(re.escape, list_words().not_soldered.words))
    return re.compile(rf"\b(?:{words})\b", re.IGNORECASE)


@lru_cache(maxsize=1)
def _part_word() -> re.Pattern[str]:
    return re.compile("|".join(list_words().not_soldered.but_with), re.IGNORECASE)
