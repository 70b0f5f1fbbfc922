"""Choices that a question about a package offers, and questions that one answer settles."""

from __future__ import annotations

import re

from solderrisk.model.draft import LEAVE_OUT, Part, Question
from solderrisk.model.library import Library
from solderrisk.packages.kinds import Kind, members
from solderrisk.packages.reading import PackageReading, tidy
from solderrisk.packages.tables import chips_by_imperial

ASK_EACH = "ask for each of them"
MAX_NEAR = 60  # letters of a line that are looked up
_CHIPS = ("0402 (1005 metric)", "0603 (1608 metric)", "0805 (2012 metric)", "1206 (3216 metric)")
# By the letters of a reference: names to read, for holes and for lands.
_USUAL: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "R": (("RESISTOR-AXIAL-0.25W", "RESISTOR-AXIAL-0.125W", "RESISTOR-AXIAL-0.5W"), _CHIPS),
    "C": (("CAP-DISC-5", "CAP-DISC-2.5", "CAP-FILM-5", "ELCO-RADIAL-5"), _CHIPS),
    "L": (("INDUCTOR-AXIAL", "INDUCTOR-RADIAL-5"), (*_CHIPS, "INDUCTOR-4040", "INDUCTOR-6060")),
    "FB": ((), _CHIPS),
    "D": (("DO-35", "DO-41"), ("SOD-123", "SMA", "SOD-323")),
    "LED": (("LED-5MM", "LED-3MM"), ("LED-0805", "LED-0603", "LED-1206")),
    "Q": (("TO-92", "TO-220"), ("SOT-23",)),
    "T": (("TO-92", "TO-220"), ("SOT-23",)),
    "U": (
        ("DIP-8", "DIP-14", "DIP-16", "DIP-20", "DIP-28-7.62", "DIP-40"),
        ("SOIC-8", "SOIC-14", "SOIC-16", "SOT-23-5", "TQFP-32_7x7mm_P0.8mm"),
    ),
    "Y": (("HC-49U", "HC-49US"), ("CRYSTAL 3225-4PIN",)),
    "X": (("HC-49U",), ("CRYSTAL 3225-4PIN",)),
    "J": (("1x02_P2.54mm", "1x03_P2.54mm", "1x04_P2.54mm", "1x06_P2.54mm"), ()),
    "JP": (("1x02_P2.54mm", "1x03_P2.54mm"), ()),
    "SW": (("TACT-SWITCH-6", "SLIDE-SWITCH-SPDT"), ("TACT-SWITCH-6-SMD",)),
    "RV": (("POT-9MM", "POT-16MM", "TRIMMER-6", "TRIMMER-10-TURN"), ()),
    "K": (("RELAY-SPDT-5", "RELAY-DPDT-8"), ()),
}
_LIKE = {
    "IC": "U",
    "P": "J",
    "CN": "J",
    "CON": "J",
    "CONN": "J",
    "S": "SW",
    "VR": "RV",
    "POT": "RV",
}


# Where letters and words say nothing.
_ANY = ("CHIP-0805", "SOT-23", "SOIC-8", "DIP-8", "TO-92", "HEADER-1X2-2.54")


def what_of(part: Part) -> str:
    """What a line calls its part."""
    return (part.value or part.description or part.number or part.device or part.package)[:120]


def near_names(part: Part, library: Library) -> tuple[str, ...]:
    """Definitions that the line's words find, else names that look like the package; at most
    three."""
    for said in (part.package, part.device, part.description, part.value):
        if 2 < len(said) <= MAX_NEAR:
            search = library.search(tidy(said))
            if search.found and not search.left_out:
                return tuple(footprint.name for footprint in search.found[:3])
    return library.close_to(tidy(part.package)) if 2 < len(part.package) <= MAX_NEAR else ()


def kind_choices(
    kind: Kind | None, words: str, library: Library, through: bool | None
) -> tuple[str, ...]:
    """Footprints of the kind that a line names; for a symbol of poles its rows."""
    poles = re.search(r"CONN\w*[_ ]0?(\d{1,2})X0?(\d{1,2})(?!\d)", words)
    if poles:
        return tuple(f"{poles[1]}x{poles[2]:0>2}_P{step}mm" for step in ("2.54", "5.08", "2.00"))
    return members(kind, words, library, through) if kind is not None else ()


def usual_choices(prefix: str, through: bool | None = None) -> tuple[str, ...]:
    """Packages that parts with these letters mostly have, for holes, lands or both."""
    holes, lands = _USUAL.get(_LIKE.get(prefix, prefix), (_ANY, ()))
    if through is None:
        return (*holes, *lands)
    return holes or lands if through else lands or holes


def group_of(part: Part, kind: Kind | None, choices: tuple[str, ...]) -> Question | None:
    """The question whose one answer settles all parts of a kind that have no package."""
    if part.package:
        return None
    if part.prefix == "LINE" and kind is None:
        text = "These lines name no part that is known. Is any of them soldered?"
        return Question("all:LINE", (), text, (LEAVE_OUT, ASK_EACH), None)
    if not choices:
        return None
    named = f"{kind.families[0].replace('_', ' ')}, " if kind is not None else ""
    key = f"all:{part.prefix}:{kind.families[0] if kind is not None else ''}"
    text = f"All {named}{part.prefix} without a package: which one do they have?"
    return Question(key, (), text, (*choices, ASK_EACH, LEAVE_OUT), None)


def choice_text(reading: PackageReading) -> str:
    """A choice that reads back as this very reading."""
    if reading.chip:
        chip = chips_by_imperial()[reading.chip]
        return f"{chip.imperial} ({chip.metric[0]} metric)"
    return reading.label
