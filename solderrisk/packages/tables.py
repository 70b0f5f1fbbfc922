"""The tables behind package names and drawn footprints, read once from ``data/packages.yaml``
and ``data/families.yaml``."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from solderrisk.files.reference import families
from solderrisk.files.yaml_source import read_model
from solderrisk.model.base import Frozen, Many, Source, Text
from solderrisk.model.footprint import Family, FamilyUsual, Material

DATA = Path(__file__).resolve().parent.parent / "data"

Size = Annotated[tuple[float, ...], Field(min_length=2, max_length=3), "mm"]
Sizes = Many[float]


class ChipCode(Frozen):
    """One chip size; body is length, width, height in mm."""

    imperial: Text
    metric: Many[Text]
    body: Many[float]


class ChipCodes(Frozen):
    source: Source
    codes: Many[ChipCode]
    words: Many[Text]


class FamilyWord(Frozen):
    """Words of package families whose pin count follows the word."""

    names: Many[Text]
    family: Family
    pitch_mm: float | None = None
    pitch_by_pins: dict[str, float] = Field(default_factory=dict)
    two_sides: bool = False
    even: bool = False
    source: Source


class Outline(Frozen):
    """A package whose name says everything about its leads.

    ``left`` and ``right`` are places on the pitch grid of the two sides, ``row`` a number
    of leads in one row; ``grid_mm`` is the grid where names of the same outline are drawn
    with different spacings, so that ``pitch_mm`` stays unsaid.
    """

    names: Many[Text]
    family: Family
    pins: int
    pitch_mm: float | None = None
    grid_mm: float | None = None
    pin_step_mm: float | None = Field(None, description="step of one side that skips places")
    left: Many[int] = ()
    right: Many[int] = ()
    row: int | None = None
    span_mm: float | None = None
    body: Many[float]
    body_material: Material = "epoxy"
    land: Many[float]
    lead: Many[float] = ()
    tab: Many[float] = ()
    tab_pin: bool = False
    hole_mm: float | None = None
    polarity: bool | None = None
    source: Source


Stage = Literal["first", "two_leads", "connectors", "parts"]
Taken = Literal["pitch", "said_pitch", "span", "body", "long", "round", "height", "exposed"]


class Form(Frozen):
    """A form of names that one expression tells; the file says what each key means."""

    form: Text
    also: Text = ""
    unless: Text = ""
    unclear: Text = ""
    family: Family | None = None
    pins: int | None = Field(None, ge=0)
    pins_each: int = Field(1, ge=1, description="for each of the ways that are said")
    rows: int | None = Field(None, ge=1)
    pitch_mm: float | None = None
    usual_pitch_mm: float | None = None
    usual_for: Text = ""
    body: Many[float] = ()
    height_mm: float | None = None
    takes: Many[Taken] = ()
    lands: Text = ""
    holes: Text = ""
    through: bool | None = None
    two_sides: bool = False
    why: Text = ""
    source: Source


class DinBodies(Frozen):
    source: Source
    bodies: dict[str, Many[float]]


class Steps(Frozen):
    source: Source
    mm: dict[str, float]


class CrystalPins(Frozen):
    source: Source
    pins: dict[str, int]


class Letters(Frozen):
    two_terminals: Many[Text]
    connectors: Many[Text]


class PackageTables(Frozen):
    """``data/packages.yaml``."""

    chips: ChipCodes
    letters: Letters
    ipc_words: dict[str, Family]
    words: Many[FamilyWord]
    outlines: Many[Outline]
    din: DinBodies
    steps: Steps
    crystal_pins: CrystalPins
    forms: dict[Stage, Many[Form]]

    @property
    def by_word(self) -> dict[str, FamilyWord]:
        return {name: word for word in self.words for name in word.names}


def outline_key(name: str) -> str:
    """Names of outlines compare by their letters and digits alone."""
    return re.sub(r"[^A-Z0-9]", "", name.upper())


class NoPart(Frozen):
    form: Text
    why: Text
    bare: bool = Field(False, description="bare copper, which may join nets")


class NotSoldered(Frozen):
    refs: Many[NoPart]
    packages: Many[NoPart]
    words: Many[Text]
    but_with: Many[Text]


class Wordings(Frozen):
    """Words by language, both ways."""

    without: dict[str, Many[Text]]
    with_: dict[str, Many[Text]] = Field(alias="with")


class ListWords(Frozen):
    """``data/list_headers.yaml``: words of parts lists, the plainest first."""

    headers: dict[str, Many[Text]]
    loose: Many[Text]
    placed: dict[str, Many[Text]]
    not_soldered: NotSoldered
    polarity: Wordings


@lru_cache(maxsize=1)
def list_words() -> ListWords:
    return read_model(DATA / "list_headers.yaml", ListWords)


@lru_cache(maxsize=1)
def package_tables() -> PackageTables:
    return read_model(DATA / "packages.yaml", PackageTables)


@lru_cache(maxsize=1)
def outlines_by_key() -> dict[str, Outline]:
    return {outline_key(name): o for o in package_tables().outlines for name in o.names}


@lru_cache(maxsize=1)
def words_by_name() -> dict[str, FamilyWord]:
    return package_tables().by_word


@lru_cache(maxsize=2)
def letters_of(kind: Literal["two_terminals", "connectors"]) -> frozenset[str]:
    return frozenset(getattr(package_tables().letters, kind))


@lru_cache(maxsize=1)
def chip_words() -> frozenset[str]:
    return frozenset(package_tables().chips.words)


@lru_cache(maxsize=1)
def chips_by_imperial() -> dict[str, ChipCode]:
    return {chip.imperial: chip for chip in package_tables().chips.codes}


@lru_cache(maxsize=1)
def chips_by_metric() -> dict[str, ChipCode]:
    return {code: chip for chip in package_tables().chips.codes for code in chip.metric}


def usual(family: Family) -> FamilyUsual:
    return families()[family]


def by_letters(prefix: str, *, through: bool) -> Family | None:
    letters = families().letters
    return (letters.holes if through else letters.lands).get(prefix)


def default(name: str) -> float:
    return families().defaults[name].value
