"""Choices that a question about a package offers."""

from __future__ import annotations

import re

from solderrisk.model.draft import Part
from solderrisk.model.library import Library
from solderrisk.packages.reading import PackageReading, tidy
from solderrisk.packages.tables import chips_by_imperial

_KINDS = (
    (r"USB", "usb"),
    (r"(?:DC|POWER|BARREL).?JACK|DC.?IN", "dc_jack"),
    (r"AUDIO.?(?:JACK|SOCKET|CONN|PLUG)|PHONE.?JACK|JACK.*3\.5|3\.5 ?MM.*JACK", "audio_jack"),
    (r"SWITCH|BUTTON|TACT|(?<![A-Z])SW(?![A-Z])", "switch"),
    (r"POT(?![A-Z])|POTENT|TRIM", "potentiometer"),
    (r"BATT|CELL HOLDER|COIN", "battery_contact"),
    (r"TERMINAL|SCREW", "terminal_block"),
    (r"FFC|FPC", "ffc"),
    (r"RELAY", "relay"),
    (r"SD.?CARD|MICRO.?SD", "card_slot"),
    (r"CRYSTAL|XTAL|MHZ", "crystal_smd"),
    (r"INDUCTOR|COIL|UH(?![A-Z])", "inductor_smd"),
    (r"ELECTROLYT", "can_cap"),
    (r"MODULE", "module"),
)


MAX_NEAR = 60  # letters of a line that are looked up


def near_names(part: Part, library: Library) -> tuple[str, ...]:
    """Definitions that the line's words find, else names that look like the package; at most
    three."""
    for said in (part.package, part.device, part.description, part.value):
        if 2 < len(said) <= MAX_NEAR:
            search = library.search(tidy(said))
            if search.found and not search.left_out:
                return tuple(footprint.name for footprint in search.found[:3])
    return library.close_to(tidy(part.package)) if 2 < len(part.package) <= MAX_NEAR else ()


_PLAIN_PARTS = frozenset(("R", "C", "L", "D", "Q", "U", "IC", "T"))


def likely_choices(part: Part, library: Library) -> tuple[str, ...]:
    """Library names of the kind that the line speaks of, at most four."""
    said = (part.package, part.value, part.description, part.device, part.ref)
    text = " ".join(said).upper()
    poles = re.search(r"CONN\w*[_ ]0?(\d{1,2})X0?(\d{1,2})(?!\d)", text)
    if poles:
        return tuple(f"{poles[1]}x{poles[2]:0>2}_P{step}mm" for step in ("2.54", "5.08", "2.00"))
    for pattern, family in _KINDS:
        if part.prefix in _PLAIN_PARTS and family in ("switch", "battery_contact", "module"):
            continue
        if re.search(pattern, text):
            return tuple(f.name for f in library if f.family == family)[:4]
    return ()


def usual_choices(prefix: str) -> tuple[str, ...]:
    """Packages that parts with these letters mostly have; each is a name to read."""
    chips = ("0402 (1005 metric)", "0603 (1608 metric)", "0805 (2012 metric)", "1206 (3216 metric)")
    table = {
        "R": (*chips, "AXIAL-0.4"),
        "C": (*chips, "RAD-0.2"),
        "L": chips,
        "FB": chips,
        "D": ("SOD-123", "SMA", "DO-35", "DO-41"),
        "LED": (*chips[1:3], "LED5MM"),
        "Q": ("SOT-23", "TO-92", "TO-220"),
        "U": ("SOIC-8", "DIP-8", "SOT-23-5", "TQFP-32_7x7mm_P0.8mm"),
        "IC": ("SOIC-8", "DIP-8", "SOT-23-5"),
        "Y": ("HC-49", "CRYSTAL 3225-4PIN"),
        "X": ("HC-49",),
        "J": ("1x02_P2.54mm", "1x04_P2.54mm", "1x06_P2.54mm"),
        "JP": ("1x02_P2.54mm", "1x03_P2.54mm"),
    }
    return table.get(prefix, ())


def choice_text(reading: PackageReading) -> str:
    """A choice that reads back as this very reading."""
    if reading.chip:
        chip = chips_by_imperial()[reading.chip]
        return f"{chip.imperial} ({chip.metric[0]} metric)"
    return reading.label
