"""From what was found to placements, lines and open questions. Pure."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from solderrisk.files.draft_guess import Guess, guess_package
from solderrisk.files.package_match import Matched, by_name, match
from solderrisk.files.package_names import read_package
from solderrisk.files.package_reading import Hint, PackageReading, tidy
from solderrisk.files.package_tables import chips_by_imperial
from solderrisk.files.placement_kinds import not_soldered
from solderrisk.model.draft import (
    LEAVE_OUT,
    Draft,
    DraftLine,
    Found,
    LineState,
    OpenCount,
    Part,
    Question,
)
from solderrisk.model.footprint import Footprint
from solderrisk.model.kit import Board, Placement, Position
from solderrisk.model.library import Library, name_key

MAX_REFS_TEXT = 1500
UNLISTED = "on the board, not in the parts list"
FIT_UNLISTED = "fit them too"
AS_REFERENCES = "as the references say"
POLARISED = frozenset(["D", "LED", "ZD", "DZ", "CR", "DS", "DL"])


@dataclass(frozen=True)
class _Result:
    """What became of one part."""

    part: Part
    state: LineState
    from_what: str
    footprint: Footprint | None = None
    own: bool = False
    question: str = ""
    remark: str = ""


def resolve(found: Found, library: Library, answers: Mapping[str, str] | None = None) -> Draft:
    """Look every package up and give the draft; ``answers`` are question id to choice."""
    answers = dict(answers or {})
    base, library = library, library.with_front(found.footprints)
    asked: dict[str, Question] = {}
    refs_asked: dict[str, list[str]] = defaultdict(list)
    results = [_one(part, library, answers, asked, refs_asked) for part in found.parts]
    results = _with_counts(found.counts, results, answers, asked, refs_asked)
    boards = _boards(found, results)
    footprints = _own(results, found)
    placements, comments = _placements(results, boards, library)
    questions = tuple(
        replace(question, refs=tuple(refs_asked[question.id])) for question in asked.values()
    )
    return Draft(
        name=found.name,
        boards=boards,
        footprints=footprints,
        placements=placements,
        lines=tuple(
            DraftLine(r.part.ref, _what(r.part), r.state, r.from_what,
                      r.footprint.name if r.footprint else None, r.part.source)
            for r in results
        ),
        questions=questions,
        notes=found.notes,
        answers=tuple(answers.items()),
        comments=comments,
        found=found,
        library=base,
    )  # fmt: skip


def _what(part: Part) -> str:
    return (part.value or part.description or part.number or part.device or part.package)[:120]


def _one(
    part: Part,
    library: Library,
    answers: dict[str, str],
    asked: dict[str, Question],
    refs_asked: dict[str, list[str]],
) -> _Result:
    if part.ignored == UNLISTED and not not_soldered(part):
        return _unlisted(part, library, answers, asked, refs_asked)
    why = part.ignored or not_soldered(part)
    if why:
        return _Result(part, "ignored", why)
    result, question = _look_up(part, library)
    if question is None:
        return result
    refs_asked[question.id].append(part.ref)
    asked.setdefault(question.id, question)
    if question.id in answers:
        return _answered(part, library, answers[question.id], result)
    return replace(result, question=question.id)


def _unlisted(
    part: Part,
    library: Library,
    answers: dict[str, str],
    asked: dict[str, Question],
    refs_asked: dict[str, list[str]],
) -> _Result:
    key = "unlisted"
    refs_asked[key].append(part.ref)
    asked.setdefault(
        key,
        Question(key, (), "These stand on the board but not in the parts list. Are they fitted?",
                 (FIT_UNLISTED, LEAVE_OUT), LEAVE_OUT),
    )  # fmt: skip
    if answers.get(key) != FIT_UNLISTED:
        return _Result(part, "ignored", UNLISTED, question=key)
    return _look_up(replace(part, ignored=""), library)[0]


def _look_up(part: Part, library: Library) -> tuple[_Result, Question | None]:
    if part.drawn is not None:
        return _Result(part, "recognised", "drawn in the board file", part.drawn, own=True), None
    hint = Hint(part.prefix, f"{part.description} {part.value}")
    result, question = _from_text(part, library, hint)
    if part.seen is not None:
        return _with_seen(part, result, question)
    return result, question


def _with_seen(
    part: Part, result: _Result, question: Question | None
) -> tuple[_Result, Question | None]:
    """Pads of the fabrication files settle an unknown package, and check a known one."""
    assert part.seen is not None
    shown = part.seen.pin_count
    told = f"{shown} pads in the fabrication files"
    if result.footprint is None:
        return _Result(part, "guessed", f"{told}; no package is known", part.seen, own=True,
                       remark="drawn from its pads alone; check height and kind"), None  # fmt: skip
    if result.footprint.joint_count in (shown, part.seen.joint_count, part.pads):
        return result, question
    return replace(
        result, state="guessed", footprint=part.seen, own=True,
        from_what=f"{told}, but {result.from_what}", remark=f"{told} do not fit the package named",
    ), question  # fmt: skip


def _from_text(part: Part, library: Library, hint: Hint) -> tuple[_Result, Question | None]:
    if part.package:
        named = by_name(part.package, library)
        reading = read_package(part.package, hint)
        if reading.state == "ambiguous":
            return _ambiguous(part, library, reading)
        if named is not None:
            return _Result(
                part, "recognised", f"package {part.package!r}, in the library", named
            ), None
        found = match(reading, library)
        if found is not None:
            return _known(part, reading, found), None
    guess = guess_package(part, hint)
    if guess is not None:
        return _guessed(part, library, guess)
    return _unknown(part, library)


def _known(part: Part, reading: PackageReading, found: Matched) -> _Result:
    state: LineState = "guessed" if found.assumed else "recognised"
    remark = "; ".join(found.assumed)
    told = f"package {part.package!r}: {reading.why}"
    if found.own:
        told += ", footprint built from its name"
    if remark:
        told += f"; assumed {remark}"
    return _Result(
        part, state, told, found.footprint, found.own, remark=f"assumed {remark}" if remark else ""
    )


def _ambiguous(
    part: Part, library: Library, reading: PackageReading
) -> tuple[_Result, Question | None]:
    found = match(reading.choices[0], library)
    choices = tuple(dict.fromkeys(choice_text(c) for c in reading.choices))
    key = f"package:{tidy(part.package)}"
    if len(choices) == 1:
        choices = (*choices, LEAVE_OUT)
    question = Question(
        key, (), f"Package {part.package!r}: {reading.why}. Which one is it?", choices,
        choices[0] if found else None,
    )  # fmt: skip
    if found is None:
        return _Result(part, "unknown", f"package {part.package!r}: {reading.why}"), question
    told = f"package {part.package!r}: {reading.why}; taken as {choices[0]}"
    return (
        _Result(part, "guessed", told, found.footprint, found.own, remark=f"taken as {choices[0]}"),
        question,
    )


def choice_text(reading: PackageReading) -> str:
    """A choice that reads back as this very reading."""
    if reading.chip:
        chip = chips_by_imperial()[reading.chip]
        return f"{chip.imperial} ({chip.metric[0]} metric)"
    return reading.label


def _guessed(part: Part, library: Library, guess: Guess) -> tuple[_Result, Question | None]:
    if guess.reading.state == "ambiguous":
        result, question = _ambiguous(replace(part, package=guess.said), library, guess.reading)
        told = f"no package given; {guess.where} {result.from_what.removeprefix('package ')}"
        return replace(result, part=part, from_what=told), question
    found = match(guess.reading, library)
    if found is None:
        return _unknown(part, library)
    told = f"no readable package; {guess.where} says {guess.said!r}"
    remark = f"package taken from the {guess.where}"
    return _Result(part, "guessed", told, found.footprint, found.own, remark=remark), None


def _unknown(part: Part, library: Library) -> tuple[_Result, Question]:
    if part.package:
        key, why = f"package:{tidy(part.package)}", f"package {part.package[:80]!r} is not known"
    else:
        what = _what(part)
        key, why = f"part:{part.prefix}:{what.casefold()[:80]}", "no package is given"
    near = library.close_to(tidy(part.package)) if part.package and len(part.package) < 60 else ()
    likely = (*_likely(part, library), *_usual_choices(part.prefix))
    choices = (*tuple(dict.fromkeys((*near, *likely)))[:9], LEAVE_OUT)
    text = f"{_what(part)[:80] or part.ref}: {why}. Which package is it?"
    return _Result(part, "unknown", why), Question(key, (), text, choices, None)


_KINDS = (
    (r"USB", "usb"),
    (r"(?:DC|POWER|BARREL).?JACK|DC.?IN", "dc_jack"),
    (r"AUDIO|PHONE.?JACK|3\.5 ?MM", "audio_jack"),
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


def _likely(part: Part, library: Library) -> tuple[str, ...]:
    """Library names of the kind that the line speaks of, at most four."""
    said = (part.package, part.value, part.description, part.device, part.ref)
    text = " ".join(said).upper()
    for pattern, family in _KINDS:
        if re.search(pattern, text):
            return tuple(f.name for f in library if f.family == family)[:4]
    return ()


def _usual_choices(prefix: str) -> tuple[str, ...]:
    """Packages that parts with these letters mostly have; each is a name to read."""
    chips = ("0402 (1005 metric)", "0603 (1608 metric)", "0805 (2012 metric)", "1206 (3216 metric)")
    table = {
        "R": (*chips, "AXIAL-0.4"), "C": (*chips, "RAD-0.2"), "L": chips, "FB": chips,
        "D": ("SOD-123", "SMA", "DO-35", "DO-41"), "LED": (*chips[1:3], "LED5MM"),
        "Q": ("SOT-23", "TO-92", "TO-220"), "U": ("SOIC-8", "DIP-8", "SOT-23-5", "TQFP-32_7x7mm_P0.8mm"),
        "IC": ("SOIC-8", "DIP-8", "SOT-23-5"), "Y": ("HC-49", "CRYSTAL 3225-4PIN"), "X": ("HC-49",),
        "J": ("1x02_P2.54mm", "1x04_P2.54mm", "1x06_P2.54mm"), "JP": ("1x02_P2.54mm", "1x03_P2.54mm"),
    }  # fmt: skip
    return table.get(prefix, ())


def _answered(part: Part, library: Library, choice: str, before: _Result) -> _Result:
    if choice == LEAVE_OUT:
        return _Result(part, "ignored", "left out by your answer")
    named = by_name(choice, library)
    told = f"your answer: {choice}"
    if named is not None:
        return _Result(part, "recognised", told, named)
    reading = read_package(choice, Hint(part.prefix))
    for option in read_package(part.package, Hint(part.prefix)).choices:
        if choice_text(option) == choice:
            reading = option
    found = match(reading, library)
    if found is None:
        return replace(before, from_what=f"{before.from_what}; the answer {choice!r} is not known")
    return _Result(part, "recognised", told, found.footprint, found.own)


def _with_counts(
    counts: Iterable[OpenCount],
    results: list[_Result],
    answers: dict[str, str],
    asked: dict[str, Question],
    refs_asked: dict[str, list[str]],
) -> list[_Result]:
    """Ask where a quantity contradicts the references."""
    more: dict[str, tuple[int, str]] = {}
    for count in counts:
        key = f"count:{count.source}"
        fitted = [r for r in results if r.part.ref in count.refs and r.footprint]
        if not fitted:
            continue
        by_quantity = f"as the quantity says ({count.quantity})"
        by_refs = f"{AS_REFERENCES} ({len(count.refs)})"
        asked[key] = Question(
            key, (), f"{count.source}: {len(count.refs)} references but quantity {count.quantity}. "
            "How many are fitted?", (by_refs, by_quantity), by_refs,
        )  # fmt: skip
        refs_asked[key].extend(count.refs)
        for ref in count.refs:
            more[ref] = (count.quantity, answers.get(key, ""))
        if answers.get(key) == by_quantity:
            results = _by_quantity(results, count)
    return [
        replace(r, state="guessed", from_what=f"{r.from_what}; quantity {more[r.part.ref][0]} does "
                "not match the references",
                remark=_plus(r.remark, f"the list's quantity is {more[r.part.ref][0]}"))
        if r.part.ref in more and not more[r.part.ref][1] and r.state == "recognised" else r
        for r in results
    ]  # fmt: skip


def _by_quantity(results: list[_Result], count: OpenCount) -> list[_Result]:
    kept = set(count.refs[: count.quantity])
    out = []
    for r in results:
        if r.part.ref in count.refs and r.part.ref not in kept:
            out.append(
                replace(r, state="ignored", from_what="left out by your answer", footprint=None)
            )
        else:
            out.append(r)
        if r.part.ref == count.refs[-1] and count.quantity > len(count.refs):
            extra = count.quantity - len(count.refs)
            out.extend(
                replace(r, part=replace(r.part, ref=f"{r.part.ref}_{i + 2}")) for i in range(extra)
            )
    return out


def _plus(a: str, b: str) -> str:
    return f"{a}; {b}" if a else b


def _boards(found: Found, results: list[_Result]) -> tuple[Board, ...]:
    if found.boards:
        return found.boards
    return (Board(name="main"),)


def _own(results: list[_Result], found: Found) -> tuple[Footprint, ...]:
    own: dict[str, Footprint] = {name_key(f.name): f for f in found.footprints}
    for result in results:
        if result.own and result.footprint is not None:
            own.setdefault(name_key(result.footprint.name), result.footprint)
    return tuple(own.values())


def _placements(
    results: list[_Result], boards: tuple[Board, ...], library: Library
) -> tuple[tuple[Placement, ...], dict[str, str]]:
    names = {board.name for board in boards}
    grouped: dict[tuple[object, ...], list[_Result]] = {}
    for r in results:
        if r.footprint is None or r.state == "ignored":
            continue
        part = r.part
        board = part.board if part.board in names else boards[0].name
        key = (
            board,
            r.footprint.name,
            part.value,
            part.side or "top",
            part.links,
            _polarised(r),
            r.remark,
        )
        grouped.setdefault(key, []).append(r)
    placements, comments = [], {}
    for key, group in grouped.items():
        for chunk in _chunks(group):
            placement = _placement(key, chunk)
            placements.append(placement)
            if chunk[0].remark:
                comments[placement.refs] = chunk[0].remark
    return tuple(placements), comments


def _chunks(group: list[_Result]) -> Iterable[list[_Result]]:
    chunk: list[_Result] = []
    length = 0
    for r in group:
        if chunk and length + len(r.part.ref) + 2 > MAX_REFS_TEXT:
            yield chunk
            chunk, length = [], 0
        chunk.append(r)
        length += len(r.part.ref) + 2
    if chunk:
        yield chunk


def _placement(key: tuple[object, ...], group: list[_Result]) -> Placement:
    first = group[0].part
    footprint = group[0].footprint
    assert footprint is not None
    positions = tuple(
        Position(ref=r.part.ref, x_mm=round(r.part.x_mm, 4), y_mm=round(r.part.y_mm, 4),
                 rotation_deg=r.part.rotation_deg, side=r.part.side or "top")
        for r in group
        if r.part.x_mm is not None and r.part.y_mm is not None
    )  # fmt: skip
    return Placement(
        refs=", ".join(r.part.ref for r in group),
        footprint=footprint.name,
        board=str(key[0]),
        value=first.value[:200],
        side=first.side or "top",
        positions=positions,
        links=first.links,
        polarised=_polarised(group[0]),
    )


def _polarised(r: _Result) -> bool | None:
    """True where the part has a polarity that its footprint alone does not tell."""
    if r.footprint is None or r.footprint.orientation != "none":
        return None
    if r.part.prefix in POLARISED:
        return True
    text = " ".join((r.part.description, r.part.package, r.part.device)).casefold()
    if r.part.prefix == "C" and re.search(r"tantal|electrolyt|polari[sz]ed|\bcp[_-]", text):
        return True
    return None
