"""Forms of package names: those that one expression tells, as ``data/packages.yaml`` lists
them, and rows x columns of connectors."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import lru_cache, partial

from solderrisk.model.footprint import Family
from solderrisk.packages.reading import (
    Hint,
    NameSizes,
    PackageReading,
    pitch_in,
    row_span_in,
    sizes_of,
    unknown,
)
from solderrisk.packages.tables import Form, Stage, package_tables

Rule = Callable[[str, Hint], PackageReading | None]
Groups = dict[str, str]

_SAID_PITCH = re.compile(
    r"(?<![\d.])(0\.[3-8]|1\.00?|1\.25|1\.27|1\.5|2\.00?|2\.54"
    r"|2\.5|3\.5|3\.81|3\.96|5\.00?|5\.08)(?:MM)?(?![\d.X])"
)


def forms(stage: Stage) -> Rule:
    """The rule that tries all forms of a stage, the first of the list first."""
    return partial(_first_of, stage)


def said_pitch(name: str) -> float | None:
    """A pitch of connectors that stands in a name without being called so, mm."""
    found = _SAID_PITCH.search(name)
    return float(found[1]) if found else None


def _first_of(stage: Stage, name: str, hint: Hint) -> PackageReading | None:
    for form in package_tables().forms[stage]:
        found = _expression(form.form).search(name)
        if (
            found is None
            or (form.also and not _expression(form.also).search(name))
            or (form.unless and _expression(form.unless).search(name))
        ):
            continue
        if form.unclear:
            return unknown(name, form.unclear)
        groups = {key: text.replace(",", ".") for key, text in found.groupdict().items() if text}
        if _listed(groups):
            return _reading(name, form, groups)
    return None


@lru_cache(maxsize=512)
def _expression(text: str) -> re.Pattern[str]:
    return re.compile(text)


def _listed(groups: Groups) -> bool:
    """Codes of bodies and steps are those of the tables."""
    tables = package_tables()
    return (
        groups.get("din", next(iter(tables.din.bodies))) in tables.din.bodies
        and groups.get("step", next(iter(tables.steps.mm))) in tables.steps.mm
    )


def _reading(name: str, form: Form, groups: Groups) -> PackageReading:
    sizes = sizes_of(name)
    takes = form.takes
    pins, rows = _pins(form, groups)
    pitch = _pitch(name, form, groups, sizes)
    assumed: tuple[str, ...] = ()
    if pitch is None and form.usual_pitch_mm is not None:
        pitch = form.usual_pitch_mm
        assumed = (f"pitch {pitch:g} mm, usual for {form.usual_for}",)
    height = _mm(groups, "h") or form.height_mm or (sizes.height if "height" in takes else None)
    return PackageReading(
        text=name,
        state="known",
        family=form.family,
        pins=pins,
        pitch_mm=pitch,
        body=_body(name, form, groups, sizes),
        height_mm=height,
        rows=rows,
        exposed=sizes.exposed if "exposed" in takes else 0,
        exposed_mm=sizes.exposed_mm if "exposed" in takes else None,
        through_hole=_through(name, form),
        two_sides=form.two_sides,
        why=form.why.format(**{k: int(v) for k, v in groups.items() if v.isdecimal()}),
        assumed=assumed,
    )


def _pins(form: Form, groups: Groups) -> tuple[int | None, int | None]:
    rows = int(groups["rows"]) if "rows" in groups else form.rows
    if "columns" in groups:
        return int(groups["columns"]) * (rows or 1), rows
    if "ways" in groups:
        return int(groups["ways"]) * form.pins_each, rows
    return int(groups["pins"]) if "pins" in groups else form.pins, rows


def _pitch(name: str, form: Form, groups: Groups, sizes: NameSizes) -> float | None:
    if "step" in groups:
        return package_tables().steps.mm[groups["step"]]
    said = _mm(groups, "pitch") or form.pitch_mm
    if said is None and "pitch" in form.takes:
        said = sizes.pitch
    if said is None and "said_pitch" in form.takes:
        said = pitch_in(name) or said_pitch(name)
    if said is None and "span" in form.takes:
        said = row_span_in(name)
    return said


def _mm(groups: Groups, word: str) -> float | None:
    """A length by its group: mm as it stands, tenths, hundredths or inches."""
    for ending, scale in (("", 1.0), ("10", 0.1), ("100", 0.01), ("_inch", 25.4)):
        text = groups.get(word + ending)
        if text is not None:
            return round(float(text) * scale, 4 if scale < 1 else 2 if scale > 1 else 6)
    inch = groups.get("inch") if word == "pitch" else None
    return round(float(inch) * 25.4, 2) if inch else None


def _body(name: str, form: Form, groups: Groups, sizes: NameSizes) -> tuple[float, float] | None:
    if "din" in groups:
        return _pair(package_tables().din.bodies[groups["din"]])
    a, b, d = _mm(groups, "a"), _mm(groups, "b"), _mm(groups, "d")
    if a is not None and b is not None:
        return a, b
    if d is not None:
        return d, d
    said = sizes.lettered
    length, width, across = said.get("L"), said.get("W"), said.get("D")
    if "long" in form.takes:
        thick = across or width
        din = re.search(r"DIN(0\d{3})", name)
        table = package_tables().din.bodies.get(din[1], ()) if din else ()
        return (length, thick) if length and thick else _pair(table)
    if "round" in form.takes:
        across = said.get("BD") or across
        if length and width:
            return length, width
        return (across, width or across) if across else None
    return sizes.body if "body" in form.takes else _pair(form.body)


def _pair(values: Sequence[float]) -> tuple[float, float] | None:
    return (values[0], values[1]) if values else None


def _through(name: str, form: Form) -> bool | None:
    if form.lands and _expression(form.lands).search(name):
        return False
    if form.holes and _expression(form.holes).search(name):
        return True
    return form.through


_GRID = re.compile(r"(?<![\dA-Z.,])(\d{1,2})X(\d{1,3})(?![\d.]|X\d| ?MM)")
_HEADER_WORD = re.compile(
    r"PIN ?-?HEAD|PINHD|HEADER|(?<![A-Z])HDR|SOCKET|CONN|IDC"
    r"|RIBBON|JUMPER|MALE|STRIP|(?<![A-Z])PIN|BOX|SCREW|TERM"
)
_PIN_ROW = re.compile(r"^\d+X\d+|HEAD|HDR|PINHD|STRIP|SOCKET|MALE|IDC|(?<![A-Z])PIN|JUMPER")


def read_grid(name: str, hint: Hint) -> PackageReading | None:
    """RxC names of connectors; the pitch only where it is said or usual."""
    if re.search(r"LAYOUT|ARRAY|\dSEG|POLARI[SZ]ED|HDMI|LCD|OLED|TFT|DISPLAY", name):
        return None
    if re.search(r"(?:^|[ (])[2-9] ?X +\d{1,2}X\d", name):  # two rows, some way apart
        return None
    for match in _GRID.finditer(name):
        rows, columns = int(match[1]), int(match[2])
        if (rows > 4 and columns <= 4) or match[2] == "1" or (rows > 2 and match[2] == "2"):
            rows, columns = columns, rows
        if not _plausible(name, match, rows, columns, hint):
            continue
        sizes = sizes_of(name[: match.start()] + name[match.end() :])
        smd = bool(sizes.mounts or re.search(r"SMD|SMT|SURFACE", name))
        pitch = sizes.pitch
        assumed: tuple[str, ...] = ()
        if pitch is None:
            pitch, assumed = _usual_pitch(name)
        return PackageReading(
            text=name,
            state="known",
            family=_family(name, sizes.mounts),
            pins=rows * columns,
            pitch_mm=pitch,
            rows=rows,
            mounts=sizes.mounts,
            through_hole=False if smd else None,
            why=f"{rows} rows of {columns}",
            assumed=assumed,
        )
    return None


def _plausible(name: str, match: re.Match[str], rows: int, columns: int, hint: Hint) -> bool:
    if not 1 <= rows <= 12 or not 1 <= columns <= 200:
        return False
    rest = name[match.end() :]
    before = name[: match.start()]
    if re.search(
        r"(?:QFN|QFP|BGA|DFN|CSP|EP|PAD|LED|SWITCH|TACT|CRYSTAL|XTAL|FUSE|IND|HOLE)\w*[-_ ]?$",
        before,
    ):
        return False
    if re.search(r"(?:^|_)P\d|MM", rest) or _HEADER_WORD.search(name) or match[2].startswith("0"):
        return True
    alone = not re.search(r"[A-Z]{3}", before) and not re.search(r"\d", rest.replace("90", ""))
    told = hint.connector or bool(re.search(r"HEADER|CONNECTOR", hint.text.upper()))
    return alone and rows <= 4 and (told or (rows == 1 and not hint.prefix))


def _usual_pitch(name: str) -> tuple[float | None, tuple[str, ...]]:
    said = said_pitch(name)
    if said:
        return said, ()
    if re.search(r"DIN4|FFC|FPC|BTB|MEZZ", name) or not _PIN_ROW.search(name):
        return None, ()
    return 2.54, ("pitch 2.54 mm, usual for pin rows",)


def _family(name: str, mounts: int) -> Family:
    if re.search(r"TERMINAL|SCREW", name):
        return "terminal_block"
    if re.search(r"FFC|FPC", name):
        return "ffc"
    if re.search(r"SOLDERWIRE", name):
        return "wire_pad"
    return "header"
