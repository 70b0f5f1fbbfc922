"""Package names as people and programs write them: a grammar with three answers.

A name is known, ambiguous (several parts bear it) or unknown. A wrong answer is worse
than unknown, so every rule asks for a form it knows and leaves the rest.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

from solderrisk.packages.chip import read_chip, read_crystal
from solderrisk.packages.families_with_pins import read_family, read_ipc, read_ipc_chip
from solderrisk.packages.forms import Rule, forms, read_grid
from solderrisk.packages.reading import Hint, PackageReading, pitch_in, sizes_of, tidy, unknown
from solderrisk.packages.tables import Outline, outline_key, outlines_by_key, package_tables

MAX_NAME = 300

_SUFFIX = re.compile(
    r"^(?:HANDSOLDER(?:ING)?|HAND|SOLDER(?:ING)?|VERTICAL"
    r"|HORIZONTAL\d?|INLINE|WIDE|TAB(?:DOWN|UP|PIN\d+)"
    r"|PAD\d[\d.]*X[\d.]+(?:MM)?|NOMASK|CW|CCW"
    r"|THERMALVIAS\d?|WINDOW|LENS|UNIVERSAL|STANDARD|SMD|SMT|THT|TH|STAGGER\w*|FLATSIDE\w*"
    r"|REFLOW|WAVE|NARROW|UPRIGHT|FLAT|LYING|STANDING|LARGE|SMALL|PADS?|SINGLE|ISOLATED|MODULE|WITH"
    r"|[A-Z]+(?:-[A-Z]{1,4})?|[WPLHD]\d+(?:\.\d+)?(?:X\d+(?:\.\d+)?)?(?:MM)?|LS\d+(?:\.\d+)?"
    r"|\d+(?:\.\d+)?X\d+(?:\.\d+)?(?:X\d+(?:\.\d+)?)?(?:MM)?"
    r"|BD\d+(?:\.\d+)?|SC\d+[A-Z]?|SOD\d+|PIN\d\w+"
    r"|(?:[A-Z]{1,2}\d+(?:\.\d+)?-)+[A-Z]{0,3}\d?)$"
)
_APART = re.compile(r"DO-?\d{2,3}[-_ /]+(\d{1,2}(?:\.\d+)?) ?(?:MM)?(?![\d.A-Z])")
_TO_ANY = re.compile(
    r"(?<![A-Z0-9])TO-?(\d{1,3})[A-Z]{0,3}-(\d{1,2})(?:L|LEAD)?(?:_TABPIN(\d+))?(?![\d.X])"
)


def read_package(text: str, hint: Hint | str | None = None) -> PackageReading:
    """Read a package name.

    ``hint`` is the reference's letters ('R', 'C', 'U') or a ``Hint`` with the line's
    description; it settles only what the name leaves open.
    """
    return _read(text[: MAX_NAME + 1], Hint.of(hint))


@lru_cache(maxsize=16384)
def _read(text: str, hint: Hint) -> PackageReading:
    if len(text) > MAX_NAME:
        return unknown(text[:40], "too long for a package name")
    several = re.split(r",(?=\w[\w ]*:)", text)
    if len(several) > 1:
        return _either([_read(one, hint) for one in several[:8]], text)
    name = tidy(text)
    if not name or name in ("-", "~", "N/A", "NA", "NONE", "?", "*", "TBD", "DNP"):
        return unknown(text, "empty")
    reading = _whole(name, hint) or _parts(name, hint)
    if reading is None:
        return unknown(text, "no rule knows this name")
    choices = tuple(replace(choice, text=text) for choice in reading.choices)
    return replace(reading, text=text, choices=choices)


def read_outline(name: str, hint: Hint) -> PackageReading | None:
    """Outlines of the table, with leading words and trailing decorations left out."""
    if re.search(r"MODIFIED|POWER[A-Z]*_|\dEP(?:_|-|$)", name):
        return None
    tokens = [t for t in re.split(r"[_ ,()]+", name) if t]
    if re.search(r"COAX|JACK|PLUG|EDGE|ANTENNA", name) or hint.prefix in ("ANT", "RF"):
        return None
    table = outlines_by_key()
    for start in range(min(len(tokens), 4)):
        if any(re.search(r"\d", t) for t in tokens[:start]):
            break
        for stop in range(len(tokens), start, -1):
            if not all(_SUFFIX.match(t) or _outline(table, [t]) for t in tokens[stop:]):
                break
            found = _outline(table, tokens[start:stop])
            others = [o for t in tokens[stop:] if (o := _outline(table, [t])) is not None]
            if found is not None and found.names[0] in _COAXIAL and _coaxial(hint):
                return None
            if found is not None and all(o.pins >= found.pins for o in others):
                if any(o.pins != found.pins for o in others):
                    continue
                return _from_outline(name, "-".join(tokens[start:stop]), found, hint)
    return None


_COAXIAL = frozenset({"SMA", "SMB", "SMC"})  # diodes, and plugs of the same names


def _coaxial(hint: Hint) -> bool:
    said = re.search(r"COAX|CONN|JACK|PLUG|ANTENNA|SOCKET|LAUNCH", hint.text.upper())
    return bool(said) or hint.connector


def _outline(table: dict[str, Outline], tokens: list[str]) -> Outline | None:
    joined = "-".join(tokens)
    if re.fullmatch(r"TO-\d-\d{1,2}", joined):  # TO-5-2 is no TO-52
        return None
    found = table.get(outline_key(joined))
    if found is None and (match := re.match(r"^(?:D|Q|U|C|CP|PG|P|T|R)-(.+)$", joined)):
        found = table.get(outline_key(match[1]))
    if found is None and (match := re.match(r"^(DO-?\d{2,3})-\d{1,2}(?:\.\d+)?(?:MM)?$", joined)):
        found = table.get(outline_key(match[1]))
    if found is None and (match := re.match(r"^(.*\d[A-Z]?)-(\d{1,2})$", joined)):
        said = table.get(outline_key(match[1]))
        found = said if said is not None and said.pins == int(match[2]) else None
    if found is None and (match := re.match(r"^(SOT.*\d)R$", joined)):
        found = table.get(outline_key(match[1]))
    if found is None and (match := re.match(r"^(.*\d)-[A-Z]{2,5}$", joined)):
        found = table.get(outline_key(match[1]))
    return found


def _from_outline(name: str, said: str, outline: Outline, hint: Hint) -> PackageReading:
    pins, why = outline.pins, f"outline {outline.names[0]}"
    tab = re.search(r"(\d)L?_TABPIN(\d+)", name)
    if tab:
        pins = int(tab[1]) + (0 if int(tab[2]) <= int(tab[1]) else 1)
    elif outline.names[0] == "SOT-223" and re.search(r"223-?3", said):
        pins = 3
    sizes = sizes_of(name)
    apart = _APART.search(name) if outline.family == "axial" else None
    said_mm = package_tables().steps.mm.get(apart[1], float(apart[1])) if apart else None
    return PackageReading(
        text=name,
        state="known",
        family=outline.family,
        pins=pins,
        pitch_mm=sizes.pitch or said_mm or outline.pitch_mm,
        body=(outline.body[0], outline.body[1]),
        height_mm=outline.body[2] if len(outline.body) > 2 else None,
        through_hole=outline.hole_mm is not None,
        outline=outline.names[0],
        why=why,
    )


def read_numbered_to(name: str, hint: Hint) -> PackageReading | None:
    """TO-N-pins, where the last number is the pin count."""
    match = _TO_ANY.search(name)
    if match is None:
        return None
    number, pins = int(match[1]), int(match[2])
    if re.search(r"\dEP(?:_|$)", name):
        return None
    if not 2 <= pins <= 24:
        return None
    smd = number in (252, 263, 268, 269, 277, 261, 243)
    if smd and not match[3] and not pins % 2:
        pins += 1  # the tab
    if match[3] and int(match[3]) > pins:
        pins += 1
    return PackageReading(
        text=name,
        state="known",
        family="power_tab" if smd else "to_th",
        pins=pins,
        pitch_mm=pitch_in(name),
        through_hole=not smd,
        why="TO outline with its number of leads",
    )


RULES: tuple[Rule, ...] = (
    read_ipc,
    read_ipc_chip,
    forms("first"),
    read_outline,
    forms("two_leads"),
    read_crystal,
    read_family,
    forms("connectors"),
    read_numbered_to,
    read_chip,
    read_grid,
    forms("parts"),
)


def _whole(name: str, hint: Hint) -> PackageReading | None:
    for rule in RULES:
        reading = rule(name, hint)
        if reading is not None:
            return reading if reading.state != "unknown" else None
    return None


def _parts(name: str, hint: Hint) -> PackageReading | None:
    """Lists of alternatives: 'TO-236-3, SC-59, SOT-23-3', 'DO-214AC (SMA)'."""
    parts = [p.strip() for p in re.split(r"[,;()\[\]|/]+|\s{1,}", name) if p.strip()]
    if not 2 <= len(parts) <= 8:
        return None
    readings = [r for part in parts if (r := _whole(part, hint)) is not None]
    return _either(readings, name) if readings else None


def _either(readings: list[PackageReading], text: str) -> PackageReading:
    """One reading for several names of a part: theirs where they agree, else ambiguous."""
    known = [r for r in readings if r.state != "unknown"]
    if not known:
        return unknown(text, "no rule knows these names")
    first = replace(known[0], text=text)
    if len({(r.pins, r.family, r.chip, r.outline) for r in known}) == 1:
        return first
    return replace(first, state="ambiguous", choices=tuple(known), why="parts of the name differ")
