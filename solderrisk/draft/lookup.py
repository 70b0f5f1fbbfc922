"""Looking a line up in the library, and what is asked where that is not enough."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from solderrisk.draft.placements import Result
from solderrisk.model.draft import LEAVE_OUT, UNNAMED, LineState, Part, Question
from solderrisk.model.footprint import Footprint
from solderrisk.model.library import Library
from solderrisk.packages.kinds import (
    Guess,
    Kind,
    Taken,
    by_part_number,
    contradicts,
    guess_package,
    kind_of,
    letters_of,
    members,
    said_mount,
    said_pins,
    says_holes,
    take,
)
from solderrisk.packages.match import Matched, by_name, match
from solderrisk.packages.names import read_package
from solderrisk.packages.reading import Hint, PackageReading, tidy
from solderrisk.packages.tables import chips_by_imperial

ASK_EACH = "ask for each of them"
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
    "S": "SW",
    "VR": "RV",
    "POT": "RV",
    **dict.fromkeys(("P", "CN", "CON", "CONN"), "J"),
}

# Where letters and words say nothing.
_ANY = ("CHIP-0805", "SOT-23", "SOIC-8", "DIP-8", "TO-92", "HEADER-1X2-2.54")


def what_of(part: Part) -> str:
    """What a line calls its part."""
    return (part.value or part.description or part.number or part.device or part.package)[:120]


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
    if part.prefix == UNNAMED and kind is None:
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


MOST_CHOICES = 40


@dataclass(frozen=True)
class Looked:
    """What a line gives: a result, what is open about it, and the question that one answer
    for many lines would settle."""

    result: Result
    question: Question | None = None
    group: Question | None = None


@dataclass(frozen=True)
class _Line:
    part: Part
    words: str
    kind: Kind | None
    said: bool | None
    listed: bool | None
    library: Library

    @property
    def through(self) -> bool | None:
        return self.listed if self.said is None else self.said

    def kind_names(self, text: str) -> bool:
        """Whether this very text names the kind: SMA on a socket is no diode's package."""
        return self.kind is not None and kind_of(tidy(text), letters_of(self.part.ref)) is self.kind

    def believes(self, footprint: Footprint) -> bool:
        """A footprint of another kind than the words name comes from digits of a number."""
        return self.kind is None or footprint.family in self.kind.families


def look_up(part: Part, library: Library, list_through: bool | None) -> Looked:
    """``list_through``: how most parts of the list are mounted, None where it is mixed."""
    if part.drawn is not None:
        return Looked(Result(part, "recognised", "drawn in the board file", part.drawn, own=True))
    number = part.number if " " in part.number.strip() else ""  # words, not a number
    said = (tidy(part.package), part.value, part.description, part.device, number)
    letters = letters_of(part.ref)
    words = tidy(" ".join(filter(None, (*said, letters if letters == "LED" else ""))))[:600]
    kind = kind_of(words, letters)
    said_so, above = said_mount(words), tidy(part.heading)
    said_so = said_mount(above) if said_so is None else said_so
    line = _Line(part, words, kind, said_so, list_through, library)
    looked = _by_package(line) or _by_words(line)
    if looked is None and above:
        looked = _under_heading(line, above)
    looked = looked or _unknown(line)
    return _with_seen(part, looked) if part.seen is not None else looked


def _under_heading(line: _Line, above: str) -> Looked | None:
    """What the words above a part of the list add to those of the line: a kind, a size."""
    part, words = line.part, f"{line.words} {above}"
    kind = line.kind or kind_of(words, letters_of(part.ref))
    told = replace(part, description=f"{part.description} {part.heading}".strip())
    looked = _by_words(replace(line, part=told, words=words, kind=kind))
    if looked is None:
        return None
    why = f"{looked.result.from_what}; under {part.heading!r}"
    return replace(looked, result=replace(looked.result, part=part, from_what=why))


def _hint(part: Part) -> Hint:
    return Hint(letters_of(part.ref), f"{part.description} {part.value} {part.device}")


