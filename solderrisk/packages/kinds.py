"""What a part is, by the words of its line and by its part number."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from pydantic import Field

from solderrisk.files.yaml_source import read_model
from solderrisk.model.base import Frozen, Many, Source, Text
from solderrisk.model.draft import ref_prefix
from solderrisk.model.footprint import Family, Footprint
from solderrisk.model.library import Library
from solderrisk.packages.match import by_name, match
from solderrisk.packages.names import read_package
from solderrisk.packages.tables import DATA

_COMMON = frozenset(
    [
        "R",
        "C",
        "L",
        "D",
        "Q",
        "U",
        "IC",
        "T",
        "F",
        "FB",
        "TP",
        "Y",
        "X",
        "J",
        "P",
        "H",
        "MH",
        "FID",
        "RN",
        "TH",
    ]
)
_LANDS = re.compile(r"(?<![A-Z])SM[DT](?![A-Z])|SURFACE.?MOUNT|GULL.?WING")
_HOLES = re.compile(r"(?<![A-Z])[TP]TH(?![A-Z])|THROUGH.?HOLE|(?<![A-Z])DI[PL](?![A-Z])|AXIAL")
_POLES = re.compile(
    r"(?<![\d.])0?(\d{1,2})[ -]?(?:P(?:INS?|OS(?:ITIONS?)?|OLES?|OL)?|WAY)(?![A-Z])"
)


class Take(Frozen):
    """A footprint that further words of a line name."""

    when: Text
    is_: Text = Field(alias="is")
    smd: Text = ""
    assumed: Text = Field("", description="what the words do not say")


class Kind(Frozen):
    """A kind of parts; ``data/part_kinds.yaml`` says what each key means."""

    said: Text
    letters: Many[Text] = ()
    unless: Text = ""
    first: bool = False
    as_listed: bool = False
    families: Many[Family] = Field(min_length=1)
    take: Many[Take] = ()
    usual: Text = ""
    usual_smd: Text = ""
    usual_unless: Text = ""
    source: Source


class PartType(Frozen):
    """Part numbers and the package they come in."""

    said: Many[Text]
    is_: Text = Field(alias="is")
    source: Source


class PartKinds(Frozen):
    kinds: Many[Kind]
    lands_endings: Text
    types: Many[PartType]


@dataclass(frozen=True)
class Taken:
    """A footprint taken from words; ``assumed`` is what they did not say."""

    footprint: Footprint
    own: bool
    assumed: str = ""


@lru_cache(maxsize=1)
def _tables() -> PartKinds:
    return read_model(DATA / "part_kinds.yaml", PartKinds)


@lru_cache(maxsize=4096)
def kind_of(words: str, prefix: str) -> Kind | None:
    """The kind that upper-case words of a line name; None where none or no such letters."""
    free = prefix not in _letters()  # a name such as BOOT: no letters that say what it is
    for kind in _tables().kinds:
        if kind.letters and prefix not in kind.letters and not free:
            continue
        if _found(kind.said, words) and not (kind.unless and _found(kind.unless, words)):
            return kind
    return None


def letters_of(ref: str) -> str:
    """The letters of a reference that say what it is: R of R_CC1, where CC says nothing."""
    found, first = ref_prefix(ref), ref.upper().partition("_")[0]
    return first if found not in _letters() and first in _letters() else found


@lru_cache(maxsize=1)
def _letters() -> frozenset[str]:
    """Letters that say what a part is: those of the kinds and of the common ones."""
    return _COMMON.union(*(kind.letters for kind in _tables().kinds))


def said_mount(words: str) -> bool | None:
    """Whether words say that a part goes through the board; None: they do not."""
    if _LANDS.search(words):
        return False
    return True if _HOLES.search(words) else None


def take(
    kind: Kind, words: str, library: Library, said: bool | None, listed: bool | None = None
) -> Taken | None:
    """The footprint that words name within a kind; ``said`` and ``listed`` are the mount of
    the line and of most of its list, True for holes, None where it is not known."""
    through = listed if said is None and kind.as_listed else said
    for option in kind.take:
        found = _found(option.when, words)
        if found is None:
            continue
        groups = _groups(found)
        name = option.smd if option.smd and through is False else option.is_
        taken = _named(name.format(**groups) if groups else name, library, option.assumed)
        if taken is not None:
            return taken
    if kind.usual_unless and _found(kind.usual_unless, words):
        return None
    usual = kind.usual_smd if kind.usual_smd and through is False else kind.usual
    return _named(usual, library, "the usual form") if usual else None


def by_part_number(numbers: tuple[str, ...], library: Library) -> Taken | None:
    """The package that a part number comes in; None where its ending says lands."""
    tables = _tables()
    for text in numbers:
        said = text.rpartition(":")[2]  # the name of a library is no part number
        for number in re.split(r"[\s,;/()\[\]]+", said.upper())[:6]:
            if len(number) < 3 or re.search(rf"\d[A-Z]*-?{tables.lands_endings}$", number):
                continue
            for known in tables.types:
                form = "|".join(known.said)
                if _whole(form, number) or _whole(form, number.split("-")[0]):
                    return _named(known.is_, library, f"the package of {number}")
    return None


def members(kind: Kind, words: str, library: Library, through: bool | None) -> tuple[str, ...]:
    """All footprints of a kind's first families in the mount, those of the said poles first."""
    poles = {int(n) for n in _POLES.findall(words)}
    found = [f for name in kind.families[:2] for f in library if f.family == name]
    fitting = [f for f in found if _fits(f, through)] or found
    return tuple(f.name for f in sorted(fitting, key=lambda f: f.pin_count not in poles))


def _fits(footprint: Footprint, through: bool | None) -> bool:
    return through is None or footprint.through_hole is through


def _named(name: str, library: Library, assumed: str) -> Taken | None:
    known = by_name(name, library)
    if known is not None:
        return Taken(known, False, assumed)
    reading = read_package(name)
    found = match(reading, library) if reading.state == "known" else None
    return Taken(found.footprint, found.own, assumed) if found is not None else None


def _groups(found: re.Match[str]) -> dict[str, str]:
    """Groups by name without their number; n10 is in tenths, half is halved."""
    groups: dict[str, str] = {}
    for key, text in found.groupdict().items():
        if not text:
            continue
        value = text.replace(",", ".")
        if key == "half":
            value = str(int(value) // 2)
        elif key.endswith("10"):
            value = f"{int(value) / 10:g}"
        groups[key] = value
        groups.setdefault(key.rstrip("0123456789"), value)
    return groups


@lru_cache(maxsize=1024)
def _expression(text: str) -> re.Pattern[str]:
    return re.compile(text)


def _found(expression: str, words: str) -> re.Match[str] | None:
    return _expression(expression).search(words)


@lru_cache(maxsize=8192)
def _whole(expression: str, number: str) -> bool:
    return _expression(f"(?:{expression})").fullmatch(number) is not None
