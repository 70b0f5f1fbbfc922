"""Names of families with a pin count: IPC-7351 names, SOIC-8, 28-SSOP, DFN1006-3."""

from __future__ import annotations

import re
from functools import lru_cache

from solderrisk.model.footprint import Family
from solderrisk.packages.reading import (
    Hint,
    NameSizes,
    PackageReading,
    row_span_in,
    sizes_of,
    unknown,
)
from solderrisk.packages.tables import FamilyWord, chips_by_metric, package_tables, words_by_name

_IPC = re.compile(
    r"^(?:[A-Z]+_)?([A-Z]{2,6}?)(\d{2,3})P(\d{2,4})(?:_\d+)?X(\d{2,4})(?:X(\d{2,4}))?(?:_\d+X\d+)?"
    r"(?:_?HS)?-(\d{1,4})(?:[A-Z]\d*)?(?=$|[LMN_.\- T])"
)
_IPC_CHIP = re.compile(
    r"^(RES|CAP|IND|LED|DIO|FUS|FERR?|BEAD|VAR|THERM|THRM|XTAL|OSC"
    r"|AMP)(CAFR|CAR?|CAV|CAXR?|CAXS|C|MP|PM|MELF|M|AE|PP?|SC|N|S"
    r"|RN)?"
    r"(\d{4})(\d{4})?X(\d{2,4})(?:-(\d{1,2}))?[A-Z]?\d*(?=$|[LMN_\- ])"
)
_WIDE = r"\dW(?![A-Z0-9])|7\.50? ?MM|\.295|SOICW|SOW-?\d|SOL-?\d|\d\d[-_ ]WIDE"
_QUALIFIER = r"(?:-[A-Z]{1,9})*"
_SMALL_PAD = re.compile(
    r"(?<![A-Z0-9])(?:U-?|X\d?-?|W-?|V-?|T-?|P-?"
    r"|H-?)?DFN-?(\d{4})[A-Z]?-(\d{1,2})[A-Z]{0,3}(?![A-Z0-9])"
)


def read_ipc(name: str, hint: Hint) -> PackageReading | None:
    """IPC-7351 names: SOIC127P600X175-8N, SOT95P280X145-5N, QFN50P500X500X100-33N."""
    match = _IPC.match(name)
    if match is None:
        return None
    word, pitch, span, second, third, pins = match.groups()
    ipc = package_tables().ipc_words
    family = ipc.get(word) or ipc.get(word[1:])
    if family is None:
        return unknown(name, f"the word {word} is not known")
    pitch_mm, count, span_mm = int(pitch) / 100, int(pins), int(span) / 100
    if family in ("soic", "ssop") and word in ("SOP", "SO", "SOIC"):
        family = "soic" if pitch_mm > 1.0 else "ssop"
    flat = family in ("qfp", "qfn", "bga", "plcc")
    body = (span_mm, int(second) / 100) if flat or third else None
    height = int(third or second) / 100
    exposed = 1 if family in ("qfn", "qfp", "ssop", "soic") and count % 2 else 0
    return PackageReading(
        text=name,
        state="known",
        family=family,
        pins=count,
        pitch_mm=pitch_mm,
        body=body if third else None,
        span_mm=span_mm,
        height_mm=height,
        exposed=exposed,
        through_hole=False,
        two_sides=word.endswith(("DFN", "SON")),
        why="IPC-7351 name",
    )


