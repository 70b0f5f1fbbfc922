"""What a package name was read as."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from typing import Literal

from solderrisk.model.footprint import Family

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
        return self.prefix in TWO_TERMINAL


TWO_TERMINAL = frozenset(
    [
        "R",
        "C",
        "L",
        "D",
        "FB",
        "F",
        "LED",
        "FL",
        "CR",
        "TH",
        "RT",
        "RN",
        "ZD",
        "DZ",
        "E",
        "VD",
        "VR",
        "RV",
        "TVS",
        "B",
        "FER",
        "CE",
        "CX",
        "Z",
        "LD",
        "NTC",
        "PTC",
        "JR",
        "NT",
    ]
)

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
