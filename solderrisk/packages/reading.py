"""What a package name was read as, and the sizes that names carry after the family."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from typing import Literal

from solderrisk.model.footprint import Family
from solderrisk.packages.tables import letters_of

State = Literal["known", "unknown", "ambiguous"]


@dataclass(frozen=True, slots=True)
class PackageReading:
    """What a name says; None where it does not say it.

    ``pins`` are electrical pins without exposed pads and mounting tabs. ``assumed`` names
    what was taken from the usual outline of the family because the name does not say it.
    ``choices`` are the readings of an ambiguous name, the likeliest first; the other
    fields then hold the likeliest one.
    """

    text: str
    state: State = "unknown"
    family: Family | None = None
    pins: int | None = None
    pitch_mm: float | None = None
    body: tuple[float, float] | None = None
    height_mm: float | None = None
    span_mm: float | None = None
    rows: int | None = None
    exposed: int = 0
    exposed_mm: tuple[float, float] | None = None
    mounts: int = 0
    through_hole: bool | None = None
    outline: str | None = None
    named: str = ""  # family word and pins, as libraries name it
    chip: str | None = None
    two_sides: bool = False
    why: str = ""
    assumed: tuple[str, ...] = ()
    choices: tuple[PackageReading, ...] = ()

    @property
    def label(self) -> str:
        """The reading in a few words, for questions and reports."""
        parts = [self.chip or self.outline or (self.family or "unknown").replace("_", " ")]
        if self.pins and not self.chip:
            parts.append(f"{self.pins} pins")
        if self.pitch_mm:
            parts.append(f"pitch {self.pitch_mm:g} mm")
        if self.body:
            parts.append(f"{self.body[0]:g} x {self.body[1]:g} mm")
        return ", ".join(parts)


@dataclass(frozen=True, slots=True)
class Hint:
    """What else a line says: the reference's letters, its description, value, number."""

    prefix: str = ""
    text: str = ""

    @classmethod
    def of(cls, hint: Hint | str | None) -> Hint:
        if hint is None:
            return cls()
        return cls(prefix=hint.upper()) if isinstance(hint, str) else hint

    @property
    def two_terminal(self) -> bool:
        return self.prefix in letters_of("two_terminals")

    @property
    def connector(self) -> bool:
        return self.prefix in letters_of("connectors")


FIXED = str.maketrans({"×": "x", "–": "-", "—": "-", "−": "-", "‐": "-", "µ": "u", "μ": "u"})


def tidy(text: str) -> str:
    """Upper-case, full-width letters made plain, library prefix and quotes dropped."""
    text = unicodedata.normalize("NFKC", text).translate(FIXED).strip().strip("'\"").strip()
    text = re.sub(r"(?i)\.(?:kicad_mod|lbr|pcblib|fpx|psm|dra)$", "", text)
    head, colon, tail = text.rpartition(":")
    if colon and tail.strip() and re.fullmatch(r"[\w .+&()/-]+", head):
        text = tail
    head, slash, tail = text.rpartition(".pretty/")
    text = tail if slash else text
    return re.sub(r"\s+", " ", text).strip().upper()


def unknown(text: str, why: str) -> PackageReading:
    return PackageReading(text=text, why=why)


def as_choice(reading: PackageReading, *others: PackageReading, why: str) -> PackageReading:
    """An ambiguous reading: the first is the likeliest."""
    return replace(reading, state="ambiguous", choices=(reading, *others), why=why)


NUMBER = r"(\d{1,3}(?:\.\d+)?|\.\d+)"

