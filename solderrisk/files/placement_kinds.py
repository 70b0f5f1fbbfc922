"""Rows of lists and footprints of boards that nobody solders."""

from __future__ import annotations

import re

from solderrisk.files.package_names import read_package
from solderrisk.files.package_reading import tidy
from solderrisk.model.draft import Part

_REFS = (
    (re.compile(r"(?:FID|FD|FM)\d*", re.IGNORECASE), "a fiducial mark"),
    (re.compile(r"LOGO\w*|OSHW\w*|G\*+|\$\w*|KIBUZZARD\w*", re.IGNORECASE), "a logo"),
    (re.compile(r"(?:MH|HOLE|MTG|MNT|MK_?HOLE|NPTH)_?\d*", re.IGNORECASE), "a mounting hole"),
    (re.compile(r"PCB_?\d*|PWB\d*|BOARD\d*", re.IGNORECASE), "the bare board"),
    (
        re.compile(r"(?:TOOL|STENCIL|LABEL|LBL|STICKER|BARCODE)_?\d*", re.IGNORECASE),
        "no part to solder",
    ),
)
_PACKAGES = (
    (
        # Only at the start: connectors and modules say that they have mounting holes, too.
        re.compile(
            r"^(?:[\dM.,_ -]*(?:MM)?[-_ ]*)"
            r"(?:MOUNT(?:ING)?[-_ ]?HOLE|HOLE(?:$|[-_ \d])|NPTH|SCREW_?HOLE"
            r"|STAND-?OFF|SPACER|THREADED INSERT)"
        ),
        "a mounting hole or spacer",
    ),
    (re.compile(r"FIDUCIAL|FIDUCAL"), "a fiducial mark"),
    (
        re.compile(r"LOGO|SYMBOL_|SILKSCREEN|OSHW|COPPER_?TOP$|CE-MARK|GAUGE_|WEEE"),
        "a logo or mark",
    ),
    (
        re.compile(
            r"NETTIE|NET_?TIE|SOLDER-?JUMPER|SOLDER_?BRIDGE|JUMPER_OPEN"
            r"|^SJ[-_]?\d?$|SMT-JUMPER|PAD-JUMPER"
        ),
        "bare copper, bridged only if wanted",
    ),
    (
        re.compile(r"TEST_?-?POINT_?(?:PAD|BRIDGE)|TEST_?-?PAD|^TP[-_]?PAD|MEASUREMENT_?POINT"),
        "bare copper for a probe",
    ),
    (
        re.compile(r"MOUSE-?BITE|TOOLING|^PANEL_|BREAKAWAY|(?<![A-Z])FRAME(?![A-Z])"),
        "part of the panel",
    ),
)
_WORDS = re.compile(
    r"\b(?:enclosure|printed case|housing box|plastic box|case lid|project box"
    r"|gehäuse|cable tie|patch cable|usb cable"
    r"|mains cable|cables?|ribbon cable assembly|wire kit|screws?"
    r"|din ?912|iso ?7380|nuts?|washers?|stand-?offs?|spacers?|hex ?standoff"
    r"|rubber feet|sticker|label|solder paste|stencil|bare pcb"
    r"|bare board|pcb fab\w*|printed circuit board"
    r"|assembly (?:cost|labou?r|fee)|shipping|heat ?shrink|manual"
    r"|packaging box|thermal paste|front panel"
    r"|mounting hole|fiducial|passmarke|knob|bezel|velcro|double-sided tape|glue|test jig)\b",
    re.IGNORECASE,
)
_NO_PART = re.compile(
    r"(?i)(?:\w+[ _])?(?:mounting[-_ ]?hole(?!s? dist)|fiducial\b|logo\b|holes? *$)"
)
_JOINED = re.compile(
    r"header|connector|socket|terminal|holder|jack|switch|resistor|capacitor|diode", re.IGNORECASE
)
_BOARD_NAME = re.compile(
    r"(?:pcb|bare pcb|board|printed circuit board|leiterplatte|platine)(?: v?\d[\w.]*)?",
    re.IGNORECASE,
)


def not_soldered(part: Part) -> str:
    """Why a part is no placement; '' where it is one, or may be."""
    for pattern, why in _REFS:
        if pattern.fullmatch(part.ref):
            return why
    packages = [tidy(name) for name in re.split(r",(?=\w+:)", part.package) if name]
    for pattern, why in _PACKAGES:
        if packages and all(map(pattern.search, packages)):
            return why
    if re.fullmatch(r"H\d{1,2}", part.ref, re.IGNORECASE) and not _says_part(part):
        return "a mounting hole"
    what = " ".join((part.value, part.description, part.device)).replace("_", " ")
    said = (part.value, part.description, part.device)
    if re.search(r"(?i)\bsolder ?jumper\b", what) or any(map(_NO_PART.match, said)):
        return "no part to solder"
    names = (part.ref, part.value.strip(), part.description.strip())
    if any(map(_BOARD_NAME.fullmatch, names)):
        return "the bare board"
    if _WORDS.search(what) and not _JOINED.search(what) and not packages:
        return "belongs to the case or the workshop, not to the board"
    return ""


def _says_part(part: Part) -> bool:
    """Whether H4 is a header, or any part with a package of its own."""
    if (read_package(part.package).pins or 0) > 1:
        return True
    text = " ".join((part.package, part.value, part.description)).upper()
    header = re.search(r"HEADER|HDR|PIN|CONN|SOCKET|HEAT|(?<![\w.])\dX\d{1,2}(?![\d.])", text)
    return bool(header) and not re.search(r"HOLE|SCREW|STAND-?OFF|SPACER", text)
