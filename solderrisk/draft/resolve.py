"""From what was found to placements, lines and open questions. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from solderrisk.draft.guess import Guess, guess_package
from solderrisk.draft.placements import (
    Result,
    boards_of,
    not_soldered,
    own_footprints,
    placements_of,
)
from solderrisk.draft.questions import (
    choice_text,
    likely_choices,
    near_names,
    usual_choices,
)
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
from solderrisk.model.library import Library
from solderrisk.packages.match import Matched, by_name, match
from solderrisk.packages.names import read_package
from solderrisk.packages.reading import Hint, PackageReading, tidy

UNLISTED = "on the board, not in the parts list"
FIT_UNLISTED = "fit them too"
AS_REFERENCES = "as the references say"


def resolve(found: Found, library: Library, answers: Mapping[str, str] | None = None) -> Draft:
    """Look every package up and give the draft; ``answers`` are question id to choice."""
    answers = dict(answers or {})
    base, library = library, library.with_front(found.footprints)
    asked: dict[str, Question] = {}
    refs_asked: dict[str, list[str]] = defaultdict(list)
    results = [_one(part, library, answers, asked, refs_asked) for part in found.parts]
    results = _with_counts(found.counts, results, answers, asked, refs_asked)
    boards = boards_of(found, results)
    footprints = own_footprints(results, found)
    placements, comments = placements_of(results, boards, library)
    questions = tuple(
        replace(question, refs=tuple(refs_asked[question.id])) for question in asked.values()
    )
    return Draft(
        name=found.name,
        boards=boards,
        footprints=footprints,
        placements=placements,
        lines=tuple(
            DraftLine(
                r.part.ref,
                _what(r.part),
                r.state,
                r.from_what,
                r.footprint.name if r.footprint else None,
                r.part.source,
            )
            for r in results
        ),
        questions=questions,
        notes=found.notes,
        answers=tuple(answers.items()),
        comments=comments,
        found=found,
        library=base,
    )


def _what(part: Part) -> str:
    return (part.value or part.description or part.number or part.device or part.package)[:120]


def _one(
    part: Part,
    library: Library,
    answers: dict[str, str],
    asked: dict[str, Question],
    refs_asked: dict[str, list[str]],
) -> Result:
    if part.unlisted and not not_soldered(part):
        return _unlisted(part, library, answers, asked, refs_asked)
    why = part.ignored or not_soldered(part)
    if why:
        return Result(part, "ignored", why)
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
) -> Result:
    key = "unlisted"
    refs_asked[key].append(part.ref)
    asked.setdefault(
        key,
        Question(
            key,
            (),
            "These stand on the board but not in the parts list. Are they fitted?",
            (FIT_UNLISTED, LEAVE_OUT),
            LEAVE_OUT,
        ),
    )
    if answers.get(key) != FIT_UNLISTED:
        return Result(part, "ignored", UNLISTED, question=key)
    return _look_up(replace(part, unlisted=False), library)[0]


def _look_up(part: Part, library: Library) -> tuple[Result, Question | None]:
    if part.drawn is not None:
        return Result(part, "recognised", "drawn in the board file", part.drawn, own=True), None
    hint = Hint(part.prefix, f"{part.description} {part.value} {part.device}")
    result, question = _from_text(part, library, hint)
    if part.seen is not None:
        return _with_seen(part, result, question)
    return result, question


def _with_seen(
    part: Part, result: Result, question: Question | None
) -> tuple[Result, Question | None]:
    """Pads of the fabrication files settle an unknown package, and check a known one."""
    assert part.seen is not None
    shown = part.seen.pin_count
    told = f"{shown} pads in the fabrication files"
    if result.footprint is None:
        return Result(
            part,
            "guessed",
            f"{told}; no package is known",
            part.seen,
            own=True,
            remark="drawn from its pads alone; check height and kind",
        ), None
    if result.footprint.joint_count in (shown, part.seen.joint_count, part.pads):
        return result, question
    return replace(
        result,
        state="guessed",
        footprint=part.seen,
        own=True,
        from_what=f"{told}, but {result.from_what}",
        remark=f"{told} do not fit the package named",
    ), question


def _from_text(part: Part, library: Library, hint: Hint) -> tuple[Result, Question | None]:
    if part.package:
        named = by_name(part.package, library)
        reading = read_package(part.package, hint)
        if reading.state == "ambiguous":
            return _ambiguous(part, library, reading)
        if named is not None:
            return Result(
                part, "recognised", f"package {part.package!r}, in the library", named
            ), None
        found = match(reading, library)
        if found is not None:
            return _known(part, reading, found), None
    guess = guess_package(part, hint)
    if guess is not None:
        return _guessed(part, library, guess)
    return _unknown(part, library)


def _known(part: Part, reading: PackageReading, found: Matched) -> Result:
    state: LineState = "guessed" if found.assumed else "recognised"
    remark = "; ".join(found.assumed)
    told = f"package {part.package!r}: {reading.why}"
    if found.own:
        told += ", footprint built from its name"
    if remark:
        told += f"; assumed {remark}"
    return Result(
        part, state, told, found.footprint, found.own, remark=f"assumed {remark}" if remark else ""
    )


def _ambiguous(
    part: Part, library: Library, reading: PackageReading
) -> tuple[Result, Question | None]:
    found = match(reading.choices[0], library)
    choices = tuple(dict.fromkeys(choice_text(c) for c in reading.choices))
    key = f"package:{tidy(part.package)}"
    if len(choices) == 1:
        choices = (*choices, LEAVE_OUT)
    question = Question(
        key,
        (),
        f"Package {part.package!r}: {reading.why}. Which one is it?",
        choices,
        choices[0] if found else None,
    )
    if found is None:
        return Result(part, "unknown", f"package {part.package!r}: {reading.why}"), question
    told = f"package {part.package!r}: {reading.why}; taken as {choices[0]}"
    return (
        Result(part, "guessed", told, found.footprint, found.own, remark=f"taken as {choices[0]}"),
        question,
    )


def _guessed(part: Part, library: Library, guess: Guess) -> tuple[Result, Question | None]:
    if guess.reading.state == "ambiguous":
        result, question = _ambiguous(replace(part, package=guess.said), library, guess.reading)
        told = f"no package given; {guess.where} {result.from_what.removeprefix('package ')}"
        return replace(result, part=part, from_what=told), question
    found = match(guess.reading, library)
    if found is None:
        return _unknown(part, library)
    told = f"no readable package; {guess.where} says {guess.said!r}"
    remark = f"package taken from the {guess.where}"
    if found.assumed:
        told += f"; assumed {'; '.join(found.assumed)}"
        remark += f", assumed {'; '.join(found.assumed)}"
    return Result(part, "guessed", told, found.footprint, found.own, remark=remark), None


def _unknown(part: Part, library: Library) -> tuple[Result, Question]:
    if part.package:
        key, why = f"package:{tidy(part.package)}", f"package {part.package[:80]!r} is not known"
    else:
        what = _what(part)
        key, why = f"part:{part.prefix}:{what.casefold()[:80]}", "no package is given"
    near = near_names(part, library)
    likely = (*likely_choices(part, library), *usual_choices(part.prefix))
    choices = (*tuple(dict.fromkeys((*near, *likely)))[:9], LEAVE_OUT)
    text = f"{_what(part)[:80] or part.ref}: {why}. Which package is it?"
    return Result(part, "unknown", why), Question(key, (), text, choices, None)


def _answered(part: Part, library: Library, choice: str, before: Result) -> Result:
    if choice == LEAVE_OUT:
        return Result(part, "ignored", "left out by your answer")
    named = by_name(choice, library)
    told = f"your answer: {choice}"
    if named is not None:
        return Result(part, "recognised", told, named)
    reading = read_package(choice, Hint(part.prefix))
    for option in read_package(part.package, Hint(part.prefix)).choices:
        if choice_text(option) == choice:
            reading = option
    found = match(reading, library)
    if found is None:
        return replace(before, from_what=f"{before.from_what}; the answer {choice!r} is not known")
    return Result(part, "recognised", told, found.footprint, found.own)


def _with_counts(
    counts: Iterable[OpenCount],
    results: list[Result],
    answers: dict[str, str],
    asked: dict[str, Question],
    refs_asked: dict[str, list[str]],
) -> list[Result]:
    """Ask where a quantity contradicts the references."""
    more: dict[str, tuple[int, str]] = {}
    fitted = {r.part.ref for r in results if r.footprint is not None}
    for count in counts:
        key = f"count:{count.source}"
        if fitted.isdisjoint(count.refs):
            continue
        by_quantity = f"as the quantity says ({count.quantity})"
        by_refs = f"{AS_REFERENCES} ({len(count.refs)})"
        asked[key] = Question(
            key,
            (),
            f"{count.source}: {len(count.refs)} references but quantity {count.quantity}. "
            "How many are fitted?",
            (by_refs, by_quantity),
            by_refs,
        )
        refs_asked[key].extend(count.refs)
        for ref in count.refs:
            more[ref] = (count.quantity, answers.get(key, ""))
        if answers.get(key) == by_quantity:
            results = _by_quantity(results, count)
    return [
        replace(
            r,
            state="guessed",
            from_what=f"{r.from_what}; quantity {more[r.part.ref][0]} does "
            "not match the references",
            remark=_plus(r.remark, f"the list's quantity is {more[r.part.ref][0]}"),
        )
        if r.part.ref in more and not more[r.part.ref][1] and r.state == "recognised"
        else r
        for r in results
    ]


def _by_quantity(results: list[Result], count: OpenCount) -> list[Result]:
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