def _with_seen(part: Part, looked: Looked) -> Looked:
    """Pads of the fabrication files settle an unknown package, and check a known one."""
    assert part.seen is not None
    shown, result = part.seen.pin_count, looked.result
    told = f"{shown} pads in the fabrication files"
    if result.footprint is None:
        remark = "drawn from its pads alone; check height and kind"
        why = f"{told}; no package is known"
        return Looked(Result(part, "guessed", why, part.seen, own=True, remark=remark))
    if result.footprint.joint_count in (shown, part.seen.joint_count, part.pads):
        return looked
    result = replace(
        result,
        state="guessed",
        footprint=part.seen,
        own=True,
        from_what=f"{told}, but {result.from_what}",
        remark=f"{told} do not fit the package named",
    )
    return replace(looked, result=result)


def _by_package(line: _Line) -> Looked | None:
    part = line.part
    if not part.package:
        return None
    named = by_name(part.package, line.library)
    if named is None or named.family == "chip":
        of_kind = _of_kind(line) if line.kind is not None and line.kind.first else None
        if of_kind is not None and (named is None or not of_kind.assumed):
            reading = read_package(part.package, _hint(part))
            if reading.family in (None, "chip") and of_kind.footprint.family != "axial":
                taken = _taken(part, of_kind, "its words")
                if reading.family is not None and not of_kind.assumed:
                    told = f"package {part.package!r} with the words of its line"
                    taken = replace(taken, state="recognised", from_what=told, remark="")
                return Looked(taken)
    reading = read_package(part.package, _hint(part))
    if reading.state == "ambiguous" and (named is None or named.family == "chip"):
        return _ambiguous(line, reading) if _plausible(line, reading) else None
    if named is not None and (line.believes(named) or not line.kind_names(part.package)):
        told = f"package {part.package!r}, in the library"
        return Looked(Result(part, "recognised", told, named))
    found = match(reading, line.library)
    if found is None or not line.believes(found.footprint):
        return None
    if found.own and (alike := _named_alike(line, found.footprint)) is not None:
        found = replace(found, footprint=alike.footprint, own=False)
    return Looked(_known(part, reading, found))


def _named_alike(line: _Line, drawn: Footprint) -> Taken | None:
    """What the words name of the library, where it is what was drawn from the name: its body
    and heat are better known."""
    taken = _of_kind(line)
    if taken is None or taken.own or taken.assumed:
        return None
    steps = [f.pitch_mm or f.pads[0].row_span_mm or 0.0 for f in (taken.footprint, drawn)]
    alike = {(f.family, f.pin_count, f.through_hole) for f in (taken.footprint, drawn)}
    return taken if len(alike) == 1 and abs(steps[0] - steps[1]) < 0.1 else None


def _plausible(line: _Line, reading: PackageReading) -> bool:
    return line.kind is None or any(c.family in line.kind.families for c in reading.choices)


def _by_words(line: _Line) -> Looked | None:
    part, kind = line.part, line.kind
    taken = _of_kind(line)
    if taken is not None and not taken.weak and kind is not None and kind.first:
        return Looked(_taken(part, taken, "its words"))
    guess = guess_package(part, _hint(part))
    if guess is not None:
        looked = _guessed(line, guess)
        if looked is not None:
            return looked
    if taken is not None and not taken.weak:
        return Looked(_taken(part, taken, "its words"))
    return _by_number(line) or (Looked(_taken(part, taken, "its words")) if taken else None)


def _by_number(line: _Line) -> Looked | None:
    part, family = line.part, _FLAT.search(line.words)
    if line.through is False and not family:
        return None
    words = part.description.strip()
    told = re.split(r"[\s,;]", words, maxsplit=1)[0] if part.value else words
    taken = by_part_number((part.value, part.number, part.device, told), line.library)
    if taken is not None and family and not says_holes(line.words):
        return _flat(line, taken, family[1])
    if taken is not None and line.believes(taken.footprint):
        return Looked(_taken(part, taken, "its part number"))
    return None


_FLAT = re.compile(r"(?<![A-Z])(SOIC|SOP|SO|TSSOP|SSOP|MSOP|SMD|SMT)(?![A-Z])")


def _flat(line: _Line, taken: Taken, family: str) -> Looked | None:
    """A part number whose old form has so many pins, in the flat family that the line says;
    None where it says no family, or the library has none of these pins."""
    pins = taken.footprint.pin_count
    name = {"SOP": "SOIC", "SO": "SOIC"}.get(family, family)
    flat = by_name(f"{name}-{pins}", line.library) or by_name(f"{name}-{pins}W", line.library)
    if flat is None or taken.footprint.family != "dip":
        return None
    return Looked(_taken(line.part, replace(taken, footprint=flat), "its words and number"))