def read_ipc_chip(name: str, hint: Hint) -> PackageReading | None:
    """IPC-7351 names of two-terminal parts: RESC1608X55N, CAPMP7343X310N, CAPAE660X550N."""
    can = re.match(r"^CAPAE(\d{3,4})X(\d{3,4})[LMN]?$", name)
    if can:
        across = int(can[1]) / 100
        return PackageReading(
            text=name,
            state="known",
            family="can_cap",
            pins=2,
            body=(across, across),
            height_mm=int(can[2]) / 100,
            through_hole=False,
            why="IPC-7351 name of a can",
        )
    match = _IPC_CHIP.match(name)
    if match is None:
        return None
    kind, build, size, size_2, height, pins = match.groups()
    length, width = int(size[:2]) / 10, int(size[2:]) / 10
    if size_2:  # DIOM5127X250: tenths; INDM40404X: hundredths
        length, width = int(size) / 100, int(size_2) / 100
    count = int(pins) if pins else (2 if kind not in ("XTAL", "OSC") else 4)
    family: Family = "chip"
    if build in ("CAF", "CAFR", "CA", "CAR", "CAV", "CAX", "CAXR", "CAXS"):
        if pins is None:
            return unknown(name, "a chip array whose number of pins is not said")
        family = "chip_array"
    elif build == "AE":
        length = width = int(size[:3]) / 100 if size.startswith("0") or int(size) > 400 else length
        family = "can_cap"
    elif build in ("MP", "PM", "M", "S", "SC") and kind in ("CAP", "DIO", "FUS"):
        family = "moulded_cap"
    elif build == "MELF":
        family = "melf"
    elif kind in ("XTAL", "OSC"):
        family = "crystal_smd"
    elif kind == "IND" and build in ("M", "P", "PP"):
        family = "inductor_smd"
    chip = chips_by_metric().get(size) if family == "chip" and not size_2 else None
    return PackageReading(
        text=name,
        state="known",
        family=family,
        pins=count,
        body=(chip.body[0], chip.body[1]) if chip else (length, width),
        height_mm=int(height) / 100,
        through_hole=False,
        chip=chip.imperial if chip else None,
        why="IPC-7351 name, metric code",
    )


@lru_cache(maxsize=1)
def _patterns() -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
    words = "|".join(sorted(map(re.escape, words_by_name()), key=len, reverse=True))
    word_first = re.compile(
        rf"(?<![A-Z0-9])(?:PG-|P-|S-|R-|U-"
        rf"|V-)?(?P<word>{words})(?P<qual>{_QUALIFIER})(?:[-_ ]|-PIN-)?"
        r"(?P<pins>\d{1,4})(?P<tail>(?:-\d{1,3})?(?:-?(?:[A-Z]{1,3}|PIN|LEAD))?)(?![A-Z0-9.])"
    )
    count_first = re.compile(
        r"(?<![A-Z0-9.])(?P<pins>\d{1,4})(?:[- ]?(?:PINS?|LEADS?|LD|L|BALLS?|P))?[-_ ]{0,2}"
        rf"(?P<word>{words})(?![A-Z])"
    )
    body_between = re.compile(
        rf"(?<![A-Z0-9])(?P<word>{words})[-_ ]?(?P<a>\d{{1,2}}(?:\.\d+)?)(?:MM)?X"
        r"(?P<b>\d{1,2}(?:\.\d+)?)(?:MM)?[-_ ](?P<pins>\d{1,3})(?:L|N|PIN)?(?![\d.A-WYZ])"
    )
    return word_first, count_first, body_between


def read_family(name: str, hint: Hint) -> PackageReading | None:
    """FAMILY-N, N-FAMILY, FAMILY-AxB-N and small no-leads named by their body."""
    if re.search(r"SWITCH|(?<![A-Z])SW(?![A-Z])|SPST", name):
        return None
    small = _SMALL_PAD.search(name)
    if small:
        return _small_no_lead(name, small)
    word_first, count_first, body_between = _patterns()
    for pattern in (body_between, word_first, count_first):
        for match in pattern.finditer(name):
            reading = _family(name, match, words_by_name()[match["word"]])
            if reading is not None:
                return reading
    return None


def _small_no_lead(name: str, match: re.Match[str]) -> PackageReading:
    body = (int(match[1][:2]) / 10, int(match[1][2:]) / 10)
    sizes = sizes_of(name)
    return PackageReading(
        text=name,
        state="known",
        family="qfn",
        pins=int(match[2]),
        pitch_mm=sizes.pitch,
        body=body,
        exposed=sizes.exposed,
        through_hole=False,
        two_sides=True,
        why="no-lead part whose digits are its body in tenths of a millimetre",
    )