_PITCH = (
    re.compile(rf"(?:^|[_\- ,(])P{NUMBER}(?:X{NUMBER})?(?:MM)?(?=$|[_\- ,)P])"),
    re.compile(rf"(?:PITCH|RM)[ :=_-]*{NUMBER} ?(?:MM)?(?=$|[^\d.])"),
    re.compile(rf"(?:^|[^\d.X]){NUMBER} ?MM[ _-]?PITCH"),
    re.compile(r"(?:^|[^\d.X])(\d{0,2}\.\d+)P(?=$|[_\- ,)])"),
    re.compile(r"(?:PITCH|RM)[ :=_-]*(0?\.\d+) ?(?:IN|\")"),
)
_MIL_PITCH = re.compile(r"(?:^|[^\d.X])(\d{2,3}) ?MIL(?=$|[^S])")
_LETTERED = re.compile(rf"(?:^|[_\- ,])(L|W|H|LS|BD|D|PX|PY|OD|T|EP){NUMBER}(?:MM)?(?=$|[_\- ,X])")
_CROSS = re.compile(
    rf"(?<![\d.A-Z]){NUMBER} ?(?:MM)? ?X ?{NUMBER}(?: ?X ?{NUMBER})? ?(MM)?(?![\d.X])"
)
_EXPOSED = re.compile(rf"(?:^|[_\- ,])(?:TOP)?EP{NUMBER}X{NUMBER}")
_EP_COUNT = re.compile(r"-(\d{1,2})EP(?![A-Z])")
_MOUNTS = re.compile(r"-(\d{1,2})?(?:MP|SH|MH)(?=$|[_\- ])")
_NARROW = re.compile(r"NARROW|SLIM|SKINNY|(?<![A-Z])S[PK]-?DIP|DI[PL]-?(?:24|28)N(?![A-Z])")
_ROW_SPAN = re.compile(rf"(?:^|[_\- ,])W{NUMBER}MM")


@dataclass(frozen=True, slots=True)
class NameSizes:
    """What was found, mm."""

    body: tuple[float, float] | None
    height: float | None
    pitch: float | None
    exposed: int
    exposed_mm: tuple[float, float] | None
    mounts: int
    lettered: dict[str, float]


def sizes_of(name: str) -> NameSizes:
    """Read the sizes in an upper-case package name."""
    lettered = {key: float(value) for key, value in _LETTERED.findall(name)}
    cross = _body_cross(name)
    body = (cross[0], cross[1]) if cross else None
    if "L" in lettered and "W" in lettered:
        body = (lettered["L"], lettered["W"])
    elif body is None and "BD" in lettered:
        body = (lettered["BD"], lettered["BD"])
    exposed = _EP_COUNT.search(name)
    pad = _EXPOSED.search(name)
    mounts = _MOUNTS.search(name)
    return NameSizes(
        body=body,
        height=lettered.get("H") or (cross[2] if cross and len(cross) > 2 else None),
        pitch=pitch_in(name),
        exposed=int(exposed[1]) if exposed else int(pad is not None),
        exposed_mm=(float(pad[1]), float(pad[2])) if pad else None,
        mounts=int(mounts[1] or 1) if mounts else 0,
        lettered=lettered,
    )


def _body_cross(name: str) -> tuple[float, ...] | None:
    for match in _CROSS.finditer(name):
        values = tuple(float(v) for v in match.groups()[:3] if v)
        if all(0.2 <= v <= 120 for v in values):
            return values
    return None


def pitch_in(name: str) -> float | None:
    """The pitch that a name states, mm."""
    for pattern in _PITCH[:4]:
        match = pattern.search(name)
        if match and 0.2 <= float(match[1]) <= 60:
            return float(match[1])
    match = _PITCH[4].search(name)
    if match:
        return round(float(match[1]) * 25.4, 3)
    match = _MIL_PITCH.search(name)
    return round(int(match[1]) * 0.0254, 4) if match and match[1] in ("50", "100", "25") else None


def row_span_in(name: str) -> float | None:
    """The distance of two rows (W7.62mm, 300 mil, 0.300"), mm."""
    match = _ROW_SPAN.search(name)
    if match:
        return float(match[1])
    if _NARROW.search(name):
        return 7.62
    for text, value in (
        (r"0?\.3(?:00?)?\"|300 ?MIL|[-_/ ]300(?!\d)|7\.62", 7.62),
        (r"0?\.400?\"|400 ?MIL|[-_/ ]400(?!\d)|10\.16", 10.16),
        (r"0?\.6(?:00?)?\"|600 ?MIL|[-_/ ]600(?!\d)|15\.24", 15.24),
        (r"0?\.900?\"|900 ?MIL|[-_/ ]900(?!\d)|22\.86", 22.86),
    ):
        if re.search(rf"(?<![\d.])(?:{text})", name):
            return value
    return None