def _of_kind(line: _Line) -> Taken | None:
    if line.kind is None:
        return None
    words = f"{line.words} {tidy(line.part.number)}"
    taken = take(line.kind, words, line.library, line.said, line.listed)
    refuted = taken and contradicts(taken.footprint, tidy(line.part.package), line.said)
    return None if refuted else taken


def _taken(part: Part, taken: Taken, where: str) -> Result:
    name = taken.footprint.name
    assumed = f", assumed {taken.assumed}" if taken.assumed else ""
    given = f"package {part.package!r} is not known" if part.package else "no package is given"
    return Result(
        part,
        "guessed",
        f"{given}; taken as {name} by {where}{assumed}",
        taken.footprint,
        taken.own,
        remark=f"taken as {name} by {where}{assumed}",
    )


def _known(part: Part, reading: PackageReading, found: Matched) -> Result:
    state: LineState = "guessed" if found.assumed else "recognised"
    remark = "; ".join(found.assumed)
    told = f"package {part.package!r}: {reading.why}"
    if found.own:
        told += ", footprint built from its name"
    if remark:
        told += f"; assumed {remark}"
    remark = f"assumed {remark}" if remark else ""
    return Result(part, state, told, found.footprint, found.own, remark=remark)


def _ambiguous(line: _Line, reading: PackageReading, told: str = "") -> Looked:
    part, library = line.part, line.library
    found = match(reading.choices[0], library)
    choices = tuple(dict.fromkeys(choice_text(c) for c in reading.choices))
    if len(choices) == 1:
        choices = (*choices, LEAVE_OUT)
    # All cells of one size are one question, whatever letters stand beside it.
    sizes = "/".join(c.chip or "" for c in reading.choices)
    key = f"size:{sizes}" if all(c.chip for c in reading.choices) else f"package:{reading.text}"
    named = told or f"package {part.package!r}:"
    text = f"{named[:1].upper()}{named[1:]} {reading.why}. Which one is it?"
    question = Question(key, (), text, choices, choices[0] if found else None)
    if found is None:
        return Looked(Result(part, "unknown", f"{named} {reading.why}"), question)
    result = Result(
        part,
        "guessed",
        f"{named} {reading.why}; taken as {choices[0]}",
        found.footprint,
        found.own,
        remark=f"taken as {choices[0]}",
    )
    return Looked(result, question)


def _guessed(line: _Line, guess: Guess) -> Looked | None:
    reading = guess.reading
    if reading.state == "ambiguous":
        if not _plausible(line, reading):
            return None
        return _ambiguous(line, reading, f"no package given; {guess.where} {guess.said!r}:")
    found = match(reading, line.library)
    if found is None or not line.believes(found.footprint):
        return None
    told = f"no readable package; {guess.where} says {guess.said!r}"
    remark = f"package taken from the {guess.where}"
    if found.assumed:
        told += f"; assumed {'; '.join(found.assumed)}"
        remark += f", assumed {'; '.join(found.assumed)}"
    return Looked(Result(line.part, "guessed", told, found.footprint, found.own, remark=remark))


def _unknown(line: _Line) -> Looked:
    part = line.part
    what = what_of(part)
    if part.package:
        key, why = f"package:{tidy(part.package)}", f"package {part.package[:80]!r} is not known"
    else:
        key, why = f"part:{part.prefix}:{what.casefold()[:80]}", "no package is given"
    of_kind = kind_choices(line.kind, line.words, line.library, line.through)
    likely = (*of_kind, *usual_choices(part.prefix, line.through))
    pins = said_pins(line.words)
    choices = _of_pins(tuple(dict.fromkeys(likely)), pins)[:MOST_CHOICES]
    text = f"{what[:80] or part.ref}: {why}. Which package is it?"
    question = Question(key, (), text, (*choices, LEAVE_OUT), None)
    group = group_of(part, line.kind, choices) if pins is None else None
    return Looked(Result(part, "unknown", why), question, group)


def _of_pins(choices: tuple[str, ...], pins: int | None) -> tuple[str, ...]:
    """Without those that have another number of pins than the line says; all of them where
    none has it."""
    if pins is None:
        return choices
    return tuple(c for c in choices if read_package(c).pins in (None, pins)) or choices


def settled(looked: Looked, answers: Mapping[str, str]) -> bool:
    """Whether an answer to the line's own question is given."""
    return looked.question is not None and looked.question.id in answers