def _family(name: str, match: re.Match[str], word: FamilyWord) -> PackageReading | None:
    groups = match.groupdict()
    pins = int(groups["pins"])
    if re.search(r"POWER[A-Z]*[-_ ]?(?:SO|QFN|\d)", name):
        return unknown(name, "a power package whose pins may be joined")
    if not 2 <= pins <= 2500 or _is_body_digit(name, match):
        return None
    sizes = sizes_of(name)
    tail = groups.get("tail") or ""
    fewer = re.match(r"-(\d{1,3})-\dEP", name[match.end("pins") :])
    if word.family == "bga":
        fewer = None
    if not fewer and word.family in ("soic", "qfn"):
        fewer = re.match(r"[WN]?-(\d{1,3})(?=_)", name[match.end("pins") :])
        fewer = fewer if fewer and pins / 2 <= int(fewer[1]) < pins else None
    if fewer:  # QFN-40-32-2EP: 32 pads where 40 would stand
        pins = min(pins, int(fewer[1]))
    if re.fullmatch(r"B|C|FL|-N\d?", tail) or re.match(r"-N\d", name[match.end("pins") :]):
        return unknown(name, "a variant with pins left out")
    if groups.get("a"):
        body: tuple[float, float] | None = (float(groups["a"]), float(groups["b"]))
    else:
        body = sizes.body
    if word.family == "plcc" and pins <= 6:
        return PackageReading(
            text=name,
            state="known",
            family="led_smd",
            pins=pins,
            pitch_mm=sizes.pitch,
            body=body,
            through_hole=False,
            why="small leaded carrier of a light-emitting diode",
        )
    problem = _impossible(word.family, pins)
    if problem:
        return unknown(name, problem)
    return _finish(name, word, pins, body, sizes, tail, match["word"])


def _is_body_digit(name: str, match: re.Match[str]) -> bool:
    """The digits after the word are a body (QFN5X5, SOIC3.9) and no pin count."""
    rest = name[match.end("pins") :]
    if "a" in match.groupdict() and match.groupdict().get("a"):
        return False
    return bool(re.match(r"(?:\.\d+)?(?:MM)?X\d|\.\d", rest))


def _impossible(family: Family, pins: int) -> str:
    limits = {"soic": 64, "ssop": 104, "tsop": 100, "qfp": 304, "qfn": 200, "dip": 68, "sip": 40}
    limit = limits.get(family)
    if limit is not None and pins > limit:
        return f"{pins} pins are not found on this family"
    if (family == "dip" and pins % 2) or (family in ("soic", "ssop") and pins % 2 and pins > 8):
        return f"an odd number of pins, {pins}, is not found on this family"
    return ""


def _finish(
    name: str,
    word: FamilyWord,
    pins: int,
    body: tuple[float, float] | None,
    sizes: NameSizes,
    tail: str,
    said: str,
) -> PackageReading:
    family, assumed = word.family, []
    pitch = sizes.pitch
    if pitch is None and family == "qfp" and re.fullmatch(r"-0?[4-8]", tail):
        pitch = int(tail[1:]) / 10
    usual = word.pitch_mm if word.pitch_mm is not None else word.pitch_by_pins.get(str(pins))
    span = row_span_in(name) if family == "dip" else sizes.lettered.get("LS")
    named = f"{said}-{pins}"
    if family == "soic" and body is None and re.search(_WIDE, name):
        # JEDEC MS-013: 7.5 mm wide; the length follows from the pins
        named, body = f"SOIC-{pins}W", (round((pins / 2 - 1) * 1.27 + 1.41, 2), 7.5)
    if pitch is None and usual is not None and not _pitch_in_doubt(family, body, sizes):
        pitch = usual
        if family not in ("dip", "soic", "plcc"):
            assumed.append(f"pitch {usual:g} mm, usual for {word.names[0]} with {pins} pins")
    through: bool | None = family in ("dip", "sip")
    if "THT-SOCKET" in name or "THT_SOCKET" in name:
        through, family = True, "dip"
        pitch = 2.54
    if family == "dip" and "SMD" in name:
        through = False
    return PackageReading(
        text=name,
        state="known",
        family=family,
        pins=pins,
        named=named,
        pitch_mm=pitch,
        body=body,
        height_mm=sizes.height,
        span_mm=span,
        exposed=sizes.exposed or int(_says_exposed(name)),
        exposed_mm=sizes.exposed_mm,
        mounts=sizes.mounts,
        through_hole=through,
        two_sides=word.two_sides,
        why=f"package family {word.names[0]} with its pin count",
        assumed=tuple(assumed),
    )


def _says_exposed(name: str) -> bool:
    return bool(re.search(r"(?:\dEP|[-_ ]EP|THERMAL PAD|EXPOSED|EPAD|POWERPAD)", name))


def _pitch_in_doubt(family: Family, body: tuple[float, float] | None, sizes: NameSizes) -> bool:
    """A stated body may belong to another pitch than the family's usual one."""
    return body is not None and family in ("qfp", "tsop")
