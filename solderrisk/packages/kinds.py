"""What a part is, by the words of its line and by its part number; packages that hide in
descriptions, values and device names."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from pydantic import Field

from solderrisk.files.yaml_source import read_model
from solderrisk.model.base import Frozen, Many, Source, Text
from solderrisk.model.draft import UNNAMED, Part, ref_prefix
from solderrisk.model.footprint import Family, Footprint
from solderrisk.model.library import Library
from solderrisk.packages.match import by_name, match
from solderrisk.packages.names import read_package
from solderrisk.packages.reading import Hint, PackageReading, tidy
from solderrisk.packages.tables import DATA, chips_by_imperial, chips_by_metric

_COMMON = frozenset([
    "R", "C", "L", "D", "Q", "U", "IC", "T", "F", "FB", "TP", "Y", "X", "J", "P", "H", "MH", "FID",
    "RN", "TH",
])  # fmt: skip
_LANDS = re.compile(r"(?<![A-Z])SM[DT](?![A-Z])|SURFACE.?MOUNT|GULL.?WING")
_HOLES = re.compile(
    r"(?<![A-Z])(?:[TP]TH|THT|P?DI[PL]|TH(?=[-_])|DISC|RADIAL)(?![A-Z])|THROUGH.?HOLE|AXIAL"
    r"|(?<![\d.])1/[248] ?W|(?<![\d.])0?\.(?:125|25|5) ?W(?![A-Z])"
    r"|(?<![A-Z])(?:TO-?(?:5|18|39|92|126|218|220|247)|DO-?(?:7|15|27|35|41|201|204))(?!\d)"
    r"|(?<![A-Z])LED ?[358] ?MM|(?<!\d)[358] ?MM LED"
)
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
    lettered: bool = Field(False, description="only with these letters, not with unknown ones")
    unless: Text = ""
    first: bool = False
    as_listed: bool = False
    families: Many[Family] = Field(min_length=1)
    take: Many[Take] = ()
    usual: Text = ""
    usual_smd: Text = ""
    usual_holes: Text = ""
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
    weak: bool = False  # a part number says it better


@lru_cache(maxsize=1)
def _tables() -> PartKinds:
    return read_model(DATA / "part_kinds.yaml", PartKinds)


@lru_cache(maxsize=4096)
def kind_of(words: str, prefix: str) -> Kind | None:
    """The kind that upper-case words of a line name; None where none or no such letters."""
    free = prefix not in _letters()  # a name such as BOOT: no letters that say what it is
    for kind in _tables().kinds:
        if kind.letters and prefix not in kind.letters and (kind.lettered or not free):
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
    """Whether words say that a part goes through the board; None: they do not, or say both."""
    lands, holes = bool(_LANDS.search(words)), says_holes(words)
    return None if lands == holes else holes


def says_holes(words: str) -> bool:
    return _HOLES.search(words) is not None


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
    if kind.usual_holes and (listed if said is None else said) is True:
        taken = _named(kind.usual_holes, library, "the usual form through the board")
        return replace(taken, weak=True) if taken is not None else None
    return _named(usual, library, "the usual form") if usual else None


_BARE_CHIP = re.compile(r"(?:SM[DT][-_ ]?)?(?:0402|0603|0805|1206|1210|1812|2010|2512)")
_NO_CHIPS = ("radial", "can_cap", "axial", "crystal_th", "to_th")


def contradicts(footprint: Footprint, package: str, said: bool | None) -> bool:
    """Pins in holes or on lands where the line says the other; a can where it says a chip."""
    pins = [g for g in footprint.pads if not g.name.startswith(("mount", "shell"))]
    if said is False and pins and all(group.through_board for group in pins):
        return True
    if said is True and not footprint.through_hole:
        return True
    return footprint.family in _NO_CHIPS and _BARE_CHIP.fullmatch(package) is not None


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


_STOP = re.compile(
    r"^(?:\d+(?:\.\d+)?(?:[KMGRVAWUNPF%]|OHM|UF|NF|PF|UH|NH|MH|V|MHZ|KHZ|W|A|MA|PPM)?|[A-Z]{1,2}"
    r"|SIZED|CASED)$"
)
_MOUNTED = re.compile(
    r"(?:[A-Z]{1,4}|^)(01005|0201|0402|0603|0805|1206|1210|2010|2512)(?=[A-Z]|$)"
    r"|(?<=CRCW)(0201|0402|0603|0805|1206|1210|2010|2512)(?=\d)"
)
_METRIC_PART = re.compile(r"(?<![A-Z0-9])[A-Z]{1,3}(1005|1608|2012|3216|3225)(?=[A-Z])")


_WITH_PINS = r"[LTVPSUHM]?QFP|[VUWTHX]?QFN|[UVWX]?DFN|MLF|PLCC|P?DIP|SOIC|SOJ|[SMTVHQ]?[MST]?SOP|SO"
_PINS = r"(\d{1,3})[- ]?(?:PINS?|LEADS?|PADS?)"
# '44 pin TQFP', '44-TQFP' and 'TQFP, 44 pins' as one name.
_COUNTED = re.compile(
    rf"(?<![\w.])(?:{_PINS}|(\d{{1,3}})-)[- ]?({_WITH_PINS})(?![\w-]*\d)"
    rf"|(?<!\w)({_WITH_PINS})[ ,]+{_PINS}(?!\w)"
)
_FINE = re.compile(r"(?<![\d.,X])(0\.(?:4|5|635|65|8)0?|1\.(?:00?|27)) ?MM(?! ?X)")


@dataclass(frozen=True)
class Guess:
    """A reading, the words it came from, and the field they stand in."""

    reading: PackageReading
    said: str
    where: str


def guess_package(part: Part, hint: Hint) -> Guess | None:
    """The one package that the other fields of a line name; None where none or several do."""
    if part.device:
        reading = _device(part.device, hint)
        if reading is not None:
            return _fitting(Guess(reading, part.device, "device name"), part)
    fields = (
        ("package column", part.package),
        ("description", part.description),
        ("value", part.value),
        ("part number", part.number),
    )
    found = [guess for where, text in fields if (guess := _in_text(text, hint, where))]
    if len({(g.reading.family, g.reading.pins, g.reading.chip) for g in found}) > 1:
        return None  # the fields of this line contradict each other
    return _fitting(found[0], part) if found else _in_number(part, hint)


def said_pins(text: str) -> int | None:
    """How many pins a text says that its part has; None where it says none, or several."""
    counts = {int(n) for n in re.findall(_PINS + r"(?!\w)", tidy(text))}
    return counts.pop() if len(counts) == 1 else None


def _device(text: str, hint: Hint) -> PackageReading | None:
    for piece in (text, *re.split(r"[-_]", text)[-1:]):
        reading = read_package(piece, hint)
        if reading.state != "unknown" and reading.pins and reading.family != "test_pad":
            return reading
    return None


def _in_text(text: str, hint: Hint, where: str) -> Guess | None:
    """Words and neighbouring words that read as a package; all of them must agree."""
    if not text or len(text) > 400:
        return None
    plain = _one_name(tidy(text))
    words = [w.strip(".:'\"") for w in re.split(r"[\s,;()\[\]|/]+", plain) if w.strip(".:'\"")][:40]
    found: list[tuple[PackageReading, str]] = []
    used: set[int] = set()
    for size in (1, 2):
        for start in range(len(words) - size + 1):
            span = range(start, start + size)
            if used & set(span):
                continue
            piece = "-".join(words[start : start + size])
            reading = _strict(piece, words[start : start + size], hint)
            if reading is not None:
                found.append((reading, " ".join(words[start : start + size])))
                used |= set(span)
    distinct = {(r.family, r.pins, r.chip) for r, _ in found}
    if len(distinct) != 1:
        return None
    return Guess(found[0][0], found[0][1], where)


def _one_name(text: str) -> str:
    """The text with a family and its pins, said apart, as one name with the pitch."""
    found = _COUNTED.search(text)
    if found is None or len(_COUNTED.findall(text)) > 1:
        return text
    pins, family = found[1] or found[2] or found[5], found[3] or found[4]
    steps = set(_FINE.findall(text))
    pitch = f"_P{steps.pop()}MM" if len(steps) == 1 else ""
    return f"{text[: found.start()]} {family}-{pins}{pitch} {text[found.end() :]}"


_STEP = re.compile(
    r"(?<![\d.,X])(1\.(?:00?|25|27|50?)|2(?:\.00?|\.54?)?|3\.(?:5|81|96)|5(?:\.0[08]?)?)"
    r" ?MM(?! ?X)"
)
_ROW_WORD = re.compile(
    r"HEADER|HDR|PINHD|STRIP|SOCKET|(?<![A-Z])PIN|LEISTE|MALE|IDC|JUMPER|0?\.1\""
)
_OTHER_STEP = re.compile(r"TERMINAL|SCREW|(?<![A-Z])JST(?![A-Z])|WIRE.TO|CRIMP|PHOENIX")


def _fitting(guess: Guess, part: Part) -> Guess | None:
    """The guess with the pitch that the line states; None where the line makes it doubtful."""
    reading = guess.reading
    text = tidy(f"{part.value} {part.description} {part.device}")
    if reading.family == "dip" and "SWITCH" in text:
        return None  # eight ways have sixteen pins
    if reading.family != "header" or (reading.pitch_mm and not reading.assumed):
        return guess
    step = _STEP.search(text)
    if step:
        return replace(guess, reading=replace(reading, pitch_mm=float(step[1]), assumed=()))
    rows = _ROW_WORD.search(text)  # a symbol's name tells the poles, not the pitch
    return guess if rows and not _OTHER_STEP.search(text) else None


def _strict(piece: str, words: list[str], hint: Hint) -> PackageReading | None:
    """A piece that is a package name by itself, not a value that looks like one."""
    if len(piece) < 3 or (len(words) == 1 and _STOP.match(piece) and not _chip_code(piece, hint)):
        return None
    if len(words) > 1 and not (
        re.search(r"\d", piece) and all(re.search(r"[A-Z]{2}|^\d{1,3}$", w) for w in words)
    ):
        return None
    if re.fullmatch(r"\d+", piece) and not _chip_code(piece, hint):
        return None
    if len(words) > 1 and any(_chip_code(w, hint) for w in words):
        return None
    reading = read_package(piece, hint)
    if reading.state == "unknown" or not reading.pins or reading.family in (None, "test_pad"):
        return None
    if reading.chip and not hint.two_terminal and hint.prefix not in ("", UNNAMED):
        return None
    if len(words) > 1 and reading.family in ("chip", "header", "moulded_cap"):
        return None
    if reading.family == "header" and not (hint.connector or hint.prefix in ("", UNNAMED)):
        return None
    return reading


def _chip_code(text: str, hint: Hint) -> bool:
    known = text in chips_by_imperial() or text in chips_by_metric()
    return known and len(text) >= 4 and (hint.two_terminal or hint.prefix in ("", UNNAMED))


def _in_number(part: Part, hint: Hint) -> Guess | None:
    """Chip sizes inside part numbers of resistors, capacitors and coils."""
    if hint.prefix not in ("R", "C", "L", "FB", "LED"):
        return None
    for text in (part.number, part.value, part.description):
        name = tidy(text)
        metric = set(_METRIC_PART.findall(name))
        inch = {match[1] or match[2] for match in _MOUNTED.finditer(name)}
        if len(metric) + len(inch) != 1:
            continue
        code = next(iter(metric or inch))
        said = f"{code} metric" if metric else code
        reading = read_package(said, hint)
        if reading.state != "unknown":
            return Guess(reading, code, "part number")
    return None
